"""The append-only record of everything reported or decided."""
