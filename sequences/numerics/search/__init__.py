"""Where to measure next."""
