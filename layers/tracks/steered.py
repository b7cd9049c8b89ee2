"""What a ship steered between two times, taken from her track."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from layers.earth.arrays import Floats, Ints
from layers.earth.clock import dtg, from_us, to_us
from layers.earth.errors import InputError
from layers.earth.units import M_PER_NMI, S_PER_H
from layers.journal.known import Known
from layers.journal.tables.stretch import ALWAYS_US
from layers.tracks.apart import told_apart
from layers.tracks.follow import (
    SHIP_LIMIT_KN,
    Sorted,
    breaks,
    great_circle_m,
    only,
    sort_positions,
)
from layers.tracks.model import Break, ShipTrack
from layers.tracks.ships import MOST_FIXES, SECOND


@dataclass(frozen=True, slots=True, kw_only=True)
class Steered:
    """A piece of track, shape (n,), with its ends interpolated to the two times.

    ``breaks`` are the jumps and gaps inside it: a leg with one has not been seen whole.
    """

    subject: str
    at_us: Ints
    latitudes_deg: Floats
    longitudes_deg: Floats
    length_nmi: float
    mean_speed_kn: float
    breaks: tuple[Break, ...]
    rests_on: tuple[str, ...]


def fixes_of(known: Known, ship: ShipTrack, until: datetime) -> Sorted:
    """Return all fixes that a ship's track was looked at by: her result holds what is drawn."""
    subject, last_us = ship.subject.removesuffix(SECOND), to_us(ship.fixed_at)
    asked = {subject: (last_us - int(ship.track_s * 1e6), to_us(until))}
    found = sort_positions(known.stretches("tracks.position", asked, MOST_FIXES), to_us(until))
    rows = slice(0, len(found.at_us))
    told = told_apart(found, rows, ship.reach_kn)
    hers = told.own if last_us in found.at_us[told.own] else told.other
    return only(found, rows, hers)


def steered(known: Known, subject: str, start: datetime, end: datetime) -> Steered:
    """Return what a subject steered from ``start`` to ``end``, for a leg of a search.

    Raises
    ------
    InputError
        The times are the wrong way round, or the track does not reach over them.
    """
    if end <= start:
        raise InputError(
            f"{dtg(end)} is not after {dtg(start)}",
            where=f"leg of {subject}",
            accepted="an end after the start",
        )
    columns = known.stretches("tracks.position", {subject: (0, ALWAYS_US)})
    found = sort_positions(columns, ALWAYS_US)
    ids = columns["id"]
    at, first, last = found.at_us, to_us(start), to_us(end)
    if not len(at) or at[0] > first or at[-1] < last:
        reach = f"from {dtg(from_us(int(at[0])))} to {dtg(from_us(int(at[-1])))}" if len(at) else ""
        raise InputError(
            f"the track of {subject} does not cover {dtg(start)} to {dtg(end)}",
            where="leg from a track",
            accepted=f"times within her track {reach}" if reach else "a subject with positions",
        )
    inside = np.flatnonzero((at > first) & (at < last))
    times = np.concatenate(([first], at[inside], [last])).astype(np.int64)
    # Longitudes are unwrapped so that a leg across the date line is not drawn round the world.
    longitudes = np.unwrap(found.longitudes_deg, period=360.0)
    latitudes_deg = np.interp(times, at, found.latitudes_deg)
    longitudes_deg = (np.interp(times, at, longitudes) + 180.0) % 360.0 - 180.0
    step = great_circle_m(
        latitudes_deg[:-1], longitudes_deg[:-1], latitudes_deg[1:], longitudes_deg[1:]
    )
    length = float(step.sum()) / M_PER_NMI
    around = slice(
        max(0, int(np.searchsorted(at, first, "right")) - 1), int(np.searchsorted(at, last)) + 1
    )
    return Steered(
        subject=subject,
        at_us=times,
        latitudes_deg=latitudes_deg,
        longitudes_deg=longitudes_deg,
        length_nmi=length,
        mean_speed_kn=length / ((last - first) / 1e6 / S_PER_H),
        breaks=breaks(found, around, SHIP_LIMIT_KN).newest,
        rests_on=tuple(str(i) for i in ids[found.row[around]]),
    )
