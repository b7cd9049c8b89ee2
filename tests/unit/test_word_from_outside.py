"""What a person alone may say is not taken from a file, a feed, in whatever way it is written.

Found by dropping a file of records into the watched folder: it let outsiders see all that the
watch withheld. Each kind below was tried so; the list is from the issue's own words (who sees
what, alterations noted by a person, alarms acknowledged, the end), not from the code.
"""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from layers.catalogue import KINDS
from layers.contract import Reading
from layers.ingest import read_content
from layers.journal.actor import Actor, Role
from layers.journal.record import Draft
from layers.journal.store import Journal, open_journal

AT = datetime(2027, 3, 16, 6, 35, tzinfo=UTC)
WATCH = Actor(name="watch officer 1", role=Role.WATCH)
FEED = Actor(name="feed reader", role=Role.FEED, via="feed")
DROPPED = Actor(name="watch officer 1", role=Role.FEED, via="dropped file")
OPEN = {"audience": "readers", "names": True, "medical": True, "exact_position": True,
        "reason": "x"}  # fmt: skip
SHUT = {**OPEN, "names": False, "medical": False, "exact_position": False}
BLOCK = {"south_deg": 49.5, "north_deg": 50.5, "west_deg": -9.0, "east_deg": -8.0}


@pytest.fixture
def journal(tmp_path: Path) -> Journal:
    return open_journal(
        f"sqlite:///{tmp_path}/j.sqlite", KINDS, name="DOORS", exercise=True, clock=lambda: AT
    )


def said(journal: Journal, kind: str, payload: dict[str, Any]) -> str:
    draft = Draft(kind=kind, payload=payload, valid_at=AT, heard_at=AT, source="form",
                  identity=f"form:{kind}:{payload}")  # fmt: skip
    return journal.append(WATCH, [draft]).placed[0][3].id


def brought(journal: Journal, by: Actor, *records: dict[str, Any]) -> tuple[int, list[str]]:
    """Bring a file of records as the feed reader does; return how many stood, and why not."""
    text = json.dumps([{"valid_at": AT.isoformat(), **one} for one in records]).encode()
    taken, why = 0, []

    def take(reading: Reading) -> None:
        nonlocal taken
        why.extend(one.reason for one in reading.rejects)
        done = journal.append(by, reading.drafts)
        taken += done.count
        why.extend(one.reason for one in done.rejects)

    read_content(text, "records.json", AT, take)
    return taken, why


OWN_WORDS = (
    "watch.withholding", "watch.place_told", "watch.told", "watch.let_go",  # who sees what
    "watch.altered_taken", "watch.acknowledged", "watch.alarm_taken", "watch.takeover",  # signed
    "watch.closed", "watch.clock",  # the end, and what time it is
)  # fmt: skip


@pytest.mark.parametrize("kind", OWN_WORDS)
def test_a_persons_own_word_is_refused_before_it_is_read(journal: Journal, kind: str) -> None:
    draft = Draft(kind=kind, payload={}, valid_at=AT, heard_at=AT, source="file", identity="a:1")
    done = journal.append(FEED, [draft])
    assert not done.placed
    assert "from a file, a feed" in done.rejects[0].reason


@pytest.mark.parametrize("by", [FEED, DROPPED], ids=["folder", "dropped"])
def test_what_outsiders_may_see_is_never_taken_from_a_file(journal: Journal, by: Actor) -> None:
    said(journal, "watch.withholding", SHUT)
    before = journal.revision()
    taken, why = brought(journal, by, {"kind": "watch.withholding", "payload": OPEN})
    assert taken == 0
    assert journal.revision() == before
    assert len(why) == 1
    assert "from a file, a feed" in why[0]


@pytest.mark.parametrize("by", [FEED, DROPPED], ids=["folder", "dropped"])
def test_nor_is_it_corrected_or_struck_or_brought_back_by_one(journal: Journal, by: Actor) -> None:
    shut = said(journal, "watch.withholding", SHUT)
    fields = {"exact_position": True}
    for kind, payload in (
        ("journal.retract", {"target": shut, "reason": "x"}),
        ("journal.correct", {"target": shut, "reason": "x", "fields": fields}),
        ("journal.dispute", {"target": shut, "reason": "x"}),
    ):
        taken, why = brought(journal, by, {"kind": kind, "payload": payload})
        assert taken == 0, kind
        assert "from a file, a feed" in why[0], kind
    struck = said(journal, "journal.retract", {"target": shut, "reason": "a slip"})
    taken, why = brought(
        journal, by, {"kind": "journal.retract", "payload": {"target": struck, "reason": "x"}}
    )
    assert taken == 0
    assert "from a file, a feed" in why[0]


def test_what_a_file_may_tell_is_still_taken_and_corrected(journal: Journal) -> None:
    note = {"kind": "watch.note", "payload": {"text": "the coordinator asks for a plan"}}
    assert brought(journal, FEED, note)[0] == 1
    held = next(iter(journal.read(["watch.note"], journal.revision())))
    mended = {"kind": "journal.correct", "payload": {"target": held.id, "reason": "slip",
              "fields": {"text": "the coordinator asked for a plan"}}}  # fmt: skip
    assert brought(journal, FEED, mended)[0] == 1


def test_the_watch_itself_still_says_it(journal: Journal) -> None:
    said(journal, "watch.withholding", SHUT)
    assert said(journal, "watch.withholding", OPEN)
