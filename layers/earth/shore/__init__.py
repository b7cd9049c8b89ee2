"""Coastlines, cut for one chart frame."""
