"""Forms that help: kept, asked twice, corrected in the same form, said as recorded."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from typing import Any

from streamlit.testing.v1 import AppTest

from layers.catalogue import KINDS
from layers.journal.actor import Actor, Role
from layers.journal.holds import holding, listed
from layers.journal.known import Known
from layers.journal.record import Draft
from layers.journal.store import open_journal

NOW = datetime(2026, 11, 28, 12, 52, tzinfo=UTC)
WATCH = Actor(name="watch officer", role=Role.WATCH)


def _page(path: str, kind: str) -> None:
    from types import SimpleNamespace

    import streamlit as st

    from dashboard.tools.forms import record_form
    from layers.catalogue import KINDS
    from layers.journal.actor import Actor, Role
    from layers.journal.known import Known
    from layers.journal.store import open_journal

    journal = open_journal(path, KINDS, clock=lambda: st.session_state["now"])
    known = Known(journal, KINDS, journal.revision(), journal.now())
    actor = Actor(name="watch officer", role=Role.WATCH)
    seen: Any = SimpleNamespace(
        writable=True, now=journal.now(), pen=journal, actor=actor, known=known
    )
    if st.session_state.get("elsewhere"):
        st.write("another page")
        return
    correcting = st.session_state.get("correct")
    entry = known.entries(kind)[-1] if correcting else None
    record_form.show(seen, KINDS[kind], key="test", correcting=entry)


def drawn(path: Any, kind: str, **state: Any) -> AppTest:
    app = AppTest.from_function(_page, args=(str(path), kind), default_timeout=60)
    app.session_state["now"] = NOW
    for name, value in state.items():
        app.session_state[name] = value
    app.run()
    assert not app.exception, app.exception
    return app


def field(app: AppTest, label: str) -> Any:
    boxes = (*app.text_input, *app.text_area, *app.selectbox, *app.multiselect, *app.checkbox)
    return next(one for one in boxes if one.label == label)


def press(app: AppTest, label: str) -> AppTest:
    next(button for button in app.button if button.label == label).click()
    app.run()
    assert not app.exception, app.exception
    return app


def said(app: AppTest, css: str) -> list[str]:
    return [e.proto.body for e in app.get("html") if css in e.proto.body]


def opened(path: Any) -> Known:
    journal = open_journal(path, KINDS, clock=lambda: NOW)
    return Known(journal, KINDS, journal.revision(), journal.now())


def put(path: Any, kind: str, payload: dict[str, Any], minutes: float = 5.0) -> str:
    journal = open_journal(path, KINDS, clock=lambda: NOW)
    at = NOW - timedelta(minutes=minutes)
    draft = Draft(kind=kind, payload=payload, valid_at=at, heard_at=at, source="COMSUB",
                  identity=f"test:{kind}:{minutes}")  # fmt: skip
    journal.append(WATCH, [draft])
    journal.close()
    return draft.id


def test_a_position_with_its_accuracy_in_words_is_one_record_and_is_said(tmp_path):
    path = tmp_path / "j.sqlite"
    app = drawn(path, "datum.lkp")
    field(app, "Position").set_value("4320N 00840E")
    field(app, "Good to: within, 95 % (m)").set_value("2 nmi")
    field(app, "When it was true").set_value("1044")
    app.run()
    assert any("read: 43°20.0′N 008°40.0′E" in line for line in said(app, "mp-read"))
    assert any("read: 3704 m" in line for line in said(app, "mp-read"))  # as it was told
    press(app, "Record it")
    (entry,) = opened(path).entries("datum.lkp")
    assert entry.record.valid_at == NOW.replace(hour=10, minute=44)
    assert round(entry.value.sigma_m) == 1513  # 3704 m / 2.4477
    assert any("Recorded as No. 1: last known position" in line for line in said(app, "mp-said"))
    assert field(app, "Position").value == ""  # open for the next


def test_every_fault_is_said_at_once_at_its_field_and_beside_the_button(tmp_path):
    app = drawn(tmp_path / "j.sqlite", "datum.bearing")
    field(app, "Bearing (°)").set_value("400")
    press(app, "Record it")
    last = said(app, "mp-fault")[-1]
    assert "4 fields to mend" in last
    for label in ("Position", "Seen or heard by", "Bearing (°)", "True, magnetic or relative"):
        assert label in last
    assert field(app, "Bearing (°)").value == "400"


def test_what_was_typed_is_there_again_after_a_glance_elsewhere(tmp_path):
    app = drawn(tmp_path / "j.sqlite", "watch.task")
    field(app, "What").set_value("look again in square nine")
    app.run()
    app.session_state["elsewhere"] = True
    app.run()
    app.session_state["elsewhere"] = False
    app.run()
    assert field(app, "What").value == "look again in square nine"


def test_the_same_thing_typed_twice_asks(tmp_path):
    path = tmp_path / "j.sqlite"
    app = drawn(path, "survivors.boat")
    for _ in range(2):
        field(app, "Length (m)").set_value("68 m")
        press(app, "Record it")
    assert len(opened(path).entries("survivors.boat")) == 1
    assert any("The same was recorded as No. 1" in line for line in said(app, "mp-fault"))
    press(app, "Record it again")
    assert len(opened(path).entries("survivors.boat")) == 2


def test_a_ships_fix_typed_twice_asks(tmp_path):
    path = tmp_path / "j.sqlite"
    app = drawn(path, "tracks.position")
    for _ in range(2):
        field(app, "Ship: MMSI or name").set_value("TENACE")
        field(app, "Position").set_value("4310N 00820E")
        press(app, "Record it")
    assert opened(path).columns("tracks.position")["seq"].tolist() == [1]


def test_an_observers_place_is_taken_from_her_track(tmp_path):
    path = tmp_path / "j.sqlite"
    put(path, "tracks.vessel", {"subject": "247000001", "name": "TENACE", "role": "search ship"})
    put(path, "tracks.position", {"subject": "247000001", "latitude_deg": 43.0,
                                  "longitude_deg": 8.0, "course_true_deg": 0.0,
                                  "speed_kn": 12.0}, minutes=30)  # fmt: skip
    app = drawn(path, "datum.bearing")
    field(app, "Seen or heard by").set_value("TENACE")
    field(app, "Bearing (°)").set_value("060")
    field(app, "True, magnetic or relative").set_value("magnetic")
    press(app, "Record it")
    (entry,) = opened(path).entries("datum.bearing")
    # north at 12 kn for half an hour is 6 nmi, 0.1 degree of latitude
    assert abs(entry.value.latitude_deg - 43.1) < 0.001
    # 100 m of the fix and a tenth of the run, 1111 m, together
    assert abs(entry.value.position_sigma_m - 1116) < 5


def test_a_correction_opens_the_same_form_filled_and_records_what_was_changed(tmp_path):
    path = tmp_path / "j.sqlite"
    put(path, "datum.lkp", {"latitude_deg": 43.333333, "longitude_deg": 8.666667,
                            "sigma_m": 3.704, "reported_by": "X"}, minutes=100)  # fmt: skip
    app = drawn(path, "datum.lkp", correct=True)
    assert field(app, "Position").value == "43 20.000N 008 40.000E"
    assert field(app, "When it was true").value == "281112Z NOV 26"
    assert field(app, "From whom").value == "COMSUB"
    field(app, "Good to: within, 95 % (m)").set_value("2 nmi")
    field(app, "When it was true").set_value("281044Z")
    press(app, "Correct it")
    known = opened(path)
    (entry,) = known.entries("datum.lkp")
    assert entry.corrected
    assert entry.record.valid_at == NOW.replace(hour=10, minute=44)
    assert round(entry.value.sigma_m) == 1513
    assert entry.value.latitude_deg == 43.333333  # what was not touched is untouched, to the bit
    (made,) = known.records("journal.correct")
    assert set(made.payload["fields"]) == {"sigma_m"}
    held = holding(known, known.records("datum.lkp")[0])
    assert "3704 m" in held.now_words()
    assert "9.066" in held.struck_words()  # 3.704 m of each axis hold 95 % within 9.07 m
    assert held.by_words() == "corrected by No. 2"


def test_a_correction_that_changes_nothing_is_none(tmp_path):
    path = tmp_path / "j.sqlite"
    put(path, "survivors.boat", {"name": "GREYWETHER", "length_m": 68.0})
    app = press(drawn(path, "survivors.boat", correct=True), "Correct it")
    assert any("nothing was changed" in line for line in said(app, "mp-fault"))


def test_a_retracted_record_says_so_in_a_list(tmp_path):
    path = tmp_path / "j.sqlite"
    made = put(path, "survivors.boat", {"name": "GREYWETHER"})
    put(path, "journal.retract", {"target": made, "reason": "another boat"}, minutes=1)
    known = opened(path)
    record, opinion = known.records("survivors.boat")[0], known.records("journal.retract")[0]
    assert listed(known, record) == "retracted by No. 2: name GREYWETHER"
    assert listed(known, opinion) == "of No. 1 the boat herself: another boat"


def test_a_way_is_reckoned_from_the_stage_that_was_declared_and_from_none_that_was_not(tmp_path):
    path = tmp_path / "own.sqlite"
    journal = open_journal(path, KINDS, clock=lambda: NOW)
    app = drawn(path, "forward_port.option")
    assert field(app, "That hour is").value == ""
    declared = Draft(kind="watch.stage", payload={"stage": "SUBLOOK", "basis": "no report"},
                     valid_at=NOW - timedelta(hours=1), heard_at=NOW, source="telephone",
                     identity="one stage")  # fmt: skip
    journal.append(WATCH, [declared])
    app = drawn(path, "forward_port.option")
    assert field(app, "That hour is").value == "SUBLOOK"
    journal.close()


def test_a_figure_that_nobody_gave_is_said_to_be_ours_and_is_not_typed_in(tmp_path):
    app = drawn(tmp_path / "plot.sqlite", "datum.sighting")
    boxes = [one for one in app.text_input if one.placeholder.startswith("if left empty:")]
    figures = [one for one in boxes if re.search(r": \d", one.placeholder)]
    assert len(figures) >= 2
    for one in figures:
        assert one.placeholder.endswith(", common practice"), one.label
        assert not one.value, one.label


def test_a_form_of_which_nothing_was_changed_is_refused_and_one_figure_is_enough(tmp_path):
    path = tmp_path / "plot.sqlite"
    app = press(drawn(path, "datum.wrong_chances"), "Record it")
    assert any("nothing was told" in words for words in said(app, "mp-fault"))
    assert not opened(path).entries("datum.wrong_chances")
    box = next(one for one in app.text_input if one.label.lower().startswith("reliability d"))
    box.set_value("0.4").run()
    press(app, "Record it")
    (entry,) = opened(path).entries("datum.wrong_chances")
    assert entry.value.reliability_d == 0.4
