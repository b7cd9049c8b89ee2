"""A few kinds of record and a clock that a test holds in its hand."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

from pydantic import Field

from layers.earth.errors import RecordRefused
from layers.journal.actor import Actor, Role
from layers.journal.kinds import OPINIONS, Kind, Payload, SideColumn
from layers.journal.known import Known
from layers.journal.record import Draft, form_identity

NOW = datetime(2027, 3, 15, 23, 40, tzinfo=UTC)
WATCH = Actor(name="watch officer 1", role=Role.WATCH)
FEED = Actor(name="feed", role=Role.FEED)


class Note(Payload):
    text: str
    count: int = Field(default=0, ge=0)


class Spot(Payload):
    name: str
    latitude_deg: float
    mmsi: int | None = None


def refuse_over_three(value: Any, draft: Draft, known: Known) -> None:
    if sum(e.value.count for e in known.entries("test.once")) + value.count > 3:
        raise RecordRefused("that makes more than three", accepted="three at most")


KINDS = {
    kind.name: kind
    for kind in (
        *OPINIONS,
        Kind(name="test.note", title="note", model=Note),
        Kind(name="test.once", title="counted note", model=Note, refuse=refuse_over_three),
        Kind(
            name="test.spot",
            title="spot",
            model=Spot,
            columns=(
                SideColumn(name="name", sql="TEXT"),
                SideColumn(name="latitude_deg", sql="REAL"),
                SideColumn(name="mmsi", sql="INTEGER"),
            ),
            by="name",
        ),
    )
}


class Clock:
    """A clock that shows what it is told."""

    def __init__(self, at: datetime = NOW) -> None:
        self.at = at

    def __call__(self) -> datetime:
        return self.at


def draft(key: str, kind: str = "test.note", at: datetime = NOW, **payload: Any) -> Draft:
    return Draft(
        kind=kind,
        payload=payload or {"text": key},
        valid_at=at - timedelta(minutes=5),
        heard_at=at - timedelta(minutes=1),
        source="form",
        identity=form_identity(key),
    )
