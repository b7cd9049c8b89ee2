"""A sortie's phases from the vehicle's own depth: the seat at 142 m, worked out by hand."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import numpy as np
import pytest

from demo_data.load import demo_journal
from demo_data.scenario import DEMO_END
from layers.catalogue import KINDS
from layers.contract import Moment
from layers.earth.clock import from_us
from layers.journal.known import Known
from layers.survivors import MARGIN
from layers.survivors.lifts.model import Phase
from layers.survivors.lifts.plan import read_setting
from layers.survivors.lifts.run.outcome import evaluate
from layers.survivors.lifts.sorties.sortie import phase_words
from tests.survivors_journal import AT
from tests.unit.lift_cases import vehicle
from tests.unit.test_lift_rules import back_on_deck, plain, setting_at
from tests.unit.test_margin_unknown import boat
from tests.unit.test_survivors_sortie import START, Book, book, phase, seen


def minutes(count: float) -> datetime:
    return START + timedelta(minutes=count)


def down(*depths: tuple[float, float]) -> Book:
    made = book()
    made.add("sortie_phase", phase(Phase.DOWN, battery_kwh=140.0), START)
    for at, depth in depths:
        told: dict[str, Any] = {"vehicle": "V1", "lift": "A1", "depth_m": depth}
        made.add("sortie_report", told, minutes(at))
    return made


def hatch_h(made: Book, at: float) -> np.ndarray:
    return np.asarray(evaluate(setting_at(made, minutes(at)), plain(1_000)).runs.left_s[0] / 3600.0)


def test_a_vehicle_that_sinks_slowly_is_later_than_the_estimate() -> None:
    # 15 min of launch and 142 m at 15 m/min: at the seat after about 25 min. Told instead:
    # 20 m at 20 min, 60 m at 30 min: 4 m/min, 82 m to go, 20.5 min more.
    slow = down((20.0, 20.0), (30.0, 60.0))
    late = np.median(hatch_h(slow, 31.0)) - np.median(hatch_h(down(), 31.0))
    assert 60.0 * late == pytest.approx(20.5 - 2.0, abs=4.0)
    (one,) = seen(slow, minutes(31.0))
    assert one.depth_m == 60.0
    assert "60 m deep" in phase_words(one)
    rest = (from_us(one.on_deck_us) - minutes(31.0)).total_seconds() / 60.0
    (plain_one,) = seen(down(), minutes(31.0))
    plain_rest = (from_us(plain_one.on_deck_us) - minutes(31.0)).total_seconds() / 60.0
    assert rest - plain_rest == pytest.approx(19.5, abs=1.0)


def test_at_the_seats_depth_it_has_arrived_though_nobody_said_so() -> None:
    made = down((20.0, 90.0), (28.0, 140.0))
    (one,) = seen(made, minutes(33.0))
    assert one.phase is Phase.SEARCH
    assert from_us(one.phase_since_us) == minutes(28.0)
    assert "by its depth" in phase_words(one)
    made.add("sortie_phase", phase(Phase.SEARCH), minutes(27.0))  # a person's word counts first
    (told,) = seen(made, minutes(33.0))
    assert from_us(told.phase_since_us) == minutes(27.0)
    assert not told.by_depth


def test_on_its_way_up_the_depth_says_when_it_is_at_the_surface() -> None:
    made = down()
    made.add("sortie_phase", phase(Phase.AWAY), minutes(120.0))
    for at, depth in ((126.0, 130.0), (129.0, 70.0)):
        made.add("sortie_report", {"vehicle": "V1", "lift": "A1", "depth_m": depth}, minutes(at))
    (one,) = seen(made, minutes(130.0))
    assert one.phase is Phase.UP
    # 20 m/min by its own depths: 3.5 min from 129, then 20 min to recover
    by_hand = minutes(129.0 + 70.0 / 20.0 + 20.0)
    assert abs(from_us(one.on_deck_us) - by_hand) < timedelta(minutes=1)
    made.add("sortie_report", {"vehicle": "V1", "lift": "A1", "depth_m": 2.0}, minutes(133.0))
    (one,) = seen(made, minutes(134.0))
    assert one.phase is Phase.RECOVER


def test_gone_from_the_seat_untold_is_asked_and_brings_nobody_out() -> None:
    """No depth tells whether anybody is aboard: it may have come up with nobody."""
    made = down((20.0, 90.0), (28.0, 140.0), (60.0, 139.0))
    before = setting_at(made, minutes(61.0))
    assert not before.facts["A1"].odd
    made.add("sortie_report", {"vehicle": "V1", "lift": "A1", "depth_m": 60.0}, minutes(66.0))
    (one,) = seen(made, minutes(67.0))
    assert one.phase is Phase.SEARCH
    (said,) = setting_at(made, minutes(67.0)).facts["A1"].odd
    assert "V1 is at 60 m" in said
    assert "who is aboard" in said
    assert hatch_h(made, 67.0).min() > 0.0
    made.add("sortie_phase", phase(Phase.UP, walking_aboard=14), minutes(65.0))
    assert not setting_at(made, minutes(67.0)).facts["A1"].odd


def deep(made: Book, at: float, depth_m: float, lift: str = "A1") -> None:
    report = {"vehicle": "V1", "lift": lift, "depth_m": depth_m}
    made.add("sortie_report", report, minutes(at))


def test_a_whole_sortie_by_its_depth_with_only_who_is_aboard_told() -> None:
    """Down at 20, at the seat at 30, away at 95 (told), rising at 98, at the surface at 108."""
    made = book()
    for at, depth in ((20.0, 70.0), (30.0, 141.0), (60.0, 141.5), (90.0, 141.0)):
        deep(made, at, depth)
    made.add("sortie_phase", phase(Phase.AWAY, walking_aboard=12, stretcher_aboard=1),
             minutes(95.0))  # fmt: skip
    for at, depth in ((98.0, 120.0), (103.0, 50.0), (108.0, 1.0)):
        deep(made, at, depth)
    for at, expected in ((15.0, None), (21.0, Phase.DOWN), (50.0, Phase.SEARCH),
                         (97.0, Phase.AWAY), (100.0, Phase.UP),
                         (110.0, Phase.RECOVER)):  # fmt: skip
        found = seen(made, minutes(at))
        assert [one.phase for one in found] == ([] if expected is None else [expected]), at
    fact = setting_at(made, minutes(110.0)).facts["A1"]
    assert fact.walking == 12
    assert from_us(fact.began_us[Phase.UP]) == minutes(98.0)


def test_below_though_nobody_told_a_dive_it_is_down_for_its_next_lift_and_that_is_asked() -> None:
    made = book()
    deep(made, 20.0, 4.0)  # at the ship's side
    assert seen(made, minutes(21.0)) == ()
    deep(made, 25.0, 40.0)
    deep(made, 28.0, 85.0)
    at = minutes(29.0)
    (one,) = seen(made, at)
    assert (one.lift, one.phase, one.by_depth) == ("A1", Phase.DOWN, True)
    (said,) = setting_at(made, at).facts["A1"].odd
    assert "nobody told that it dived" in said
    # 15 m a minute by its own depths: 57 m more take 3.8 min, then it looks for the seat
    assert 60.0 * hatch_h(made, 29.0).min() > 3.8 - 1.0
    made.add("sortie_phase", phase(Phase.DOWN), minutes(18.0))  # told late: it counts from there
    told = setting_at(made, at).facts["A1"]
    assert not told.odd
    assert from_us(told.began_us[Phase.DOWN]) == minutes(18.0)


def test_the_lift_that_its_depth_was_told_for_is_the_one_and_a_late_dive_teaches_no_speed() -> None:
    made = book()
    deep(made, 40.0, 141.0, lift="A2")  # told first when it is there
    setting = setting_at(made, minutes(45.0))
    assert setting.facts["A2"].phase is Phase.SEARCH
    assert "A1" not in setting.facts
    made.add("sortie_phase", {"vehicle": "V1", "lift": "A2", "phase": "mate"}, minutes(50.0))
    after = setting_at(made, minutes(55.0))
    assert after.vehicle("V1").speed_down_m_min == setting.vehicle("V1").speed_down_m_min


def test_a_dive_for_the_next_lift_is_seen_and_one_right_after_it_came_back_is_asked() -> None:
    made = back_on_deck()  # A1 is back at 160
    deep(made, 168.0, 90.0)
    fact = setting_at(made, minutes(170.0)).facts["A1"]
    assert fact.done
    assert any("'back' was told, and V1 is at 90 m: which is right?" in one for one in fact.odd)
    assert "A2" not in setting_at(made, minutes(170.0)).facts
    deep(made, 300.0, 60.0, lift="A2")
    assert setting_at(made, minutes(301.0)).facts["A2"].phase is Phase.DOWN


@pytest.mark.parametrize(
    ("told", "depth_m", "asked"),
    [(Phase.UP, 141.0, True), (Phase.UP, 100.0, False), (Phase.RECOVER, 60.0, True),
     (Phase.RECOVER, 2.0, False)],
)  # fmt: skip
def test_what_is_told_stands_and_a_depth_against_it_is_asked_about(
    told: Phase, depth_m: float, asked: bool
) -> None:
    made = down()
    made.add("sortie_phase", phase(told, walking_aboard=14), minutes(100.0))
    deep(made, 100.5, 141.0)  # read before it left, passed on with it
    assert not setting_at(made, minutes(101.0)).facts["A1"].odd
    deep(made, 108.0, depth_m)
    fact = setting_at(made, minutes(109.0)).facts["A1"]
    assert fact.phase is told
    assert bool([one for one in fact.odd if "which is right?" in one]) is asked


def test_a_fix_by_the_net_with_its_own_gauge_is_the_vehicles_depth_too() -> None:
    told = boat()
    craft = vehicle("V1", ready_at=AT, follows_chain=False).model_dump(mode="json")
    told.add("survivors.vehicle", craft)
    fix = {"subject": "V1", "ranges": [{"transponder": "T1", "slant_m": 200.0},
           {"transponder": "T2", "slant_m": 210.0}], "depth_m": 70.0}  # fmt: skip
    told.add("transponders.typed_fix", fix, 0.9)
    told.add("transponders.typed_fix", {**fix, "subject": "ROV 2", "depth_m": 120.0}, 0.95)
    at = AT + timedelta(hours=1)
    setting = read_setting(told.known(), Moment(at, at), None)
    assert {key: fact.phase for key, fact in setting.facts.items()} == {"A1": Phase.DOWN}
    assert "transponders.typed_fix" in MARGIN.also_reads


def test_without_a_depth_nothing_changes_and_a_depth_never_ends_before_now() -> None:
    at = 40.0
    stuck = down((20.0, 60.0), (22.0, 60.5))  # hangs at 60 m: not even a metre in two minutes
    assert hatch_h(stuck, at).min() > 0.0
    assert np.median(hatch_h(stuck, at)) >= np.median(hatch_h(down(), at)) - 0.2


def test_in_the_exercise_no_depth_speaks_against_a_phase() -> None:
    shelf, upto = demo_journal(DEMO_END)
    fixes = Known(shelf, KINDS, upto, DEMO_END).entries("transponders.typed_fix")
    assert [one for one in fixes if one.value.subject == "LIMPET"]
    for fix in fixes:
        at = fix.record.valid_at + timedelta(minutes=6)
        setting = read_setting(Known(shelf, KINDS, upto, at), Moment(at, at), 142.0)
        assert [odd for fact in setting.facts.values() for odd in fact.odd] == []
