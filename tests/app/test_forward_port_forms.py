"""The response page's forms record, or refuse with a sentence and keep what was typed."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from layers.catalogue import KINDS
from layers.journal.actor import Actor, Role
from layers.journal.store import Journal, open_journal
from tests.unit.forward_port_cases import activity, option

NOW = datetime(2027, 3, 13, 10, 0, tzinfo=UTC)


def _form(path: str) -> None:
    from datetime import UTC, datetime
    from types import SimpleNamespace

    from dashboard.panels.forward_port import record as forward_port_record
    from layers.catalogue import KINDS
    from layers.contract import Moment
    from layers.forward_port.legs import coast
    from layers.journal.actor import Actor, Role
    from layers.journal.store import open_journal
    from layers.picture import picture

    now = datetime(2027, 3, 13, 10, 0, tzinfo=UTC)
    coast.use(None)
    forward_port_record.opened = SimpleNamespace(land=lambda: None)
    journal = open_journal(path, KINDS, clock=lambda: now)
    seq = journal.head()[0]
    seen = SimpleNamespace(
        picture=picture(journal, Moment(now, now), seq, ["forward_port"]),
        now=now,
        writable=True,
        actor=Actor(name="watch officer 1", role=Role.WATCH),
        pen=journal,
        journal=journal,
    )
    forward_port_record.show(seen)
    journal.close()


@pytest.fixture
def path(tmp_path: Path) -> str:
    where = str(tmp_path / "journal.sqlite")
    journal = opened(where)
    drafts = [option("one"), activity("load"), activity("out", ["load"])]
    journal.append(Actor(name="watch", role=Role.WATCH), drafts)
    journal.close()
    return where


def opened(path: str) -> Journal:
    return open_journal(path, KINDS, clock=lambda: NOW)


def run(path: str) -> AppTest:
    app = AppTest.from_function(_form, default_timeout=120, args=(path,)).run()
    assert not app.exception, app.exception
    return app


def kept(path: str, kind: str) -> list[dict[str, object]]:
    journal = opened(path)
    found = [dict(r.payload) for r in journal.read([kind], 10_000)]
    journal.close()
    return found


def press(app: AppTest, label: str) -> AppTest:
    button = next(b for b in app.button if b.label == label)
    button.click()
    return app.run()


def test_an_actual_time_is_recorded(path):
    app = run(path)
    app.text_input(key="response.actual.begun").set_value("130930Z MAR 27")
    press(app, "Record the time")
    (payload,) = kept(path, "forward_port.actual")
    assert payload["started_at"] == "2027-03-13T09:30:00Z"
    assert payload["option"] == "one"


def test_a_time_without_a_zone_is_refused_and_stays_typed(path):
    app = run(path)
    app.text_input(key="response.actual.begun").set_value("2027-03-13 09:30")
    press(app, "Record the time")
    assert any("no time zone" in error.value for error in app.error)
    assert app.text_input(key="response.actual.begun").value == "2027-03-13 09:30"
    assert kept(path, "forward_port.actual") == []


def test_no_time_at_all_is_refused(path):
    app = press(run(path), "Record the time")
    assert any("a start, a finish or both" in error.value for error in app.error)


def test_a_choice_needs_its_reason(path):
    app = press(run(path), "Record the choice")
    assert app.error
    assert kept(path, "forward_port.choice") == []
    app.text_area(key="response.choice.reason").set_value("the crane reaches")
    press(app, "Record the choice")
    (payload,) = kept(path, "forward_port.choice")
    assert payload == {"option": "one", "reason": "the crane reaches"}


def test_a_typed_route_is_recorded_and_a_bad_waypoint_is_refused(path):
    app = run(path)
    app.text_input(key="response.route.name").set_value("to the scene")
    app.text_area(key="response.route.points").set_value("51 50.4N 008 16.2W\n91N 8W")
    press(app, "Record the route")
    assert app.error
    assert kept(path, "tracks.route") == []
    app.text_area(key="response.route.points").set_value("51 50.4N 008 16.2W\n49 50.0N 008 30.0W")
    press(app, "Record the route")
    (payload,) = kept(path, "tracks.route")
    assert payload["name"] == "to the scene"
    assert len(payload["waypoints"]) == 2
