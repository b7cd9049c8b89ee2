"""datum."""
