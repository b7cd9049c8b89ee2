"""Records of the survivors as they lie in their file, and who tells them."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from demo_data.scenario import z

HEARD_AFTER = timedelta(minutes=4)


WATCH = ("watch officer 1", "watch officer 2", "watch officer 3", "watch officer 4")


UWT = "underwater telephone, GREY HERON"


def line(
    form: str,
    kind: str,
    at: datetime,
    payload: dict[str, Any],
    *,
    source: str,
    heard: datetime | None = None,
) -> dict[str, Any]:
    """Return one typed record as it stands in records.jsonl."""
    heard_at = heard or at + HEARD_AFTER
    # Four watches of six hours, handed over at 00, 06, 12 and 18.
    author = WATCH[heard_at.hour // 6]
    return {
        "id": form,
        "kind": kind,
        "valid_at": f"{at:%Y-%m-%dT%H:%MZ}",
        "heard_at": f"{heard_at:%Y-%m-%dT%H:%MZ}",
        "source": source,
        "author": author,
        "payload": payload,
    }


def opinion(
    form: str, kind: str, at: datetime, target: str, reason: str, **more: Any
) -> dict[str, Any]:
    """Return what is thought of another form's record."""
    from layers.journal.record import form_identity, record_id

    payload = {"target": record_id(form_identity(target)), "reason": reason, **more}
    return line(form, kind, at, payload, source="watch")


def group(persons: int, fitness: str, bar: float | None = None, **more: Any) -> dict[str, Any]:
    """Return a group of a move, its exposure in bar absolute when known."""
    made: dict[str, Any] = {"persons": persons, "fitness": fitness, **more}
    if bar is not None:
        made["exposure"] = {"value": bar, "unit": "bar", "reference": "absolute"}
    return made


def move(
    form: str,
    at: datetime,
    origin: str,
    to: str,
    groups: list[dict[str, Any]],
    reason: str,
    source: str,
) -> dict[str, Any]:
    """Return one move of people."""
    payload = {"from_place": origin, "to_place": to, "groups": groups, "reason": reason}
    return line(form, "survivors.move", at, payload, source=source)


def place(form: str, name: str, sort: str) -> dict[str, Any]:
    """Return a further place for people."""
    payload = {"name": name, "sort": sort}
    return line(form, "survivors.place", z(13, "0930"), payload, source="watch")
