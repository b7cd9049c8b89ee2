"""What was sent and could not be recorded waits over a restart and comes by itself, once.

Found by a disk that turned read-only: what waited on the other disk was still waiting after the
cure and a new start, under the words that it was being recorded.
"""

from __future__ import annotations

import threading
import time
from pathlib import Path
from typing import Any

import pytest

from dashboard.away.waiting import Outbox, Sent, WaitingJournal
from layers.earth.errors import JournalError
from layers.journal.record import Draft
from layers.journal.store import Journal
from tests.journals import KINDS, NOW, WATCH, Clock, draft


def room(folder: Path) -> WaitingJournal:
    made: Any = WaitingJournal.open(folder / "j.sqlite", KINDS, clock=Clock())
    made.outbox = Outbox(folder / "waiting.json")
    return made


def held(journal: Journal, wanted: Draft) -> int:
    found = journal.read([wanted.kind], journal.revision())
    return sum(one.id == wanted.id for one in found)


def soon(journal: WaitingJournal, count: int, wanted: Draft) -> None:
    end = time.monotonic() + 20.0
    while time.monotonic() < end and held(journal, wanted) < count:
        time.sleep(0.1)
    assert held(journal, wanted) == count


def test_what_waited_when_the_server_ended_comes_by_itself(tmp_path: Path) -> None:
    one = draft("a")
    before = room(tmp_path)
    assert before.outbox is not None
    before.outbox.put(Sent(actor=WATCH, drafts=(one,), sent_at=NOW))
    before.close()
    again = room(tmp_path)
    assert again.outbox is not None
    threading.Thread(target=again.send_by_itself, daemon=True).start()
    soon(again, 1, one)
    time.sleep(1.5)
    assert held(again, one) == 1
    assert again.outbox.waiting() == again.outbox.refused() == ()


def test_a_lock_or_a_full_disk_is_no_fault_of_what_was_sent(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    one, journal = draft("a"), room(tmp_path)
    assert journal.outbox is not None
    journal.outbox.put(Sent(actor=WATCH, drafts=(one,), sent_at=NOW))
    right = Journal.append

    def locked(*_: object, **__: object) -> Any:
        raise JournalError("the journal is locked by another program; nothing was recorded")

    monkeypatch.setattr(Journal, "append", locked)
    journal.send_waiting()
    assert len(journal.outbox.waiting()) == 1
    assert journal.outbox.refused() == ()
    monkeypatch.setattr(Journal, "append", right)
    journal.send_waiting()
    assert held(journal, one) == 1
