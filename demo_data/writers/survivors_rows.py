"""Records of the survivors as they lie in their file, and who tells them."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from demo_data.scenario import z
from demo_data.writers.rows import Row, ident, row

HEARD_AFTER = timedelta(minutes=4)


def line(
    form: str,
    kind: str,
    at: datetime,
    payload: Row,
    *,
    source: str,
    heard: datetime | None = None,
) -> Row:
    """Return one typed record as it stands in records.jsonl."""
    return row(form, kind, at, payload, source=source, heard=heard or at + HEARD_AFTER)


def opinion(form: str, kind: str, at: datetime, target: str, reason: str, **more: Any) -> Row:
    """Return what is thought of another form's record."""
    payload = {"target": ident(target), "reason": reason, **more}
    return line(form, kind, at, payload, source="watch")


def group(persons: int, fitness: str, bar: float | None = None, **more: Any) -> Row:
    """Return a group of a move, its exposure in bar absolute when known."""
    made: Row = {"persons": persons, "fitness": fitness, **more}
    if bar is not None:
        made["exposure"] = {"value": bar, "unit": "bar", "reference": "absolute"}
    return made


def move(
    form: str,
    at: datetime,
    origin: str,
    to: str,
    groups: list[Row],
    reason: str,
    source: str,
) -> Row:
    """Return one move of people."""
    payload = {"from_place": origin, "to_place": to, "groups": groups, "reason": reason}
    return line(form, "survivors.move", at, payload, source=source)


def place(form: str, name: str, sort: str) -> Row:
    """Return a further place for people."""
    payload = {"name": name, "sort": sort}
    return line(form, "survivors.place", z(13, "0930"), payload, source="watch")
