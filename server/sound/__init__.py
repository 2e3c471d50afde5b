"""The sound of a receiver: listened to from the command line, and as the counter and the meter of a bench."""
