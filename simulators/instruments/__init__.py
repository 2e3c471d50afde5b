"""The three simulated instruments: signal source, multimeter, frequency counter."""
