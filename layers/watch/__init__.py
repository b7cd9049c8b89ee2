"""watch."""
