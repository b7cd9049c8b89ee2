"""tracks."""
