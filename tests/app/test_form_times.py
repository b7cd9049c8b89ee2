"""The times in a typed form: what was typed stays when the minute turns; empty is now."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from streamlit.testing.v1 import AppTest

from layers.catalogue import KINDS
from layers.journal.record import Record
from layers.journal.store import open_journal

OPENED = datetime(2027, 3, 13, 22, 0, 58, tzinfo=UTC)
LATER = OPENED + timedelta(minutes=20)
TRUE, HEARD = "When it was true", "When it was heard"


def _page(path: str) -> None:
    from types import SimpleNamespace

    import streamlit as st

    from dashboard.tools.forms import record_form
    from layers.catalogue import KINDS
    from layers.journal.actor import Actor, Role
    from layers.journal.store import open_journal

    now = st.session_state["now"]
    journal = open_journal(path, KINDS, clock=lambda: st.session_state["now"])
    actor = Actor(name="watch officer 1", role=Role.WATCH)
    seen: Any = SimpleNamespace(writable=True, now=now, pen=journal, actor=actor)
    record_form.show(seen, KINDS["watch.task"], key="test")
    journal.close()


def _drawn(app: AppTest, now: datetime) -> AppTest:
    app.session_state["now"] = now
    return app.run()


def _form(path: Path) -> AppTest:
    return _drawn(AppTest.from_function(_page, args=(str(path),), default_timeout=60), OPENED)


def _fields(app: AppTest) -> dict[str, Any]:
    return {field.label: field for field in (*app.text_input, *app.text_area)}


def _fill(app: AppTest, **typed: str) -> None:
    fields = _fields(app)
    fields["Who"].set_value("SALTMARSH")
    fields["What"].set_value("look again in square nine")
    for label, text in typed.items():
        fields[{"true": TRUE, "heard": HEARD}[label]].set_value(text)


def _faults(app: AppTest) -> list[str]:
    """Return what is said to be wrong, as it is shown at the fields and beside the button."""
    bodies = [element.proto.body for element in app.get("html")]
    return [body for body in bodies if "mp-fault" in body]


def _recorded(app: AppTest, path: Path, now: datetime) -> list[Record]:
    app.session_state["now"] = now
    app.button[0].click().run()
    assert not app.exception
    journal = open_journal(path, KINDS)
    found = list(journal.read(["watch.task"], journal.head()[0]))
    journal.close()
    return found


def test_a_time_left_empty_is_the_moment_it_is_recorded(tmp_path: Path) -> None:
    app = _form(tmp_path / "j.sqlite")
    assert (_fields(app)[TRUE].value, _fields(app)[HEARD].value) == ("", "")
    assert _fields(app)[TRUE].placeholder == "now"
    assert "132200Z MAR 27" in _fields(app)[TRUE].help
    _fill(app)
    (record,) = _recorded(app, tmp_path / "j.sqlite", LATER)
    assert (record.valid_at, record.heard_at) == (LATER, LATER)


def test_a_typed_time_stays_when_the_minute_turns(tmp_path: Path) -> None:
    app = _form(tmp_path / "j.sqlite")
    opened = {label: field.id for label, field in _fields(app).items()}
    _fill(app, true="132145Z MAR 27", heard="132150Z MAR 27")
    _fields(app)["What"].set_value("")
    assert _recorded(app, tmp_path / "j.sqlite", OPENED) == []  # nothing to do was named
    app = _drawn(app, LATER)
    # the browser keeps what is in a field as long as the field is the same one
    assert {label: field.id for label, field in _fields(app).items()} == opened
    assert _fields(app)[TRUE].value == "132145Z MAR 27"
    assert _fields(app)[HEARD].value == "132150Z MAR 27"
    _fields(app)["What"].set_value("look again in square nine")
    (record,) = _recorded(app, tmp_path / "j.sqlite", LATER)
    assert record.valid_at == datetime(2027, 3, 13, 21, 45, tzinfo=UTC)
    assert record.heard_at == datetime(2027, 3, 13, 21, 50, tzinfo=UTC)


def test_what_was_heard_earlier_was_true_then_unless_said_otherwise(tmp_path: Path) -> None:
    app = _form(tmp_path / "j.sqlite")
    _fill(app, heard="132150Z MAR 27")
    (record,) = _recorded(app, tmp_path / "j.sqlite", LATER)
    assert record.valid_at == record.heard_at == datetime(2027, 3, 13, 21, 50, tzinfo=UTC)


def test_a_time_without_its_zone_is_refused_and_kept(tmp_path: Path) -> None:
    app = _form(tmp_path / "j.sqlite")
    _fill(app, true="2027-03-13 21:45")
    assert _recorded(app, tmp_path / "j.sqlite", LATER) == []
    assert any("no time zone" in fault for fault in _faults(app))
    assert "one field to mend. When it was true" in _faults(app)[-1]
    assert _fields(app)[TRUE].value == "2027-03-13 21:45"
    assert _fields(app)["What"].value == "look again in square nine"


def test_a_refusal_stands_until_the_form_is_sent_again(tmp_path: Path) -> None:
    app = _form(tmp_path / "j.sqlite")
    _fill(app, true="2027-03-13 21:45")
    assert _recorded(app, tmp_path / "j.sqlite", OPENED) == []
    said = _faults(app)
    app = _drawn(app, LATER)  # somebody recorded something: the page is drawn anew
    assert _faults(app) == said
    _fields(app)[TRUE].set_value("132145Z MAR 27")
    assert len(_recorded(app, tmp_path / "j.sqlite", LATER)) == 1
    assert not _faults(app)
    assert not _faults(_drawn(app, LATER))
    assert any("Recorded as No. 1: task" in e.proto.body for e in app.get("html"))
