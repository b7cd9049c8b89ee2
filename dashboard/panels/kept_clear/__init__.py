"""Boxes of the page of the ground kept clear."""
