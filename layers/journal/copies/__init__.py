"""Copies of a journal, and the check that needs only Python."""
