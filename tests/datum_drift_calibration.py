"""Simulated objects adrift: how often the region of one that drifts holds it.

Written from the world: a raft seen once, carried by a tidal current and a veering wind whose
forecasts are off by an error that fades over half a day (a Gauss-Markov process, stepped by
itself), with a leeway of its own that changes tack now and then; at times seen again, at times
passed by a search that misses it. The truth knows nothing of the particles.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import Any

import numpy as np

from layers.contract import Moment
from layers.datum.adrift.adrift import adrift
from layers.datum.adrift.objects import objects
from layers.datum.before.prior import States
from layers.datum.model import DISSUB
from layers.earth.arrays import Floats, Ints
from layers.earth.plane import Plane
from layers.earth.units import M_S_PER_KN
from layers.earth.values import Conditions
from tests.unit.test_datum_reports import START, known

PLANE = Plane(-47.2, 168.3)
NAME, SORT = "raft", "raft, deep ballast"
# the row's own figures: 3.0 % of the wind and 0.02 kn, up to 13 degrees off down-wind (from
# memory, as the table says); a coefficient differs by a fifth from raft to raft
SLOPE, OFFSET_KN, OFF_DEG, SPREAD = 0.030, 0.02, 13.0, 0.2
CURRENT_SIGMA, WIND_SIGMA, FADES_S = 0.12, 1.5, 12.0 * 3_600.0
STEP_S = 300.0
PARTS = (0.50, 0.90, 0.95)


class Forecast:
    """Wind and current as forecast, the same everywhere; the truth differs by an error."""

    def at(self, seconds: Floats) -> tuple[Floats, Floats, Floats, Floats]:
        """Return current east and north, wind east and north, m/s."""
        turn = 2.0 * np.pi * seconds / (12.42 * 3_600.0)
        veer = 2.0 * np.pi * seconds / (60.0 * 3_600.0)
        return (
            0.15 + 0.35 * np.cos(turn), 0.25 * np.sin(turn),
            9.0 * np.cos(veer), 9.0 * np.sin(veer),
        )  # fmt: skip

    def conditions(self, latitudes_deg: Floats, longitudes_deg: Floats, at_us: Ints) -> Conditions:
        """Return the forecast at places and times."""
        seconds = at_us / 1e6 - START.timestamp()
        current_e, current_n, wind_e, wind_n = self.at(seconds)
        calm = np.zeros(len(latitudes_deg))
        return Conditions(
            wind_east_m_s=wind_e, wind_north_m_s=wind_n, wind_sigma_m_s=calm + WIND_SIGMA,
            current_east_m_s=current_e, current_north_m_s=current_n,
            current_sigma_m_s=calm + CURRENT_SIGMA, hs_m=calm, hs_sigma_m=calm, tp_s=calm,
        )  # fmt: skip


def truth(rng: np.random.Generator, hours: float) -> Floats:
    """Return where one raft is in each step from the plane's middle, shape (steps + 1, 2)."""
    steps, forecast = int(hours * 3_600.0 / STEP_S), Forecast()
    keep = np.exp(-STEP_S / FADES_S)
    error = np.array([CURRENT_SIGMA] * 2 + [WIND_SIGMA] * 2) * rng.standard_normal(4)
    own = 1.0 + SPREAD * rng.standard_normal()
    side = rng.choice([-1.0, 1.0]) * OFF_DEG * np.sqrt(rng.random())
    place = np.zeros((steps + 1, 2))
    for step in range(steps):
        now = np.array(forecast.at(np.array([step * STEP_S]))).ravel() + error
        blow = np.hypot(now[2], now[3])
        if rng.random() < 0.04 * STEP_S / 3_600.0:
            side = -side
        turn = np.radians(side)
        down = np.array([now[2], now[3]]) / max(blow, 1e-9)
        across = np.array([down[1], -down[0]])
        lee = own * (SLOPE * blow + OFFSET_KN * M_S_PER_KN)
        moved = now[:2] + lee * (np.cos(turn) * down + np.sin(turn) * across)
        place[step + 1] = place[step] + moved * STEP_S
        fresh = np.sqrt(1.0 - keep**2) * rng.standard_normal(4)
        error = keep * error + fresh * np.array([CURRENT_SIGMA] * 2 + [WIND_SIGMA] * 2)
    return place


def _where(place: Floats) -> dict[str, Any]:
    found = PLANE.position(float(place[0]), float(place[1]))
    return {"latitude_deg": found.latitude_deg, "longitude_deg": found.longitude_deg}


def _search(rng: np.random.Generator, path: Floats, at_h: float) -> Any:
    """Return a ladder steered near the raft, and the chance that it missed it."""
    first, width, speed = int(at_h * 3_600.0 / STEP_S), 1_500.0, 6.0
    middle = path[first] + 4_000.0 * rng.standard_normal(2)
    offs = (np.arange(6) - 2.5) * 1_500.0
    ends = [(-5e3, 5e3) if k % 2 == 0 else (5e3, -5e3) for k in range(6)]
    corners = middle + np.array([(x, off) for pair, off in zip(ends, offs, strict=True)
                                 for x in pair])  # fmt: skip
    run = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(corners, axis=0).T))))
    seconds = np.arange(0.0, run[-1] / speed, 10.0)
    ship = np.column_stack([np.interp(seconds * speed, run, corners[:, k]) for k in (0, 1)])
    steps = np.arange(len(path)) * STEP_S - at_h * 3_600.0
    raft = np.column_stack([np.interp(seconds, steps, path[:, k]) for k in (0, 1)])
    away = np.maximum(np.hypot(*(ship - raft).T), 30.0)
    # Koopman's inverse cube rate: k h / r^3 with k h = W^2 v / (8 pi)
    seen = 1.0 - np.exp(-(width**2 * speed / (8.0 * np.pi) / away**3).sum() * 10.0)
    ended = at_h + run[-1] / speed / 3_600.0
    payload = {
        "searcher": "A", "object": NAME, "sweep_width_m": width,
        "waypoints": [_where(corner) for corner in corners],
        "started_at": (START + timedelta(hours=at_h)).isoformat(),
    }  # fmt: skip
    return ended, payload, float(seen)


@dataclass(frozen=True, slots=True, kw_only=True)
class Adrift:
    """In which regions the raft lay, its 95 % area, and whether the circle held it."""

    regions: tuple[bool, ...]
    circle: bool
    area_nmi2: float


def one(seed: int, number: int) -> Adrift:
    """Return what one simulated raft showed."""
    rng = np.random.default_rng([seed, number])
    hours = float(rng.uniform(8.0, 40.0))
    while True:
        path = truth(rng, hours)
        sigma = float(rng.uniform(150.0, 900.0))
        first = path[0] + sigma * rng.standard_normal(2)
        sights, searches, seen = [(0.0, sigma, first)], [], False
        if rng.random() < 0.4:  # seen again
            at = float(rng.uniform(0.2, 0.8)) * hours
            there = path[int(at * 3_600.0 / STEP_S)] + 500.0 * rng.standard_normal(2)
            sights.append((at, 500.0, there))
        if rng.random() < 0.5:
            ends, payload, chance = _search(rng, path, float(rng.uniform(0.3, 0.7)) * hours)
            seen = rng.random() < chance or ends >= hours
            searches.append((ends, payload))
        if not seen:  # a search that saw it would have ended the story
            break
    told = {"what": "raft", "object": NAME, "object_type": SORT, "observer": "X",
            "leak": "not of her"}  # fmt: skip
    facts = [("datum.object", 0.0, {"name": NAME, "object_type": SORT})]
    facts += [
        ("datum.sighting", at, told | _where(place) | {"sigma_m": size, "chance_wrong": 0.01})
        for at, size, place in sights
    ]
    facts += [("datum.negative_search", ends, payload) for ends, payload in searches]
    held, _ = known(*facts)
    now = START + timedelta(hours=hours)
    nowhere = States(np.zeros(1), np.zeros(1), np.zeros(1))
    found = adrift(
        objects(held, now)[0],
        [e for e in held.entries("datum.sighting") if e.value.object != DISSUB],
        list(held.entries("datum.negative_search")),
        PLANE, nowhere, np.ones(1), START, Forecast(), Moment(now, now).at, 1_000 + number,
    )  # fmt: skip
    x, y = path[-1]
    grid = found.grid
    column, row = int((x - grid.x0_m) // grid.cell_m), int((y - grid.y0_m) // grid.cell_m)
    ny, nx = grid.held.shape
    here = grid.held[row, column] if 0 <= row < ny and 0 <= column < nx else -1.0
    centre = PLANE.point(found.position.latitude_deg, found.position.longitude_deg)
    return Adrift(
        regions=tuple(bool(here >= grid.level(part)) for part in PARTS),
        circle=bool(np.hypot(x - centre[0], y - centre[1]) <= found.radius_95_m),
        area_nmi2=grid.area_m2(0.95) / 1_852.0**2,
    )


def drifting(count: int, seed: int) -> list[Adrift]:
    """Return what many rafts showed."""
    return [one(seed, number) for number in range(count)]


def told(found: list[Adrift]) -> str:
    """Return the row in words, all its figures."""
    n = len(found)
    parts = [f"{100.0 * sum(h.regions[k] for h in found) / n:.0f}" for k in range(3)]
    area = float(np.median([h.area_nmi2 for h in found]))
    circle = 100.0 * sum(h.circle for h in found) / n
    return (
        f"rafts adrift 8 to 40 h: {n}, 50/90/95 % hold {'/'.join(parts)}, circle {circle:.0f}, "
        f"median 95 % area {area:.1f} nmi²"
    )
