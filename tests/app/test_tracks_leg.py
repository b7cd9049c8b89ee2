"""A search leg taken from a track becomes a record of what was steered."""

from __future__ import annotations

from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from layers.catalogue import KINDS
from layers.earth.position import Position
from layers.journal.actor import Actor, Role
from layers.journal.store import open_journal
from tests.unit.test_tracks_ships import DATUM, NOW, run, vessel


def _form(path: str) -> None:
    from datetime import UTC, datetime
    from types import SimpleNamespace

    from dashboard.panels.tracks import leg as tracks_leg
    from layers.catalogue import KINDS
    from layers.contract import Moment
    from layers.journal.actor import Actor, Role
    from layers.journal.known import Known
    from layers.journal.store import open_journal
    from layers.picture import picture

    now = datetime(2027, 3, 13, 12, 0, tzinfo=UTC)
    journal = open_journal(path, KINDS, clock=lambda: now)
    seq = journal.head()[0]
    seen = SimpleNamespace(
        picture=picture(journal, Moment(now, now), seq, ["tracks"]),
        known=Known(journal, KINDS, seq, now),
        now=now,
        writable=True,
        actor=Actor(name="watch officer 1", role=Role.WATCH),
        pen=journal,
    )
    tracks_leg.show(seen)
    journal.close()


@pytest.fixture
def path(tmp_path: Path) -> str:
    where = str(tmp_path / "journal.sqlite")
    journal = open_journal(where, KINDS, clock=lambda: NOW)
    assert isinstance(DATUM.where, Position)
    drafts = [vessel("search ship"), *run(DATUM.where, 90.0, 6.0, [120, 100, 80, 60, 40, 20, 0])]
    journal.append(Actor(name="watch", role=Role.WATCH), drafts)
    journal.close()
    return where


def filled(path: str, start: str, end: str, width: str) -> AppTest:
    app = AppTest.from_function(_form, default_timeout=120, args=(path,)).run()
    assert not app.exception, app.exception
    app.text_input(key="response.leg.from").set_value(start)
    app.text_input(key="response.leg.to").set_value(end)
    app.text_input(key="response.leg.width").set_value(width)
    next(b for b in app.button if b.label == "Record the leg as steered").click()
    app.run()
    assert not app.exception, app.exception
    return app


def kept(path: str):
    journal = open_journal(path, KINDS, clock=lambda: NOW)
    found = journal.read(["datum.negative_search"], 10_000)
    journal.close()
    return found


def test_leg_is_recorded_as_steered(path):
    filled(path, "131030Z MAR 27", "131130Z MAR 27", "320")
    (record,) = kept(path)
    assert record.payload["searcher"] == "NORTHERN LANTERN"
    assert record.payload["started_at"] == "2027-03-13T10:30:00Z"
    assert "6.0 nmi by her track" in record.payload["note"]
    assert len(record.payload["waypoints"]) == 5
    assert record.valid_at.hour == 11


def test_leg_outside_her_track_is_refused_and_stays_typed(path):
    app = filled(path, "130300Z MAR 27", "131130Z MAR 27", "320")
    assert any("does not cover" in error.value for error in app.error)
    assert app.text_input(key="response.leg.from").value == "130300Z MAR 27"
    assert kept(path) == []


def test_width_that_is_no_number_is_refused(path):
    app = filled(path, "131030Z MAR 27", "131130Z MAR 27", "wide")
    assert any("not a width" in error.value for error in app.error)
