"""Waiting for daylight and for the sea: when an activity that needs a window can start.

Hours are counted from the chain's zero. The sea is what the weather layer expects at the
datum, hour by hour; its error is one number a draw, so that a rough forecast is rough throughout.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from layers.earth.clock import to_us
from layers.earth.units import S_PER_H
from layers.earth.values import SeaSeries
from layers.forward_port.arrays import Flags, Floats, Ints

LEVELS = np.linspace(-2.0, 2.0, 9)  # of the forecast's error, in standard deviations
_PASSES = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Gate:
    """Open and shut, per level of the forecast's error; the last state holds to its end.

    ``edges_h`` has shape (n + 1,); ``open`` has shape (levels, n). Past the last edge nothing
    is known and the gate counts as open.
    """

    edges_h: Floats
    open: Flags

    def wait(self, start_h: Floats, duration_h: Floats, level: Ints) -> Floats:
        """Return the first time, not before ``start_h``, from which it stays open long enough.

        Parameters
        ----------
        start_h, duration_h : ndarray, shape (n,)
            When it could start and how long it takes.
        level : ndarray, shape (n,)
            Which level of the forecast's error each draw has.
        """
        shut_at, open_at = self._edges()
        at = start_h.copy()
        for _ in range(_PASSES):
            cell = np.searchsorted(self.edges_h, at, side="right") - 1
            inside = (cell >= 0) & (cell < self.open.shape[1])
            here = np.clip(cell, 0, self.open.shape[1] - 1)
            is_open = np.where(inside, self.open[level, here], True)
            short = inside & (~is_open | (at + duration_h > shut_at[level, here]))
            if not short.any():
                return at
            # from a shut cell to its opening; from an open one that shuts too soon, past that
            after = np.where(is_open, shut_at[level, here], open_at[level, here])
            at = np.where(short, np.maximum(after, at + 1e-9), at)
        return at

    def _edges(self) -> tuple[Floats, Floats]:
        """Return, per level and cell, when it next shuts and when it next opens."""
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


def gate(series: SeaSeries, zero: datetime, hs_max_m: float | None, daylight: bool) -> Gate | None:
    """Return the gate of an activity's limits, None when it has none.

    An hour whose sea is not known counts as open; the report says that it is not known.
    """
    if hs_max_m is None and not daylight:
        return None
    hours = (series.at_us - to_us(zero)) / 1e6 / S_PER_H
    step = float(np.median(np.diff(hours))) if len(hours) > 1 else 1.0
    edges = np.append(hours, hours[-1] + step)
    allowed = np.ones((len(LEVELS), len(hours)), dtype=bool)
    if hs_max_m is not None:
        sigma = np.nan_to_num(series.hs_sigma_m)
        seas = series.hs_m[None, :] + LEVELS[:, None] * sigma[None, :]
        allowed &= ~(seas > hs_max_m)
    if daylight:
        allowed &= series.daylight[None, :]
    return Gate(edges_h=edges, open=allowed)


def levels_of(normals: Floats) -> Ints:
    """Return the nearest level of each standard normal number."""
    step = LEVELS[1] - LEVELS[0]
    found = np.rint((normals - LEVELS[0]) / step).astype(np.int64)
    kept: Ints = np.clip(found, 0, len(LEVELS) - 1)
    return kept
