"""Nothing becomes surer or better by losing knowledge, and no page breaks by it.

A journal that answers well; each input is taken away whole, then two at once; times come late, a
feed is heard twice, two reports disagree. What is left may hold the former answer between bounds,
name what is missing, or be worse; it is never a better number than it was. Records that bring bad
news are apart: without them the answer is what it was before they came.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import lru_cache
from itertools import combinations
from typing import Any

import numpy as np
import pytest

from layers.contract import Moment
from layers.earth.clock import to_us
from layers.earth.uncertain import Bounds, NotKnown, Number, Quantity
from layers.earth.values import WeatherValue
from layers.survivors.air.report import air_tables
from layers.survivors.compute import MarginResult, compute, compute_margin
from layers.survivors.lifts import answers
from layers.survivors.lifts.axis import axis_of
from layers.survivors.lifts.report import margin_sentence, tables
from layers.survivors.report import margin_tables, persons
from tests.survivors_journal import AT, Told
from tests.unit.lift_cases import chamber, lift, limits, schedule, sea_series, vehicle
from tests.unit.test_margin_unknown import SOURCE, calm

DRAWS = 400
MANY = 4_000  # the middle of a margin that spreads over 40 h, good to a quarter of an hour
HOURS = 30.0  # after the first report


@dataclass(frozen=True)
class Said:
    """One record: what it is called here, and when it was true."""

    tag: str
    kind: str
    payload: dict[str, Any]
    at_h: float = 0.0


def air(refuge: str, at_h: float, bar: float, o2: float, co2: float, warm: float) -> Said:
    payload = {
        "refuge": refuge,
        "pressure": {"value": bar, "unit": "bar", "reference": "absolute"},
        "oxygen": {"value": o2, "unit": "percent"},
        "carbon_dioxide": {"value": co2, "unit": "percent"},
        "temperature_c": warm,
        "carbon_monoxide_ppm": 6.0,
    }
    return Said(f"air {refuge}", "survivors.air", payload, at_h)


def level(name: str, quantity: str, **limit: Any) -> Said:
    payload = {"name": name, "quantity": quantity, "source": SOURCE, "entered_by": "doctor"}
    return Said(f"level {name}", "survivors.level", {**payload, **limit})


def told(kind: str, tag: str, model: Any, at_h: float = 0.0) -> Said:
    return Said(tag, f"survivors.{kind}", model.model_dump(mode="json", exclude_unset=True), at_h)


def moved(refuge: str, *groups: tuple[int, str]) -> Said:
    made = [{"persons": n, "fitness": fitness} for n, fitness in groups]
    payload = {"from_place": "not accounted for", "to_place": refuge, "groups": made,
               "reason": "as told"}  # fmt: skip
    return Said(f"people {refuge}", "survivors.move", payload)


def journal() -> list[Said]:
    craft = vehicle("V1", ready_at=AT + timedelta(hours=40), follows_chain=False, loss_chance=0.0)
    found = [
        Said("on board", "survivors.complement", {"part": "list", "persons": 31}),
        moved("after", (13, "walking"), (1, "stretcher")),
        moved("forward", (17, "walking")),
        level("CO2", "carbon dioxide", gas={"value": 6.0, "unit": "sev_percent"}),
        level("cold", "low temperature", temperature_c=4.0),
        level("CO", "carbon monoxide", carbon_monoxide_ppm=100.0),
        level("bar", "pressure", pressure={"value": 2.6, "unit": "bar", "reference": "absolute"}),
        told("vehicle", "vehicle", craft),
        told("schedule", "schedule", schedule()),
        told("lift_limits", "limits", limits()),
        told("lift", "lift A1", lift("A1", 0, "V1", "after", 13, 1)),
        told("lift", "lift F1", lift("F1", 1, "V1", "forward", 16, 0)),
        told("lift", "lift F2", lift("F2", 2, "V1", "forward", 1, 0)),
    ]
    found += [told("chamber", f"chamber {name}", chamber(name)) for name in ("C1", "C2")]
    for refuge, m3 in (("after", 410.0), ("forward", 430.0)):
        room = {"refuge": refuge, "free_volume_m3": m3, "depth_m": 142.0}
        found.append(Said(f"volume {refuge}", "survivors.compartment", room))
        seat = {"seat": refuge[0].upper(), "refuge": refuge, "state": "clear"}
        found.append(Said(f"seat {refuge}", "survivors.seat", seat))
    stock = {"item": "absorbent", "chemical": "lithium hydroxide", "efficiency": 0.7,
             "mass_kg": 40.0, "told_for_c": 5.0}  # fmt: skip
    held = {"value": 1.9, "unit": "sev_percent"}
    for refuge in ("after", "forward"):
        payload = {"refuge": refuge, "stock": stock, "held_at": held}
        found.append(Said(f"stores {refuge}", "survivors.stores", payload))
        candles = {"item": "oxygen candles", "count": 0, "oxygen_kg_each": 2.0}
        payload = {"refuge": refuge, "stock": candles}  # counted: there are none
        found.append(Said(f"candles {refuge}", "survivors.stores", payload))
    for at_h in (0.5, 8.0, 16.0, 24.0):
        found.append(air("after", at_h, 1.6, 14.5, 1.15, 11.0 - 0.1 * at_h))
        found.append(air("forward", at_h, 1.05, 19.0 - 0.02 * at_h, 1.75, 12.0 - 0.07 * at_h))
    return found


def blowing(at: datetime) -> WeatherValue:
    """A blow in the second day, and a tide that shuts the seat twice a day."""
    series = sea_series(320)
    at_us = to_us(at) + (series.at_us - series.at_us[0])
    return replace(calm(at), series_at_datum=replace(series, at_us=at_us))


def looked(
    said: Iterable[Said],
    hours: float = HOURS,
    sea: bool = True,
    n_draws: int = DRAWS,
    **otherwise: Any,
) -> MarginResult:
    """Return the margin; without a sea, or with one told otherwise."""
    made = Told()
    for one in said:
        made.add(one.kind, one.payload, one.at_h)
    at = AT + timedelta(hours=hours)
    others = {}
    if sea:
        weather = blowing(at)
        assert weather.series_at_datum is not None
        others["weather"] = replace(
            weather, series_at_datum=replace(weather.series_at_datum, **otherwise)
        )
    result = compute_margin(made.known(), others, Moment(at, at), n_draws, decision_draws=0)
    everything_is_said(made, result)
    return result


def everything_is_said(made: Told, result: MarginResult) -> None:
    """Ask for all that any page shows; none of it may break, or say what is not finite."""
    moment = Moment(result.at, result.at)
    known = made.known()
    people = compute(known, {}, moment)
    words = [
        margin_sentence(result.outlook),
        repr(margin_tables(result)),
        repr(persons(people, moment)),
    ]
    words += [
        repr(tables(result.outlook)) if result.outlook.setting else "",
        repr(air_tables(result.air)),
    ]
    words.append(repr(axis_of(result.outlook)))
    for answer in (
        answers.margin_answers, answers.all_out_answer, answers.dive_answer, answers.sortie_answer,
        answers.first_out_answer, answers.next_decision_answer, answers.input_answers,
    ):  # fmt: skip
        words.append(repr(answer(result, moment)))
    for said in words:
        assert not re.search(r"\bnan\b", said)
        assert "100 of 100" not in said


@lru_cache(maxsize=2)
def whole(n_draws: int = DRAWS) -> MarginResult:
    return looked(journal(), n_draws=n_draws)


TAGS = sorted({one.tag for one in journal()})


def without(*tags: str) -> list[Said]:
    return [one for one in journal() if one.tag not in tags]


def not_better(now: Quantity, then: Quantity, near: float, what: str) -> None:
    """Fail where an answer is surer or better than it was with more known."""
    assert isinstance(then, Number)
    if isinstance(now, NotKnown):
        assert now.missing, f"{what}: not known, and nothing to ask for"
        return
    if isinstance(now, Bounds):
        assert now.missing, f"{what}: bounds that name nothing"
        assert now.at_least is None or now.at_least <= then.value + near, f"{what}: {now}"
        return
    assert isinstance(now, Number)
    assert now.value <= then.value + near, f"{what}: better, {then.value:.2f} to {now.value:.2f}"
    spread = [None if None in (q.p10, q.p90) else q.p90 - q.p10 for q in (now, then)]  # type: ignore[operator]  # told in this case
    if spread[0] is not None and spread[1] is not None and now.value > then.value - near:
        assert spread[0] >= 0.8 * spread[1], f"{what}: surer, {spread[1]:.1f} to {spread[0]:.1f}"


def compared(now: MarginResult, then: MarginResult, what: str, only: str = "") -> None:
    # where a refuge's lifts cannot run, the vehicle is free for the others: theirs come sooner
    stopped = {lift.refuge for lift in now.outlook.lifts if lift.stopped}
    for one in then.outlook.refuges:
        if only not in one.refuge or (stopped and one.refuge not in stopped):
            continue
        same = now.outlook.of(one.refuge)
        if same is None or same.persons != one.persons:
            continue  # other people: compared by who is counted, below
        for name in ("nobody", "planned", "chance"):
            # the draws of another refuge's air move a lift by a little: 3 of 100
            value = getattr(one, name).value
            near = 0.03 if name == "chance" else max(1.0, 0.03 * value)
            before, after = getattr(one, name), getattr(same, name)
            not_better(after, before, near, f"{what}, {one.refuge} {name}")
    assert now.outlook.to_bring >= then.outlook.to_bring, f"{what}: fewer to bring out"
    not_better(now.outlook.all_out, then.outlook.all_out, 0.03, f"{what}, all out")


def test_with_everything_known_every_answer_is_a_number() -> None:
    for one in whole().outlook.refuges:
        assert isinstance(one.nobody, Number)
        assert isinstance(one.chance, Number)
        assert one.binding
    assert isinstance(whole().outlook.all_out, Number)


def no_better(said: list[Said], what: str) -> None:
    """Compare what is left; where few draws say that it is better, ten times as many decide.

    The middle of a time that spreads over a hundred hours moves by some hours with 400 draws.
    """
    try:
        compared(looked(said), whole(), what)
    except AssertionError:
        compared(looked(said, n_draws=MANY), whole(MANY), what)


# A level is the medical officer's to enter and to withdraw, and a lift the watch's: without one
# the question is another. What is not entered is said, see the tests behind.
INPUTS = [t for t in TAGS if t != "on board" and not t.startswith(("level", "lift", "people"))]
LIFTS = {"after": ("lift A1",), "forward": ("lift F1", "lift F2")}


@pytest.mark.parametrize("tag", INPUTS)
def test_an_input_taken_away_makes_nothing_surer_or_better(tag: str) -> None:
    more = LIFTS["after"] + LIFTS["forward"] if tag == "vehicle" else ()
    no_better(without(tag, *more), f"without {tag}")


@pytest.mark.parametrize("refuge", ["after", "forward"])
def test_without_lifts_or_word_of_its_people_a_refuge_is_not_safer(refuge: str) -> None:
    compared(looked(without(*LIFTS[refuge])), whole(), f"no lift for {refuge}", only=refuge)
    unheard = looked(without(f"people {refuge}"))
    assert unheard.outlook.to_bring == whole().outlook.to_bring
    not_better(unheard.outlook.all_out, whole().outlook.all_out, 0.03, "not heard of")


@pytest.mark.parametrize("name", ["CO2", "cold", "CO"])
def test_a_level_that_is_not_entered_is_said(name: str) -> None:
    words = {"CO2": "carbon dioxide", "cold": "cold", "CO": "carbon monoxide"}
    said = " ".join(looked(without(f"level {name}")).air.missing)
    assert f"level of {words[name]}" in said
    assert f"level of {words[name]}" not in " ".join(whole().air.missing)


def test_the_forecast_taken_away_makes_nothing_surer_or_better() -> None:
    compared(looked(journal(), sea=False), whole(), "without the sea")


FLAT = np.full(320, 0.6)  # as observed once, and held on: it shuts nothing
NOWHERE = np.full(320, np.nan)


@pytest.mark.parametrize(
    ("otherwise", "named"),
    [
        ({"hs_m": FLAT, "waves_forecast": False}, "no forecast of the sea"),
        ({"current_surface_kn": FLAT, "current_forecast": False},
         "no forecast of the current at the surface"),
        ({"current_surface_kn": NOWHERE}, "no current known at the surface"),
        ({"current_seat_kn": NOWHERE}, "no current known at the seat"),
    ],
)  # fmt: skip
def test_a_sea_only_observed_or_partly_known_is_no_forecast(
    otherwise: dict[str, Any], named: str
) -> None:
    now = looked(journal(), **otherwise)
    compared(now, whole(), named)
    for one in now.outlook.refuges:
        for said in (one.nobody, one.chance):
            assert isinstance(said, Bounds)
            assert named in said.missing
    assert isinstance(now.outlook.all_out, Bounds)
    if "waves_forecast" in otherwise:
        assert any("last observed are held on" in said for said in now.outlook.remarks)


@pytest.mark.parametrize("name", ["crews", "battery_kwh", "max_pressure_bar_abs", "ready_at",
                                  "failed_mating_chance", "failure_chance"])  # fmt: skip
def test_a_figure_of_the_vehicle_taken_away_makes_nothing_surer_or_better(name: str) -> None:
    also = "reserve_kwh" if name == "battery_kwh" else ""
    said = [
        replace(one, payload={k: v for k, v in one.payload.items() if k not in (name, also)})
        if one.tag == "vehicle"
        else one
        for one in journal()
    ]
    no_better(said, f"without {name}")


@pytest.mark.parametrize("name", ["through_water_kn", "mating_kn", "recovery_hs_m"])
def test_a_limit_taken_away_makes_nothing_surer_or_better(name: str) -> None:
    said = [
        replace(one, payload={k: v for k, v in one.payload.items() if k != name})
        if one.tag == "limits"
        else one
        for one in journal()
    ]
    no_better(said, f"without {name}")


@pytest.mark.long
@pytest.mark.parametrize("tags", list(combinations([t for t in INPUTS if t != "vehicle"], 2)))
def test_two_inputs_taken_away_make_nothing_surer_or_better(tags: tuple[str, str]) -> None:
    no_better(without(*tags), f"without {' and '.join(tags)}")


@pytest.mark.parametrize("refuge", ["after", "forward"])
def test_the_later_readings_lost_make_nothing_surer(refuge: str) -> None:
    """One reading is left: it says less, of the cold nothing."""
    said = [one for one in journal() if one.tag != f"air {refuge}" or one.at_h < 1.0]
    whole_of_many = looked(journal(), n_draws=MANY)  # the other refuge's draws are others then
    compared(looked(said, n_draws=MANY), whole_of_many, f"one reading of {refuge}")


@pytest.mark.parametrize("refuge", ["after", "forward"])
def test_nobody_knows_who_lies(refuge: str) -> None:
    said = [
        moved(refuge, (14 if refuge == "after" else 17, "unknown"))
        if one.tag == f"people {refuge}"
        else one
        for one in journal()
    ]
    no_better(said, f"fitness in {refuge} not told")


def test_a_feed_heard_twice_makes_nothing_surer() -> None:
    """The same reading again, a minute later, from the same instrument, is no second opinion."""
    twice = [*journal()]
    for one in journal():
        if one.tag.startswith("air"):
            twice.append(replace(one, at_h=one.at_h + 1.0 / 60.0))
    twice.sort(key=lambda one: one.at_h)
    now = looked(twice)
    for one in whole().outlook.refuges:
        same = now.outlook.of(one.refuge)
        assert same is not None
        assert isinstance(same.nobody, Number)
        assert isinstance(one.nobody, Number)
        assert None not in (same.nobody.p10, same.nobody.p90, one.nobody.p10, one.nobody.p90)
        width = same.nobody.p90 - same.nobody.p10  # type: ignore[operator]  # told in this case
        before = one.nobody.p90 - one.nobody.p10  # type: ignore[operator]  # told in this case
        assert width > 0.75 * before


def test_the_clock_moved_on_without_news_makes_nothing_surer_or_longer() -> None:
    """Hours without a reading: the same end by the clock, not later, and not known better."""
    later = looked(journal(), HOURS + 6.0)
    for one in whole().outlook.refuges:
        same = later.outlook.of(one.refuge)
        assert same is not None
        assert one.alone_h is not None
        assert same.alone_h is not None
        assert same.alone_h.p50 + 6.0 <= one.alone_h.p50 + 2.0
        assert same.alone_h.p90 - same.alone_h.p10 >= 0.85 * (one.alone_h.p90 - one.alone_h.p10)


def test_bad_news_taken_away_leaves_what_was_before_it_came() -> None:
    foul = Said(
        "fouled", "survivors.seat", {"seat": "A", "refuge": "after", "state": "fouled"}, 25.0
    )
    worse = looked([*journal(), foul])
    after = worse.outlook.of("after")
    assert after is not None
    assert not isinstance(after.nobody, Number)
    again = looked(journal()).outlook.of("after")
    before = whole().outlook.of("after")
    assert again is not None
    assert before is not None
    assert again.nobody == replace(before.nobody, rests_on=again.nobody.rests_on)


def test_two_reports_that_disagree_take_nothing_back() -> None:
    """Somebody else counts 12 in the after refuge: nobody is lost from the sum by it."""
    other = Said("count", "survivors.report", {"place": "after", "persons": 12}, 26.0)
    now = looked([*journal(), other])
    assert now.outlook.to_bring >= whole().outlook.to_bring
