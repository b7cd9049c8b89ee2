"""Drift of what floats, forwards and backwards, through wind and current.

The field is sampled once over the area and span, turned into the plane and looked up cell by
cell; so the cost does not depend on where the field comes from.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from layers.datum.adrift.leeway import JIBES_PER_H, Leeway
from layers.earth.arrays import Floats, Ints, Singles
from layers.earth.plane import Plane
from layers.earth.units import M_S_PER_KN, S_PER_H
from layers.earth.values import ConditionsField

STEP_S = 600.0
CHUNK = 16_384  # particles at a time: their columns stay in the processor's cache
CELLS = 64
NODES = 33  # a side, at which the field is asked
# Where no wind or current is known: one standard deviation per component. Common practice in
# open water with no report, no source; said on the screen whenever it is used.
UNKNOWN_CURRENT_M_S = 0.35
NOTED = 0.05  # so much of a drift may be unknown without a word
UNKNOWN_WIND_M_S = 8.0
# A particle keeps its error of wind and current so long, then draws another; how long a
# forecast's error lasts. Common practice, no source.
ERROR_HOLDS_S = 12.0 * 3_600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class DriftField:
    """Wind and current over a square of the plane and a span of time.

    Parameters
    ----------
    x0_m, y0_m, cell_m : float
        South-west corner and cell side of a square of ``CELLS`` by ``CELLS``.
    start_us, step_us : int
        Time of the first sample, and between samples.
    samples : ndarray, shape (nt, 4, n, n)
        Current east and north, wind east and north on the plane, m/s, at coarse nodes.
    current_sigma_m_s, wind_sigma_m_s : float
        Error per component; each particle keeps its own for `ERROR_HOLDS_S`.
    unknown_current, unknown_wind : float
        Part of the samples for which no current, and no wind, was known; one is used without the
        other.
    """

    x0_m: float
    y0_m: float
    cell_m: float
    start_us: int
    step_us: int
    samples: Floats
    current_sigma_m_s: float
    wind_sigma_m_s: float
    unknown_current: float
    unknown_wind: float

    def table(self, at_us: float) -> Singles:
        """Return current and wind by cell at a time, shape (CELLS * CELLS, 4)."""
        place = np.clip((at_us - self.start_us) / self.step_us, 0.0, len(self.samples) - 1.0)
        before = min(int(place), max(len(self.samples) - 2, 0))
        after = min(before + 1, len(self.samples) - 1)
        part = place - before
        nodes = self.samples[before] * (1.0 - part) + self.samples[after] * part
        weights = _finer(nodes.shape[-1])
        cells = weights @ nodes @ weights.T
        return np.ascontiguousarray(cells.reshape(4, -1).T, dtype=np.float32)


@lru_cache(maxsize=8)
def _finer(nodes: int) -> Floats:
    """Return the linear weights from coarse nodes to cell middles, shape (CELLS, nodes)."""
    place = (np.arange(CELLS) + 0.5) / CELLS * (nodes - 1)
    before = np.minimum(place.astype(int), nodes - 2)
    weights = np.zeros((CELLS, nodes))
    rows = np.arange(CELLS)
    weights[rows, before] = 1.0 - (place - before)
    weights[rows, before + 1] = place - before
    return weights


def sample_field(
    field: ConditionsField | None,
    plane: Plane,
    centre_m: tuple[float, float],
    side_m: float,
    start_us: int,
    end_us: int,
    nodes: int = NODES,
    step_s: float = 1_800.0,
) -> DriftField:
    """Return wind and current over a square of the plane, sampled between two times."""
    start_us, end_us = min(start_us, end_us), max(start_us, end_us)
    step_us = int(step_s * 1e6)
    times = np.arange(start_us, end_us + step_us, step_us, dtype=np.int64)
    x0, y0 = centre_m[0] - side_m / 2.0, centre_m[1] - side_m / 2.0
    if field is None:
        return DriftField(
            x0_m=x0,
            y0_m=y0,
            cell_m=side_m / CELLS,
            start_us=start_us,
            step_us=step_us,
            samples=np.zeros((len(times), 4, nodes, nodes)),
            current_sigma_m_s=UNKNOWN_CURRENT_M_S,
            wind_sigma_m_s=UNKNOWN_WIND_M_S,
            unknown_current=1.0,
            unknown_wind=1.0,
        )
    edge = np.linspace(0.0, side_m, nodes)
    grid_y, grid_x = np.meshgrid(y0 + edge, x0 + edge, indexing="ij")
    lat, lon = plane.unproject(grid_x.ravel(), grid_y.ravel())
    count = len(lat)
    found = field.conditions(
        np.tile(lat, len(times)), np.tile(lon, len(times)), np.repeat(times, count)
    )
    turn = np.radians([plane.convergence_deg(a, o) for a, o in zip(lat, lon, strict=True)])
    sin, cos = np.tile(np.sin(turn), len(times)), np.tile(np.cos(turn), len(times))
    parts = []
    for east, north in (
        (found.current_east_m_s, found.current_north_m_s),
        (found.wind_east_m_s, found.wind_north_m_s),
    ):
        parts += [east * cos + north * sin, north * cos - east * sin]
    samples = np.stack(parts).reshape(4, len(times), nodes, nodes).transpose(1, 0, 2, 3)
    unknown_current = float(np.isnan(samples[:, :2]).any(axis=1).mean())
    unknown_wind = float(np.isnan(samples[:, 2:]).any(axis=1).mean())
    return DriftField(
        x0_m=x0,
        y0_m=y0,
        cell_m=side_m / CELLS,
        start_us=start_us,
        step_us=step_us,
        samples=np.nan_to_num(samples),
        current_sigma_m_s=_sigma(found.current_sigma_m_s, UNKNOWN_CURRENT_M_S, unknown_current),
        wind_sigma_m_s=_sigma(found.wind_sigma_m_s, UNKNOWN_WIND_M_S, unknown_wind),
        unknown_current=unknown_current,
        unknown_wind=unknown_wind,
    )


def _sigma(given: Floats, when_unknown: float, unknown: float) -> float:
    """Return one error for the field: the given one, widened by what is not known."""
    known = given[np.isfinite(given)]
    square = float(np.mean(known**2)) if len(known) else when_unknown**2
    return float(np.sqrt((1.0 - unknown) * square + unknown * when_unknown**2))


def unknown_words(current: float, wind: float) -> str:
    """Return of what part of a drift current or wind are not known, empty when both are."""
    if current == wind and current > NOTED:
        return f"no wind or current is known for {current:.0%} of it"
    told = [
        f"no {what} is known for {part:.0%} of it"
        for what, part in (("current", current), ("wind", wind))
        if part > NOTED
    ]
    return ", ".join(told)


@dataclass(slots=True, kw_only=True)
class Drifters:
    """What one drift holds for each of ``n`` particles besides its place, shape (n,).

    The errors of current and wind are in standard deviations of the field where the particle is.
    A drift goes on where the last one ended, whoever reports what in between: ``gone_s`` counts
    what has been drifted, ``errors_until_s`` when the errors are drawn anew.
    """

    slope: Singles
    offset_m_s: Singles
    cos: Singles
    sin: Singles  # sign tells the tack: positive goes off to the right of down-wind
    current_east_m_s: Singles
    current_north_m_s: Singles
    wind_east_m_s: Singles
    wind_north_m_s: Singles
    jibe_s: Singles  # time of the next jibe after the start
    gone_s: float = 0.0
    errors_until_s: float = ERROR_HOLDS_S

    def take(self, rows: npt.NDArray[np.int64]) -> Drifters:
        """Return these particles."""
        columns = {
            item.name: getattr(self, item.name)[rows]
            for item in fields(self)
            if item.name not in ("gone_s", "errors_until_s")
        }
        return Drifters(**columns, gone_s=self.gone_s, errors_until_s=self.errors_until_s)


def draw_drifters(leeway: Leeway, count: int, rng: np.random.Generator) -> Drifters:
    """Return leeway and field errors for ``count`` particles, half on each tack.

    The divergence of a row is the greatest; each particle keeps one up to it, the square root of
    an even draw, so that most lie near it.
    """
    spread = 1.0 + leeway.spread * rng.standard_normal(count)
    tack = np.where(rng.random(count) < 0.5, 1.0, -1.0)
    angle = np.radians(leeway.divergence_deg) * tack * np.sqrt(rng.random(count))

    def single(values: Floats) -> Singles:
        return np.asarray(values, dtype=np.float32)

    def error() -> Singles:
        return single(rng.standard_normal(count))

    return Drifters(
        slope=single(leeway.slope * spread),
        offset_m_s=single(leeway.offset_kn * M_S_PER_KN * spread),
        cos=single(np.cos(angle)),
        sin=single(np.sin(angle)),
        current_east_m_s=error(),
        current_north_m_s=error(),
        wind_east_m_s=error(),
        wind_north_m_s=error(),
        jibe_s=single(rng.exponential(S_PER_H / JIBES_PER_H, count)),
    )


def drift(
    field: DriftField,
    x_m: Floats,
    y_m: Floats,
    begin_us: int,
    end_us: int,
    drifters: Drifters,
    rng: np.random.Generator,
    *,
    released_us: Ints | None = None,
    every: list[tuple[int, Floats, Floats]] | None = None,
    step_s: float = STEP_S,
) -> tuple[Floats, Floats]:
    """Return where particles are at ``end_us``; backwards when that is the earlier time.

    Parameters
    ----------
    released_us : ndarray, shape (n,), optional
        Forwards only: a particle stays where it is until then.
    every : list, optional
        Filled with (time, x, y) after every step, for all particles.
    """
    span_s = (end_us - begin_us) / 1e6
    steps = max(int(np.ceil(abs(span_s) / step_s)), 1)
    dt_s = span_s / steps
    middles = [begin_us + (step + 0.5) * dt_s * 1e6 for step in range(steps)]
    tables = [field.table(at_us) for at_us in middles]
    x, y = np.array(x_m, dtype=np.float64), np.array(y_m, dtype=np.float64)
    kept = [(np.empty_like(x), np.empty_like(y)) for _ in range(steps)] if every is not None else []
    errors_until_s = drifters.errors_until_s
    for start in range(0, len(x), CHUNK):
        rows = slice(start, start + CHUNK)
        moved = _Chunk(field, drifters, rows, rng)
        cx, cy = x[rows], y[rows]
        wait = None if released_us is None else (released_us[rows] - begin_us) / 1e6
        for step, table in enumerate(tables):
            east, north = moved.velocity(table, cx, cy, drifters.gone_s + abs(step * dt_s))
            if wait is None:
                cx += east * dt_s
                cy += north * dt_s
            else:
                moving = np.clip((step + 1) * dt_s - wait, 0.0, dt_s)
                cx += east * moving
                cy += north * moving
            if kept:
                kept[step][0][rows], kept[step][1][rows] = cx, cy
        moved.keep(drifters, rows)
        errors_until_s = moved.errors_until_s
    drifters.gone_s += abs(span_s)
    drifters.errors_until_s = errors_until_s
    if every is not None:
        for step, (kx, ky) in enumerate(kept):
            every.append((int(begin_us + (step + 1) * dt_s * 1e6), kx, ky))
    return x, y


class _Chunk:
    """The columns of some particles, and their velocity from a table of cells."""

    def __init__(
        self, field: DriftField, drifters: Drifters, rows: slice, rng: np.random.Generator
    ) -> None:
        self.field, self.rng = field, rng
        self.slope, self.offset = drifters.slope[rows], drifters.offset_m_s[rows]
        self.cos, self.sin = drifters.cos[rows], drifters.sin[rows].copy()
        self.errors = np.stack(
            [
                drifters.current_east_m_s[rows],
                drifters.current_north_m_s[rows],
                drifters.wind_east_m_s[rows],
                drifters.wind_north_m_s[rows],
            ],
            axis=1,
        )
        self.jibe = drifters.jibe_s[rows].copy()
        self.straight = not self.sin.any()
        self.next_jibe = float(self.jibe.min()) if not self.straight else np.inf
        self.errors_until_s = drifters.errors_until_s
        sigmas = np.repeat([field.current_sigma_m_s, field.wind_sigma_m_s], 2)
        self.sigmas = sigmas.astype(np.float32)
        self.scaled = self.errors * self.sigmas

    def keep(self, drifters: Drifters, rows: slice) -> None:
        """Write errors and tacks back, so that the next drift goes on from them."""
        drifters.sin[rows], drifters.jibe_s[rows] = self.sin, self.jibe
        columns = ("current_east_m_s", "current_north_m_s", "wind_east_m_s", "wind_north_m_s")
        for column, name in enumerate(columns):
            getattr(drifters, name)[rows] = self.errors[:, column]

    def velocity(
        self, table: Singles, x: Floats, y: Floats, gone_s: float
    ) -> tuple[Floats, Floats]:
        """Return metres a second east and north on the plane."""
        if gone_s >= self.next_jibe:
            self._jibe(gone_s)
        if gone_s >= self.errors_until_s:
            self._other_errors(gone_s)
        inverse = 1.0 / self.field.cell_m
        column = ((x - self.field.x0_m) * inverse).astype(np.int32)
        row = ((y - self.field.y0_m) * inverse).astype(np.int32)
        np.clip(column, 0, CELLS - 1, out=column)
        np.clip(row, 0, CELLS - 1, out=row)
        row *= CELLS
        row += column
        found = table.take(row, axis=0)
        found += self.scaled
        wind_e, wind_n = found[:, 2], found[:, 3]
        speed = np.sqrt(wind_e * wind_e + wind_n * wind_n)
        speed += np.float32(1e-6)
        along = self.offset / speed
        along += self.slope
        np.maximum(along, 0.0, out=along)
        if self.straight:
            return found[:, 0] + along * wind_e, found[:, 1] + along * wind_n
        down, cross = along * self.cos, along * self.sin
        east = found[:, 0] + down * wind_e + cross * wind_n
        north = found[:, 1] + down * wind_n - cross * wind_e
        return east, north

    def _other_errors(self, gone_s: float) -> None:
        self.errors = self.rng.standard_normal(self.errors.shape, dtype=np.float32)
        self.scaled = self.errors * self.sigmas
        self.errors_until_s = gone_s + ERROR_HOLDS_S

    def _jibe(self, gone_s: float) -> None:
        due = np.flatnonzero(self.jibe <= gone_s)
        self.sin[due] *= -1.0
        again = self.rng.exponential(S_PER_H / JIBES_PER_H, len(due))
        self.jibe[due] = gone_s + again.astype(np.float32)
        self.next_jibe = float(self.jibe.min())
