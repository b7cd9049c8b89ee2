"""A record put back into its form, and what was changed there as a correction of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from dashboard.tools.forms import composite, told_time
from dashboard.tools.forms.fields import LATITUDE, LONGITUDE, Field
from layers.earth.clock import dtg, parse_time
from layers.earth.position import Position
from layers.earth.said.quantity import printed, sort_of
from layers.earth.said.times import SLACK
from layers.journal.known import Entry
from layers.journal.record import Draft, form_identity

VALID, HEARD_AT, SOURCE, WHY = "form valid", "form heard", "form source", "form why"


@dataclass(frozen=True, slots=True, kw_only=True)
class Corrected:
    """What stood in each field when the form was filled, as it would be typed."""

    texts: dict[str, Any]


def filled(fields: Sequence[Field], entry: Entry) -> Corrected:
    """Return a record as its form shows it, times and source included."""
    payload = entry.value.model_dump(mode="json", exclude_unset=True)
    texts: dict[str, Any] = {field.name: _text(field, payload) for field in fields}
    texts |= {
        VALID: dtg(entry.record.valid_at),
        HEARD_AT: dtg(entry.record.heard_at),
        SOURCE: entry.record.source,
        WHY: "",
    }
    return Corrected(texts=texts)


def _get(payload: Mapping[str, Any], name: str) -> Any:
    inner: Any = payload
    for part in name.split("."):
        inner = inner.get(part) if isinstance(inner, Mapping) else None
    return inner


def _text(field: Field, payload: Mapping[str, Any]) -> Any:
    if field.sort == "position":
        latitude = _get(payload, f"{field.name}{LATITUDE}")
        longitude = _get(payload, f"{field.name}{LONGITUDE}")
        return "" if latitude is None or longitude is None else place_text(latitude, longitude)
    value = _get(payload, field.name)
    if field.sort == "rows":
        return [{c.label: _text(c, row) for c in field.columns} for row in value or ()]
    if field.sort == "switch":
        return value
    if value is None or value == "":
        return None if field.sort in ("choice", "lines") else ""
    if field.sort in ("number", "integer"):
        return number_text(field, float(value))
    if field.sort == "time":
        return dtg(parse_time(str(value), field.label))
    if field.sort == "lines":
        return list(value)
    if field.sort == "numbers":
        return " ".join(printed(each, "") for each in value)
    if field.sort == "positions":
        return "\n".join(place_text(*each) for each in value)
    if isinstance(value, Mapping):
        return composite.written(field.sort, value)
    return str(value)


def place_text(latitude_deg: float, longitude_deg: float) -> str:
    """Return a place to a thousandth of a minute, two metres, as it would be typed."""
    place = Position(latitude_deg, longitude_deg)
    parts = []
    for angle, width, letters in (
        (place.latitude_deg, 2, "NS"), (place.longitude_deg, 3, "EW"),
    ):  # fmt: skip
        thousandths = round(abs(angle) * 60_000)
        degrees, minutes = divmod(thousandths, 60_000)
        letter = letters[0] if angle >= 0 else letters[1]
        parts.append(f"{degrees:0{width}d} {minutes / 1000:06.3f}{letter}")
    return " ".join(parts)


def number_text(field: Field, value: Any) -> str:
    """Return a number with its unit, as many figures as it takes to read back the same.

    What is no number is returned as its text.
    """
    if not isinstance(value, int | float):
        return str(value)
    told = float(f"{value * field.factor:.6g}")
    found = sort_of(field.name)
    unit = found[1] if found is not None and field.sort == "number" else ""
    if unit == "bar":
        return f"{printed(told, 'bar')} absolute"
    return printed(told, "" if unit == "one" else unit)


def correction(
    fields: Sequence[Field],
    before: Corrected,
    entry: Entry,
    payload: Mapping[str, Any],
    typed: Mapping[str, Any],
    now: datetime,
    author: str,
    form_id: str,
) -> Draft | None:
    """Return the correction that was typed, or None when nothing was changed."""
    changed: dict[str, Any] = {}
    for field in fields:
        if (typed.get(field.name) or None) == (before.texts.get(field.name) or None):
            continue
        for name in (
            (f"{field.name}{LATITUDE}", f"{field.name}{LONGITUDE}")
            if field.sort == "position"
            else (field.name,)
        ):
            top = name.split(".")[0]
            changed[top] = payload.get(top)
    told: dict[str, Any] = {"target": entry.id, "fields": changed}
    for name, key in (("valid_at", VALID), ("heard_at", HEARD_AT)):
        if typed[key].strip() and typed[key] != before.texts[key]:
            ahead = None if name == "valid_at" else SLACK
            told[name] = told_time.read(typed[key], name, now, ahead=ahead).isoformat()
    if typed[SOURCE].strip() and typed[SOURCE] != before.texts[SOURCE]:
        told["source"] = typed[SOURCE].strip()
    if not changed and len(told) == 2:
        return None
    told["reason"] = typed[WHY].strip() or "as heard again"
    return Draft(
        kind="journal.correct",
        payload=told,
        valid_at=now,
        heard_at=now,
        source=author,
        identity=form_identity(form_id),
    )
