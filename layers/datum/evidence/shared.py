"""Reports of one observer together: his own error is the same in all of them.

The tenth bearing of one gyro tells little that the first nine did not. How much of the stated
error is the observer's constant one is seldom told; then several parts of it are weighed against
each other by how much his reports scatter among themselves. And it may be larger than he stated,
or he may follow something else with all of them: then his constant error is a few times the
stated one, and the more the less likely.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from layers.datum.before.prior import States
from layers.datum.evidence.laws import doubt
from layers.datum.evidence.likelihood import BearingTerm, RangeTerm
from layers.datum.evidence.timed import Timing
from layers.earth.arrays import Floats, Singles
from layers.earth.errors_shared import Solved

# Parts of the stated variance that may be the observer's own constant error, all as likely
# before his reports are compared. Common practice, no source.
PARTS = (0.3, 0.85)
# Times the stated error that his constant one is where he understated it, and where all his
# reports are wrong alike; and of the chance that a report is wrong, the part in which they all are.
UNDERSTATED, ASTRAY_BY, ASTRAY = 1.7, 5.0, 0.3
CHUNK = 16_384  # places at a time: their columns stay in the processor's cache


@dataclass(frozen=True, slots=True, kw_only=True)
class Member:
    """One report of a group: its term, its time, and the weight the watch gave it."""

    key: str
    term: BearingTerm | RangeTerm
    timing: Timing | None = None
    weight: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SharedTerm:
    """The likelihood of all reports of one owner together.

    Parameters
    ----------
    owner : str
        Whose error it is.
    members : tuple of Member
        His reports.
    """

    owner: str
    members: tuple[Member, ...]

    def without(self, keys: Sequence[str]) -> SharedTerm | None:
        """Return the group less some of its reports, None when none is left."""
        left = tuple(member for member in self.members if member.key not in keys)
        return replace(self, members=left) if left else None

    def __call__(self, states: States) -> Floats:
        """Return the joint likelihood of the reports for each state, shape (n,)."""
        found = np.empty(len(states))
        for start in range(0, len(states), CHUNK):
            rows = slice(start, start + CHUNK)
            piece = States(states.x_m[rows], states.y_m[rows], states.lost_s[rows])
            found[rows] = self._joint(piece)
        return found

    def _joint(self, states: States) -> Floats:
        read = [_Read(member, states) for member in self.members]
        total = np.zeros(len(states))
        for chance, part, times in self._cases():
            total += chance * self._pass(read, len(states), part, times)
        return total

    def _cases(self) -> list[tuple[float, float | None, float]]:
        """Return what the owner's constant error may be: chance, part, times the stated error."""
        told = all(member.term.shared_told for member in self.members)
        wrong = min(member.term.wrong for member in self.members)
        several = len(self.members) > 1
        astray = ASTRAY * wrong if several else 0.0
        larger = (1.0 - astray) * doubt(wrong)
        sizes = ((1.0 - astray - larger, 1.0), (larger, UNDERSTATED), (astray, ASTRAY_BY))
        # how much his readings scatter says nothing of how far they are all off
        parts: tuple[float | None, ...] = (None,) if told or not several else PARTS
        return [
            (chance / len(parts), part, times)
            for chance, times in sizes
            for part in parts
            if chance > 0.0
        ]

    @staticmethod
    def _pass(read: Sequence[_Read], places: int, part: float | None, times: float) -> Floats:
        """Return the joint density with one part of the error shared, so many times as large."""
        solved, density = Solved(places), np.ones(places)
        for one in read:
            own, load = one.parted(part, times)
            seen = solved.take(one.off, own, load, one.right, one.wrong)
            density *= seen if one.weight == 1.0 else seen**one.weight
        return density


class _Read:
    """One report read at some places: offset, spread, and what it is if wrong."""

    def __init__(self, member: Member, states: States) -> None:
        can: Floats | None = None
        if member.timing is not None:
            states, can = member.timing.then(states)
        term = member.term
        self.term, self.weight = term, member.weight
        self.off, self.sway = term.offsets(states)
        self.wrong = term.wrong_at(self.off, self.sway)
        certain = np.float32(1.0 - term.wrong)
        self.right: Singles | float = (
            float(certain) if can is None else (certain * can).astype(np.float32)
        )

    def parted(self, part: float | None, times: float) -> tuple[Singles | float, Singles | float]:
        """Return the report's own variance and its load on the owner's error.

        The observer's place shifts all his lines alike, so its sway is the owner's as well,
        unless the error is of something that several observers share.
        """
        whole, shared = self.term.variances(part)
        own, squared = max(whole - shared, 1e-4 * whole), self.sway * self.sway
        shared += whole * (times * times - 1.0)
        if self.term.place_shared:
            return own, np.sqrt(squared + np.float32(shared))
        return squared + np.float32(own), float(np.sqrt(shared))
