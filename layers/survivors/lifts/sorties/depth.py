"""A sortie's phases from the vehicle's own depth and place, where they are told.

A vehicle that tells its depth on its way down or up tells how far it has to go: what is left of
the phase follows from that and from how fast it has moved, no longer from when it began. Within
a few metres of the seat it has arrived, well above it it has left, near the surface it waits to be
recovered, whether or not somebody has told the phase. Where its place is known too, lying still
over her is mating, and going on with a ship is being on her deck.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from layers.earth.arrays import Floats, Ints
from layers.earth.clock import US_PER_MIN
from layers.earth.geodesy import between
from layers.earth.position import Position
from layers.survivors.lifts.model import Phase
from layers.survivors.lifts.vehicle import Vehicle

AT_SEAT_M, OFF_SEAT_M, AT_SURFACE_M = 5.0, 10.0, 5.0  # our choice
BELOW_M = 10.0  # deeper than it hangs at the ship's side: it has dived; our choice
SETTLES_MIN = 5.0  # a depth so soon after a phase began was perhaps read before; our choice
ON_DECK_MIN = 30.0  # no vehicle dives again so soon after it came back; our choice
LEAST_MIN, LEAST_M = 1.0, 2.0  # between two depths that tell how fast it goes
WAY_SHARE = 0.15  # either way, how much what is left of the way may take: our assumption
STILL_MIN, STILL_GOOD_M = 5.0, 10.0  # it lies still: for so long, seen so well; our choice


@dataclass(frozen=True, slots=True)
class Depth:
    """The vehicle's depth at a time, UTC microseconds, metres; ``record`` says whose word it is.

    ``lift`` is the one it was told for, empty where none was: a fix by the net is of the vehicle.
    ``place`` is where it was, within ``good_to_m``, and ``over_her`` whether that is within the
    reach of her hull; ``beside`` names the ship it was alongside, ``on_deck`` that it went on
    with her.
    """

    at_us: int
    depth_m: float
    record: str = ""
    lift: str = ""
    place: Position | None = None
    good_to_m: float = 0.0
    over_her: bool | None = None
    beside: str = ""
    on_deck: bool = False

    @property
    def tracked(self) -> bool:
        """Whether more than its depth is known of it."""
        return self.place is not None or self.beside != ""

    def words(self) -> str:
        """Return where it is, in words behind *is*."""
        if self.on_deck:
            return f"on deck of {self.beside} by its track"
        if self.beside:
            return f"at the surface alongside {self.beside}"
        off = ", not over her" if self.over_her is False else ""
        return f"at {self.depth_m:.0f} m{off}"


def seen_by_depth(phase: Phase, depths: Iterable[Depth], seat_m: float) -> tuple[Phase, int] | None:
    """Return the next phase and when it was seen to begin by the track alone, None if not yet."""
    depths = tuple(depths)
    for n, one in enumerate(depths):
        if phase is Phase.DOWN and one.depth_m >= seat_m - AT_SEAT_M:
            return Phase.SEARCH, one.at_us
        if phase is Phase.AWAY and one.depth_m <= seat_m - OFF_SEAT_M:
            return Phase.UP, one.at_us
        if phase is Phase.UP and one.depth_m <= AT_SURFACE_M:
            return Phase.RECOVER, one.at_us
        if phase is Phase.RECOVER and one.on_deck:
            return Phase.BACK, one.at_us
        if phase is Phase.SEARCH and (still := _still_since(depths[: n + 1], seat_m)) is not None:
            return Phase.MATE, still
    return None


def _still_since(depths: tuple[Depth, ...], seat_m: float) -> int | None:
    """Return since when a vehicle has lain still over her at the depth of the seat, if it has."""
    last, since = depths[-1], None
    for one in reversed(depths):
        if last.place is None or abs(one.depth_m - seat_m) > AT_SEAT_M:
            break
        if one.place is None:  # its gauge alone
            continue
        seen_well = one.over_her and one.good_to_m <= STILL_GOOD_M
        apart_m = between(one.place, last.place)[0]
        if not seen_well or apart_m > np.hypot(one.good_to_m, last.good_to_m):
            break
        since = one.at_us
    long = since is not None and last.at_us - since >= STILL_MIN * US_PER_MIN
    return since if long else None


def gone_untold(phase: Phase, depths: tuple[Depth, ...], seat_m: float) -> Depth | None:
    """Return the depth that shows a vehicle gone from the seat, though nobody told that it left.

    Whether anybody is aboard no depth tells; so it moves no phase on, it is asked about. While it
    looks for the seat or mates it may hang above it; half way up it has gone.
    """
    if not depths or phase not in (Phase.DOWN, Phase.SEARCH, Phase.MATE, Phase.TRANSFER):
        return None
    last = depths[-1]
    elsewhere = last.over_her is False and phase in (Phase.MATE, Phase.TRANSFER)
    if last.on_deck or elsewhere:
        return last
    if phase is Phase.DOWN:
        return None
    off = seat_m - OFF_SEAT_M if phase is Phase.TRANSFER else seat_m / 2.0
    return last if last.depth_m <= off else None


def against_told(phase: Phase, since_us: int, depths: tuple[Depth, ...], seat_m: float) -> bool:
    """Return whether the last depth says otherwise than the phase that was told.

    What is told stands, and is asked about: on its way up it is not at the seat, at the surface
    or on deck it is not below.
    """
    if not depths or (depths[-1].at_us - since_us) / US_PER_MIN < SETTLES_MIN:
        return False
    if phase is Phase.UP:
        return depths[-1].depth_m >= seat_m - AT_SEAT_M
    below = phase in (Phase.RECOVER, Phase.BACK, Phase.GIVEN_UP)
    return below and depths[-1].depth_m >= BELOW_M


def way_left(
    phase: Phase, depths: tuple[Depth, ...], vehicle: Vehicle, seat_m: float
) -> tuple[int, float] | None:
    """Return when the depth was last told, and the minutes of the way from there.

    At the pace of the depths told in this phase, where two are far enough apart, else at the
    vehicle's own; None where no depth is told or the phase is no way.
    """
    if not depths or phase not in (Phase.DOWN, Phase.UP):
        return None
    sign = 1.0 if phase is Phase.DOWN else -1.0
    first, last = depths[0], depths[-1]
    to_go = max(seat_m - last.depth_m if phase is Phase.DOWN else last.depth_m, 0.0)
    pace = vehicle.speed_down_m_min if phase is Phase.DOWN else vehicle.speed_up_m_min
    minutes, moved = (last.at_us - first.at_us) / US_PER_MIN, sign * (last.depth_m - first.depth_m)
    if minutes >= LEAST_MIN and moved >= LEAST_M:
        pace = moved / minutes
    return last.at_us, to_go / max(pace, 0.1)


def arrives_s(way: tuple[int, float], zero_us: int, now_s: int, uniform: Floats) -> Ints:
    """Return when a way is over, whole seconds after the dive, draw by draw; never before now."""
    at_us, minutes = way
    takes = 60.0 * minutes * (1.0 + WAY_SHARE * (2.0 * uniform - 1.0))
    arrives = (at_us - zero_us) // 1_000_000 + takes.round().astype("int64")
    found: Ints = arrives.clip(min=now_s)
    return found
