"""What Musterplot knows and computes; nothing here knows a screen or a map library."""
