"""A sortie's phases from the vehicle's own depth: the seat at 142 m, worked out by hand."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import numpy as np
import pytest

from layers.earth.clock import from_us
from layers.survivors.lifts.model import Phase
from layers.survivors.lifts.run.outcome import evaluate
from layers.survivors.lifts.sorties.sortie import phase_words
from tests.unit.test_lift_rules import plain, setting_at
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


def test_without_a_depth_nothing_changes_and_a_depth_never_ends_before_now() -> None:
    at = 40.0
    stuck = down((20.0, 60.0), (22.0, 60.5))  # hangs at 60 m: not even a metre in two minutes
    assert hatch_h(stuck, at).min() > 0.0
    assert np.median(hatch_h(stuck, at)) >= np.median(hatch_h(down(), at)) - 0.2
