"""Damaged input by the hundred thousand, for every reader."""
