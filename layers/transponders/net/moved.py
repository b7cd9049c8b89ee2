"""A transponder that was moved after its first replies: by a trawl, a cable, or by being lifted.

Replies that do not fit where it was boxed in are left out one by one, and its old place would
stand, good to metres, while it lies elsewhere. So it is looked whether those left out are its last
ones, and those alone: then they, and not the older, say where it lies.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from layers.earth.clock import day_hhmm, from_us
from layers.earth.geodesy import between
from layers.earth.said.quantity import figure
from layers.journal.known import Entry
from layers.transponders.net.boxin import FEWEST
from layers.transponders.result import Boxed, BoxIn

ASTRAY = 0.2  # of the replies on either side may be of the other sort; our own bound, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class MovedTransponder:
    """Since when a transponder's replies come from elsewhere, and how many they are."""

    since: datetime
    replies: int

    def words(self, name: str, before: Boxed | None, now: Boxed | None) -> str:
        """Return what is said of it, as it was boxed in before this was seen, and now."""
        since = day_hhmm(self.since)
        if now is None or before is None or now.position == before.position:
            return (
                f"{name} may have moved: its {self.replies} replies since {since} do not fit where "
                "it was boxed in, and its place rests on the older ones"
            )
        metres, bearing, _ = between(before.position, now.position)
        return (
            f"{name} has moved {figure(metres, 0)} m {bearing:03.0f}°T: boxed in anew from its "
            f"{self.replies} replies since {since}"
        )


def is_older(entry: Entry, gone: Mapping[str, MovedTransponder]) -> bool:
    """Return whether a range between two was taken before one of them was moved."""
    ends = (entry.value.one, entry.value.other)
    return any(name in gone and entry.record.valid_at < gone[name].since for name in ends)


def moved(boxin: BoxIn) -> Mapping[str, MovedTransponder]:
    """Return the transponders of a box-in whose last replies, and no others, do not belong.

    Where most of them seem to move at once it is the ship, her clock or the water: none has moved.
    """
    names, found = np.array(boxin.reply_name), dict[str, MovedTransponder]()
    every = np.unique(names)
    for name in every:
        mine = np.flatnonzero(names == name)
        mine = mine[np.argsort(boxin.reply_at_us[mine], kind="stable")]
        belongs = boxin.reply_used[mine]
        # the split that leaves the fewest of either sort on the wrong side
        wrong = np.append(0, np.cumsum(~belongs)) + np.append(np.cumsum(belongs[::-1])[::-1], 0)
        first = int(np.argmin(wrong))
        before, after = belongs[:first], belongs[first:]
        if min(len(before), len(after)) < FEWEST:
            continue
        if np.mean(after) <= ASTRAY and np.mean(~before) <= ASTRAY:
            since = from_us(int(boxin.reply_at_us[mine[first]]))
            found[str(name)] = MovedTransponder(since=since, replies=len(after))
    return found if len(found) <= max(len(every) // 2, 1) else {}
