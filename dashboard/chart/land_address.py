"""The land in metres of a frame, written once to a file that the browser fetches and keeps.

Three levels of detail, each over its own reach about the centre: the browser shows the finest
that covers what it looks at. The file's name is the hash of its content, so that a browser never
keeps an old coast and never fetches the same one twice. The coast is public: nothing operational
is served this way.
"""

from __future__ import annotations

import hashlib
import json
import math
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
import streamlit.components.v1 as components

from dashboard import settings
from layers.earth.frames import ChartFrame, FrameName
from layers.earth.land import Land, Ring

Level = Literal["overview", "medium", "full"]


@dataclass(frozen=True, slots=True)
class Reach:
    """How far a level goes about the centre, its unit, and the least island it shows."""

    level: Level
    half_m: float
    unit_m: float
    least_m: float
    widest_view_m: float


LEVELS: tuple[Reach, ...] = (
    Reach("full", 260_000.0, 2.0, 0.0, 300_000.0),
    Reach("medium", 900_000.0, 50.0, 400.0, 1_400_000.0),
    Reach("overview", 6_000_000.0, 1_500.0, 9_000.0, math.inf),
)


def _folder() -> Path:
    folder = settings.data_folder() / "cache" / "land"
    folder.mkdir(parents=True, exist_ok=True)
    return folder


def land_address(land: Land, frame: ChartFrame) -> str:
    """Return the relative address of the frame's land, empty while there is none."""
    if not land.ready():
        return ""
    folder = _folder()
    components.declare_component("coast", path=str(folder))
    key = hashlib.sha256(f"5 {frame.projection_key}".encode()).hexdigest()[:20]
    index = folder / f"{key}.index"
    if not index.exists() or not (folder / index.read_text()).exists():
        text = json.dumps([_level(land, frame, reach) for reach in LEVELS], separators=(",", ":"))
        name = hashlib.sha256(text.encode()).hexdigest()[:20] + ".json"
        _write(folder / name, text)
        _write(index, name)
    return f"../{__name__}.coast/{index.read_text()}"


def _write(path: Path, text: str) -> None:
    part = path.with_suffix(f".part{id(text)}")
    part.write_text(text)
    part.replace(path)  # whole or not at all, also when two viewers ask at once


def _level(land: Land, frame: ChartFrame, reach: Reach) -> dict[str, object]:
    west, south, east, north = _box(frame, reach.half_m)
    fill = [
        _metres(frame, ring, reach) for ring in land.rings(west, south, east, north, reach.level)
    ]
    # at small scale the outline of the fill is the coast: its cuts lie beyond what is seen
    lines = [] if reach.level == "overview" else land.coast(west, south, east, north, reach.level)
    coast = [_metres(frame, ring, reach) for ring in lines]
    return {
        "half_m": reach.half_m,
        "unit_m": reach.unit_m,
        "widest_m": None if math.isinf(reach.widest_view_m) else reach.widest_view_m,
        "fill": [run for run in fill if len(run) > 5],
        "coast": [run for run in coast if len(run) > 3],
    }


def _box(frame: ChartFrame, half_m: float) -> tuple[float, float, float, float]:
    """Return west, south, east, north in degrees about the centre, generously."""
    centre = frame.centre
    up = math.degrees(half_m / 6.37e6)
    south, north = max(centre.latitude_deg - up, -90.0), min(centre.latitude_deg + up, 90.0)
    widest = math.cos(math.radians(min(max(abs(south), abs(north)), 89.0)))
    across = min(up / max(widest, 0.02), 179.9)
    if frame.name is FrameName.UTM:
        across = min(across, 30.0)
    if frame.name is FrameName.MERCATOR:
        south, north = max(south, -84.0), min(north, 84.0)
    return centre.longitude_deg - across, south, centre.longitude_deg + across, north


def _metres(frame: ChartFrame, ring: Ring, reach: Reach) -> list[int]:
    """Return a run as x, y, then steps dx, dy … in the level's unit; short, so small to send.

    Points that fall on the one before and islands smaller than the level shows are left out.
    """
    x, y = frame.project(*ring)
    points = np.column_stack([x, y])
    points = points[np.isfinite(points).all(axis=1)]
    if len(points) < 2 or np.abs(np.diff(points, axis=0)).max() > 1.2e7:
        return []  # torn where the sheet is cut open, far from the work
    if np.ptp(points, axis=0).max() < reach.least_m:
        return []
    units = np.round(points / reach.unit_m).astype(np.int64)
    keep = np.ones(len(units), dtype=bool)
    keep[1:] = np.any(np.diff(units, axis=0) != 0, axis=1)
    steps = np.diff(units[keep], axis=0, prepend=np.zeros((1, 2), dtype=np.int64))
    return [int(value) for value in steps.ravel()]
