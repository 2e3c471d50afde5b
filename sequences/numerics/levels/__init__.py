"""From volts to decibels: the detector's law, and what it does to a curve."""
