"""Checklists, listening times and alarms on the Watch page, by who keeps them and in which room.

Written from how a list is kept at a desk: not yet, done and found not done are three things, each
with a name; a wrong tick is undone where it stands, and the word before it does not vanish.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

from layers.catalogue import KINDS
from layers.earth.errors import AskedFirst
from layers.journal.actor import Actor, Role
from layers.journal.naming import FOLDER
from layers.journal.record import Draft, form_identity
from layers.journal.store import Journal, open_journal

AT = datetime(2027, 3, 16, 6, 35, tzinfo=UTC)


def _page(path: str, who: str, room: str) -> None:
    from datetime import UTC, datetime
    from types import SimpleNamespace
    from typing import Any

    from dashboard.panels import events
    from dashboard.panels.watch import book
    from layers.catalogue import KINDS
    from layers.contract import Moment
    from layers.earth.uncertain import NotKnown
    from layers.journal.actor import Actor, Role
    from layers.journal.known import Known
    from layers.journal.releases.rules import Release
    from layers.journal.store import open_journal
    from layers.watch.state import state

    now = datetime(2027, 3, 16, 6, 35, tzinfo=UTC)
    journal = open_journal(path, KINDS, clock=lambda: now)
    watch = state(Known(journal, KINDS, journal.revision(), now), Moment(now, now))
    seen: Any = SimpleNamespace(
        journal=journal, pen=journal, watch=watch, moment=Moment(now, now), writable=True, now=now,
        picture=SimpleNamespace(shown=lambda name: None), release=Release(),
        answers=SimpleNamespace(way_home=NotKnown()),
        actor=Actor(name=who, role=Role.WATCH, room=room, server=f"plot-{room}:1"),
    )  # fmt: skip
    book.checklists(seen, watch)
    book.listening(seen, watch)
    events.alarms(seen, watch)
    journal.close()


@pytest.fixture
def path(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    monkeypatch.setenv(FOLDER, str(tmp_path))
    st.cache_resource.clear()
    return str(tmp_path / "j.sqlite")


def _told(path: str, kind: str, who: str = "AB", room: str = "North", **payload: object) -> str:
    journal: Journal = open_journal(path, KINDS, clock=lambda: AT)
    draft = Draft(kind=kind, payload=payload, valid_at=AT, heard_at=AT, source=who,
                  identity=form_identity(f"{kind} {payload}"))  # fmt: skip
    actor = Actor(name=who, role=Role.WATCH, room=room, server=f"plot-{room}:1")
    try:
        return journal.append(actor, [draft]).records[0].id
    finally:
        journal.close()


def _shown(path: str, who: str, room: str) -> AppTest:
    page = AppTest.from_function(_page, args=(path, who, room), default_timeout=60).run()
    assert not page.exception, page.exception
    return page


def _text(page: AppTest) -> str:
    return " ".join(str(part.proto.body) for part in page.get("html"))


def _press(page: AppTest, label: str, which: int = 0) -> None:
    [one for one in page.button if one.label == label][which].click().run()
    assert not page.exception, page.exception


def test_three_states_each_by_name_and_undone_in_place(path: str) -> None:
    _told(path, "watch.checklist", name="Closing", when="at the end", loaded_from="a card",
          items=["Call the squadron", "Tell the port"])  # fmt: skip
    north = _shown(path, "AB", "North")
    assert "– Call the squadron" in _text(north)
    _press(north, "Done")
    assert "✓ Call the squadron" in _text(north)
    assert "done, AB, room North 0635Z" in _text(north)
    assert any("1 of 2 done" in each.label for each in north.expander)
    # the other room finds that it was not; both words stand, and it is counted as left
    south = _shown(path, "CD", "South")
    _press(south, "Not done")
    said = _text(south)
    assert "✗ Call the squadron" in said
    assert "found NOT done, CD, room South 0635Z; before: done, AB, room North 0635Z" in said
    assert any("0 of 2 done" in each.label for each in south.expander)
    assert "– Tell the port" in said  # the one that nobody looked at is neither


def test_a_list_is_unloaded_where_it_stands(path: str) -> None:
    _told(path, "watch.checklist", name="Closing", when="at the end", loaded_from="a card",
          items=["Call the squadron"])  # fmt: skip
    page = _shown(path, "AB", "North")
    _press(page, "Unload it")
    assert "Call the squadron" not in _text(page)


def test_a_spreadsheets_file_is_shown_before_it_is_taken(path: str) -> None:
    page = _shown(path, "AB", "North")
    content = b"\xef\xbb\xbfNo;Item;Who\r\n1;Call the squadron;duty\r\n2;Tell the port;agent\r\n"
    page.file_uploader[0].upload("closing.csv", content).run()
    assert not page.exception, page.exception
    assert "Call the squadron" in _text(page)
    assert "1;Call" not in _text(page)
    journal = open_journal(path, KINDS, readonly=True)
    assert journal.revision() == 0  # seen, not taken
    _press(page, "Take these 2 items")
    (made,) = journal.read(["watch.checklist"], journal.revision())
    journal.close()
    assert [each.split(" (")[0].split(": ")[-1] for each in made.payload["items"]] == [
        "Call the squadron",
        "Tell the port",
    ]


def test_who_listens_is_named_and_one_time_is_not_agreed_twice(path: str) -> None:
    at = (AT + timedelta(hours=1)).isoformat()
    _told(path, "watch.listening", at=at, with_whom="the boat", kept_by="CAPE ARDIS")
    _told(path, "watch.listening", at=(AT + timedelta(hours=2)).isoformat(), with_whom="the boat")
    said = _text(_shown(path, "AB", "North"))
    assert "CAPE ARDIS" in said
    assert "nobody named" in said
    with pytest.raises(AskedFirst, match=r"AB, room North.*The same\?"):  # by the same hand too
        _told(path, "watch.listening", at=at, with_whom="The Boat", means="sonar")


def test_an_alarm_taken_in_one_room_is_told_in_the_other_with_who_took_it(path: str) -> None:
    rule = _told(path, "watch.alarm_rule", sort="feed stale", limit=1.0)
    _told(path, "watch.alarm", rule=rule, about="AIS", said="AIS is 40 min old")
    north, south = _shown(path, "AB", "North"), _shown(path, "CD", "South")
    assert "AIS is 40 min old" in _text(south)
    _press(north, "Acknowledge")
    south.run()
    said = _text(south)
    assert "acknowledged 0635Z by AB, room North: AIS is 40 min old" in said
    assert "Acknowledge" not in [each.label for each in south.button]
