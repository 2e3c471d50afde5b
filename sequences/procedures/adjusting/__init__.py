"""What has a person turn adjusters, shared by every step that does."""
