"""The latest of each station: every field with its own time, the station with its age."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

import numpy as np

from layers.earth import plausible
from layers.earth.arrays import Array
from layers.earth.clock import from_us, to_us
from layers.earth.position import Position
from layers.earth.units import M_PER_NMI
from layers.journal.known import Entry, Known
from layers.weather.model import NUMBERS, Station
from layers.weather.scales import beaufort, sea_state, wind_at_10_m
from layers.weather.sea.place import WindowPlace

STALE_AFTER = {"buoy": timedelta(hours=1, minutes=30), "airfield": timedelta(hours=1, minutes=30)}
STALE_OTHERWISE = timedelta(hours=4)  # synoptic hours are three apart
# A field older than this beside the station's newest is not shown as its present value.
TOGETHER = timedelta(hours=2)
OLD = timedelta(hours=24)
FAR_NMI = 200.0  # beyond the weather of the place; common practice, no source
PAIRED = ("wind_from_true_deg", "wind_kn", "gust_kn")


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubtful:
    """A value that came in and is not worked with: what it was, when, and why it is doubted."""

    value: float
    at: datetime
    why: str
    rests_on: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StationNow:
    """One station as it stood: its newest values and how old they are.

    ``values`` maps a field of the observation to its newest value, ``taken`` to when it was
    measured. ``wind_10m_kn`` is the wind brought to 10 m where the anemometer's height is known,
    else as measured. ``doubtful`` holds newer values that lie outside what has ever been found, or
    too far from the value before; they are in none of the others. ``distance_nmi`` and
    ``bearing_true_deg`` run from the place.
    """

    station: str
    name: str
    sort: str
    position: Position | None
    at: datetime
    age: timedelta
    stale: bool
    values: Mapping[str, float]
    taken: Mapping[str, datetime]
    wind_10m_kn: float | None
    wind_height_known: bool
    sea_state: int | None
    beaufort: int | None
    distance_nmi: float | None
    bearing_true_deg: float | None
    rests_on: tuple[str, ...]
    over_block_nmi: tuple[float, float] | None = None  # least and most, where a block is told
    doubtful: Mapping[str, Doubtful] = field(default_factory=dict)


def station_entries(known: Known, at: datetime) -> dict[str, Entry]:
    """Return the standing description of each station: the adopted one, else the newest."""
    found: dict[str, Entry] = {}
    for entry in known.entries("weather.station"):
        if entry.record.valid_at > at:
            continue
        held = found.get(entry.value.station)
        if held is None or (entry.adopted, entry.record.valid_at) >= (
            held.adopted,
            held.record.valid_at,
        ):
            found[entry.value.station] = entry
    return found


def standing(known: Known) -> dict[str, Array]:
    """Return every observation as columns, without those that a station has itself replaced.

    Of one station's reports of one time the corrected ones stand, whichever came first.
    """
    columns = known.columns("weather.observation")
    new = columns["corrected"] == 1.0
    if not new.any():
        return columns
    keys = list(zip(columns["station"].tolist(), columns["valid_at_us"].tolist(), strict=True))
    replaced = {key for key, corrected in zip(keys, new, strict=True) if corrected}
    keep = new | np.array([key not in replaced for key in keys], dtype=bool)
    return {name: values[keep] for name, values in columns.items()}


def latest(known: Known, at: datetime, place: WindowPlace | None) -> tuple[StationNow, ...]:
    """Return every station's newest values at ``at``, nearest first, unplaced ones last."""
    columns = standing(known)
    described = station_entries(known, at)
    held = np.flatnonzero(columns["valid_at_us"] <= to_us(at))
    names, which = np.unique(columns["station"][held].astype(str), return_inverse=True)
    # one sort puts each station's rows together, oldest first
    order = held[np.lexsort((columns["seq"][held], columns["valid_at_us"][held], which))]
    ends = np.cumsum(np.bincount(which, minlength=len(names)))
    found = []
    for index, rows in enumerate(np.split(order, ends[:-1]) if len(names) else ()):
        name = str(names[index])
        found.append(_station(name, rows, columns, described.get(name), at))
    placed = [_placed(station, place) for station in found]
    return tuple(sorted(placed, key=_nearness))


def _nearness(station: StationNow) -> tuple[bool, float, str]:
    far = station.distance_nmi
    return (far is None, far or 0.0, station.station)


def _station(
    name: str, rows: Array, columns: Mapping[str, Array], entry: Entry | None, at: datetime
) -> StationNow:
    described: Station | None = entry.value if entry else None
    newest_us = int(columns["valid_at_us"][rows[-1]])
    values, taken, used, doubted = _newest_fields(rows, columns, newest_us)
    sort = described.sort if described else str(columns["sort"][rows[-1]])
    age = at - from_us(newest_us)
    limit = STALE_AFTER.get(sort, STALE_OTHERWISE)
    if described and described.stale_after_min is not None:
        limit = timedelta(minutes=described.stale_after_min)
    wind = values.get("wind_kn")
    height = described.anemometer_m if described else None
    at_10_m = wind if wind is None or height is None else wind_at_10_m(wind, height)
    hs_m = values.get("hs_m")
    return StationNow(
        station=name,
        name=described.name if described else name,
        sort=sort,
        position=_position(described, values),
        at=from_us(newest_us),
        age=age,
        stale=age > limit,
        values=values,
        taken=taken,
        wind_10m_kn=at_10_m,
        wind_height_known=height is not None or sort == "airfield",
        sea_state=None if hs_m is None else sea_state(hs_m),
        beaufort=None if at_10_m is None else beaufort(at_10_m),
        distance_nmi=None,
        bearing_true_deg=None,
        rests_on=(*used, *((entry.id,) if entry else ())),
        doubtful=doubted,
    )


def _newest_fields(
    rows: Array, columns: Mapping[str, Array], newest_us: int
) -> tuple[dict[str, float], dict[str, datetime], tuple[str, ...], dict[str, Doubtful]]:
    """Return each field's newest value: waves are sent hourly between winds every ten minutes.

    A doubtful one is put aside, and the newest that is not takes its place.
    """
    near = rows[columns["valid_at_us"][rows] >= newest_us - TOGETHER // timedelta(microseconds=1)]
    values: dict[str, float] = {}
    taken: dict[str, datetime] = {}
    used: dict[str, None] = {}
    doubted: dict[str, Doubtful] = {}

    def put_aside(name: str, row: int, why: str) -> None:
        doubted[name] = Doubtful(
            value=float(columns[name][row]),
            at=from_us(columns["valid_at_us"][row]),
            why=why,
            rests_on=str(columns["id"][row]),
        )

    chosen: dict[str, int] = {}
    for name in NUMBERS:
        known_rows = near[~np.isnan(columns[name][near])]
        row, doubts = _newest_sound(name, known_rows, columns)
        for doubtful_row, why in doubts[:1]:
            put_aside(name, doubtful_row, why)
        if row is not None:
            chosen[name] = row
            values[name] = float(columns[name][row])
    for name, why in plausible.pair_doubts(values).items():
        put_aside(name, chosen.pop(name), why)
        del values[name]
    for name, row in chosen.items():
        taken[name] = from_us(columns["valid_at_us"][row])
        used[str(columns["id"][row])] = None
    for name in PAIRED:  # a direction of another time is not this wind's direction
        if name in taken and "wind_kn" in taken and taken[name] != taken["wind_kn"]:
            del values[name], taken[name]
    return values, taken, tuple(used), doubted


def _newest_sound(
    name: str, rows: Array, columns: Mapping[str, Array]
) -> tuple[int | None, list[tuple[int, str]]]:
    """Return the newest row whose value is not doubtful, and the doubtful ones after it.

    A step from the value before is doubted until a second value confirms it.
    """
    doubts: list[tuple[int, str]] = []
    for place in range(len(rows) - 1, -1, -1):
        row = int(rows[place])
        value = float(columns[name][row])
        why = plausible.doubt(name, value)
        if not why and place and not any(step for _, step in doubts):
            before = int(rows[place - 1])
            hours = (columns["valid_at_us"][row] - columns["valid_at_us"][before]) / 3.6e9
            why = plausible.step_doubt(name, float(columns[name][before]), value, float(hours))
            if why and plausible.doubt(name, float(columns[name][before])):
                why = ""  # the value before was the wrong one
        if not why:
            return row, doubts
        doubts.append((row, why))
    return None, doubts


def _position(described: Station | None, values: Mapping[str, float]) -> Position | None:
    if "latitude_deg" in values and "longitude_deg" in values:
        return Position(values["latitude_deg"], values["longitude_deg"])
    if described is not None:
        return Position(described.latitude_deg, described.longitude_deg)
    return None


def _placed(station: StationNow, place: WindowPlace | None) -> StationNow:
    if station.position is None or place is None:
        return station
    if place.block is not None:
        away = place.block.distance_nmi(station.position)
        return replace(station, distance_nmi=away[1], over_block_nmi=away)
    distance_nmi, bearing_deg = range_and_bearing(place.position, station.position)
    return replace(station, distance_nmi=distance_nmi, bearing_true_deg=bearing_deg)


def old_or_far(station: StationNow) -> bool:
    """Whether a station says little of the place: a day old, or beyond its weather."""
    return station.age > OLD or (station.distance_nmi or 0.0) > FAR_NMI


def range_and_bearing(start: Position, end: Position) -> tuple[float, float]:
    """Return the geodesic distance in nautical miles and the bearing in degrees true."""
    from layers.earth.geodesy import inverse  # here: a child that decodes GRIB never loads it

    found = inverse(start.latitude_deg, start.longitude_deg, end.latitude_deg, end.longitude_deg)
    return float(found.distance_m) / M_PER_NMI, float(np.nan_to_num(found.bearing_true_deg))


def nearest(
    stations: tuple[StationNow, ...], *, fresh: bool, measures: str = ""
) -> StationNow | None:
    """Return the nearest station, if asked only among those not stale, that measures a field."""
    fit = [
        s
        for s in stations
        if s.distance_nmi is not None
        and (not fresh or not s.stale)
        and (not measures or measures in s.values)
    ]
    return min(fit, key=_nearness, default=None)


def freshest(stations: tuple[StationNow, ...], measures: str = "") -> StationNow | None:
    """Return the station heard of last that measures a field; of equal age the nearer."""
    fit = [s for s in stations if not measures or measures in s.values]
    return min(fit, key=lambda s: (s.age, *_nearness(s)), default=None)
