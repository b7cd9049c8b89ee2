"""The land in metres of a frame: three levels of detail, written small.

Each level has its own reach about the centre; the browser shows the finest that covers what it
looks at.
"""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, cast

import numpy as np
import numpy.typing as npt

from layers.earth.chart.frames import ChartFrame, FrameName
from layers.earth.shore.land import Land, Ring

Level = Literal["overview", "medium", "full"]
VERSION = 7  # raised when the same land and frame would give another text


@dataclass(frozen=True, slots=True)
class LevelReach:
    """How far a level goes about the centre, its unit, and the least island it shows."""

    level: Level
    half_m: float
    unit_m: float
    least_m: float
    widest_view_m: float


LEVELS: tuple[LevelReach, ...] = (
    LevelReach("full", 260_000.0, 2.0, 0.0, 300_000.0),
    LevelReach("medium", 900_000.0, 50.0, 400.0, 1_400_000.0),
    LevelReach("overview", 6_000_000.0, 1_500.0, 9_000.0, math.inf),
)

# frames that can show the whole earth are given its land: an end of data would read as a coast
WORLD = (FrameName.RANGE_TRUE, FrameName.MERCATOR)
WORLD_M = 2.1e7  # beyond the pole on the other side


def land_text(land: Land, frame: ChartFrame) -> str:
    """Return the land about the centre of a frame as JSON, every level in it."""
    return json_text(land_levels(land, frame))


def json_text(content: object) -> str:
    """Return JSON without spaces."""
    return json.dumps(content, separators=(",", ":"))


def land_levels(land: Land, frame: ChartFrame) -> list[dict[str, object]]:
    """Return the land about the centre of a frame, the finest level first."""
    return [_level(land, frame, reach) for reach in LEVELS]


def _level(land: Land, frame: ChartFrame, reach: LevelReach) -> dict[str, object]:
    whole = reach.level == "overview" and frame.name in WORLD
    box = _box(frame, WORLD_M if whole else reach.half_m)
    fill = _metres(frame, land.rings(*box, reach.level), reach)
    # where land is cut its outline is no coast
    coast = _metres(frame, land.coast(*box, reach.level), reach)
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


def _metres(frame: ChartFrame, runs: Sequence[Ring], reach: LevelReach) -> list[list[int]]:
    """Return each run as x, y, then steps dx, dy … in the level's unit; short, so small to send.

    Points that fall on the one before and islands smaller than the level shows are left out.
    """
    return [_steps(points, reach) for points in projected(frame, runs)]


def projected(frame: ChartFrame, runs: Sequence[Ring]) -> list[npt.NDArray[np.float64]]:
    """Return each run's places on the sheet as x, y in metres, those that it cannot show left out.

    All at once: a call for each of thousands of islands costs ten times as much.
    """
    if not runs:
        return []
    latitude_deg, longitude_deg = (np.concatenate(part) for part in zip(*runs, strict=True))
    points = np.column_stack(frame.project(latitude_deg, longitude_deg))
    ends = np.cumsum([len(latitude) for latitude, _ in runs])[:-1]
    return [run[np.isfinite(run).all(axis=1)] for run in np.split(points, ends)]


def _steps(points: npt.NDArray[np.float64], reach: LevelReach) -> list[int]:
    if len(points) < 2 or np.abs(np.diff(points, axis=0)).max() > 1.2e7:
        return []  # torn where the sheet is cut open, far from the work
    if np.ptp(points, axis=0).max() < reach.least_m:
        return []
    units = np.round(points / reach.unit_m).astype(np.int64)
    keep = np.ones(len(units), dtype=bool)
    keep[1:] = np.any(np.diff(units, axis=0) != 0, axis=1)
    steps = np.diff(units[keep], axis=0, prepend=np.zeros((1, 2), dtype=np.int64))
    return cast("list[int]", steps.ravel().tolist())
