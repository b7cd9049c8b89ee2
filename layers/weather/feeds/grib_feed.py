"""Forecasts in GRIB, editions 1 and 2, through eccodes.

eccodes is loaded only inside the decoding function: beside pyproj it has crashed the
interpreter, so this feed runs in a process of its own and hands back plain arrays. A message
may hold several fields; without multi-field support the north wind is lost.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np

from layers.contract import Feed, Origin, Reading
from layers.earth.arrays import Array
from layers.earth.clock import to_us
from layers.earth.errors import InputError
from layers.weather.feeds.grib_grid import GribGrid, grid_of
from layers.weather.feeds.lines import reject
from layers.weather.feeds.messages import messages
from layers.weather.forecast.fields import field_grid
from layers.weather.forecast.issue_draft import add_forecast
from layers.weather.forecast.sound import set_aside
from layers.weather.forecast.variables import GRIB1, GRIB2, components, converted

HEIGHTS = {"wind_east_m_s": 10, "wind_north_m_s": 10, "wind_speed_m_s": 10, "wind_from_deg": 10,
           "air_c": 2}  # fmt: skip
LEVELS = ("heightAboveGround", "meanSea", "surface", "oceanSurface", "depthBelowSea",
          "heightAboveSea", "unknown")  # fmt: skip
# WMO-No. 306 vol. I.2, code table 4.0: templates that hold the value itself, at a time or over a
# span, of one run or one member. Others hold spreads, percentiles or probabilities of it.
VALUES = {0, 1, 8, 11}
# The types of field, after the table of the centre that writes them into its own section, that
# are no run's value: means, extremes and spreads over time, members or clusters, and chances.
DERIVED = frozenset(
    f"{sort}{what}" for sort in ("fc", "hc") for what in ("mean", "max", "min", "stdev")
) | {"em", "es", "ep", "efi", "sot", "ssd", "taem", "taes", "cm", "cs"}
DEEPEST_M = 20  # of a current, a warmth or a salinity that stands for the surface's
# WMO-No. 306 vol. I.2, code table 4.2: the unit of a quantity, by the end of its name here
UNITS = (("_m_s", "m s-1"), ("_deg", "degree_true"), ("_c", "K"), ("_hpa", "Pa"), ("_nmi", "m"),
         ("_psu", "kg kg-1"), ("_m", "m"), ("_s", "s"))  # fmt: skip
GUST = "gust_m_s"  # the one quantity that is a maximum by its nature
# WMO-No. 306 vol. I.2, code table 4.2.10.0: spectra and their frequencies and directions.
SPECTRA = {0, 1, 2, 86, 87, 88}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Field:
    """One field as decoded: plain arrays, nothing of the library."""

    name: str
    model: str
    member: int  # of an ensemble; 0 where there is none
    issued_at: datetime
    at: datetime
    grid: GribGrid
    values: Array


def recognise(head: bytes, name: str) -> float:
    """Return how surely these bytes are GRIB: they say so, at times behind a bulletin heading."""
    place = head[:200].find(b"GRIB")
    return 1.0 if place >= 0 and len(head) > place + 7 and head[place + 7] in (1, 2) else 0.0


def read(data: bytes, origin: Origin) -> Reading:
    """Return one forecast for each issue and grid in a file; each odd field is a reject."""
    reading = Reading()
    fields = _decode(data, origin, reading)
    issues: dict[tuple[Any, ...], list[_Field]] = {}
    for field in _one_member(fields, reading):
        issues.setdefault((field.model, field.issued_at, field.grid.mark), []).append(field)
    for held in issues.values():
        try:
            _add(held, origin, reading)
        except InputError as fault:
            reading.rejects.append(reject(origin, None, held[0].model, str(fault)))
    return reading


def _one_member(fields: list[_Field], reading: Reading) -> list[_Field]:
    """Return the fields of each issue's first member, and each field once; the rest is told."""
    least: dict[tuple[str, datetime], int] = {}
    for field in fields:
        issue = (field.model, field.issued_at)
        least[issue] = min(field.member, least.get(issue, field.member))
    kept: dict[tuple[Any, ...], _Field] = {}
    for field in fields:
        key = (field.model, field.issued_at, field.name, field.at, field.grid.mark)
        first = least[field.model, field.issued_at]
        if field.member != first:
            said = f"field of a further member of an ensemble: member {first} is used"
        elif key not in kept:
            kept[key] = field
            continue
        elif np.array_equal(kept[key].values, field.values, equal_nan=True):
            said = "field that stands twice"
        else:
            said = "field that stands twice with other values: the first is used"
            reading.doubts[said] = reading.doubts.get(said, 0) + 1
            continue
        reading.passed_over[said] = reading.passed_over.get(said, 0) + 1
    return list(kept.values())


def _add(held: list[_Field], origin: Origin, reading: Reading) -> None:
    """Add one issue on one grid: its variables on the times that any of them has."""
    times = sorted({field.at for field in held})
    place = {at: index for index, at in enumerate(times)}
    points = held[0].grid
    shape = (len(times), *held[0].values.shape)
    found: dict[str, Array] = {}
    for field in held:
        stack = found.setdefault(field.name, np.full(shape, np.nan, dtype=np.float32))
        stack[place[field.at]] = field.values
    made = components(points.to_north(found))
    latitudes, longitudes, made = points.straight(made)
    ready = set_aside(made, origin, reading)
    if made and not ready:
        return  # each was refused with its reason
    if not ready:
        raise InputError(
            f"nothing of {', '.join(found)} can be used: no vector without its partner"
        )
    times_us = np.array([to_us(at) for at in times], dtype=np.int64)
    grid = field_grid(times_us, latitudes, longitudes, ready)
    notes = list(points.notes)
    notes += [f"member {held[0].member} of an ensemble"] if held[0].member else []
    if longitudes.max() > 180:
        notes.append("longitudes 0 to 360 turned to -180 to 180")
    add_forecast(
        reading,
        origin,
        grid,
        model=held[0].model,
        issued_at=held[0].issued_at,
        form="GRIB",
        notes=notes,
    )


def _decode(data: bytes, origin: Origin, reading: Reading) -> list[_Field]:
    """Return the fields of use; eccodes lives only in here."""
    import eccodes

    eccodes.codes_grib_multi_support_on()
    fields: list[_Field] = []
    grids: dict[str, GribGrid] = {}
    opened = eccodes.codes_grib_new_from_file
    for title, message in messages(data, origin, reading, "GRIB", "field", opened):
        try:
            title = f"{title} ({_text(eccodes, message, 'name')})"
            fields.append(_field(eccodes, message, grids))
        except InputError as fault:
            reading.rejects.append(reject(origin, None, title, f"{title} is set aside: {fault}"))
        except (eccodes.CodesInternalError, ValueError, OverflowError):
            said = f"{title} cannot be read: it does not hold what it announces"
            reading.rejects.append(reject(origin, None, title, said))
    return fields


def _text(eccodes: Any, message: int, key: str) -> str:
    return str(eccodes.codes_get(message, key, ktype=str))


def _number(eccodes: Any, message: int, key: str) -> int:
    return int(eccodes.codes_get(message, key, ktype=int))


def _field(eccodes: Any, message: int, grids: dict[str, GribGrid]) -> _Field:
    name = _name(eccodes, message)
    _value_itself(eccodes, message, name)
    grid = grid_of(eccodes, message, grids)
    eccodes.codes_set(message, "missingValue", 1e20)
    values = eccodes.codes_get_array(message, "values")
    values[values > 9e19] = np.nan
    values = grid.laid_out(values)
    step = _number(eccodes, message, "endStep")
    issued_at = _issued(eccodes, message)
    return _Field(
        name=name,
        model=_model(eccodes, message),
        member=_told(eccodes, message, "perturbationNumber"),
        issued_at=issued_at,
        at=issued_at + timedelta(seconds=step * _step_s(eccodes, message)),
        grid=grid,
        values=converted(name, values, _unit(eccodes, message, name)).astype(np.float32),
    )


def _told(eccodes: Any, message: int, key: str) -> int:
    """Return a number that not every message bears; 0 without it."""
    try:
        return _number(eccodes, message, key)
    except eccodes.CodesInternalError:
        return 0


def _value_itself(eccodes: Any, message: int, name: str) -> None:
    """Refuse what bears the quantity's name but is a chance, a spread, or a mean over a span."""
    if _number(eccodes, message, "edition") == 2:
        template = _number(eccodes, message, "productDefinitionTemplateNumber")
        if template not in VALUES:
            raise InputError(
                f"it holds a mean, spread, percentile or chance (template 4.{template}), not the "
                "value",
                accepted="a run, or one member of an ensemble",
            )
    sort = _text(eccodes, message, "dataType")
    if sort in DERIVED:
        raise InputError(
            f"it is a mean, extreme, spread or chance (type {sort})", accepted="the value at a time"
        )
    span = _text(eccodes, message, "stepType")
    if span != "instant" and not (name == GUST and span == "max"):
        raise InputError(
            f"it is the {span} over a span of time", accepted="the value at a time; gusts as max"
        )


def _name(eccodes: Any, message: int) -> str:
    """Return the variable's name here, or say what it is instead."""
    edition = _number(eccodes, message, "edition")
    if edition == 2:
        keys = ("discipline", "parameterCategory", "parameterNumber")
        code = tuple(_number(eccodes, message, key) for key in keys)
        if code[:2] == (10, 0) and code[2] in SPECTRA:
            raise InputError(
                "a wave spectrum, not a field of heights", accepted="significant height, period"
            )
        name = GRIB2.get((code[0], code[1], code[2]))
        said = f"parameter {code[0]}-{code[1]}-{code[2]}"
    else:
        said = _text(eccodes, message, "shortName")
        name = GRIB1.get(said)
    if name is None:
        raise InputError(f"{said} is of no use here", accepted="wind, waves, current, temperature")
    level_type = _text(eccodes, message, "typeOfLevel")
    level = _number(eccodes, message, "level")
    if edition == 1 and (level_type, level) == ("surface", 0):
        return name  # one large centre writes its 10 m wind and 2 m temperature so
    deep = level_type == "depthBelowSea" and level > DEEPEST_M
    ashore = name == "pressure_hpa" and level_type != "meanSea"
    if level_type not in LEVELS or deep or ashore or level != HEIGHTS.get(name, level):
        wanted = f"{HEIGHTS[name]} m above the sea" if name in HEIGHTS else "the surface"
        wanted = "mean sea level" if name == "pressure_hpa" else wanted
        raise InputError(f"it is for {level_type} {level}", accepted=wanted)
    return name


def _issued(eccodes: Any, message: int) -> datetime:
    date, clock = _number(eccodes, message, "dataDate"), _number(eccodes, message, "dataTime")
    return datetime(
        date // 10_000, date // 100 % 100, date % 100, clock // 100, clock % 100, tzinfo=UTC
    )


def _step_s(eccodes: Any, message: int) -> float:
    unit = _text(eccodes, message, "stepUnits")
    seconds = {"h": 3600.0, "1": 3600.0, "m": 60.0, "0": 60.0, "s": 1.0, "13": 1.0}
    if unit not in seconds:
        raise InputError(f"its steps are in {unit!r}", accepted="hours, minutes or seconds")
    return seconds[unit]


def _unit(eccodes: Any, message: int, name: str) -> str:
    """Return the unit; where the decoder has no name for a parameter, that of code table 4.2."""
    unit = _text(eccodes, message, "units").replace("**", "")
    if unit == "unknown" and _number(eccodes, message, "edition") == 2:
        return next(said for end, said in UNITS if name.endswith(end))
    return {"Degree true": "degree_true", "~": ""}.get(unit, unit)


def _model(eccodes: Any, message: int) -> str:
    centre = _text(eccodes, message, "centre")
    process = _text(eccodes, message, "generatingProcessIdentifier")
    return f"centre {centre}, process {process}"


FEED = Feed(
    key="grib",
    title="forecast in GRIB",
    recognise=recognise,
    read=read,
    stale_after_s=43_200.0,
    isolated=True,
)
