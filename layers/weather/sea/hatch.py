"""At the hatch: what the water does at the rescue seat, how she lies, and how to come to her."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from layers.earth.clock import from_us
from layers.earth.units import M_S_PER_KN
from layers.journal.known import Entry, Known
from layers.weather.model import Limit, SeatAttitude, VehicleLimit
from layers.weather.sea.expected import STEPS_PER_H, ExpectedSea
from layers.weather.sea.waves import orbit

# One wave of a storm may be twice the significant height (Rayleigh heights, 3 h; common
# practice, no source).
HIGHEST_PER_HS = 2.0
SLACK_REACH_H = 2
SOURCE = "linear waves, USACE EM 1110-2-1100 Part II ch. 1"


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """One quantity against its limit; ``within`` is None where either is not known."""

    name: str
    value: float | None
    limit: float | None
    unit: str
    within: bool | None


@dataclass(frozen=True, slots=True, kw_only=True)
class HatchNow:
    """One seat at the time shown.

    ``along_m_s`` and ``up_m_s`` are the amplitudes of the waves' motion at the seat for Hs and
    the peak period, ``along_highest_m_s`` for a single wave twice as high. ``heading_true_deg``
    is the heading into the current; ``slack`` the next times at which the stream at the seat is
    least, with its speed in knots.
    """

    seat: SeatAttitude
    at: datetime
    hs_m: float | None
    tp_s: float | None
    along_m_s: float | None
    up_m_s: float | None
    along_highest_m_s: float | None
    up_highest_m_s: float | None
    current_kn: float | None
    current_set_deg: float | None
    current_estimated: bool
    greatest_kn: float | None
    heading_true_deg: float | None
    tilt_deg: float
    compared: tuple[Compared, ...]
    slack: tuple[tuple[datetime, float], ...]
    vehicle: str
    rests_on: tuple[str, ...]


def tilt_deg(list_deg: float, bow_down_deg: float) -> float:
    """Return the angle of the seat's face from level for a list and a trim, degrees.

    Notes
    -----
    The seat's normal after the two turns makes with the vertical an angle whose cosine is
    cos(list) cos(trim).
    """
    return math.degrees(
        math.acos(math.cos(math.radians(list_deg)) * math.cos(math.radians(bow_down_deg)))
    )


def newest_seats(known: Known, at: datetime) -> tuple[Entry, ...]:
    """Return the standing report of each seat: adopted, else newest."""
    held: dict[str, Entry] = {}
    for entry in known.entries("weather.seat"):
        before = held.get(entry.value.seat)
        if entry.record.valid_at <= at and (
            before is None
            or (entry.adopted, entry.record.valid_at) >= (before.adopted, before.record.valid_at)
        ):
            held[entry.value.seat] = entry
    return tuple(held[seat] for seat in sorted(held))


def newest_vehicle(known: Known, at: datetime) -> Entry | None:
    """Return the standing limits of the vehicle: adopted, else newest."""
    held = [e for e in known.entries("weather.vehicle_limit") if e.record.valid_at <= at]
    return max(held, key=lambda e: (e.adopted, e.record.valid_at, e.record.seq), default=None)


def at_the_hatch(
    seat: Entry,
    vehicle: Entry | None,
    mating: Limit | None,
    ahead: ExpectedSea | None,
    at: datetime,
) -> HatchNow:
    """Return one seat at a time: waves and stream there, attitude, closing speed, heading."""
    lies: SeatAttitude = seat.value
    step = None if ahead is None else ahead.at(at)
    hs_m, tp_s = _now(ahead, "hs_m", step), _now(ahead, "tp_s", step)
    current_kn = _now(ahead, "current_seat_kn", step)
    set_deg = _now(ahead, "current_seat_set_deg", step)
    moves = _moves(hs_m, tp_s, lies)
    highest = _moves(None if hs_m is None else hs_m * HIGHEST_PER_HS, tp_s, lies)
    greatest = None
    if current_kn is not None and highest is not None:
        greatest = current_kn + highest[0] / M_S_PER_KN
    limits: VehicleLimit | None = vehicle.value if vehicle else None
    return HatchNow(
        seat=lies,
        at=at,
        hs_m=hs_m,
        tp_s=tp_s,
        along_m_s=moves[0] if moves else None,
        up_m_s=moves[1] if moves else None,
        along_highest_m_s=highest[0] if highest else None,
        up_highest_m_s=highest[1] if highest else None,
        current_kn=current_kn,
        current_set_deg=set_deg,
        current_estimated=bool(ahead and ahead.seat_estimated),
        greatest_kn=greatest,
        heading_true_deg=None if set_deg is None else (set_deg + 180.0) % 360.0,
        tilt_deg=tilt_deg(lies.list_deg, lies.bow_down_deg),
        compared=_compared(lies, limits, mating, current_kn, greatest, highest),
        slack=() if ahead is None or step is None else slacks(ahead, step),
        vehicle=limits.vehicle if limits else "",
        rests_on=(seat.id, *((vehicle.id,) if vehicle else ())),
    )


def _now(ahead: ExpectedSea | None, name: str, step: int | None) -> float | None:
    if ahead is None or step is None:
        return None
    value = float(getattr(ahead, name)[step])
    return None if math.isnan(value) else value


def _moves(
    height_m: float | None, period_s: float | None, lies: SeatAttitude
) -> tuple[float, float] | None:
    if height_m is None or period_s is None:
        return None
    found = orbit(height_m, period_s, lies.water_depth_m, lies.depth_m)
    return float(found.along_m_s), float(found.up_m_s)


def _compared(
    lies: SeatAttitude,
    limits: VehicleLimit | None,
    mating: Limit | None,
    current_kn: float | None,
    greatest_kn: float | None,
    highest: tuple[float, float] | None,
) -> tuple[Compared, ...]:
    """Return each quantity against its limit, in the highest single wave to be expected.

    The closing speed adds the water's own up and down, the current its to and fro. Where the
    waves are not known neither is known: an unknown sea is never a yes.
    """
    closing = None if limits is None or highest is None else limits.closing_m_s + highest[1]
    tilt = tilt_deg(lies.list_deg, lies.bow_down_deg)
    stream_limit = None if mating is None else mating.current_seat_max_kn
    rows: tuple[tuple[str, float | None, float | None, str], ...] = (
        ("list", abs(lies.list_deg), limits.list_max_deg if limits else None, "°"),
        ("bow down", abs(lies.bow_down_deg), limits.bow_down_max_deg if limits else None, "°"),
        ("tilt of the seat", tilt, limits.tilt_max_deg if limits else None, "°"),
        ("current at the seat", current_kn, stream_limit, "kn"),
        ("current and waves at the seat", greatest_kn, stream_limit, "kn"),
        (
            "closing speed at touchdown",
            closing,
            limits.touchdown_max_m_s if limits else None,
            "m/s",
        ),
    )
    return tuple(
        Compared(
            name=name,
            value=value,
            limit=limit,
            unit=unit,
            within=None if value is None or limit is None else value <= limit,
        )
        for name, value, limit, unit in rows
    )


def slacks(ahead: ExpectedSea, step: int, many: int = 4) -> tuple[tuple[datetime, float], ...]:
    """Return the next times of least stream at the seat and its speed then, knots.

    A time counts when the stream is least in the two hours before and after it.
    """
    speed = ahead.current_seat_kn
    reach = SLACK_REACH_H * STEPS_PER_H
    if np.isnan(speed).all():
        return ()
    found = []
    for place in range(max(step, reach), len(speed) - reach):
        around = speed[place - reach : place + reach + 1]
        if int(np.argmin(around)) == reach:
            found.append((from_us(ahead.at_us[place]), float(speed[place])))
    return tuple(found[:many])
