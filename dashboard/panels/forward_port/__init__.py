"""Panels of one subject; each has show(seen)."""
