"""What drifts on the surface: leeway and drift."""
