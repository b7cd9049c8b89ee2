"""Find ways by sea from the datum to ports, beside everything, and keep them.

``python -m layers.forward_port.legs.find_ways`` with latitude and longitude of the datum, then of
each port.
"""

from __future__ import annotations

import os
import sys

from layers.earth.position import Position
from layers.forward_port.legs import coast
from layers.forward_port.legs.ways_from import find

NICE = 19


def main(words: list[str]) -> int:
    """Find the ways between the places told; 1 where there is no coastline or no place."""
    if hasattr(os, "nice"):
        os.nice(NICE)
    land = coast.land()
    told = [float(word) for word in words]
    if land is None or len(told) < 4 or len(told) % 2:
        return 1
    datum, *goals = map(Position, told[::2], told[1::2])
    find(land, datum, goals)
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
