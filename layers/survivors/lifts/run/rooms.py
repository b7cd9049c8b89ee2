"""Places under pressure, draw by draw: who goes into which chamber, and from when there is room.

A chamber is filled by places, not by lifts. A group goes whole into the smallest chamber that
serves; it is parted only where no chamber takes it whole, the emptiest first. The attendants who
came with it in the vehicle take the places kept for a chamber's own as long as it is empty; into
a chamber where others are they take places beside them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from layers.earth.arrays import Ints
from layers.survivors.lifts.run.windows import NEVER


@dataclass(frozen=True, slots=True, kw_only=True)
class Doors:
    """The chambers of a plan, shape (C,): places beside their own attendants, and times.

    ``free_s`` is from when each can be used, ``make_ready_s`` how long it takes between two
    stays; ``attendants`` are the places kept for its own.
    """

    places: Ints
    attendants: Ints
    free_s: Ints
    make_ready_s: Ints


class Rooms:
    """Who is in which chamber until when; changed as stays are promised.

    ``taken`` and ``until`` have shape (L, C, D): places of each lift, and when they are free.
    """

    def __init__(self, doors: Doors, lifts: int, draws: int) -> None:
        shape = (lifts, len(doors.places), draws)
        self.doors = doors
        self.taken = np.zeros(shape, dtype=np.int64)
        self.until = np.full(shape, -NEVER, dtype=np.int64)

    def free(self, rows: Ints, at_s: Ints, riding: Ints) -> Ints:
        """Return the places for people in each chamber at a time, shape (len(rows), C).

        Parameters
        ----------
        rows : ndarray, shape (m,)
            Which draws.
        at_s, riding : ndarray, shape (m,)
            When, and how many attendants come with the group.
        """
        doors = self.doors
        used = self.taken[:, :, rows] * (self.until[:, :, rows] > at_s)
        inside = used.sum(axis=0).T
        beside = np.where(
            inside > 0, riding[:, None], np.maximum(riding[:, None] - doors.attendants, 0)
        )
        room = np.maximum(doors.places - inside - beside, 0)
        return np.where(doors.free_s <= at_s[:, None], room, 0)

    def first_free(self, rows: Ints, places: Ints, riding: Ints, from_s: Ints) -> Ints:
        """Return from when there are places enough for a group, in one chamber or several."""
        at = from_s.copy()
        moving = np.flatnonzero(places > 0)
        for _ in range(self.taken.shape[0] * len(self.doors.places) + len(self.doors.places) + 1):
            room = self.free(rows[moving], at[moving], riding[moving]).sum(axis=1)
            moving = moving[room < places[moving]]
            if not len(moving):
                return at
            at[moving] = self._next_change(rows[moving], at[moving])
        at[moving] = NEVER
        return at

    def _next_change(self, rows: Ints, at_s: Ints) -> Ints:
        """Return when the next place is free or the next chamber ready; ``NEVER`` for none."""
        until = self.until[:, :, rows]
        leaves = np.where(until > at_s, until, NEVER).min(axis=(0, 1), initial=NEVER)
        ready = self.doors.free_s[:, None]
        opens = np.where(ready > at_s, ready, NEVER).min(axis=0, initial=NEVER)
        return np.asarray(np.minimum(leaves, opens))

    def part(self, rows: Ints, places: Ints, riding: Ints, at_s: Ints) -> Ints:
        """Return how many places of a group go into each chamber, shape (len(rows), C)."""
        room = self.free(rows, at_s, riding)
        serves = room >= places[:, None]
        smallest = np.where(serves, self.doors.places, NEVER).argmin(axis=1)
        found = np.zeros_like(room)
        whole = serves.any(axis=1)
        found[whole, smallest[whole]] = places[whole]
        parted = np.flatnonzero(~whole & (places > 0))
        if len(parted):
            found[parted] = _poured(room[parted], places[parted])
        return found

    def take(
        self, rows: Ints, lifts: Ints, shares: Ints, riding: Ints, at_s: Ints, until_s: Ints
    ) -> None:
        """Keep the places of groups from now on until they are out and the room is ready."""
        inside = (self.taken[:, :, rows] * (self.until[:, :, rows] > at_s)).sum(axis=0).T
        beside = np.where(
            inside > 0, riding[:, None], np.maximum(riding[:, None] - self.doors.attendants, 0)
        )
        self.taken[lifts, :, rows] = np.where(shares > 0, shares + beside, 0)
        self.until[lifts, :, rows] = until_s[:, None] + self.doors.make_ready_s


def _poured(room: Ints, places: Ints) -> Ints:
    """Return a group parted between chambers, the emptiest first."""
    order = np.argsort(-room, axis=1, kind="stable")
    found, left = np.zeros_like(room), places.copy()
    lines = np.arange(len(room))
    for column in range(room.shape[1]):
        chamber = order[:, column]
        goes = np.minimum(room[lines, chamber], left)
        found[lines, chamber] = goes
        left = left - goes
    return found
