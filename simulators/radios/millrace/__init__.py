"""The Millrace 5: an invented five-valve broadcast superhet without mains transformer."""
