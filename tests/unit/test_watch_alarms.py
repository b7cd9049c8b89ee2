from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from demo_data.scenario import z
from layers.catalogue import KINDS
from layers.earth.position import Position
from layers.earth.values import ShipState, WorkingWindow
from layers.journal.known import Entry, Known, ListShelf
from layers.journal.record import Draft, as_record, form_identity
from layers.watch.alarms import JUDGES, Watched, alarm_words, judge, rules_in_force
from layers.watch.model import AlarmRule

NOW = z(16, "0635")


def rules(*given: dict[str, Any]) -> list[Entry]:
    records = []
    for seq, payload in enumerate(given, start=1):
        draft = Draft(
            kind="watch.alarm_rule",
            payload=payload,
            valid_at=NOW,
            heard_at=NOW,
            source="watch",
            identity=form_identity(f"rule-{seq}"),
        )
        records.append(as_record(draft, seq=seq, recorded_at=NOW, author="watch officer 1"))
    return rules_in_force(Known(ListShelf(records), KINDS, len(records), NOW))


def ship(name: str, speed_kn: float) -> ShipState:
    return ShipState(
        name=name,
        role="support ship",
        position=Position(49.8, -8.5),
        fixed_at=NOW,
        course_true_deg=90.0,
        speed_kn=speed_kn,
        heading_true_deg=None,
        stale=False,
    )


BEFORE = Watched(
    at=NOW - timedelta(hours=1),
    ships=(ship("NORTHERN LANTERN", 9.0),),
    etas={"CAPE ARDIS": NOW + timedelta(hours=6)},
    datum=Position(49.8333, -8.5),
    not_accounted_for=12,
)
NOW_VALUES = Watched(
    at=NOW,
    heard={"buoy 62107x": NOW - timedelta(minutes=95), "ais": NOW - timedelta(minutes=1)},
    margins_h={"after": -7.0, "forward": 20.0, "unknown": None},
    windows=(
        WorkingWindow(
            operation="recovery",
            opens=NOW - timedelta(hours=3),
            closes=NOW + timedelta(hours=3, minutes=25),
            holds_probability=0.8,
            decide_by=None,
        ),
        WorkingWindow(
            operation="launch", opens=NOW, closes=None, holds_probability=0.8, decide_by=None
        ),
    ),
    ships=(ship("NORTHERN LANTERN", 0.2), ship("LIMPET", 0.0)),
    etas={"CAPE ARDIS": NOW + timedelta(hours=7)},
    datum=Position(49.8333, -8.4),
    by_place={"after": -1, "forward": 24},
    not_accounted_for=13,
)
CASES = {
    "feed stale": (90.0, "0500Z buoy 62107x was last heard, 1 h 35 ago", 100.0),
    "margin below": (6.0, "after: margin -7.0 h, below +6 h", -8.0),
    "window closing": (4.0, "1000Z recovery: the window closes, in 3 h 25", 3.0),
    "ETA slipped": (30.0, "CAPE ARDIS: ETA 161335Z MAR 27, 1 h 00 later than it was", 61.0),
    "ship stopped": (1.0, "NORTHERN LANTERN makes 0.2 kn, 1 kn or less", 0.1),
    # 0.1° of longitude at 49.8333° N on WGS 84 is 7194 m (COMPUTED: N cos φ Δλ), 3.9 nmi
    "datum moved": (1.0, "the datum has moved 3.9 nmi, to 49°50.0′N 008°24.0′W", 4.0),
    "place negative": (0.0, "after would hold -1 persons: a move is wrong or missing", None),
    "not accounted for rising": (0.0, "13 persons not heard of, 12 before", 1.0),
}


def test_every_sort_of_alarm_is_tried_here() -> None:
    sorts = set(AlarmRule.model_fields["sort"].annotation.__args__)  # type: ignore[union-attr]  # a Literal
    assert sorts == set(CASES) == set(JUDGES)


@pytest.mark.parametrize("sort", list(CASES))
def test_an_alarm_is_raised_with_its_sentence(sort: str) -> None:
    limit, said, _ = CASES[sort]
    (raised,) = judge(rules({"sort": sort, "limit": limit}), NOW_VALUES, BEFORE)
    assert alarm_words(raised.said, raised.when, NOW) == said


@pytest.mark.parametrize("sort", [sort for sort, case in CASES.items() if case[2] is not None])
def test_an_alarm_is_silent_within_its_limit(sort: str) -> None:
    assert judge(rules({"sort": sort, "limit": CASES[sort][2]}), NOW_VALUES, BEFORE) == []


def test_without_a_picture_to_compare_with_nothing_that_needs_one_is_raised() -> None:
    given = [{"sort": sort, "limit": case[0]} for sort, case in CASES.items()]
    raised = {r.rule_id for r in judge(rules(*given), NOW_VALUES, None)}
    assert len(raised) == 4  # stale, margin, window, negative


def test_a_rule_may_be_about_one_thing_only() -> None:
    rule = {"sort": "feed stale", "limit": 0.0, "about": "AIS"}
    (raised,) = judge(rules(rule), NOW_VALUES, BEFORE)
    assert raised.about == "ais"


def test_a_rule_that_is_off_or_replaced_is_not_in_force() -> None:
    from layers.journal.record import record_id

    first = {"sort": "margin below", "limit": 6.0}
    off = {
        "sort": "margin below",
        "limit": 6.0,
        "on": False,
        "replaces": record_id(form_identity("rule-1")),
    }
    assert len(rules(first)) == 1
    assert rules(first, off) == []


def test_the_key_stays_the_same_while_the_alarm_lasts() -> None:
    given = rules({"sort": "margin below", "limit": 6.0})
    worse = Watched(at=NOW, margins_h={"after": -9.0})
    assert judge(given, NOW_VALUES, BEFORE)[0].key == judge(given, worse, BEFORE)[0].key


def test_an_alarm_counts_down_as_the_clock_goes_on() -> None:
    (raised,) = judge(rules({"sort": "window closing", "limit": 4.0}), NOW_VALUES, BEFORE)
    later = NOW + timedelta(hours=2)
    assert alarm_words(raised.said, raised.when, later) == (
        "1000Z recovery: the window closes, in 1 h 25"
    )
