"""From a kind's model to fields of a form and back: one set of rules for everything typed.

A field is described by JSON Schema (2020-12), as pydantic writes it. Each has a plain label with
its unit, an input that fits its type, and a reading back from text that says what is accepted.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from math import inf
from typing import Any

from dashboard.tools.forms import composite
from layers.earth.clock import parse_time
from layers.earth.errors import InputError
from layers.earth.said import quantity
from layers.earth.said.direction import told_direction
from layers.earth.said.parse import parse_position
from layers.earth.said.times import told_time
from layers.journal.kinds import Kind
from layers.journal.known import check_payload
from layers.journal.words.field_names import WORDS
from layers.journal.words.fields import field_label, field_words, in_plain_words, told_factor
from layers.journal.words.models import all_refused

_DIRECTION = re.compile(r"(?:true|bearing|heading|course)_deg$")
# objects that are said in one breath: their fields -> how they are typed
COMPOSITES = {
    frozenset(("value", "unit", "reference")): "pressure",
    frozenset(("value", "unit")): "gas",
    frozenset(("low", "likely", "high")): "spread",
}
LATITUDE, LONGITUDE = "latitude_deg", "longitude_deg"


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One input.

    ``sort`` is one of text, number, integer, choice, switch, time, position, lines, rows,
    numbers, positions, pressure, gas, spread.
    """

    name: str
    label: str
    sort: str
    required: bool
    default: Any = None
    choices: tuple[str, ...] = ()
    columns: tuple[Field, ...] = ()  # of rows
    help: str = ""
    least: float = -inf  # bounds of a number; what lies beyond is refused by the model
    most: float = inf
    factor: float = 1.0  # how many times the value kept is told


def fields_of(schema: Mapping[str, Any], kind: str = "") -> tuple[Field, ...]:
    """Return the fields of a model's JSON schema; a latitude and its longitude are one field.

    So are a pressure with its unit and reference, a gas with its unit, and a time of three
    points: they are typed as they are said.
    """
    return tuple(_fields(schema, schema.get("$defs", {}), "", kind))


def _fields(
    schema: Mapping[str, Any], defs: Mapping[str, Any], prefix: str, kind: str
) -> list[Field]:
    properties: Mapping[str, Any] = schema.get("properties", {})
    required = set(schema.get("required", ()))
    found: list[Field] = []
    for name, raw in properties.items():
        told, optional = _plain(raw, defs)
        must = name in required and not optional
        full = prefix + name
        if name.endswith(LONGITUDE) and name.replace(LONGITUDE, LATITUDE) in properties:
            continue  # read together with its latitude
        if name.endswith(LATITUDE) and name.replace(LATITUDE, LONGITUDE) in properties:
            stem = full.removesuffix(LATITUDE)
            words = (
                field_words(stem, kind) if stem in WORDS else f"{stem.replace('_', ' ')}position"
            )
            label = words[:1].upper() + words[1:]
            found.append(Field(name=stem, label=label, sort="position", required=must))
        elif said := _composite(told):
            label = field_label(full, kind)
            found.append(Field(name=full, label=label, sort=said, required=must))
        elif told.get("type") == "object" and "properties" in told:
            inner = _fields(told, defs, f"{full}.", kind)
            found += inner if must else [_optional(field) for field in inner]
        else:
            found.append(_field(full, told, defs, must, raw.get("default"), kind))
    return found


def _optional(field: Field) -> Field:
    return replace(field, required=False, choices=("", *field.choices) if field.choices else ())


def _plain(raw: Mapping[str, Any], defs: Mapping[str, Any]) -> tuple[Mapping[str, Any], bool]:
    """Return the schema behind references and "or nothing", and whether nothing is allowed."""
    optional = False
    told: Mapping[str, Any] = raw
    while "$ref" in told or "anyOf" in told:
        if "$ref" in told:
            told = defs[told["$ref"].rsplit("/", 1)[-1]]
        else:
            some = [option for option in told["anyOf"] if option.get("type") != "null"]
            optional = optional or len(some) < len(told["anyOf"])
            told = some[0]
    return told, optional


def _field(
    name: str,
    told: Mapping[str, Any],
    defs: Mapping[str, Any],
    must: bool,
    default: Any,
    kind: str,
) -> Field:
    label, factor = field_label(name, kind), told_factor(name, kind)
    sort, choices, columns = _sort(told, defs, kind)
    if choices and not must:
        choices = ("", *choices)
    limits = [
        f"{word} {quantity.figure(float(f'{told[key] * factor:.3g}'))}"
        for key, word in (
            ("minimum", "from"),
            ("exclusiveMinimum", "above"),
            ("maximum", "to"),
            ("exclusiveMaximum", "below"),
        )
        if key in told
    ]
    return Field(
        name=name,
        label=label,
        sort=sort,
        required=must,
        default=default,
        choices=choices,
        columns=columns,
        help=", ".join(limits),
        least=float(told.get("minimum", told.get("exclusiveMinimum", -inf))) * factor,
        most=float(told.get("maximum", told.get("exclusiveMaximum", inf))) * factor,
        factor=factor,
    )


def _sort(
    told: Mapping[str, Any], defs: Mapping[str, Any], kind: str
) -> tuple[str, tuple[str, ...], tuple[Field, ...]]:
    if "enum" in told:
        return "choice", tuple(str(choice) for choice in told["enum"]), ()
    if "const" in told:
        return "choice", (str(told["const"]),), ()
    json_type = told.get("type")
    if json_type == "array":
        items, _ = _plain(told.get("items", {}), defs)
        if "properties" in items:
            return "rows", (), tuple(_fields(items, defs, "", kind))
        sort = {"string": "lines", "number": "numbers", "array": "positions"}
        return sort.get(str(items.get("type")), "lines"), (), ()
    if json_type == "string":
        return ("time" if told.get("format") == "date-time" else "text"), (), ()
    simple = {"number": "number", "integer": "integer", "boolean": "switch"}
    return simple.get(str(json_type), "text"), (), ()


def _composite(told: Mapping[str, Any]) -> str:
    """Return the sort of an object that is typed in one field; empty for others."""
    parts = frozenset(told.get("properties", ()))
    return COMPOSITES.get(parts, "") if told.get("type") == "object" else ""


def put(payload: dict[str, Any], field: Field, typed: Any, now: datetime | None = None) -> None:
    """Put what was typed into the payload; an empty optional field is left out.

    Parameters
    ----------
    now : datetime, optional
        The clock that ``1044`` or ``-20 min`` is said by; without it times are written whole.

    Raises
    ------
    InputError
        Says which field, what came, and what is accepted.
    """
    if field.sort == "rows":
        rows = [_row(field, row, number + 1, now) for number, row in enumerate(typed or ())]
        kept = [row for row in rows if row]
        if kept:
            _set(payload, field.name, kept)
        elif field.required:
            raise InputError("nothing was given", where=field.label, accepted="a row at least")
        return
    if typed is None or typed == "" or typed == []:
        if field.required:
            accepted = field.help or ", ".join(choice for choice in field.choices if choice)
            raise InputError("nothing was given", where=field.label, accepted=accepted)
        return
    if field.sort == "position":
        place = parse_position(str(typed), field.label)
        _set(payload, f"{field.name}{LATITUDE}", place.latitude_deg)
        _set(payload, f"{field.name}{LONGITUDE}", place.longitude_deg)
        return
    _set(payload, field.name, read(field, typed, now))


def _row(field: Field, row: Mapping[str, Any], number: int, now: datetime | None) -> dict[str, Any]:
    out: dict[str, Any] = {}
    given = {name: value for name, value in row.items() if value not in (None, "")}
    if not given:
        return out
    for column in field.columns:
        try:
            put(out, column, row.get(column.label), now)
        except InputError as reason:
            raise reason.at(f"{field.label} row {number}") from None
    return out


def _set(payload: dict[str, Any], name: str, value: Any) -> None:
    *path, last = name.split(".")
    inner = payload
    for part in path:
        inner = inner.setdefault(part, {})
    inner[last] = value


def read(field: Field, typed: Any, now: datetime | None = None) -> Any:
    """Return the JSON value of what was typed into one field."""
    if field.sort == "switch":
        return bool(typed)
    if field.sort == "lines" and not isinstance(typed, str):
        return [str(part).strip() for part in typed if str(part).strip()]
    text = str(typed).strip()
    if field.sort == "number":
        return _number(field, text)
    if field.sort == "integer":
        value = _number(field, text, quantity.COUNT)
        if value != int(value):
            raise InputError(f"{text!r} is not a whole number", where=field.label)
        return int(value)
    if field.sort == "time":
        at = told_time(text, now, field.label) if now else parse_time(text, field.label)
        return at.isoformat()
    if field.sort == "lines":
        return [part.strip() for part in text.splitlines() if part.strip()]
    if field.sort in COMPOSITES.values():
        return composite.read(field.sort, text, field.label)
    if field.sort == "numbers":
        parts = [part for part in re.split(r"[;\s]+", text) if part]
        return [quantity.number(part, field.label) for part in parts]
    if field.sort == "positions":
        places = [parse_position(row, field.label) for row in text.splitlines() if row.strip()]
        return [[place.latitude_deg, place.longitude_deg] for place in places]
    return text


def _number(field: Field, text: str, alone: quantity.Sort | None = None) -> float:
    """Return a number in the unit that the field's name ends with, whatever unit was said."""
    if _DIRECTION.search(field.name) and any(letter.isalpha() for letter in text):
        degrees, sense = told_direction(text, field.label)
        wanted = "true" if field.name.endswith("_true_deg") else sense
        if sense and sense != wanted:
            raise InputError(
                f"{text!r} is {sense}, and this field is {wanted}",
                where=field.label,
                accepted="degrees true: 215 or 215T",
            )
        return degrees
    found = quantity.sort_of(field.name) or ((alone, "one") if alone else None)
    if found is not None:
        value = quantity.parse(text, *found, where=field.label, least=field.least, most=field.most)
        return value / field.factor if field.factor != 1.0 else value
    try:
        return quantity.number(text, field.label, least=field.least, most=field.most)
    except InputError as reason:
        if reason.accepted == "a number" and field.help:
            raise InputError(reason.what, where=reason.where, accepted=field.help) from None
        raise


def payload_of(
    fields: Sequence[Field], typed: Mapping[str, Any], now: datetime | None = None
) -> tuple[dict[str, Any], dict[str, str]]:
    """Return the payload of what was typed and, by field, why something cannot be read."""
    payload: dict[str, Any] = {}
    wrong: dict[str, str] = {}
    for field in fields:
        try:
            put(payload, field, typed.get(field.name), now)
        except InputError as reason:
            within = (reason.where or "").removeprefix(field.label).lstrip(", ")
            accepted = f"; accepted: {reason.accepted}" if reason.accepted else ""
            wrong[field.name] = f"{within}: {reason.what}{accepted}".removeprefix(": ")
    return payload, wrong


def label_errors(
    kind: Kind, fields: Sequence[Field], payload: Mapping[str, Any]
) -> tuple[dict[str, str], str]:
    """Return, by field, what the kind's model would not take, and what is about no one field."""
    try:
        check_payload(kind, payload, "")
    except InputError:
        pass
    else:
        return {}, ""
    names = sorted((field.name for field in fields if field.name), key=len, reverse=True)
    by_field: dict[str, str] = {}
    rest = []
    for place, reason in all_refused(kind, payload):
        said = in_plain_words(reason, kind.name, (f.name for f in fields))
        loc = place.replace(LATITUDE, "").replace(LONGITUDE, "")
        at = next((name for name in names if loc == name or loc.startswith(f"{name}.")), None)
        if at is None and loc == "" and place:
            at = ""
        if at is None:
            rest.append(said)
        else:
            by_field.setdefault(at, said)
    return by_field, "; ".join(rest)
