"""From readings of a response to its curve, its figures and its doubts."""
