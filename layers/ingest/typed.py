"""Records of any kind as JSON, JSON lines or CSV: what people type, export and bring along.

JSON: one object, a list of objects, or one object a line, each ``{"kind", "valid_at", "heard_at",
"source", "author", "id", "payload": {…}}``; only kind, valid_at and payload are needed. CSV: the
columns of the same names, every other column a field of the payload under its own name. A row
that cannot be kept is a reject with its file, row and field.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from difflib import get_close_matches
from typing import Any

from layers.catalogue import KINDS
from layers.contract import Feed, Origin, Reading
from layers.contract.cells import parsed_json, plain_value
from layers.contract.rows import heads_of, refuse, sheet
from layers.earth.clock import parse_time
from layers.earth.errors import InputError
from layers.journal.kinds import Kind
from layers.journal.known import check_payload
from layers.journal.record import Draft, content_identity, form_identity

ABOUT = ("kind", "valid_at", "heard_at", "recorded_at", "source", "author", "id")
NEEDED = ("kind", "valid_at")
LONGEST_ID = 200
_SHOWN = 300


@dataclass(frozen=True, slots=True)
class _Row:
    """One record as it stands in the file."""

    line: int
    text: str
    fields: Mapping[str, Any]
    texts: bool  # every value is a text, as in CSV


def recognise_json(head: bytes, name: str) -> float:
    """Return how surely these bytes are records in one JSON text."""
    text = head.decode("utf-8-sig", "replace").lstrip()
    if text[:1] not in ("{", "[") or _one_a_line(text):
        return 0.0
    return _json_score(text, name)


def recognise_lines(head: bytes, name: str) -> float:
    """Return how surely these bytes are records in JSON, one a line."""
    text = head.decode("utf-8-sig", "replace").lstrip()
    return _json_score(text, name) if _one_a_line(text) else 0.0


def recognise_csv(head: bytes, name: str) -> float:
    """Return how surely these bytes are records in CSV."""
    heads = set(heads_of(head))
    return 0.95 if set(NEEDED) <= heads else 0.9 if len(heads & set(ABOUT)) >= 3 else 0.0


def _json_score(text: str, name: str) -> float:
    if '"kind"' in text and '"valid_at"' in text:
        return 0.95
    if '"kind"' not in text and '"payload"' not in text:
        return 0.0  # JSON of something else
    # another layer's JSON says so itself; what is left may be records with a fault
    ending = name.lower().rsplit(".", 1)[-1]
    return 0.25 if ending in ("json", "jsonl", "ndjson") else 0.0


def _one_a_line(text: str) -> bool:
    """Whether the first line is an object by itself, and not the only one in brackets."""
    first = text.split("\n", 1)[0].rstrip()
    return first.startswith("{") and first.endswith("}")


def read(data: bytes, origin: Origin) -> Reading:
    """Return a draft for each record; every row ends as a draft or a reject."""
    reading = Reading()
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = origin.first_line + data.count(b"\n", 0, fault.start)
        around = data[max(fault.start - 20, 0) : fault.start + 20].decode("latin-1")
        refuse(reading, origin, line, around, "not UTF-8; accepted: text saved as UTF-8")
        return reading
    told: Counter[str] = Counter()
    for row in _rows(text, origin, reading):
        where = f"{origin.source} line {row.line}"
        try:
            reading.drafts.append(_draft(row, origin, where, told))
        except InputError as fault:
            refuse(reading, origin, row.line, row.text, str(fault))
    return reading


FEEDS: tuple[Feed, ...] = (
    Feed(
        key="typed",
        title="records in JSON (kind, valid_at, payload)",
        recognise=recognise_json,
        read=read,
        stale_after_s=86_400.0,
    ),
    Feed(
        key="typed-lines",
        title="records in JSON, one a line",
        recognise=recognise_lines,
        read=read,
        stale_after_s=86_400.0,
        heading_lines=0,
    ),
    Feed(
        key="typed-csv",
        title="records in CSV (columns kind, valid_at and the fields)",
        recognise=recognise_csv,
        read=read,
        stale_after_s=86_400.0,
        heading_lines=1,
    ),
)


def _rows(text: str, origin: Origin, reading: Reading) -> Iterator[_Row]:
    start = text.lstrip()[:1]
    if start == "[":
        yield from _json_whole(text, origin, reading)
    elif start == "{":
        yield from _json_lines(text, origin, reading)
    else:
        yield from _csv_rows(text, origin, reading)


def _json_whole(text: str, origin: Origin, reading: Reading) -> Iterator[_Row]:
    try:
        found = parsed_json(text)
    except ValueError as fault:
        line = origin.first_line + getattr(fault, "lineno", 1) - 1
        refuse(reading, origin, line, text, f"not JSON ({fault})")
        return
    for number, item in enumerate(found if isinstance(found, list) else [found], start=1):
        if isinstance(item, dict):
            yield _Row(number, json.dumps(item)[:_SHOWN], item, False)
        else:
            reason = "not an object; accepted: a list of records"
            refuse(reading, origin, number, json.dumps(item), reason)


def _json_lines(text: str, origin: Origin, reading: Reading) -> Iterator[_Row]:
    try:  # one object over several lines is one record
        whole = parsed_json(text) if "\n" in text.strip() else None
    except ValueError:
        whole = None
    if isinstance(whole, dict):
        yield _Row(origin.first_line, json.dumps(whole)[:_SHOWN], whole, False)
        return
    for number, line in enumerate(text.split("\n"), start=origin.first_line):
        if not line.strip():
            continue
        try:
            item = parsed_json(line)
        except ValueError as fault:
            refuse(reading, origin, number, line, f"not JSON ({fault})")
            continue
        if isinstance(item, dict):
            yield _Row(number, line[:_SHOWN], item, False)
        else:
            refuse(reading, origin, number, line, "not an object; accepted: one record a line")


def _csv_rows(text: str, origin: Origin, reading: Reading) -> Iterator[_Row]:
    first = text.split("\n", 1)[0]
    try:
        accepted = f"{', '.join(ABOUT)} and the fields of the kind"
        found = sheet(text.encode(), origin, needed=NEEDED, accepted=accepted)
    except InputError as fault:
        refuse(reading, origin, origin.first_line, first, str(fault))
        return
    reading.passed_over["column heads"] = 1
    for row in found.rows(reading):
        yield _Row(row.line, row.text[:_SHOWN], row.cells, True)


def _draft(row: _Row, origin: Origin, where: str, told: Counter[str]) -> Draft:
    fields = row.fields
    kind = _kind(fields, where)
    payload = _payload(row, kind, where)
    check_payload(kind, payload, where)
    heard_at = _time(fields, "heard_at", where) or origin.received_at
    valid_at = _time(fields, "valid_at", where)
    if valid_at is None:
        raise InputError("no time", where=f"{where}, valid_at", accepted="when it is true, with Z")
    return Draft(
        kind=kind.name,
        payload=payload,
        valid_at=valid_at,
        heard_at=min(heard_at, origin.received_at),
        source=_text(fields, "source", where) or origin.source,
        identity=_identity(fields, kind, valid_at, payload, told, where),
        version=kind.version,
    )


def _kind(fields: Mapping[str, Any], where: str) -> Kind:
    name = fields.get("kind")
    kind = KINDS.get(name) if isinstance(name, str) else None
    if kind is None:
        raise InputError(
            "no kind of record is named"
            if name is None
            else f"{str(name)[:80]!r} is not a kind of record",
            where=f"{where}, kind",
            accepted=_near(str(name)),
        )
    return kind


def _near(name: str) -> str:
    """Return the kinds that are nearest to what was written, and where all of them stand."""
    near = get_close_matches(name, KINDS, n=3, cutoff=0.5)
    return ", ".join([*near, "a kind as the forms and the log name it, as in weather.observation"])


def _identity(
    fields: Mapping[str, Any],
    kind: Kind,
    at: datetime,
    payload: Mapping[str, Any],
    told: Counter[str],
    where: str,
) -> str:
    """Return the id that the file gives, else what it says: the same row of another file is one.

    Rows that say the same in one file are several facts (two people found, one like the other):
    the second of them is the second in any other order too.
    """
    named = _text(fields, "id", where)
    if named:
        return form_identity(named[:LONGEST_ID])
    said = {"by": [fields.get("source"), fields.get("author")], "payload": payload}
    first = content_identity(kind.name, at, said)
    told[first] += 1
    return content_identity(kind.name, at, said, told[first] - 1)


def _text(fields: Mapping[str, Any], name: str, where: str) -> str:
    value = fields.get(name) or ""
    if not isinstance(value, str) or len(value) > LONGEST_ID:
        raise InputError(
            f"{str(value)[:60]!r} is not usable", where=f"{where}, {name}", accepted="a short text"
        )
    return value


def _time(fields: Mapping[str, Any], name: str, where: str) -> datetime | None:
    value = fields.get(name)
    if value in (None, ""):
        return None
    return parse_time(str(value)[:60], f"{where}, {name}")


def _payload(row: _Row, kind: Kind, where: str) -> dict[str, Any]:
    if row.texts:
        return {
            name: plain_value(kind.model, name, value, where)
            for name, value in row.fields.items()
            if name not in ABOUT and value != ""
        }
    odd = sorted(set(row.fields) - {*ABOUT, "payload"})
    if odd:
        raise InputError(
            f"{odd[0]!r} does not belong here",
            where=where,
            accepted=f"{', '.join(ABOUT)}, payload",
        )
    payload = row.fields.get("payload")
    if not isinstance(payload, dict):
        raise InputError("no payload", where=f"{where}, payload", accepted="an object of fields")
    return payload
