"""Contacts on the bottom and charted wrecks: which is she, and what looking at one rules out."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import scipy

from layers.datum.before.prior import States
from layers.datum.search.model import Contact
from layers.earth.arrays import Floats
from layers.earth.geodesy import WGS84
from layers.journal.known import Entry

IDENTIFIED = 0.995
# How far a contact may lie from a charted wreck and still be it; and how much alike in length.
WRECK_REACH_M, WRECK_LENGTH = 500.0, 0.25
# Seen about a contact that was looked at, beside its own length: what a camera or a close sonar
# pass shows of the ground round it. Common practice, no source.
SEEN_ROUND_M = 100.0


@dataclass(frozen=True, kw_only=True)
class LookedAtTerm:
    """Looked at closely and not her: a low chance inside a circle, blurred by where that was.

    Parameters
    ----------
    x_m, y_m, sigma_m : float
        Where it was looked, and the error of that place per axis.
    radius_m : float
        Round the thing itself that was seen.
    missed : float
        Chance that she lay in it and was not seen: never none.
    """

    x_m: float
    y_m: float
    radius_m: float
    sigma_m: float = 0.0
    missed: float = 0.02

    def __call__(self, states: States) -> Floats:
        """Return the likelihood of the report for each state, shape (n,)."""
        away = np.hypot(states.x_m - self.x_m, states.y_m - self.y_m)
        return np.asarray(1.0 - (1.0 - self.missed) * self._inside(away))

    def _inside(self, away: Floats) -> Floats:
        if self.sigma_m <= 0.0:
            return np.where(away <= self.radius_m, 1.0, 0.0)
        nodes, chances = self._table
        return np.asarray(np.interp(away, nodes, chances, right=0.0))

    @cached_property
    def _table(self) -> tuple[Floats, Floats]:
        """Chance that a place so far from the told one lies in the circle really looked at.

        The place is off by a normal error, so that its distance is a non-central chi.
        """
        reach = self.radius_m + 6.0 * self.sigma_m
        nodes = np.linspace(0.0, reach, 600)
        chances = scipy.special.chndtr(
            (self.radius_m / self.sigma_m) ** 2, 2.0, np.minimum((nodes / self.sigma_m) ** 2, 1e3)
        )
        return nodes, np.where(nodes / self.sigma_m > 30.0, nodes <= self.radius_m, chances)


def looked_at(x_m: float, y_m: float, value: Contact) -> LookedAtTerm:
    """Return what a contact that is not the DISSUB rules out."""
    return LookedAtTerm(
        x_m=x_m,
        y_m=y_m,
        radius_m=SEEN_ROUND_M + (value.length_m or 0.0) / 2.0,
        sigma_m=value.sigma_m,
    )


def wreck_beside(value: Contact, wrecks: tuple[Entry, ...]) -> tuple[str, float] | None:
    """Return name and distance in metres of the nearest charted wreck, if there is any."""
    found = [
        (
            float(
                WGS84.inv(
                    value.longitude_deg,
                    value.latitude_deg,
                    wreck.value.longitude_deg,
                    wreck.value.latitude_deg,
                )[2]
            ),
            wreck.value.name,
        )
        for wreck in wrecks
    ]
    if not found:
        return None
    metres, name = min(found)
    return name, metres


def contact_chance(value: Contact, wrecks: tuple[Entry, ...]) -> float:
    """Return the chance that a contact is the DISSUB and not a charted wreck.

    Where the observer's chance meets a charted wreck within reach and of like length, a fifth of
    it is left; common practice is to suspect the wreck first, the fifth has no source.
    """
    if value.identified == "DISSUB":
        return IDENTIFIED
    beside = wreck_beside(value, wrecks)
    if beside is None or beside[1] > WRECK_REACH_M + 2.45 * value.sigma_m:
        return value.chance_dissub
    lengths = {wreck.value.name: wreck.value.length_m for wreck in wrecks}
    charted = lengths[beside[0]]
    alike = (
        charted is None
        or value.length_m is None
        or abs(charted - value.length_m) <= WRECK_LENGTH * charted
    )
    return value.chance_dissub * (0.2 if alike else 0.6)
