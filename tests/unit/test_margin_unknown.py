"""Partial knowledge is the normal case: what is not known is never safe, and takes nothing else.

Two refuges of 20 and 30; each case takes something away, or puts in something that cannot be.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any, cast

import numpy as np
import pytest

from layers.contract import Moment
from layers.earth.clock import to_us
from layers.earth.uncertain import Bounds, NotKnown, Number, ends
from layers.earth.values import ConditionsField, WeatherValue
from layers.survivors.compute import MarginResult, compute_margin
from layers.survivors.lifts.answers import (
    all_out_answer,
    first_out_answer,
    margin_answers,
    next_decision_answer,
    sortie_answer,
)
from layers.survivors.lifts.report import margin_sentence, tables
from tests.survivors_journal import AT, Told
from tests.unit.lift_cases import chamber, lift, limits, schedule, sea_series, vehicle

SOURCE = "exercise annex, invented"


def air(refuge: str, bar: float = 1.3, co2: float = 1.0) -> dict[str, Any]:
    return {
        "refuge": refuge,
        "pressure": {"value": bar, "unit": "bar", "reference": "absolute"},
        "oxygen": {"value": 19.0, "unit": "percent"},
        "carbon_dioxide": {"value": co2, "unit": "percent"},
        "temperature_c": 9.0,
    }


NO_STORES = (  # counted, and there are none
    {"item": "absorbent", "chemical": "soda lime", "mass_kg": 0.0, "efficiency": 0.7},
    {"item": "oxygen candles", "count": 0, "oxygen_kg_each": 2.0},
)


def level(name: str = "CO2", percent: float = 6.0) -> dict[str, Any]:
    return {
        "name": name,
        "quantity": "carbon dioxide",
        "gas": {"value": percent, "unit": "sev_percent"},
        "source": SOURCE,
        "entered_by": "medical officer",
    }


def plan(told: Told, *lifts: Any, **changes: Any) -> None:
    craft = vehicle("V1", ready_at=AT + timedelta(hours=4), follows_chain=False)
    told.add("survivors.vehicle", craft.model_dump(mode="json"))
    for name in ("C1", "C2"):
        told.add("survivors.chamber", chamber(name).model_dump(mode="json"))
    told.add("survivors.schedule", schedule().model_dump(mode="json"))
    told.add("survivors.lift_limits", limits(**changes).model_dump(mode="json"))
    for one in lifts:
        told.add("survivors.lift", one.model_dump(mode="json"))


FOUR = (
    lift("A1", 0, "V1", "after", 16, 0),
    lift("A2", 1, "V1", "after", 14, 0),
    lift("F1", 2, "V1", "forward", 16, 0),
    lift("F2", 3, "V1", "forward", 4, 0),
)


def boat(
    *,
    on_board: int = 50,
    read: tuple[str, ...] = ("after", "forward"),
    volumes: tuple[str, ...] = ("after", "forward"),
    levels: tuple[dict[str, Any], ...] = (level(),),
    lifts: tuple[Any, ...] = FOUR,
    after_bar: float = 1.3,
    stores: tuple[str, ...] = ("after", "forward"),
    **changes: Any,
) -> Told:
    told = Told()
    told.complement("sailing list", on_board)
    told.move("not accounted for", "after", [(30, "walking")])
    told.move("not accounted for", "forward", [(20, "walking")])
    for refuge in volumes:
        size = {"refuge": refuge, "free_volume_m3": 400.0, "depth_m": 142.0}
        told.add("survivors.compartment", size)
    for refuge in ("after", "forward"):
        seat = {"seat": refuge[0].upper(), "refuge": refuge, "state": "clear"}
        told.add("survivors.seat", seat)
    for refuge in read:
        told.add("survivors.air", air(refuge, after_bar if refuge == "after" else 1.3))
    for refuge in stores:
        for stock in NO_STORES:
            told.add("survivors.stores", {"refuge": refuge, "stock": stock})
    for one in levels:
        told.add("survivors.level", one)
    plan(told, *lifts, **changes)
    return told


def calm(at: datetime, hours: int = 240) -> WeatherValue:
    """A sea that shuts nothing, forecast for ten days."""
    series = sea_series(hours, sigma_m=0.1)
    hour = np.arange(hours, dtype=np.int64) * 3_600_000_000
    quiet = replace(
        series,
        at_us=to_us(at) + hour,
        hs_m=np.full(hours, 0.8),
        current_surface_kn=np.full(hours, 0.3),
        current_seat_kn=np.full(hours, 0.2),
    )
    return WeatherValue(field=cast(ConditionsField, None), series_at_datum=quiet, windows=())


def looked(told: Told, hours: float = 1.0) -> MarginResult:
    at = AT + timedelta(hours=hours)
    return compute_margin(told.known(), {"weather": calm(at)}, Moment(at, at), n_draws=2_000)


@pytest.fixture(scope="module")
def whole() -> MarginResult:
    return looked(boat())


def test_with_everything_known_every_answer_is_a_number(whole: MarginResult) -> None:
    for one in whole.outlook.refuges:
        assert isinstance(one.nobody, Number)
        assert isinstance(one.planned, Number)
    assert isinstance(whole.outlook.all_out, Number)
    assert whole.outlook.to_bring == 50


def test_stores_that_nobody_told_of_leave_the_margin_at_least() -> None:
    """None are counted: with some it could only be longer, and what else ends is the most."""
    tight = (level(percent=3.5),)
    result = looked(boat(stores=("forward",), levels=tight))
    after = result.outlook.of("after")
    before = looked(boat(levels=tight)).outlook.of("after")
    assert after is not None
    assert before is not None
    assert isinstance(before.nobody, Number)
    assert isinstance(after.nobody, Bounds)
    assert after.nobody.at_least is not None
    assert after.nobody.at_least <= before.nobody.value + 0.5
    assert after.nobody.at_most is None  # nothing but the gas ends
    assert after.nobody.missing == ("stores in after not told",)
    assert isinstance(after.chance, Bounds)
    assert after.chance.at_most == 1.0
    assert isinstance(result.outlook.all_out, Bounds)
    forward = result.outlook.of("forward")
    assert forward is not None
    assert isinstance(forward.nobody, Number)
    assert "at least" in margin_sentence(result.outlook)


def test_a_level_that_no_store_holds_back_keeps_its_number() -> None:
    cold = {**level("cold"), "quantity": "low temperature", "temperature_c": 8.9, "gas": None}
    told = boat(stores=(), levels=(level(), cold))
    for hours, warm in ((-6.0, 12.0), (-3.0, 10.5), (0.0, 9.0)):
        told.add("survivors.air", {**air("after"), "temperature_c": warm}, hours)
    after = looked(told).outlook.of("after")
    assert after is not None
    assert after.binding == "cold"
    assert isinstance(after.nobody, Number)


def test_a_chosen_decision_that_names_an_unrecorded_chamber_takes_nothing_else(
    whole: MarginResult,
) -> None:
    told = boat()
    option = {"key": "third", "title": "a third chamber", "add_chamber": "C3"}
    told.add("survivors.decision", option)
    told.add("survivors.plan_choice", {"chosen": ["third"], "reason": "r", "decided_by": "w"})
    result = looked(told)
    for before in whole.outlook.refuges:
        now = result.outlook.of(before.refuge)
        assert now is not None
        assert isinstance(now.nobody, Number)
        assert now.nobody.value == pytest.approx(before.nobody.value)
    assert any("'C3' is not recorded" in said for said in result.outlook.remarks)
    assert result.outlook.decisions is not None
    (gain,) = result.outlook.decisions.gains
    assert "'C3' is not recorded" in gain.reason


def test_one_refuge_unread_bounds_the_chance_and_leaves_the_other_a_number(
    whole: MarginResult,
) -> None:
    result = looked(boat(read=("after",)))
    after, forward = result.outlook.of("after"), result.outlook.of("forward")
    assert after is not None
    assert forward is not None
    assert isinstance(after.nobody, Number)
    known = whole.outlook.of("after")
    assert known is not None
    # the same draws: what is not read elsewhere moves nothing
    assert replace(after.nobody, rests_on=()) == replace(known.nobody, rests_on=())
    assert isinstance(forward.nobody, NotKnown)
    assert "forward refuge's air is not known: ask for a reading" in forward.words
    chance = all_out_answer(result, Moment(result.at, result.at))
    assert isinstance(chance, Bounds)
    assert chance.at_least == 0.0
    former = ends(whole.outlook.all_out)[0]
    assert former is not None
    assert chance.at_most is not None
    assert chance.at_most >= former  # the bounds hold the former answer
    said = margin_sentence(result.outlook)
    assert "between 0 and" in said
    assert "the forward refuge's air is not known" in said
    assert "100 of 100" not in said
    answers = {a.refuge: a for a in margin_answers(result, Moment(result.at, result.at))}
    assert isinstance(answers["forward"].if_nobody_leaves_h, NotKnown)
    assert isinstance(answers["after"].if_nobody_leaves_h, Number)


def test_air_that_was_read_is_not_said_to_be_not_known_where_only_its_volume_is() -> None:
    after = looked(boat(volumes=("forward",))).outlook.of("after")
    assert after is not None
    assert "how long the after refuge's air lasts is not known: ask for the free" in after.words


@pytest.mark.parametrize(
    ("changes", "word"),
    [
        (dict(read=()), "air is not known"),
        (dict(levels=()), "no level of the air is entered"),
        (dict(volumes=()), "free volume"),
    ],
)
def test_an_input_taken_away_whole_makes_the_margin_not_known_by_name(
    changes: dict[str, Any], word: str
) -> None:
    result = looked(boat(**changes))
    for one in result.outlook.refuges:
        assert isinstance(one.nobody, NotKnown)
        assert isinstance(one.planned, NotKnown)
        assert word in one.words
    assert ends(result.outlook.all_out)[0] in (None, 0.0)
    assert result.outlook.decisions is not None
    assert result.outlook.decisions.latest == ()  # no latest start can be told


def test_those_not_heard_of_are_in_every_total() -> None:
    result = looked(boat(on_board=62))
    assert result.outlook.to_bring == 62
    persons = result.outlook.out_in_time
    assert isinstance(persons, Bounds)
    assert persons.at_most == pytest.approx((persons.at_least or 0.0) + 12)
    assert isinstance(result.outlook.all_out, Bounds)
    assert "12 not heard of" in margin_sentence(result.outlook)
    for one in result.outlook.refuges:
        assert isinstance(one.nobody, Number)  # what is known of the refuges stands


def test_one_impossible_lift_takes_nothing_else_away() -> None:
    result = looked(boat(after_bar=3.10))  # the table ends at 3.0
    after, forward = result.outlook.of("after"), result.outlook.of("forward")
    assert after is not None
    assert forward is not None
    assert isinstance(forward.nobody, Number)
    assert isinstance(forward.chance, Number)
    assert result.outlook.decisions is not None
    stopped = {one.key: one.stopped for one in result.outlook.lifts if one.state == "stopped"}
    assert set(stopped) == {"A1", "A2"}
    assert "3.1" in stopped["A1"]
    assert not isinstance(after.nobody, Number)
    assert after.alone_h is not None  # how long they can last stands
    assert "A1 does not run" in " ".join(result.outlook.remarks)


def test_all_lifts_held_leaves_the_air_and_how_long_they_can_last() -> None:
    held = tuple(one.model_copy(update={"held": True}) for one in FOUR)
    result = looked(boat(lifts=held))
    assert len(result.outlook.held) == 4
    assert {one.refuge for one in result.air.refuges} == {"after", "forward"}
    for one in result.outlook.refuges:
        assert one.alone_h is not None
        assert not isinstance(one.nobody, Number)
        assert one.chance == Number(value=0.0, unit="chance", at=one.chance.at,
                                    rests_on=one.chance.rests_on)  # fmt: skip
    assert tables(result.outlook)


def test_a_fouled_seat_stops_its_lifts_and_says_so() -> None:
    told = boat()
    told.add("survivors.seat", {"seat": "F", "refuge": "forward", "state": "fouled"})
    result = looked(told)
    after, forward = result.outlook.of("after"), result.outlook.of("forward")
    assert after is not None
    assert forward is not None
    assert isinstance(after.nobody, Number)
    assert "the rescue seat of forward is fouled" in forward.words
    assert ends(forward.chance)[1] == 0.0
    assert all(one.dive_h.p50 == float("inf") for one in result.outlook.lifts[2:])


def test_a_seat_of_which_nobody_told_whether_it_is_clear_makes_its_refuge_at_most(
    whole: MarginResult,
) -> None:
    told = boat()
    told.add("survivors.seat", {"seat": "F", "refuge": "forward", "state": "not known"})
    result = looked(told)
    after, forward = result.outlook.of("after"), result.outlook.of("forward")
    before = whole.outlook.of("forward")
    assert after is not None
    assert forward is not None
    assert before is not None
    assert isinstance(after.nobody, Number)
    for what in ("nobody", "planned", "chance"):
        said = getattr(forward, what)
        assert isinstance(said, Bounds)
        assert said.missing == ("whether the seat of forward is clear",)
        assert said.at_most == pytest.approx(ends(getattr(before, what))[1])
    assert isinstance(result.outlook.all_out, Bounds)
    assert result.outlook.all_out.at_least == 0.0


def test_people_already_out_leave_their_lift_with_nobody_to_fetch() -> None:
    told = boat()
    told.move("after", "deck", [(30, "walking")])
    result = looked(told)
    assert {k.key: k.state for k in result.outlook.lifts} == {
        "A1": "stopped", "A2": "stopped", "F1": "waiting", "F2": "waiting",
    }  # fmt: skip
    assert "nobody is left in after" in result.outlook.lifts[0].stopped
    assert [one.refuge for one in result.outlook.refuges] == ["forward"]


def test_stretcher_cases_do_not_walk() -> None:
    told = boat()
    told.move("after", "after", [(20, "stretcher", "walking")])
    result = looked(told)
    after = result.outlook.of("after")
    assert after is not None
    assert ends(after.chance)[1] == 0.0
    assert "20 of the 30 in after (20 on stretchers)" in after.words


def test_a_plan_without_records_names_what_to_enter_and_answers_the_rest() -> None:
    told = Told()
    told.complement("sailing list", 30)
    told.move("not accounted for", "after", [(30, "walking")])
    told.add("survivors.compartment", {"refuge": "after", "free_volume_m3": 400.0})
    told.add("survivors.air", air("after"))
    told.add("survivors.level", level())
    result = looked(told)
    moment = Moment(result.at, result.at)
    (one,) = margin_answers(result, moment)
    assert isinstance(one.if_nobody_leaves_h, NotKnown)
    assert "limits of the lifts" in " ".join(one.if_nobody_leaves_h.missing)
    assert one.lasts_until is not None
    for answer in (sortie_answer, first_out_answer, next_decision_answer, all_out_answer):
        assert isinstance(answer(result, moment), NotKnown)


@pytest.mark.parametrize("others", [(27,), (33,), (27, 33)])
def test_counts_of_a_refuge_that_differ_bound_its_margin_and_no_other(
    whole: MarginResult, others: tuple[int, ...]
) -> None:
    """Thirty are booked: fewer had air for longer, more for less; of both nothing is said."""
    told = boat()
    for persons in others:
        told.report("after", persons, 0.2, source=f"telephone {persons}")
    result = looked(told)
    after, before = result.outlook.of("after"), whole.outlook.of("after")
    assert after is not None
    assert before is not None
    assert isinstance(before.nobody, Number)
    (co2,) = result.air.of("after").levels  # type: ignore[union-attr]  # this case has one
    said = " ".join((*getattr(after.nobody, "missing", ()), *result.air.of("after").doubts))  # type: ignore[union-attr]  # this case has one
    assert all(str(persons) in said for persons in (30, *others))
    if others == (27, 33):
        assert isinstance(after.nobody, NotKnown)
        return
    assert isinstance(after.nobody, Bounds)
    least, most = ends(after.nobody)
    if others == (27,):
        assert least == pytest.approx(before.nobody.value, abs=0.2)
        assert most is None
        assert isinstance(co2.form, Bounds)
    else:
        assert most == pytest.approx(before.nobody.value, abs=0.2)
        assert least is None
        assert ends(result.outlook.all_out)[0] == 0.0
    forward = result.outlook.of("forward")
    assert forward is not None
    assert isinstance(forward.nobody, Number)


def test_a_count_that_was_settled_bounds_nothing_any_more() -> None:
    told = boat()
    seen = told.report("after", 27, 0.2, source="second telephone")
    told.opinion("journal.retract", seen)
    after = looked(told).outlook.of("after")
    assert after is not None
    assert isinstance(after.nobody, Number)
