"""The exercise as records: read from the files beside this, through the layers' own feeds.

`demo_journal` builds it in memory, `fill` puts it into a journal up to a time, and a `Player`
appends the rest as the exercise's clock reaches it.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from functools import lru_cache
from pathlib import Path
from typing import Any

from demo_data import scenario
from layers.catalogue import FEEDS, KINDS
from layers.contract import Feed, Origin
from layers.earth.clock import EPOCH, parse_time
from layers.earth.errors import InputError, MusterplotError
from layers.journal.actor import Actor, Role
from layers.journal.known import ListShelf, check_payload
from layers.journal.record import Draft, Reject, as_record, form_identity
from layers.journal.store import Imported, Journal

RECORDED_AFTER = timedelta(minutes=2)  # what the watch needs to write a report down
FEED_AUTHOR = "feed reader"
FEED_GRAIN = timedelta(seconds=10)  # the feed reader records what came in ten seconds at once


@dataclass(slots=True, kw_only=True)
class Demo:
    """The whole exercise, in the order in which it was recorded."""

    items: list[Imported] = field(default_factory=list)
    rejects: list[Reject] = field(default_factory=list)
    blobs: dict[str, bytes] = field(default_factory=dict)

    def until(self, at: datetime) -> list[Imported]:
        """Return what was recorded by a time."""
        return [item for item in self.items if item.recorded_at <= at]


@lru_cache(maxsize=1)
def load() -> Demo:
    """Return the exercise from its files; a layer without files brings nothing.

    Raises
    ------
    InputError
        A file of the exercise is not right: which, where and why.
    """
    demo = Demo()
    for folder in sorted(path for path in scenario.FOLDER.iterdir() if path.is_dir()):
        if (folder / "manifest.json").exists():
            for entry in json.loads((folder / "manifest.json").read_text("utf-8")):
                _read_feed(folder, entry, demo)
        if (folder / "records.jsonl").exists():
            demo.items.extend(_read_records(folder / "records.jsonl"))
    demo.items.sort(key=lambda item: (item.recorded_at, item.author != FEED_AUTHOR, item.author))
    return demo


def _read_feed(folder: Path, entry: Mapping[str, Any], demo: Demo) -> None:
    feed = _feed(str(entry["feed"]))
    path = folder / str(entry["file"])
    content = path.read_bytes()
    origin = Origin(
        source=str(entry.get("source", entry["file"])),
        received_at=parse_time(entry["received_at"])
        if "received_at" in entry
        else scenario.DEMO_END,
        digest=hashlib.sha256(content).hexdigest(),
    )
    reading = feed.read(content, origin)
    delay = timedelta(seconds=float(entry.get("delay_s", 0.0)))
    for draft in reading.drafts:
        heard_at = draft.valid_at + delay
        demo.items.append(
            Imported(
                recorded_at=_after(heard_at),
                author=str(entry.get("author", FEED_AUTHOR)),  # a person: a file dropped once
                draft=replace(draft, heard_at=heard_at),
            )
        )
    demo.rejects.extend(reading.rejects)
    demo.blobs.update(reading.blobs)


def _after(heard_at: datetime) -> datetime:
    """Return the end of the ten seconds in which something was heard."""
    return EPOCH - ((EPOCH - heard_at) // FEED_GRAIN) * FEED_GRAIN


def _feed(key: str) -> Feed:
    for feed in FEEDS:
        if feed.key == key:
            return feed
    raise InputError(
        f"{key!r} is not a feed",
        where="manifest.json of the exercise",
        accepted=", ".join(feed.key for feed in FEEDS),
    )


def _read_records(path: Path) -> Iterator[Imported]:
    for number, line in enumerate(path.read_text("utf-8").splitlines(), start=1):
        if not line.strip():
            continue
        where = f"{path.parent.name}/{path.name} line {number}"
        try:
            yield _imported(json.loads(line), where)
        except (KeyError, TypeError, json.JSONDecodeError) as fault:
            raise InputError(f"not a record of the exercise ({fault!r})", where=where) from fault


def _imported(row: Mapping[str, Any], where: str) -> Imported:
    heard_at = parse_time(row["heard_at"], where)
    recorded_at = (
        parse_time(row["recorded_at"], where)
        if row.get("recorded_at")
        else heard_at + RECORDED_AFTER
    )
    if recorded_at < heard_at:
        raise InputError("recorded before it was heard", where=where)
    kind = KINDS.get(row["kind"])
    if kind is None:
        raise InputError(f"{row['kind']!r} is not a kind of record", where=where)
    draft = Draft(
        kind=kind.name,
        payload=row["payload"],
        valid_at=parse_time(row["valid_at"], where),
        heard_at=heard_at,
        source=row["source"],
        identity=form_identity(row["id"]),
        version=kind.version,
    )
    check_payload(kind, draft.payload, where)
    return Imported(recorded_at=recorded_at, author=row["author"], draft=draft)


def demo_journal(until: datetime = scenario.DEMO_NOW) -> tuple[ListShelf, int]:
    """Return the exercise in memory up to a time, and its last seq."""
    demo = load()
    records = [
        as_record(item.draft, seq=seq, recorded_at=item.recorded_at, author=item.author)
        for seq, item in enumerate(_once(demo.until(until)), start=1)
    ]
    return ListShelf(records, demo.blobs), len(records)


def _once(items: Iterable[Imported]) -> Iterator[Imported]:
    seen: set[str] = set()
    for item in items:
        if item.draft.id not in seen:
            seen.add(item.draft.id)
            yield item


def fill(journal: Journal, until: datetime = scenario.DEMO_NOW) -> int:
    """Put the exercise up to a time into an empty journal, and set its clock to that time.

    Returns
    -------
    int
        How many records were new.
    """
    demo = load()
    count = journal.import_records(demo.until(until), rejects=demo.rejects, blobs=demo.blobs)
    journal.set_clock(until)
    return count


class Player:
    """Appends the rest of the exercise as its clock reaches it."""

    def __init__(self, journal: Journal) -> None:
        self.journal = journal
        since = journal.kept_clock() - timedelta(hours=1)  # it may have stopped in between
        later = [item for item in load().items if item.recorded_at > since]
        held = journal.held([item.draft.id for item in later])
        self._rest = [item for item in later if item.draft.id not in held]

    def play(self) -> int:
        """Append what is due by now; return how many records were new.

        What no longer fits beside what the users have recorded is kept as a reject.
        """
        now = self.journal.now()
        due = [item for item in self._rest if item.recorded_at <= now]
        self._rest = self._rest[len(due) :]
        count = 0
        for author in dict.fromkeys(item.author for item in due):
            drafts = [item.draft for item in due if item.author == author]
            actor = Actor(name=author, role=Role.FEED, via="exercise")
            count += self.journal.append(actor, drafts).count
        return count


def faults() -> list[str]:
    """Return what is wrong with the exercise's files, a sentence each; for its writers."""
    found = []
    try:
        load()
    except MusterplotError as fault:
        found.append(str(fault))
    return found
