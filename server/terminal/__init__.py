"""What a person at a terminal sees and types."""
