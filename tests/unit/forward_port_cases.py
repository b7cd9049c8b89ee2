"""A small response to test on: one port, one ship, a chain of a few activities."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from typing import Any

from layers.catalogue import KINDS
from layers.contract import Moment
from layers.forward_port import LAYER
from layers.journal.known import Known, ListShelf, check_payload
from layers.journal.record import Draft, as_record

ZERO = datetime(2027, 3, 13, 9, 0, tzinfo=UTC)
NOW = ZERO + timedelta(hours=1)


def row(kind: str, when: datetime = ZERO, source: str = "staff", **payload: Any) -> Draft:
    name = f"forward_port.{kind}" if "." not in kind else kind
    check_payload(KINDS[name], payload, name)
    return Draft(
        kind=name,
        payload=payload,
        valid_at=when,
        heard_at=when,
        source=source,
        identity=f"{kind} {when} {source} {payload}",
    )


def option(key: str = "one", last: str = "out", **more: Any) -> Draft:
    payload = {"key": key, "title": key, "zero": ZERO.isoformat(), "last": last, **more}
    return row("option", **payload)


def activity(
    key: str, after: Iterable[str] = (), hours: Any = (1.0, 1.0, 1.0), **more: Any
) -> Draft:
    payload: dict[str, Any] = {"key": key, "title": key, "after": list(after), **more}
    if hours is not None:
        payload |= dict(zip(("least_h", "likely_h", "most_h"), hours, strict=True))
    return row("activity", **payload)


def actual(key: str, at: datetime = NOW, **times: datetime) -> Draft:
    said = {name: time.isoformat() for name, time in times.items()}
    return row("actual", at, activity=key, **said)


def known(drafts: Iterable[Draft], as_of: datetime = NOW) -> Known:
    records = [
        as_record(draft, seq=seq, recorded_at=as_of, author="watch")
        for seq, draft in enumerate(drafts, start=1)
    ]
    return Known(ListShelf(records), KINDS, len(records), as_of)


def result(
    drafts: Iterable[Draft], as_of: datetime = NOW, at: datetime | None = None, **others: Any
) -> Any:
    return LAYER.compute(known(drafts, as_of), others, Moment(as_of, at or as_of))


def hours(at: datetime) -> float:
    return (at - ZERO).total_seconds() / 3600
