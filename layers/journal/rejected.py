"""What could not be read: kept with source, line, text and reason."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from layers.earth.clock import from_us
from layers.journal.record import Reject
from layers.journal.tables.schema import REJECTS

MAX_TEXT = 2_000  # a damaged file may be one endless line; the start of it is enough to find it


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptReject:
    """A reject as the journal keeps it."""

    recorded_at: datetime
    source: str
    line: int | None
    text: str
    reason: str


def keep_rejects(connection: Connection, rejects: Sequence[Reject], now_us: int) -> None:
    """Write the rejects that are not already there."""
    rows: dict[str | int, dict[str, Any]] = {}
    for number, reject in enumerate(rejects):
        row = _row(reject, now_us)
        rows.setdefault(row["same"] or number, row)
    keys = [row["same"] for row in rows.values() if row["same"]]
    held: set[str] = set()
    for start in range(0, len(keys), 400):
        part = keys[start : start + 400]
        found = connection.execute(sa.select(REJECTS.c.same).where(REJECTS.c.same.in_(part)))
        held.update(found.scalars())
    news = [row for row in rows.values() if row["same"] not in held]
    if news:
        connection.execute(REJECTS.insert(), news)


def _row(reject: Reject, now_us: int) -> dict[str, Any]:
    source, text, reason = _clean(reject.source), _clean(reject.text), _clean(reject.reason)
    same = None
    if reject.line is not None:
        same = same_key(source, reject.line, text, reason)
    return {
        "same": same,
        "recorded_at_us": now_us,
        "source": source,
        "line": reject.line,
        "text": text,
        "reason": reason,
    }


def same_key(source: str, line: int, text: str, reason: str) -> str:
    """Return what tells one line of one file from another."""
    return hashlib.sha256("\x00".join((source, str(line), text, reason)).encode()).hexdigest()


def _clean(text: str) -> str:
    """Return a text that every database can hold, not endless."""
    cut = text[:MAX_TEXT] + ("…" if len(text) > MAX_TEXT else "")
    return cut.replace("\x00", "\\x00").encode("utf-8", "backslashreplace").decode()


def read_rejects(connection: Connection, source: str | None, limit: int) -> list[KeptReject]:
    """Return the newest rejects first."""
    question = sa.select(REJECTS).order_by(REJECTS.c.number.desc()).limit(limit)
    if source is not None:
        question = question.where(REJECTS.c.source == source)
    return [
        KeptReject(
            recorded_at=from_us(row.recorded_at_us),
            source=row.source,
            line=row.line,
            text=row.text,
            reason=row.reason,
        )
        for row in connection.execute(question)
    ]


def reject_counts(connection: Connection) -> dict[str, int]:
    """Return how many rejects there are by source."""
    question = sa.select(REJECTS.c.source, sa.func.count()).group_by(REJECTS.c.source)
    return {source: count for source, count in connection.execute(question)}
