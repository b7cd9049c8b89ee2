"""Which decision gains most."""
