"""A person as instrument: sets the source, reads the meter and the counter, and is asked a line at a time."""
