"""Where she may have been lost before any report: her movement, the ground, the reckoning."""
