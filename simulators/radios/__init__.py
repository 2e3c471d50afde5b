"""The simulated receivers of the practice bench. Both are inventions."""
