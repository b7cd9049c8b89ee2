"""Records for tests of the weather, made by hand."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from layers.journal.kinds import OPINIONS
from layers.journal.known import Known, ListShelf
from layers.journal.record import Record, record_id
from layers.weather import LAYER

KINDS = {kind.name: kind for kind in (*OPINIONS, *LAYER.kinds)}


def record(
    seq: int, kind: str, at: datetime, payload: Mapping[str, Any], heard: datetime | None = None
) -> Record:
    return Record(
        seq=seq,
        id=record_id(f"test:{seq}"),
        kind=kind,
        version=1,
        valid_at=at,
        heard_at=heard or at,
        recorded_at=heard or at,
        source="test",
        author="watch officer 1",
        payload=payload,
    )


def known(
    records: Iterable[Record], as_of: datetime, blobs: Mapping[str, bytes] | None = None
) -> Known:
    held = list(records)
    last = max((r.seq for r in held), default=0)
    return Known(ListShelf(held, blobs), KINDS, last, as_of)
