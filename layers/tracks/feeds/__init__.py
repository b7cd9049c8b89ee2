"""Readers of positions, AIS messages, tracks and routes."""
