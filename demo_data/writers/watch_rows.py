"""Records of the watch as they lie in its file, and who makes them."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from layers.journal.record import form_identity, record_id

Row = dict[str, Any]
WATCH = ("watch officer 1", "watch officer 2", "watch officer 3", "watch officer 4")


COORDINATOR = "rescue coordinator"


UWT = "underwater telephone, GREY HERON"


LATER_UWT = "underwater telephone, NORTHERN LANTERN"


def stamp(at: datetime) -> str:
    """Return a time as the files write it."""
    return f"{at:%Y-%m-%dT%H:%MZ}"


def ident(form: str) -> str:
    """Return the record id of a form of this file."""
    return record_id(form_identity(form))


def row(
    form: str,
    kind: str,
    at: datetime,
    payload: Row,
    *,
    source: str = "watch",
    heard: datetime | None = None,
    recorded: datetime | None = None,
    author: str = "",
) -> Row:
    """Return one typed record as it stands in records.jsonl."""
    heard_at = heard or at
    late = {} if recorded is None else {"recorded_at": stamp(recorded)}
    return {
        **late,
        "id": form,
        "kind": f"watch.{kind}",
        "valid_at": stamp(at),
        "heard_at": stamp(heard_at),
        "source": source,
        "author": author or WATCH[heard_at.hour // 6],
        "payload": payload,
    }
