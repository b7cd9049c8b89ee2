"""The net of transponders: box-in, ranges and fixes."""
