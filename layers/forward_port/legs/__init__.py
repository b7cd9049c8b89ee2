"""Legs by sea, air and road, and how long they take."""
