from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest

from demo_data import load as loading, scenario as s
from demo_data.scenario import z
from demo_data.writers.rows import ident
from layers.catalogue import KINDS
from layers.contract import Moment
from layers.earth.errors import InputError, RecordRefused
from layers.journal.known import Known, ListShelf
from layers.journal.record import Draft, Record, as_record, form_identity
from layers.watch import handover, replay
from layers.watch.checklist import read_checklists
from layers.watch.kinds import refuse_stage, refuse_takeover, refuse_tick
from layers.watch.model import Stage, Takeover, Tick
from layers.watch.result import WatchState
from layers.watch.state import state


def exercise(at: datetime) -> tuple[Known, Moment]:
    shelf, upto = loading.demo_journal(at)
    return Known(shelf, KINDS, upto, at), Moment(at, at)


def watch(at: datetime) -> WatchState:
    return state(*exercise(at))


def record(seq: int, form: str, kind: str, at: datetime, **payload: Any) -> Record:
    draft = Draft(
        kind=f"watch.{kind}",
        payload=payload,
        valid_at=at,
        heard_at=at,
        source="form",
        identity=form_identity(form),
    )
    return as_record(draft, seq=seq, recorded_at=at, author="watch officer 1")


def known(*records: Record, at: datetime) -> tuple[Known, Moment]:
    return Known(ListShelf(records), KINDS, len(records), at), Moment(at, at)


def test_before_the_alert_there_is_none() -> None:
    found = watch(z(13, "0630"))
    assert found.stage_words() == "no alert"


def test_at_sublook_the_next_stage_counts_down() -> None:
    found = watch(z(13, "0810"))
    assert found.stage_words() == "SUBLOOK +1 h 10"
    assert found.events[0].words(z(13, "0810")) == (
        "stage 0900Z, in 50 min: SUBMISS, declared if nothing is heard"
    )


def test_clocks_run_from_each_stage() -> None:
    found = watch(s.DEMO_NOW)
    assert [clock.stage for clock in found.stages] == ["SUBLOOK", "SUBMISS", "SUBSUNK"]
    assert found.stage_words() == "SUBSUNK +2 d 17 h"


def test_the_stage_ends_with_the_alert() -> None:
    assert watch(z(20, "1155")).stage_words() == "alert ended 1150Z"


def test_what_is_overdue_stands_in_front() -> None:
    found = watch(s.DEMO_NOW)
    (late,) = found.overdue
    assert late.words(s.DEMO_NOW).startswith("report 0600Z, OVERDUE, 35 min ago: SALTMARSH")
    assert [event.at for event in found.ahead] == sorted(event.at for event in found.ahead)
    assert found.ahead[0].who == "CAPE ARDIS"


def test_one_listening_time_was_missed_and_one_is_to_come() -> None:
    outcomes = [listening.outcome for listening in watch(s.DEMO_NOW).listening]
    assert outcomes.count("missed") == 1
    assert outcomes[-1] == "to come"


def test_a_listening_time_that_nobody_spoke_of_is_overdue() -> None:
    found = watch(z(13, "2359") + timedelta(minutes=2))
    assert [e.overdue for e in found.events if e.sort == "listening time"] == [True, False]


def test_what_is_past_never_falls_due() -> None:
    """An hour of listening that has begun, one missed, one ahead; now, and seen for a time ahead.

    From the finding: a time of listening that lay in the past "falls due".
    """
    now = z(16, "0635")
    ahead = now + timedelta(hours=6)
    rows = ((-10.0, 30.0), (-90.0, 30.0), (120.0, 30.0))
    told = now - timedelta(hours=3)
    held = []
    for n, (begins, minutes) in enumerate(rows, 1):
        payload = {"at": (now + timedelta(minutes=begins)).isoformat(), "minutes": minutes,
                   "with_whom": "DISSUB", "means": "UWT"}  # fmt: skip
        draft = Draft(kind="watch.listening", payload=payload, valid_at=told, heard_at=told,
                      source="form", identity=form_identity(f"listen {n}"))  # fmt: skip
        held.append(as_record(draft, seq=n, recorded_at=told, author="watch officer 1"))
    found, _ = known(*held, at=now)

    def said(at: datetime) -> list[str]:
        events = state(found, Moment(now, at)).events
        return [event.when_words(at) for event in sorted(events, key=lambda event: event.at)]

    assert said(now) == ["OVERDUE, 1 h 30 ago", "fell due 10 min ago", "in 2 h 00"]
    # a time ahead knows no more than now does: what comes till then falls due, nothing rings
    assert said(ahead) == ["overdue since then", "fell due", "falls due"]
    assert not any(event.presses(ahead) for event in state(found, Moment(now, ahead)).events)
    assert sum(event.presses(now) for event in state(found, Moment(now, now)).events) == 1
    outcomes = [one.outcome for one in state(found, Moment(now, now)).listening]
    assert outcomes == ["now", "not said", "to come"]


def test_a_settled_assumption_is_no_longer_open() -> None:
    first = watch(z(13, "1200"))
    assert [p.entry.value.what for p in first.assumptions] == [
        "She kept to her intended track until she was lost"
    ]
    now = watch(s.DEMO_NOW)
    assert "She kept" not in " ".join(p.entry.value.what for p in now.assumptions)


def test_the_second_plan_replaces_the_first() -> None:
    plans = {d.entry.value.chosen: d.replaced_by for d in watch(s.DEMO_NOW).decisions}
    assert plans["Port Tressick, CAPE ARDIS"] == ident("watch-decide-plan-2")
    assert plans["Aldermouth, NORTHERN LANTERN, A first"] is None


def test_four_handovers_are_signed_by_both_watches() -> None:
    handovers = watch(s.DEMO_NOW).handovers
    assert len(handovers) == 4
    assert all(h.signed for h in handovers)
    assert all(h.given.record.author != h.taken.record.author for h in handovers if h.taken)


def test_a_handover_without_the_second_signature_is_not_signed() -> None:
    at = z(13, "1755")
    given = record(
        1, "h", "handover", at, given_by="A", given_to="B", since="2027-03-13T12:00Z", matters="x"
    )
    (found,) = state(*known(given, at=z(13, "1759"))).handovers
    assert not found.signed


def test_whoever_gives_the_watch_over_cannot_take_it() -> None:
    at = z(13, "1755")
    given = record(
        1, "h", "handover", at, given_by="A", given_to="B", since="2027-03-13T12:00Z", matters="x"
    )
    now, _ = known(given, at=at)
    draft = Draft(
        kind="watch.takeover", payload={}, valid_at=at, heard_at=at, source="form", identity="x"
    )
    refuse_takeover(Takeover(target=given.id, taken_by="B"), draft, now)
    with pytest.raises(RecordRefused, match="cannot also take it"):
        refuse_takeover(Takeover(target=given.id, taken_by="a"), draft, now)
    with pytest.raises(RecordRefused, match="there is no such handover"):
        refuse_takeover(Takeover(target="0" * 32, taken_by="B"), draft, now)


def test_a_tick_of_an_item_that_is_not_there_is_refused() -> None:
    at = z(13, "0702")
    listed = record(
        1, "c", "checklist", at, name="Alert", when="SUBLOOK", items=["a", "b"], loaded_from="x.csv"
    )
    now, _ = known(listed, at=at)
    draft = Draft(kind="watch.tick", payload={}, valid_at=at, heard_at=at, source="f", identity="x")
    refuse_tick(Tick(target=listed.id, item=2, by="B"), draft, now)
    with pytest.raises(RecordRefused, match=r"item 3 of 'Alert'.*accepted: 1 to 2"):
        refuse_tick(Tick(target=listed.id, item=3, by="B"), draft, now)


def test_a_next_stage_due_before_its_own_is_refused() -> None:
    at = z(13, "0700")
    draft = Draft(kind="watch.stage", payload={}, valid_at=at, heard_at=at, source="f", identity="")
    now, _ = known(at=at)
    stage = Stage(stage="SUBLOOK", basis="x", next_stage="SUBMISS", next_due=z(13, "0600"))
    with pytest.raises(RecordRefused, match="before this one is declared"):
        refuse_stage(stage, draft, now)
    with pytest.raises(RecordRefused, match="go together"):
        refuse_stage(Stage(stage="SUBLOOK", basis="x", next_stage="SUBMISS"), draft, now)


def test_a_checklist_shows_what_is_left() -> None:
    left = {c.checklist.value.name: c.left for c in watch(s.DEMO_NOW).checklists}
    assert left == {"Alert": 0, "Search": 1, "Before a dive": 2}


def test_the_checklists_of_the_exercise_read_from_their_csv() -> None:
    content = (s.FOLDER / "watch" / "checklists.csv").read_bytes()
    lists = read_checklists(content, "checklists.csv")
    assert [c.name for c in lists] == ["Alert", "Search", "Before a dive"]
    semicolons = b"\xef\xbb\xbf" + content.replace(b",", b";")
    assert read_checklists(semicolons, "checklists.csv") == lists


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"", "no items"),
        (b"Item;Who\n", "no items"),
        (b"1;Call the squadron\n2;\n", "row 2: a row without its item"),
        (b"checklist,when\nA,B\n", "no column item"),
        (b"checklist,when,item\n", "no items"),
        (b"checklist,when,item\nA,,c\n", "c.csv row 2: a cell is empty"),
        (b"checklist,when,item\nA,B,\xff\n", "is not UTF-8"),
        (b"x" * 200_001, "200001 bytes"),
    ],
)
def test_a_wrong_checklist_has_its_sentence(content: bytes, sentence: str) -> None:
    with pytest.raises(InputError, match=sentence):
        read_checklists(content, "c.csv")


@pytest.mark.parametrize(
    ("content", "items"),
    [
        (
            b"\xef\xbb\xbfItem;Who\r\nCall the squadron;duty officer\r\nSound the alarm;\r\n",
            ("Call the squadron (duty officer)", "Sound the alarm"),
        ),
        (b"1,Call the squadron\n2,Sound the alarm\n", ("Call the squadron", "Sound the alarm")),
        (b"No\tStep\tBy\n1.\tCall\tXO\n2.\tSound\tOOW\n", ("Call (XO)", "Sound (OOW)")),
        (b"Call the squadron, then wait\nSound\nMuster\n",
         ("Call the squadron, then wait", "Sound", "Muster")),
        (b'"Call, then wait",duty\nSound,duty\n', ("Call, then wait (duty)", "Sound (duty)")),
    ],
)  # fmt: skip
def test_a_list_is_read_as_a_spreadsheet_or_a_hand_writes_it(
    content: bytes, items: tuple[str, ...]
) -> None:
    (found,) = read_checklists(content, "before sailing.csv", when="SUBLOOK")
    assert found.items == items
    assert (found.name, found.when) == ("before sailing", "SUBLOOK")


def test_the_handover_tells_what_was_decided_and_corrected_since() -> None:
    then, moment = exercise(z(13, "1215"))
    found = handover.since(then, z(13, "1100"), moment)
    assert [c.sort for c in found.changed] == ["dispute", "dispute"]
    assert "gate log was the day before" in found.changed[1].words
    now, moment = exercise(s.DEMO_NOW)
    found = handover.since(now, z(16, "0000"), moment)
    assert [d.entry.value.what for d in found.decided] == [
        "Hold the second lift until the swell falls"
    ]
    assert found.next_to_turn[0].who == "CAPE ARDIS"
    assert {learnt.title for learnt in found.learnt} >= {"decision", "report on a task"}


def test_the_handover_marks_what_was_written_down_long_after_it_was_heard() -> None:
    now, moment = exercise(z(13, "1800"))
    late = handover.since(now, z(13, "1200"), moment).heard_late
    assert [r.payload["said"] for r in late if r.kind == "watch.settled"] == [
        "too short for the two heavy loads"
    ]


def test_the_replay_sets_a_decision_beside_what_was_heard_and_what_was_recorded() -> None:
    replayed = {r.decision.value.chosen: r for r in replay.replay(*exercise(s.DEMO_NOW))}
    first = replayed["Port Tressick, CAPE ARDIS"]
    assert [r.payload["said"] for r in first.heard_not_recorded if r.kind == "watch.settled"] == [
        "too short for the two heavy loads"
    ]
    assert first.replaced_by is not None
    assert first.replaced_by.value.chosen == "Aldermouth, NORTHERN LANTERN, A first"
    assert first.shown_as_of.as_of == first.taken_at
    assert all(r.recorded_at <= first.taken_at for r in first.recorded)


def test_the_replay_names_what_was_later_superseded() -> None:
    at = z(13, "0900")
    fact = record(1, "q", "question", at, what="x?", asked_of="y")
    decided = record(2, "d", "decision", z(13, "1000"), what="go", reasons="r", decided_by="c")
    draft = Draft(
        kind="journal.retract",
        payload={"target": fact.id, "reason": "typed twice"},
        valid_at=z(13, "1100"),
        heard_at=z(13, "1100"),
        source="form",
        identity="r",
    )
    taken_back = as_record(draft, seq=3, recorded_at=z(13, "1100"), author="watch officer 1")
    (one,) = replay.replay(*known(fact, decided, taken_back, at=z(13, "1200")))
    assert [(p.record.id, p.opinion.id) for p in one.superseded] == [(fact.id, taken_back.id)]
