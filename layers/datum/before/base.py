"""Her place before any report of it: by the intended track, the last place, or the reports."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np

from layers.datum.before.movement import Movement, movement_of
from layers.datum.before.prior import DiscPrior, Prior, TrackPrior, from_track, track_vertices
from layers.datum.model import LastKnownPosition
from layers.earth.errors import InputError
from layers.earth.plane import Plane
from layers.earth.units import M_PER_NMI, M_S_PER_KN, S_PER_H
from layers.earth.values import ConditionsField, FoundFix
from layers.journal.known import Entry, Known

NO_TRACK_RADIUS_M = 60.0 * M_PER_NMI
NO_TRACK_KN = 8.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Base:
    """The prior of her place: its plane, its law and the records they rest on."""

    plane: Plane
    prior: Prior
    known: Entry | None
    movement: Movement | None
    field: ConditionsField | None = None
    grounded: Prior | None = None  # the prior kept from land and wrong depth

    @property
    def target(self) -> Prior:
        """The prior that places are drawn from."""
        return self.grounded or self.prior


def upto(known: Known, kind: str, at: datetime) -> list[Entry]:
    """Return the standing records of a kind that are true by then."""
    return [entry for entry in known.entries(kind) if entry.record.valid_at <= at]


def latest(entries: list[Entry]) -> Entry | None:
    """Return the entry true last; one adopted for planning goes before all others."""
    adopted = [entry for entry in entries if entry.adopted]
    return max(adopted or entries, key=lambda e: (e.record.valid_at, e.record.seq), default=None)


def base_of(known: Known, at: datetime, fixes: Sequence[FoundFix] = ()) -> Base:
    """Return the starting point: intended track, last place alone, or the reports' middle."""
    position = latest(upto(known, "datum.lkp", at))
    if position is None:
        return _reports_alone(known, at, fixes)
    start = position.record.valid_at
    movement = movement_of(upto(known, "datum.intended_movement", at), start, at)
    if movement is None or movement.track is None:
        return _last_place_alone(position, movement, at)
    where: LastKnownPosition = position.value
    lat, lon = track_vertices(where, movement.track)
    middle = len(lat) // 2
    plane = Plane(float(lat[middle]), float(lon[middle]))
    return Base(
        plane=plane,
        prior=_capped(from_track(plane, where, start, movement.track), at),
        known=position,
        movement=movement,
    )


def _capped(prior: TrackPrior, at: datetime) -> TrackPrior:
    """Return the prior with no loss after the time shown."""
    span = min(prior.span_s, max((at - prior.start).total_seconds(), 60.0))
    return replace(prior, span_s=span)


def _last_place_alone(position: Entry, movement: Movement | None, at: datetime) -> Base:
    where: LastKnownPosition = position.value
    plane = Plane(where.latitude_deg, where.longitude_deg)
    span_s = min(max((at - position.record.valid_at).total_seconds(), 60.0), 48.0 * S_PER_H)
    told_kn = movement.speeds_kn[1] if movement is not None and movement.speeds_kn else 0.0
    speed_kn = max(NO_TRACK_KN, told_kn)
    prior = DiscPrior(
        words=(
            f"no {'intended movement' if movement is None else 'course'} is known: anywhere she "
            f"could have reached at {speed_kn:g} kn"
        ),
        start=position.record.valid_at,
        span_s=span_s,
        centre_x_m=0.0,
        centre_y_m=0.0,
        radius_m=3.0 * where.sigma_m + speed_kn * M_S_PER_KN * span_s,
    )
    return Base(plane=plane, prior=prior, known=position, movement=movement)


def _reports_alone(known: Known, at: datetime, fixes: Sequence[FoundFix]) -> Base:
    """Return a wide circle about the reports when there is no last known position."""
    entries = [
        entry
        for kind in (
            "datum.bearing",
            "datum.range",
            "datum.sighting",
            "datum.heard",
            "datum.contact",
            "datum.time_difference",
        )
        for entry in upto(known, kind, at)
        if getattr(entry.value, "object", "DISSUB") == "DISSUB" or kind == "datum.sighting"
    ]
    places = [(e.value.latitude_deg, e.value.longitude_deg, e.record.valid_at) for e in entries]
    places += [(f.position.latitude_deg, f.position.longitude_deg, f.at) for f in fixes]
    if not places:
        raise InputError(
            "nothing bears on where she is yet",
            where="datum",
            accepted="a last known position with the intended movement, a bearing, a range or a "
            "sighting",
        )
    lats, lons = (np.array([place[axis] for place in places]) for axis in (0, 1))
    turn = np.radians(lons)
    middle = float(np.degrees(np.arctan2(np.sin(turn).mean(), np.cos(turn).mean())))
    plane = Plane(float(lats.mean()), middle)
    x, y = plane.project(lats, lons)
    start = min(place[2] for place in places) - timedelta(hours=24)
    prior = DiscPrior(
        words="no last known position: equally likely anywhere within 60 nmi of the reports",
        start=start,
        span_s=24.0 * S_PER_H,
        centre_x_m=0.0,
        centre_y_m=0.0,
        radius_m=float(np.hypot(x, y).max()) + NO_TRACK_RADIUS_M,
    )
    return Base(plane=plane, prior=prior, known=None, movement=None)
