"""What measures a response, shared by every step that does."""
