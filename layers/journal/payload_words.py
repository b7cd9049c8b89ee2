"""A record's payload in words: figures with their units, places and times as they are read."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

from layers.earth.clock import dtg, parse_time
from layers.earth.errors import InputError
from layers.earth.position import Position

NAMES = "names"  # of persons, in whatever record: never in a list, whole only for who may see them
_UNITS = {
    "m3_per_h": "m³/h", "nmi_per_h": "nmi/h", "deg_per_h": "°/h", "l_min": "l/min",
    "m_min": "m/min", "m_s": "m/s", "km_h": "km/h", "true_deg": "° true", "deg": "°",
    "m3": "m³", "m2": "m²", "m": "m", "km": "km", "nmi": "nmi", "kn": "kn", "h": "h", "min": "min",
    "s": "s", "kg": "kg", "t": "t", "c": "°C", "kpa": "kPa", "hpa": "hPa", "percent": "%",
    "ppm": "ppm", "db": "dB", "hz": "Hz", "khz": "kHz", "kw": "kW", "kwh": "kWh",
}  # fmt: skip
_CLOSE = ("°", "° true")  # written right behind the figure
_SUFFIX = re.compile(rf"_({'|'.join(sorted(_UNITS, key=len, reverse=True))})$")
_ID = re.compile(r"[0-9a-f]{24,64}")
_TIME = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d(:\d\d(\.\d+)?)?(Z|[+-]\d\d:\d\d)")
_LATITUDE, _LONGITUDE = "latitude_deg", "longitude_deg"


def payload_words(
    payload: Mapping[str, Any], *, names: bool = False, most: int | None = None
) -> str:
    """Return a payload as one line of text.

    Parameters
    ----------
    payload : mapping
        A record's payload, plain JSON values. A field's unit is taken from the end of its name.
    names : bool
        Whether persons may be named.
    most : int or None
        Letters at most; what is longer ends in an ellipsis.
    """
    said = "; ".join(f"{name} {value}" for name, value in _parts(payload, names, ids=False))
    return said if most is None or len(said) <= most else f"{said[: most - 1]}…"


def payload_rows(payload: Mapping[str, Any], *, names: bool) -> list[tuple[str, str]]:
    """Return a payload as pairs of what and how much, nothing left out but names not allowed."""
    return list(_parts(payload, names, ids=True))


def _parts(payload: Mapping[str, Any], names: bool, *, ids: bool) -> Iterator[tuple[str, str]]:
    """Yield field and value; ids of other records are of no use to the eye in a list."""
    for name, value in payload.items():
        if value in (None, "", [], {}) or (name == NAMES and not names):
            continue
        if not ids and isinstance(value, str) and _ID.fullmatch(value):
            continue
        if name.endswith(_LONGITUDE) and _place(payload, name.removesuffix(_LONGITUDE)):
            continue
        if name.endswith(_LATITUDE):
            before = name.removesuffix(_LATITUDE)
            if place := _place(payload, before):
                yield f"{before.replace('_', ' ')}position", place
                continue
        yield _said(name, value, names)


def _place(payload: Mapping[str, Any], before: str) -> str:
    """Return the place of a pair of fields, empty when it is none."""
    pair = payload.get(before + _LATITUDE), payload.get(before + _LONGITUDE)
    if not all(isinstance(one, int | float) and not isinstance(one, bool) for one in pair):
        return ""
    try:
        return str(Position(*map(float, pair)))  # type: ignore[arg-type]  # both are numbers
    except InputError:
        return ""


def _said(name: str, value: object, names: bool) -> tuple[str, str]:
    ends = _SUFFIX.search(name)
    if ends is None or not _measures(value):
        return name.replace("_", " "), _value(value, names)
    unit = _UNITS[ends.group(1)]
    space = "" if unit in _CLOSE else " "
    return name[: ends.start()].replace("_", " "), f"{_value(value, names)}{space}{unit}"


def _measures(value: object) -> bool:
    if isinstance(value, list):
        return all(map(_measures, value))
    return isinstance(value, int | float) and not isinstance(value, bool)


def _value(value: object, names: bool) -> str:
    if isinstance(value, Mapping):
        return " ".join(f"{name} {each}" for name, each in _parts(value, names, ids=True))
    if isinstance(value, list | tuple):
        return ", ".join(_value(each, names) for each in value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.12g}"
    if isinstance(value, str) and _TIME.fullmatch(value):
        return _time(value)
    return str(value)


def _time(text: str) -> str:
    """Return the date-time group of a whole minute; what is finer stays as it was written."""
    try:
        at = parse_time(text)
    except InputError:  # a remark that looks like a time
        return text
    return text if at.second or at.microsecond else dtg(at)
