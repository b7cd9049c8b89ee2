"""Per source, when it was last heard: what a feed's age is read from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from layers.earth.clock import from_us
from layers.journal.tables.schema import RECORDS, SOURCES

FEED_READER = "feed reader"  # the author of what is followed rather than dropped once


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceAge:
    """When a source was last heard, how much came from it, and whether it is a feed."""

    source: str
    last_heard_at: datetime
    last_valid_at: datetime
    records: int
    by_feed: bool

    @property
    def observed_at(self) -> datetime:
        """When the newest of it was observed: what its age counts from, whenever it was read.

        A forecast or a plan lies ahead; it is as old as its hearing.
        """
        return min(self.last_valid_at, self.last_heard_at)


@dataclass(slots=True)
class SourceNews:
    """What a batch brings from one source."""

    last_heard_us: int = -(2**62)
    last_valid_us: int = -(2**62)
    records: int = 0
    by_feed: bool = False

    def count(self, valid_us: int, heard_us: int, *, by_feed: bool) -> None:
        """Count one record in."""
        self.records += 1
        if heard_us > self.last_heard_us:
            self.last_heard_us = heard_us
        if valid_us > self.last_valid_us:
            self.last_valid_us = valid_us
        self.by_feed = self.by_feed or by_feed


def note_sources(connection: Connection, news: Mapping[str, SourceNews]) -> None:
    """Bring the table of sources up to date."""
    for source, brought in news.items():
        row = connection.execute(sa.select(SOURCES).where(SOURCES.c.source == source)).first()
        if row is None:
            connection.execute(
                SOURCES.insert().values(
                    source=source,
                    last_heard_us=brought.last_heard_us,
                    last_valid_us=brought.last_valid_us,
                    records=brought.records,
                    by_feed=brought.by_feed,
                )
            )
        else:
            connection.execute(
                SOURCES.update()
                .where(SOURCES.c.source == source)
                .values(
                    last_heard_us=max(brought.last_heard_us, row.last_heard_us),
                    last_valid_us=max(brought.last_valid_us, row.last_valid_us),
                    records=row.records + brought.records,
                    by_feed=row.by_feed or brought.by_feed,
                )
            )


def read_sources(connection: Connection) -> list[SourceAge]:
    """Return every source with when it was last heard, by name."""
    rows = connection.execute(sa.select(SOURCES).order_by(SOURCES.c.source)).all()
    return [
        SourceAge(
            source=row.source,
            last_heard_at=from_us(row.last_heard_us),
            last_valid_at=from_us(row.last_valid_us),
            records=row.records,
            by_feed=row.by_feed,
        )
        for row in rows
    ]


def first_by(connection: Connection, source: str) -> str:
    """Return who recorded the first record of a source, empty when there is none."""
    question = sa.select(RECORDS.c.author).where(RECORDS.c.source == source)
    return connection.execute(question.order_by(RECORDS.c.seq).limit(1)).scalar() or ""
