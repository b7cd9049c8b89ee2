"""transponders."""
