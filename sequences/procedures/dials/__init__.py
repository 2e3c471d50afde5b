"""Where the receiver is tuned, and the dial's error."""
