"""Waiting for daylight, tide, wind and sea: when an activity that needs a window can start.

Hours are counted from the chain's zero. The sea is drawn by the one model that windows and lifts
draw from too (``layers.earth.sea.draws``): draw 17 of the chain meets the sea of draw 17.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np

from layers.earth.arrays import Bools, Floats, Ints
from layers.earth.clock import to_us
from layers.earth.position import Position
from layers.earth.sea.draws import SEA_DRAWS, drawn
from layers.earth.units import M_S_PER_KN, S_PER_H
from layers.earth.values import ConditionsField, SeaSeries
from layers.forward_port.model import Tide
from layers.forward_port.ports import tide
from layers.forward_port.ports.water_level import WaterLevel

_PASSES = 400


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What an activity waits for; None and False wait for nothing."""

    hs_max_m: float | None = None
    wind_max_kn: float | None = None
    daylight: bool = False
    tide: Tide | WaterLevel | None = None
    tide_min_m: float | None = None

    @property
    def any(self) -> bool:
        """Whether it waits for anything."""
        return self.daylight or any(
            limit is not None for limit in (self.hs_max_m, self.wind_max_kn, self.tide_min_m)
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Gate:
    """Open and shut, per draw of the sea; the state of a step holds to the next.

    ``edges_h`` has shape (n + 1,); ``open`` has shape (draws or 1, n). Past the last edge
    nothing is known and the gate counts as open: what ends there is *not before*.
    """

    edges_h: Floats
    open: Bools

    def wait(self, start_h: Floats, duration_h: Floats, level: Ints) -> Floats:
        """Return the first time, not before ``start_h``, from which it stays open long enough.

        Parameters
        ----------
        start_h, duration_h : ndarray, shape (n,)
            When it could start and how long it takes.
        level : ndarray, shape (n,)
            Which draw of the sea each draw of the chain meets.
        """
        level = level % self.open.shape[0]
        shut_at, open_at = self._edges()
        at = start_h.copy()
        for _ in range(_PASSES):
            cell = np.searchsorted(self.edges_h, at, side="right") - 1
            within = cell < self.open.shape[1]
            here = np.clip(cell, 0, self.open.shape[1] - 1)
            # before the first hour nothing is known and it counts as open, not so what follows
            is_open = np.where(within & (cell >= 0), self.open[level, here], True)
            short = within & (~is_open | (at + duration_h > shut_at[level, here]))
            if not short.any():
                return at
            # from a shut cell to its opening; from an open one that shuts too soon, past that
            after = np.where(is_open, shut_at[level, here], open_at[level, here])
            at = np.where(short, np.maximum(after, at + 1e-9), at)
        return at

    def _edges(self) -> tuple[Floats, Floats]:
        """Return, per draw and cell, when it next shuts and when it next opens."""
        levels, cells = self.open.shape
        shut_at = np.empty((levels, cells))
        open_at = np.empty((levels, cells))
        shut = np.full(levels, np.inf)
        opens = np.full(levels, self.edges_h[-1])
        for cell in range(cells - 1, -1, -1):
            shut = np.where(self.open[:, cell], shut, self.edges_h[cell])
            opens = np.where(self.open[:, cell], self.edges_h[cell], opens)
            shut_at[:, cell], open_at[:, cell] = shut, opens
        return shut_at, open_at


def gate(series: SeaSeries, zero: datetime, limits: Limits) -> Gate | None:
    """Return the gate of an activity's limits, None when it has none.

    An hour whose sea or tide is not known counts as open; the report says that it is not known.
    """
    if not limits.any:
        return None
    hours = (series.at_us - to_us(zero)) / 1e6 / S_PER_H
    step = float(np.median(np.diff(hours))) if len(hours) > 1 else 1.0
    edges = np.append(hours, hours[-1] + step)
    allowed = np.ones((1, len(hours)), dtype=bool)
    if limits.hs_max_m is not None:
        allowed = allowed & ~(drawn(series, "hs_m", SEA_DRAWS) > limits.hs_max_m)
    if limits.wind_max_kn is not None:
        allowed = allowed & ~(drawn(series, "wind_kn", SEA_DRAWS) > limits.wind_max_kn)
    if limits.daylight:
        allowed = allowed & series.daylight[None, :]
    if limits.tide_min_m is not None and limits.tide is not None:
        height = tide.heights_m(limits.tide, series.at_us)
        allowed = allowed & ~(height < limits.tide_min_m)[None, :]
    return Gate(edges_h=edges, open=allowed)


def at_place(series: SeaSeries, field: ConditionsField | None, place: Position) -> SeaSeries:
    """Return what is expected at another place at the hours of a series; daylight as there."""
    if field is None:
        nothing = np.full(len(series.at_us), np.nan)
        return replace(series, hs_m=nothing, wind_kn=nothing)
    n = len(series.at_us)
    found = field.conditions(
        np.full(n, place.latitude_deg), np.full(n, place.longitude_deg), series.at_us
    )
    return replace(
        series,
        hs_m=found.hs_m,
        hs_sigma_m=found.hs_sigma_m,
        wind_kn=np.hypot(found.wind_east_m_s, found.wind_north_m_s) / M_S_PER_KN,
        wind_sigma_kn=found.wind_sigma_m_s / M_S_PER_KN,
    )
