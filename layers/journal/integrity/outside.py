"""What was last seen of a journal, noted outside it, so that a tail cut off or rewritten shows.

A chain by itself can not show that its end is gone together with the hashes. A small file for
each journal in the data folder holds the last head, what the journal was, and one digest over
what no hash in it covers. It is written after each check that found nothing, and every minute
with the head alone. Where several servers share a database each keeps its own.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
from collections.abc import Iterator
from dataclasses import asdict, dataclass, field, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from layers.earth.clock import dtg, duration_words, from_us, to_us
from layers.journal.integrity import beside
from layers.journal.integrity.chain import Verified, verify
from layers.journal.integrity.fault import Fault
from layers.journal.naming import data_folder
from layers.journal.store import Journal
from layers.journal.tables.engine import reading
from layers.journal.tables.head import read_head
from layers.journal.tables.schema import BLOCKS, JOURNAL, RECORDS, REJECTS, SOURCES

CLOCK = "watch.clock"  # the kind that says what became of the exercise's clock


@dataclass(frozen=True, slots=True, kw_only=True)
class Noted:
    """What was seen of a journal, and when (of this computer's clock, microseconds)."""

    at_us: int
    whole_us: int  # when a check last found nothing
    name: str
    exercise: bool
    created_us: int
    block: int
    seq: int
    hash: str
    rejects: int
    covers: int  # rejects up to this number, and
    before_us: int  # files kept before this time, stand in
    digest: str
    clock: tuple[int, int] = (0, 0)  # records about the exercise's clock, and where it stands
    sources: dict[str, tuple[int, bool]] = field(default_factory=dict)  # records, and is a feed


def place_of(journal: Journal, folder: Path | None = None) -> Path:
    """Return where what was seen of a journal is noted."""
    key = hashlib.sha256(journal.place.encode()).hexdigest()[:24]
    return (folder or data_folder()) / "heads" / f"{key}.json"


def read(path: Path) -> Noted | None:
    """Return what was noted, None when nothing was or it can not be read."""
    try:
        return Noted(**json.loads(path.read_text("utf-8")))
    except (OSError, ValueError, TypeError):
        return None


def _write(path: Path, noted: Noted) -> None:
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    part = path.with_suffix(f".{os.getpid()}.part")
    part.touch(mode=0o600)
    part.write_text(json.dumps(asdict(noted)), "utf-8")
    part.replace(path)


def note_head(journal: Journal, folder: Path | None = None) -> None:
    """Note the head as it is now, where what was noted before still stands below it."""
    path = place_of(journal, folder)
    before = read(path)
    if before is None:
        return
    with reading(journal.engine, journal.place) as connection:
        if next(_against(connection, before), None) is not None:
            return
        head = read_head(connection)
        rejects, clock, sources = _rejects(connection)[0], _clock(connection), _sources(connection)
    now_us = to_us(datetime.now(UTC))
    with contextlib.suppress(OSError):  # a full disk is told elsewhere
        _write(path, replace(before, at_us=now_us, block=head.block, seq=head.seq, hash=head.hash,
                             rejects=rejects, clock=clock, sources=sources))  # fmt: skip


def check(journal: Journal, folder: Path | None = None) -> tuple[Verified, str]:
    """Verify a journal, also against what was noted of it; note it anew when it is whole.

    Returns
    -------
    Verified
        With the faults that show against what was noted, too.
    str
        When it was last found whole, as a date-time group; empty when never.
    """
    found = verify(journal)
    path = place_of(journal, folder)
    before = read(path)
    since = "" if before is None else dtg(from_us(before.whole_us))
    with reading(journal.engine, journal.place) as connection:
        more = () if before is None else tuple(_against(connection, before))
        found = replace(found, faults=(*found.faults, *more))
        if found.intact:
            with contextlib.suppress(OSError):
                _write(path, _seen(connection))
    return found, since


def _seen(connection: Connection) -> Noted:
    about = connection.execute(sa.select(JOURNAL)).one()
    head = read_head(connection)
    count, last = _rejects(connection)
    now_us = to_us(datetime.now(UTC))
    return Noted(
        at_us=now_us,
        whole_us=now_us,
        name=about.name,
        exercise=bool(about.exercise),
        created_us=int(about.created_us),
        block=head.block,
        seq=head.seq,
        hash=head.hash,
        rejects=count,
        covers=last,
        before_us=head.recorded_at_us,
        digest=beside.outside_digest(connection, last, head.recorded_at_us),
        clock=_clock(connection),
        sources=_sources(connection),
    )


def _clock(connection: Connection) -> tuple[int, int]:
    told = sa.select(sa.func.count()).select_from(RECORDS).where(RECORDS.c.kind == CLOCK)
    stands = connection.execute(sa.select(JOURNAL.c.clock_offset_us)).scalar_one()
    return int(connection.execute(told).scalar_one()), int(stands)


def _sources(connection: Connection) -> dict[str, tuple[int, bool]]:
    rows = connection.execute(sa.select(SOURCES.c.source, SOURCES.c.records, SOURCES.c.by_feed))
    return {row.source: (int(row.records), bool(row.by_feed)) for row in rows}


def _rejects(connection: Connection) -> tuple[int, int]:
    question = sa.select(sa.func.count(), sa.func.max(REJECTS.c.number)).select_from(REJECTS)
    count, last = connection.execute(question).one()
    return int(count), int(last or 0)


def _against(connection: Connection, before: Noted) -> Iterator[Fault]:
    """Give what shows against what was noted."""
    about = connection.execute(sa.select(JOURNAL)).one()
    seen_at = dtg(from_us(before.at_us))
    if int(about.created_us) != before.created_us:
        first = connection.execute(sa.select(BLOCKS.c.hash).where(BLOCKS.c.block == before.block))
        if before.block and first.scalar() == before.hash:
            yield Fault(None, f"is another than at {seen_at}", "when the journal was made")
        return  # else another journal was begun in its place, in sight of whoever did
    if (about.name, bool(about.exercise)) != (before.name, before.exercise):
        sort = "an exercise" if before.exercise else "an operation"
        yield Fault(None, f"was {sort} called {before.name} at {seen_at}", "what the journal is")
    if before.block:
        question = sa.select(BLOCKS.c.last_seq, BLOCKS.c.hash)
        block = connection.execute(question.where(BLOCKS.c.block == before.block)).first()
        if block is None:
            last = read_head(connection).seq
            gone = f"is gone: at {seen_at} there were {before.seq} records"
            yield Fault(last + 1, gone, f"all after record {last}")
        elif (int(block.last_seq), str(block.hash)) != (before.seq, before.hash):
            yield Fault(before.seq, f"is another than at {seen_at}", f"record {before.seq}")
    if before.sources:
        yield from _clock_and_feeds(connection, before, seen_at)
    if _rejects(connection)[0] < before.rejects:
        yield Fault(None, f"are fewer than the {before.rejects} at {seen_at}", "rejects")
    elif beside.outside_digest(connection, before.covers, before.before_us) != before.digest:
        yield Fault(None, f"are others than at {seen_at}", "rejects, or times of kept files")


def _clock_and_feeds(connection: Connection, before: Noted, seen_at: str) -> Iterator[Fault]:
    """Give what no hash covers: where the exercise's clock stands, and which source is a feed.

    The clock is set with a record beside it; a source becomes a feed by a record, and stays one.
    """
    told, stands = _clock(connection)
    was_told, stood = before.clock
    if told == was_told and stands != stood:
        by = duration_words(timedelta(microseconds=abs(stands - stood)))
        sort = "ahead of" if stands > stood else "behind"
        yield Fault(
            None, f"stands {by} {sort} where it stood at {seen_at}, and no record says so",
            "the exercise's clock",
        )  # fmt: skip
    now = _sources(connection)
    for source, (records, feed) in before.sources.items():
        count, is_feed = now.get(source, (0, feed))
        if feed != is_feed and (feed or count == records):
            what = "a feed" if feed else "no feed"
            yield Fault(None, f"was {what} at {seen_at}", f"source {source}")
