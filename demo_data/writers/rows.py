"""Records of the exercise as they lie in its files, and who keeps its watches."""

from __future__ import annotations

import json
from collections.abc import Iterable
from datetime import datetime
from pathlib import Path
from typing import Any

from layers.journal.record import form_identity, record_id

Row = dict[str, Any]
# Four watches of six hours, handed over at 00, 06, 12 and 18.
WATCH = ("watch officer 1", "watch officer 2", "watch officer 3", "watch officer 4")
COORDINATOR = "rescue coordinator"
UWT = "underwater telephone, GREY HERON"
LATER_UWT = "underwater telephone, NORTHERN LANTERN"


def stamp(at: datetime) -> str:
    """Return a time as the files write it: seconds only where there are some."""
    return f"{at:%Y-%m-%dT%H:%M:%SZ}" if at.second else f"{at:%Y-%m-%dT%H:%MZ}"


def row(
    form: str,
    kind: str,
    at: datetime,
    payload: Row,
    *,
    source: str,
    heard: datetime | None = None,
    recorded: datetime | None = None,
    author: str = "",
) -> Row:
    """Return one typed record as it stands in records.jsonl, by the officer of the watch."""
    heard_at = heard or at
    late = {} if recorded is None else {"recorded_at": stamp(recorded)}
    return {
        **late,
        "id": form,
        "kind": kind,
        "valid_at": stamp(at),
        "heard_at": stamp(heard_at),
        "source": source,
        "author": author or WATCH[heard_at.hour // 6],
        "payload": payload,
    }


def ident(form: str) -> str:
    """Return the record id of a form."""
    return record_id(form_identity(form))


def watch_row(form: str, kind: str, at: datetime, payload: Row, **more: Any) -> Row:
    """Return one record of the watch's own book."""
    return row(form, f"watch.{kind}", at, payload, **{"source": "watch", **more})


def write_rows(folder: Path, rows: Iterable[Row]) -> None:
    """Write ``records.jsonl`` in a folder that is made where there is none."""
    folder.mkdir(parents=True, exist_ok=True)
    text = "".join(json.dumps(one, ensure_ascii=False) + "\n" for one in rows)
    (folder / "records.jsonl").write_text(text, encoding="utf-8")
