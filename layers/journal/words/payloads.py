"""A record's payload in words: figures with their units, places and times as they are read."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any, TypeGuard

from layers.earth.clock import dtg, parse_time
from layers.earth.errors import InputError
from layers.earth.position import Position
from layers.earth.said.quantity import figure
from layers.journal.words.field_names import WORDS
from layers.journal.words.fields import field_words, told_factor, unit_of

NAMES = "names"  # of persons, in whatever record: never in a list, whole only for who may see them
# what a row leads with, where the kind says nothing else
LEAD = (
    "stage", "name", "observer", "searcher", "subject", "station", "operation", "who", "whom",
    "office", "refuge", "place", "vehicle", "lift", "what", "told", "persons",
)  # fmt: skip
LEADS: dict[str, tuple[str, ...]] = {
    "datum.lkp": ("latitude_deg", "longitude_deg", "sigma_m"),
    "datum.intended_movement": ("course_true_deg", "speed_min_kn", "speed_max_kn", "report_due"),
    "datum.bearing": ("observer", "bearing_deg", "sense", "sigma_deg"),
    "datum.range": ("observer", "slant_range_m", "sigma_m"),
    "datum.sighting": ("what", "persons", "latitude_deg", "longitude_deg", "observer"),
    "tracks.position": ("subject", "latitude_deg", "longitude_deg", "course_true_deg", "speed_kn"),
    "weather.observation": ("station", "hs_m", "wind_from_true_deg", "wind_kn"),
    "weather.limit": ("operation", "hs_max_m", "wind_max_kn"),
    "survivors.move": ("from_place", "to_place", "groups"),
    "survivors.air": ("refuge", "oxygen", "carbon_dioxide", "pressure"),
    "watch.decision": ("what", "decided_by", "reasons"),
}
# what a form must ask in full, where a list has the answer beside it
IN_A_LIST = {"subject": "ship", "mmsi": "MMSI"}
MOST_FIGURES = 8  # of a list that are told one by one where people look over many records
_CLOSE = ("°", "°T")  # written right behind the figure
_ID = re.compile(r"[0-9a-f]{24,64}")
_TIME = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d(:\d\d(\.\d+)?)?(Z|[+-]\d\d:\d\d)")
PLACES = ("points", "vertices")
_LATITUDE, _LONGITUDE = "latitude_deg", "longitude_deg"

_CODED = re.compile(r"[a-z0-9]+(?:_[a-z0-9]+)+")  # the name of a field as a value
UNIT_WORDS = {"percent": "%", "sev_percent": "% SEV"}


def payload_words(
    payload: Mapping[str, Any],
    *,
    names: bool = False,
    most: int | None = None,
    kind: str = "",
    labels: bool = True,
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
    kind : str
        Name of the kind it is of: what leads then stands in front, and fields have its words.
    labels : bool
        Whether each value has its field's words before it.
    """
    ordered = leading(payload, kind)
    said = "; ".join(
        f"{name} {value}".strip() if labels else value
        for name, value in _parts(ordered, names, whole=False, kind=kind)
    )
    return said if most is None or len(said) <= most else f"{said[: most - 1]}…"


def payload_rows(
    payload: Mapping[str, Any], *, names: bool, kind: str = ""
) -> list[tuple[str, str]]:
    """Return a payload as pairs of what and how much: every field and digit, names if allowed."""
    return list(_parts(leading(payload, kind), names, whole=True, kind=kind))


def leading(payload: Mapping[str, Any], kind: str) -> dict[str, Any]:
    """Return a payload with what matters most in front: who or what, its figure, its place."""
    first = [name for name in (*LEADS.get(kind, ()), *LEAD) if name in payload]
    return {name: payload[name] for name in dict.fromkeys((*first, *payload))}


def position_in(payload: Mapping[str, Any], before: str = "") -> Position | None:
    """Return the place of the two fields whose names so begin, None when they are none."""
    latitude, longitude = payload.get(before + _LATITUDE), payload.get(before + _LONGITUDE)
    if not _is_number(latitude) or not _is_number(longitude):
        return None
    try:
        return Position(float(latitude), float(longitude))
    except InputError:
        return None


def _parts(
    payload: Mapping[str, Any], names: bool, *, whole: bool, kind: str = ""
) -> Iterator[tuple[str, str]]:
    """Yield field and value; what is empty, and ids of other records, are of no use in a list."""
    for name, value in payload.items():
        if name == NAMES and not names:
            continue
        if not whole and (
            value in (None, "", [], {}) or (isinstance(value, str) and _ID.fullmatch(value))
        ):
            continue
        if name.endswith(_LONGITUDE) and position_in(payload, name.removesuffix(_LONGITUDE)):
            continue
        if name.endswith(_LATITUDE):
            before = name.removesuffix(_LATITUDE)
            if place := position_in(payload, before):
                # in minutes for the eye; in a record looked at whole also as it was recorded
                exact = f" ({value}, {payload[before + _LONGITUDE]})" if whole else ""
                yield WORDS.get(before, f"{before.replace('_', ' ')}position"), f"{place}{exact}"
                continue
        yield _said(name, value, names, whole, kind)


def _said(name: str, value: object, names: bool, whole: bool, kind: str) -> tuple[str, str]:
    words, unit = IN_A_LIST.get(name) or field_words(name, kind), unit_of(name)
    factor = told_factor(name, kind)
    if factor != 1.0 and _is_number(value):
        value = float(f"{value * factor:.4g}")
    if name in PLACES and isinstance(value, list | tuple):  # pairs of latitude and longitude
        value = [_pair(each) for each in value]
    said = _value(value, names, whole)
    if not unit or not _measures(value):
        return words, said
    if unit == "°T" and _is_number(value):  # three figures before the point
        said = said.zfill(3 + len(said) - len(said.partition(".")[0]))
    return words, f"{said}{'' if unit in _CLOSE else ' '}{unit}"


def _pair(value: Any) -> Any:
    """Return a pair of degrees as the position it is, anything else as it stands."""
    pair = isinstance(value, list | tuple) and len(value) == 2
    found = position_in(dict(zip((_LATITUDE, _LONGITUDE), value, strict=True))) if pair else None
    return value if found is None else str(found)


def _is_number(value: object) -> TypeGuard[int | float]:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _measures(value: object) -> bool:
    if isinstance(value, list):
        return bool(value) and all(map(_measures, value))
    return _is_number(value)


def _value(value: object, names: bool, whole: bool) -> str:
    if value in (None, "", [], {}):
        return "not given"
    if isinstance(value, Mapping):
        rest = dict(value)
        said = [_measured(rest)] if {"value", "unit"} <= set(rest) else []
        # free text within free text: where each begins and ends must be seen
        if within := "; ".join(f"{n}: {each}" for n, each in _parts(rest, names, whole=whole)):
            said.append(f"({within})")
        return " ".join(said)
    if isinstance(value, list | tuple):
        if not whole and len(value) > MOST_FIGURES and all(map(_is_number, value)):
            first, last = _value(min(value), names, whole), _value(max(value), names, whole)
            return f"{len(value)} figures, {first} to {last}"
        return ", ".join(_value(each, names, whole) for each in value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return figure(value if whole else float(f"{value:.12g}"))
    if isinstance(value, str) and _TIME.fullmatch(value):
        return _time(value)
    if isinstance(value, str) and _CODED.fullmatch(value):
        return field_words(value)
    if isinstance(value, str) and not whole and value.startswith("mmsi:"):
        return value.replace("mmsi:", "MMSI ", 1)
    return str(value)


def _measured(rest: dict[str, Any]) -> str:
    """Take value and unit out of a mapping; return them as they are read: ``1.9 %``."""
    unit = str(rest.pop("unit"))
    return f"{_value(rest.pop('value'), True, False)} {UNIT_WORDS.get(unit, unit)}"


def _time(text: str) -> str:
    """Return the date-time group of a whole minute; what is finer stays as it was written."""
    try:
        at = parse_time(text)
    except InputError:  # a remark that looks like a time
        return text
    return text if at.second or at.microsecond else dtg(at)
