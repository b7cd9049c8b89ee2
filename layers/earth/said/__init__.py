"""Quantities, places and times as people say and write them."""
