"""Candidate ports and airfields, and what fits there."""
