"""Cutting the coastline once into a small cache; run in a process of its own.

``python -m layers.earth.shore.land_cut FOLDER`` loads the full coastline (seconds, and well over
half a gigabyte), writes three files and ends, so that no other process ever holds it:

- ``overview.npz``: the world at about 3 km, for charts over 1,000 km across;
- ``medium.npz``: the world at about 400 m;
- ``full.npy`` and ``full.npz``: every vertex, to be mapped into memory and read piece by piece.

Each line printed is a fraction done and what is being done, for a progress bar.
"""

from __future__ import annotations

import json
import os
import sys
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

VERSION = 1
READY = "ready.json"
UNIT_DEG = 1.0e-7  # vertices are kept as int32 in units of about a centimetre
LEVELS = {"overview": 0.03, "medium": 0.004}  # tolerance of simplification, degrees
_CHUNK = 50_000

Polygons = npt.NDArray[Any]


def say(fraction: float, text: str) -> None:
    """Print one line of progress."""
    sys.stdout.write(f"{fraction:.2f} {text}\n")
    sys.stdout.flush()


def load() -> Polygons:
    """Return the polygons of OpenStreetMap's land as roaring-landmask carries them."""
    from roaring_landmask import LandmaskProvider, Shapes

    return np.asarray(shapely.get_parts(shapely.from_wkb(Shapes.wkb(LandmaskProvider.Osm))))


def simplified(polygons: Polygons, bounds: npt.NDArray[np.float64], tolerance: float) -> Polygons:
    """Return the polygons that are large enough to see, simplified by Douglas and Peucker."""
    size = np.hypot(bounds[:, 2] - bounds[:, 0], bounds[:, 3] - bounds[:, 1])
    cut = shapely.simplify(polygons[size > 2.0 * tolerance], tolerance, preserve_topology=False)
    cut = cut[~shapely.is_empty(cut)]
    wrong = ~shapely.is_valid(cut)
    cut[wrong] = shapely.make_valid(cut[wrong])
    parts = shapely.get_parts(shapely.get_parts(cut))
    return np.asarray(parts[shapely.get_type_id(parts) == 3])


def write_level(path: Path, polygons: Polygons) -> None:
    """Write simplified polygons as one file."""
    _kind, coordinates, (rings, parts) = shapely.to_ragged_array(polygons)
    np.savez(
        path,
        xy=np.round(coordinates / UNIT_DEG).astype(np.int32),
        rings=rings.astype(np.int64),
        parts=parts.astype(np.int64),
        bounds=shapely.bounds(polygons).astype(np.float32),
    )


def write_full(folder: Path, polygons: Polygons, bounds: npt.NDArray[np.float64]) -> None:
    """Write every vertex to a file that can be mapped, and an index beside it."""
    total = int(shapely.get_num_coordinates(polygons).sum())
    xy = np.lib.format.open_memmap(folder / "full.npy", mode="w+", dtype=np.int32, shape=(total, 2))
    ring_ends, part_ends, at, ring = [np.zeros(1, np.int64)], [np.zeros(1, np.int64)], 0, 0
    for start in range(0, len(polygons), _CHUNK):
        _kind, coordinates, (rings, parts) = shapely.to_ragged_array(
            polygons[start : start + _CHUNK]
        )
        xy[at : at + len(coordinates)] = np.round(coordinates / UNIT_DEG)
        ring_ends.append(rings[1:].astype(np.int64) + at)
        part_ends.append(parts[1:].astype(np.int64) + ring)
        at += len(coordinates)
        ring += len(rings) - 1
        say(0.60 + 0.25 * start / len(polygons), "writing the full coastline")
    xy.flush()
    # bounds a hair wider, because float32 rounds
    wide = bounds + np.array([-1e-4, -1e-4, 1e-4, 1e-4])
    np.savez(
        folder / "full.npz",
        rings=np.concatenate(ring_ends),
        parts=np.concatenate(part_ends),
        bounds=wide.astype(np.float32),
    )


def cut(folder: Path) -> None:
    """Cut the coastline into ``folder``; the files appear under their names when whole."""
    folder.mkdir(parents=True, exist_ok=True)
    work = folder / f"cutting-{os.getpid()}"
    work.mkdir()
    try:
        say(0.02, "loading the coastline")
        polygons = load()
        bounds = shapely.bounds(polygons)
        say(0.55, "simplifying the world for small scales")
        write_level(work / "overview.npz", simplified(polygons, bounds, LEVELS["overview"]))
        os.replace(work / "overview.npz", folder / "overview.npz")
        write_full(work, polygons, bounds)
        say(0.86, "simplifying the world for middle scales")
        write_level(work / "medium.npz", simplified(polygons, bounds, LEVELS["medium"]))
        for name in ("full.npy", "full.npz", "medium.npz"):
            os.replace(work / name, folder / name)
        (work / READY).write_text(json.dumps({"version": VERSION, "polygons": len(polygons)}))
        os.replace(work / READY, folder / READY)
    finally:
        for left in work.iterdir():
            left.unlink()
        work.rmdir()
    say(1.0, "the coastline is ready")


if __name__ == "__main__":
    cut(Path(sys.argv[1]))
