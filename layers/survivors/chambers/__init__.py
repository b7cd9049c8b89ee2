"""Chambers and decompression schedules, pressure, and doses of oxygen."""
