"""How long people stay in a chamber, by the pressure they come out of in each draw.

The pressure is that of the hour at which the hatch shuts in that draw. Where flooding takes a
refuge over an edge of the schedule, some draws need chamber places and others none; where it goes
beyond the table, or beyond what the vehicle may mate to, the lift does not run in that draw.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from layers.earth.arrays import Bools, Floats, Ints
from layers.survivors.air.endurance import AirCurves
from layers.survivors.chambers.schedule import Schedule


@dataclass(frozen=True, slots=True, kw_only=True)
class Stays:
    """Pressure ahead in each refuge, and what follows from it.

    Parameters
    ----------
    curves : mapping of refuge to ndarray, shape (n_hours, n_draws)
        Bar absolute on even hours from now.
    step_h : float
        Between two of them.
    refuge : tuple of str
        By lift, where it goes.
    most_bar : ndarray, shape (L,)
        By lift, what its vehicle may mate to.
    schedule : Schedule or None
    """

    curves: Mapping[str, Floats]
    step_h: float
    refuge: tuple[str, ...]
    most_bar: Floats
    schedule: Schedule | None

    def at(self, lift: Ints, rows: Ints, left_s: Ints) -> tuple[Ints, Bools]:
        """Return seconds of stay for people who leave then, and whether they can be brought out.

        Parameters
        ----------
        lift, rows, left_s : ndarray, shape (m,)
            Which lift, in which draw, and when its hatch shuts, seconds after now.
        """
        stay, fits = np.zeros(len(lift), dtype=np.int64), np.ones(len(lift), dtype=bool)
        for number in np.unique(lift):
            curve = self.curves.get(self.refuge[number])
            if curve is None:
                continue
            mine = np.flatnonzero(lift == number)
            bar = _read(curve, rows[mine], left_s[mine] / 3600.0 / self.step_h)
            told = stays_s(self.schedule, bar)
            stay[mine] = np.maximum(told, 0)
            fits[mine] = (told >= 0) & (bar <= self.most_bar[number])
        return stay, fits

    @property
    def matter(self) -> bool:
        """Whether any draw is kept otherwise than the first one is now."""
        for number, refuge in enumerate(self.refuge):
            curve = self.curves.get(refuge)
            if curve is None:
                continue
            told = stays_s(self.schedule, curve)
            if (told != told.flat[0]).any() or (curve > self.most_bar[number]).any():
                return True
        return False


def _read(curve: Floats, rows: Ints, place: Floats) -> Floats:
    """Return each draw's pressure at a place between two hours; beyond the last one as there."""
    place = np.clip(place, 0.0, len(curve) - 1.0)
    low = np.minimum(place.astype(np.int64), max(len(curve) - 2, 0))
    part = place - low
    high = np.minimum(low + 1, len(curve) - 1)
    return np.asarray(curve[low, rows] * (1.0 - part) + curve[high, rows] * part)


def stays_s(schedule: Schedule | None, bar: Floats) -> Ints:
    """Return seconds of stay for many pressures, -1 outside the table; no table, no stay."""
    if schedule is None:
        return np.zeros(np.shape(bar), dtype=np.int64)
    found = np.full(np.shape(bar), -1, dtype=np.int64)
    for band in schedule.bands:  # on a border the deeper band counts: it comes later
        inside = (bar >= band.saturated_from_bar_abs) & (bar <= band.saturated_to_bar_abs)
        found = np.where(inside, round(band.hours * 3600.0), found)
    return found


def stays_of(
    curves: AirCurves, refuge: tuple[str, ...], most_bar: Floats, schedule: Schedule | None
) -> Stays:
    """Return the stays of a plan's lifts under these curves."""
    step_h = curves.hours[1] - curves.hours[0] if len(curves.hours) > 1 else 1.0
    return Stays(
        curves={name: curves.pressure_bar[:, n] for n, name in enumerate(curves.refuges)},
        step_h=step_h,
        refuge=refuge,
        most_bar=most_bar,
        schedule=schedule,
    )
