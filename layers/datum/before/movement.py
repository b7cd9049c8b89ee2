"""Her intended movement, put together from what was told of it piece by piece.

By voice one hears "course 215 speed 6", and half an hour later when her report was due. Each is
a record; here the newest word for each part is taken, and what nobody told is filled so that the
track can be worked with. What was filled is said (`Movement.taken`), so that nobody takes it for
a report.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from layers.datum.model import IntendedMovement
from layers.journal.known import Entry

SLOWEST_KN = 1.0  # taken where no speed was told, up to FASTEST_KN; common practice, no source
FASTEST_KN = 8.0
LONGEST = timedelta(hours=48)  # that a loss is looked for where no report was due


@dataclass(frozen=True, slots=True, kw_only=True)
class Movement:
    """What is known of where she meant to go, and what was taken to fill it.

    ``track`` is None while neither a course nor way-points are told. ``due`` is the hour of the
    missed report, None while nobody told it: a track then runs to the time shown.
    """

    track: IntendedMovement | None
    due: datetime | None
    greatest_speed_kn: float
    speeds_kn: tuple[float, float] | None
    taken: tuple[str, ...]
    entries: tuple[Entry, ...]


def movement_of(entries: Iterable[Entry], start: datetime, at: datetime) -> Movement | None:
    """Return her movement from standing records, or None when nothing was told.

    Parameters
    ----------
    entries : iterable of Entry
        Records of ``datum.intended_movement`` true by ``at``.
    start : datetime
        The last known position's time, from which she moves.
    at : datetime
        The time shown.
    """
    ordered = sorted(entries, key=lambda e: (e.adopted, e.record.valid_at, e.record.seq))
    told: dict[str, object] = {}
    used: dict[str, Entry] = {}
    for entry in ordered:
        value: IntendedMovement = entry.value
        parts = {name: getattr(value, name) for name in value.model_fields_set}
        parts = {name: part for name, part in parts.items() if part not in (None, (), "")}
        if "waypoints" in parts:  # a track replaces a track
            _drop(told, used, "course_true_deg", "length_nmi")
        elif "course_true_deg" in parts:
            _drop(told, used, "waypoints", "length_nmi")
        if "speed_min_kn" in parts or "speed_max_kn" in parts:
            _drop(told, used, "speed_min_kn", "speed_max_kn")
        told |= parts
        used |= dict.fromkeys(parts, entry)
    if not told:
        return None
    merged = IntendedMovement.model_validate(told)
    low = merged.speed_min_kn or merged.speed_max_kn
    high = merged.speed_max_kn or merged.speed_min_kn
    track, taken = _whole(merged, start, at)
    return Movement(
        track=track,
        due=merged.report_due,
        greatest_speed_kn=merged.greatest_speed_kn,
        speeds_kn=(low, high) if low is not None and high is not None else None,
        taken=taken,
        entries=tuple({entry.id: entry for entry in used.values()}.values()),
    )


def _drop(told: dict[str, object], used: dict[str, Entry], *names: str) -> None:
    for name in names:
        told.pop(name, None)
        used.pop(name, None)


def _whole(
    told: IntendedMovement, start: datetime, at: datetime
) -> tuple[IntendedMovement | None, tuple[str, ...]]:
    """Return the track with nothing left open, and what was taken for it."""
    if told.course_true_deg is None and not told.waypoints:
        return None, ()
    taken = []
    low, high = told.speed_min_kn or told.speed_max_kn, told.speed_max_kn or told.speed_min_kn
    if low is None or high is None:
        low, high = SLOWEST_KN, FASTEST_KN
        taken.append(f"no speed was told: {low:g} to {high:g} kn taken")
    due = told.report_due
    if due is None:
        due = max(min(at, start + LONGEST), start + timedelta(minutes=1))
        taken.append("no report was told to be due: lost at any time up to now")
    length = told.length_nmi
    if length is None and not told.waypoints:
        length = min(max(high * (due - start).total_seconds() / 3600.0, 0.1), 3_000.0)
        taken.append("no length was told: the track runs on at her speed until the report was due")
    whole = {"speed_min_kn": low, "speed_max_kn": high, "report_due": due, "length_nmi": length}
    return told.model_copy(update=whole), tuple(taken)
