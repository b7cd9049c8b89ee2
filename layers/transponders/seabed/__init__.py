"""Depths, chart cells and what lies on the seabed."""
