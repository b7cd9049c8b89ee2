"""Lines of position from a CSV or JSON file, as people write them.

One line a row. Columns, in any order, case and spacing ignored:

====================  ===========================================================================
``kind``              ``bearing``, ``range`` or ``time difference``
``time``              with its zone; needed for a magnetic bearing
``observer``          name of who measured
``position``          ``49 50.0N 008 30.0W`` or any notation; or ``latitude_deg``, ``longitude_deg``
``position_sigma``    error of that position, with its unit (``100m``)
``bearing``           with its sense: ``065T``, ``068M``, ``070G``, ``R045``; or ``bearing_deg``
                      and ``sense``
``heading``           of the observer, for a relative bearing: ``318T`` or ``320M``
``convergence_deg``   for a grid bearing
``range``             with its unit: ``12nmi``, ``800m``; or ``range_m``, ``range_nmi``
``travel_time_s``     instead of a range, with ``way`` (``one-way``, ``two-way``) and
                      ``turn_round_s``
``second_position``   of a time difference, with ``earlier_by_s``
``sigma``             one standard deviation with its unit: ``2deg``, ``150m``, ``0.05s``; or
                      ``sigma_deg``, ``sigma_m``, ``sigma_s``
====================  ===========================================================================

JSON is a list of such objects, or ``{"lines": [...]}``.
"""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from layers.contract.cells import plain_number
from layers.contract.rows import bare_text, separator
from layers.earth.clock import parse_time
from layers.earth.errors import InputError
from layers.earth.said.bearings import Sense, parse_bearing, parse_range_m
from layers.earth.said.parse import parse_position
from layers.earth.said.quantity import figure
from layers.earth.units import M_PER_NMI

ACCEPTED_COLUMNS = (
    "kind, time, observer, position (or latitude_deg and longitude_deg), bearing or range or "
    "travel_time_s or earlier_by_s, sigma"
)
SENSE_WORDS = {"t": "true", "m": "magnetic", "g": "grid", "r": "relative"}
ALIASES = {
    "type": "kind",
    "at": "time",
    "valid_at": "time",
    "name": "observer",
    "station": "observer",
    "lat": "latitude_deg",
    "latitude": "latitude_deg",
    "lon": "longitude_deg",
    "longitude": "longitude_deg",
    "bearing_true_deg": "bearing_true",
    "slant_range_m": "range_m",
}
# Where a file states no error; common practice, no source, and the answer says so.
ASSUMED_BEARING_DEG, ASSUMED_RANGE_PART, ASSUMED_RANGE_M, ASSUMED_S = 1.0, 0.01, 50.0, 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class LineRow:
    """One line of a file as a record's payload; ``at`` is None when no time was given."""

    number: int
    kind: str
    at: datetime | None
    payload: dict[str, Any]
    text: str
    assumed: str = ""


def rows_of(data: bytes, name: str) -> list[Mapping[str, str]]:
    """Return the rows of a CSV or JSON file as plain texts under plain names.

    Raises
    ------
    InputError
        Neither CSV with a head nor JSON with lines.
    """
    if b"\x00" in data:
        raise InputError("NUL bytes: not a text file", where=name, accepted="CSV or JSON")
    body = bare_text(data)
    if body.lstrip()[:1] in ("[", "{"):
        return _json_rows(body, name)
    head = body.splitlines()[0] if body.strip() else ""
    reader = csv.DictReader(io.StringIO(body), delimiter=separator(head))
    names = {plain_name(field) for field in reader.fieldnames or ()}
    if not names & {"bearing", "bearing_deg", "bearing_true", "range", "range_m", "range_nmi",
                    "travel_time_s", "earlier_by_s"}:  # fmt: skip
        raise InputError(
            f"the head {head[:80]!r} names no bearing, range or time",
            where=name,
            accepted=ACCEPTED_COLUMNS,
        )
    return [_plain(row) for row in reader]


def _json_rows(body: str, name: str) -> list[Mapping[str, str]]:
    try:
        found = json.loads(body)
    except json.JSONDecodeError as reason:
        raise InputError(
            f"not JSON: {reason.msg}", where=f"{name} line {reason.lineno}", accepted="JSON or CSV"
        ) from None
    except (RecursionError, ValueError):  # a number of thousands of digits
        raise InputError(
            "JSON nested too deep, or a number too long to be one",
            where=name,
            accepted="JSON or CSV",
        ) from None
    lines = found.get("lines") if isinstance(found, dict) else found
    if not isinstance(lines, list) or not all(isinstance(line, dict) for line in lines):
        raise InputError(
            "no list of lines", where=name, accepted='a list of objects, or {"lines": [...]}'
        )
    return [_plain(line) for line in lines]


def plain_name(name: str | None) -> str:
    """Return a column's plain name."""
    plain = re.sub(r"[^a-z0-9]+", "_", (name or "").strip().lower()).strip("_")
    return ALIASES.get(plain, plain)


def _plain(row: Mapping[Any, Any]) -> dict[str, str]:
    return {
        plain_name(str(key)): str(value).strip()
        for key, value in row.items()
        if key is not None and value is not None and str(value).strip()
    }


def read_row(row: Mapping[str, str], number: int, name: str) -> LineRow:
    """Return one row as a payload.

    Raises
    ------
    InputError
        Names the row and the field.
    """
    where = f"{name} row {number}"
    text = ", ".join(f"{key}={value}" for key, value in row.items())
    at = parse_time(row["time"], f"{where}, time") if "time" in row else None
    kind = _kind(row, where)
    payload: dict[str, Any] = {"observer": row.get("observer", f"line {number}")}
    payload |= _place(row, "position", "latitude_deg", "longitude_deg", where)
    if "position_sigma" in row:
        payload["position_sigma_m"] = parse_range_m(row["position_sigma"], f"{where}, sigma")
    elif "position_sigma_m" in row:
        payload["position_sigma_m"] = _number(row, "position_sigma_m", where)
    else:
        payload["position_sigma_m"] = 0.0
    if "chance_wrong" in row:
        payload["chance_wrong"] = _number(row, "chance_wrong", where)
    reader = {"bearing": _bearing, "range": _range, "time_difference": _difference}[kind]
    found, assumed = reader(row, where)
    return LineRow(
        number=number,
        kind=f"datum.{kind}",
        at=at,
        payload=payload | found,
        text=text,
        assumed=f"{where}: {assumed}" if assumed else "",
    )


def _kind(row: Mapping[str, str], where: str) -> str:
    said = row.get("kind", "").lower().replace(" ", "_").replace("-", "_").removeprefix("datum.")
    if not said:
        said = (
            "bearing"
            if any(key.startswith("bearing") for key in row)
            else "time_difference"
            if "earlier_by_s" in row
            else "range"
        )
    if said not in ("bearing", "range", "time_difference"):
        raise InputError(
            f"{said!r} is not a kind of line",
            where=f"{where}, kind",
            accepted="bearing, range, time difference",
        )
    return said


def _number(row: Mapping[str, str], key: str, where: str) -> float:
    try:
        return plain_number(row[key])
    except ValueError:
        raise InputError(
            f"{row[key]!r} is not a number", where=f"{where}, {key}", accepted="a number"
        ) from None


def _place(
    row: Mapping[str, str], together: str, lat: str, lon: str, where: str
) -> dict[str, float]:
    if together in row:
        place = parse_position(row[together], f"{where}, {together}")
        return {lat: place.latitude_deg, lon: place.longitude_deg}
    if lat in row and lon in row:
        return {lat: _number(row, lat, where), lon: _number(row, lon, where)}
    raise InputError(
        "no position of the observer", where=where, accepted=f"{together}, or {lat} and {lon}"
    )


def _sigma(row: Mapping[str, str], unit: str, where: str) -> float | None:
    """Return the stated standard deviation in a unit (deg, m or s), None when none is stated."""
    if f"sigma_{unit}" in row:
        return _number(row, f"sigma_{unit}", where)
    said = row.get("sigma", "")
    if not said:
        return None
    found = re.match(r"^([0-9.]+)\s*(deg|degrees|°|s|[a-z]+)$", said.lower())
    place = f"{where}, sigma"
    if not found:
        raise InputError(
            f"{said!r} has no unit", where=place, accepted="a number with its unit: 2deg, 150m"
        )
    if unit == "m":
        return parse_range_m(said, place)
    wanted = {"deg": ("deg", "degrees", "°"), "s": ("s",)}[unit]
    if found[2] not in wanted:
        raise InputError(f"{said!r} is not in {unit}", where=place, accepted=f"2{unit}")
    return float(found[1])


def _bearing(row: Mapping[str, str], where: str) -> tuple[dict[str, Any], str]:
    payload: dict[str, Any] = {}
    if "bearing" in row and "sense" not in row:
        given = parse_bearing(row["bearing"], f"{where}, bearing")
        payload = {"bearing_deg": given.value_deg, "sense": given.sense.value}
    elif "bearing_true" in row:
        payload = {"bearing_deg": _number(row, "bearing_true", where), "sense": "true"}
    else:
        key = "bearing_deg" if "bearing_deg" in row else "bearing"
        if key not in row or "sense" not in row:
            raise InputError(
                "a bearing without its sense",
                where=where,
                accepted="065T, 068M, 070G, R045, or bearing_deg with sense",
            )
        sense = row["sense"].lower()
        payload = {
            "bearing_deg": _number(row, key, where),
            "sense": SENSE_WORDS.get(sense, sense),
        }
    if "heading" in row:
        heading = parse_bearing(row["heading"], f"{where}, heading")
        if heading.sense not in (Sense.TRUE, Sense.MAGNETIC):
            raise InputError(
                f"{row['heading']!r} is not a heading", where=f"{where}, heading", accepted="318T"
            )
        payload |= {"heading_deg": heading.value_deg, "heading_sense": heading.sense.value}
    elif "heading_true_deg" in row:
        payload |= {"heading_deg": _number(row, "heading_true_deg", where)}
    if "convergence_deg" in row:
        payload["grid_convergence_deg"] = _number(row, "convergence_deg", where)
    for key in ("deviation_deg", "gyro_error_deg"):
        if key in row:
            payload[key] = _number(row, key, where)
    sigma = _sigma(row, "deg", where)
    payload["sigma_deg"] = ASSUMED_BEARING_DEG if sigma is None else sigma
    assumed = "" if sigma is not None else (
        f"no error stated, {ASSUMED_BEARING_DEG:g}° assumed (common practice, no source)"
    )  # fmt: skip
    return payload, assumed


def _range(row: Mapping[str, str], where: str) -> tuple[dict[str, Any], str]:
    payload: dict[str, Any] = {}
    for key in ("turn_round_s", "observer_depth_m", "object_depth_m"):
        if key in row:
            payload[key] = _number(row, key, where)
    if "way" in row:
        payload["way"] = row["way"].lower().replace(" ", "-")
    if "travel_time_s" in row:
        sigma = _sigma(row, "s", where)
        payload |= {
            "travel_time_s": _number(row, "travel_time_s", where),
            "sigma_s": ASSUMED_S if sigma is None else sigma,
        }
        said = "" if sigma is not None else f"no error stated, {ASSUMED_S:g} s assumed"
        return payload, said
    if "range" in row:
        metres = parse_range_m(row["range"], f"{where}, range")
    elif "range_m" in row:
        metres = _number(row, "range_m", where)
    elif "range_nmi" in row:
        metres = _number(row, "range_nmi", where) * M_PER_NMI
    else:
        raise InputError("no range", where=where, accepted="range, range_m or travel_time_s")
    sigma = _sigma(row, "m", where)
    wide = max(ASSUMED_RANGE_M, ASSUMED_RANGE_PART * metres)
    payload |= {"slant_range_m": metres, "sigma_m": wide if sigma is None else sigma}
    said = "" if sigma is not None else (
        f"no error stated, {figure(wide, 0)} m assumed (common practice, no source)"
    )  # fmt: skip
    return payload, said


def _difference(row: Mapping[str, str], where: str) -> tuple[dict[str, Any], str]:
    second = _place(row, "second_position", "second_latitude_deg", "second_longitude_deg", where)
    if "earlier_by_s" not in row:
        raise InputError("no time difference", where=where, accepted="earlier_by_s")
    sigma = _sigma(row, "s", where)
    payload = {
        **second,
        "earlier_by_s": _number(row, "earlier_by_s", where),
        "sigma_s": ASSUMED_S if sigma is None else sigma,
    }
    return payload, "" if sigma is not None else f"no error stated, {ASSUMED_S:g} s assumed"
