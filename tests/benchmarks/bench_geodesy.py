"""A million range-and-bearing pairs against the bare library."""

from __future__ import annotations

import time

import numpy as np
from pyproj import Geod

from layers.earth.geodesy import inverse
from tests.benchmarks.figure import Figure

PAIRS = 1_000_000


def figures() -> list[Figure]:
    """Return the ratio, the best of interleaved runs so that a busy machine hurts both alike."""
    rng = np.random.default_rng(20270313)
    lat_a, lat_b = rng.uniform(-89, 89, (2, PAIRS))
    lon_a, lon_b = rng.uniform(-180, 180, (2, PAIRS))
    bare = Geod(ellps="WGS84")
    ours: list[float] = []
    theirs: list[float] = []
    for _ in range(4):
        start = time.perf_counter()
        bare.inv(lon_a, lat_a, lon_b, lat_b)
        middle = time.perf_counter()
        inverse(lat_a, lon_a, lat_b, lon_b)
        theirs.append(middle - start)
        ours.append(time.perf_counter() - middle)
    return [
        Figure(
            issue=2,
            name="a million range-and-bearing pairs",
            ratio=min(ours) / min(theirs),
            target=1.15,
            direction="at most",
            reference="bare pyproj.Geod.inv",
            note=f"{min(theirs):.2f} s bare",
        )
    ]
