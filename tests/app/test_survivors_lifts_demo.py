"""The exercise's lifts: the plan first chosen falls short, the better one does not."""

from __future__ import annotations

from functools import lru_cache

import pytest

from demo_data import scenario as s
from demo_data.load import demo_journal
from demo_data.scenario import z
from layers.catalogue import BY_KEY, KINDS
from layers.contract import Moment, Others
from layers.earth.clock import from_us, to_us
from layers.earth.uncertain import ends
from layers.journal.known import Known, ListShelf
from layers.survivors.air.formulas import air_outlook
from layers.survivors.compute import refuge_people
from layers.survivors.lifts.choose import as_chosen
from layers.survivors.lifts.margin import ground_of, outlook
from layers.survivors.lifts.margin_model import Outlook
from layers.survivors.lifts.plan import read_setting
from layers.survivors.lifts.report import margin_sentence, tables
from layers.survivors.lifts.run.outcome import PlanOutcome, evaluate
from layers.survivors.lifts.spread import margin_h, quantile
from layers.survivors.muster.muster import muster

DRAWS = 1_000


@lru_cache(maxsize=1)
def exercise() -> ListShelf:
    return demo_journal(s.DEMO_END)[0]


@lru_cache(maxsize=4)
def seen(day: int, hhmm: str) -> tuple[Known, Moment, Others, tuple, object]:
    at = z(day, hhmm)
    shelf = exercise()
    seq = max((r.seq for r in shelf.records if r.recorded_at <= at), default=0)
    known, moment = Known(shelf, KINDS, seq, at), Moment(at, at)
    weather, response = BY_KEY["weather"], BY_KEY["forward_port"]
    others: dict = {"datum": None}
    others["weather"] = weather.hand(weather.compute(known, {}, moment))
    others["forward_port"] = response.hand(response.compute(known, others, moment))
    air = air_outlook(known, moment, n_draws=DRAWS)
    people = refuge_people(known, moment, muster(known, moment), air)
    return known, moment, others, people, air.model


@lru_cache(maxsize=4)
def looked(day: int, hhmm: str) -> Outlook:
    known, moment, others, people, model = seen(day, hhmm)
    return outlook(known, others, moment, people, model, n_draws=DRAWS, decision_draws=200)


def run(day: int, hhmm: str, *, as_first_planned: bool) -> PlanOutcome:
    known, moment, others, people, model = seen(day, hhmm)
    recorded = read_setting(known, moment, None)
    base = ground_of(others, people, model, DRAWS, 1, to_us(moment.at) + 240 * 3_600_000_000)
    return evaluate(recorded if as_first_planned else as_chosen(recorded), base)


def middle(outcome: PlanOutcome, refuge: str) -> float:
    return quantile(margin_h(outcome.last_left_s[refuge], outcome.limit_s[refuge]), 0.5)


def test_before_the_choice_the_after_refuge_is_short() -> None:
    after = looked(13, "2302").of("after")
    assert after is not None
    assert (ends(after.nobody)[1] or 0.0) < 0
    assert (ends(after.chance)[1] or 0.0) < 0.1
    assert "short" in after.words


def test_the_better_plan_makes_the_after_refuge_positive() -> None:
    assert middle(run(14, "0300", as_first_planned=True), "after") < 0
    assert middle(run(14, "0300", as_first_planned=False), "after") > 0


def test_as_the_demo_opens_sixteen_are_out_and_the_margin_is_positive() -> None:
    now = looked(16, "0635")
    after, forward = now.of("after"), now.of("forward")
    assert after is not None
    assert forward is not None
    assert (after.persons, forward.persons) == (14, 24)
    assert (ends(after.nobody)[1] or 0.0) > 0
    assert "to spare" in after.words
    assert now.lifts[0].state == "back"
    assert [(lift.key, lift.walking, lift.stretcher, lift.seats) for lift in now.lifts] == [
        ("A1", 16, 0, 16),
        ("A2", 13, 1, 16),
        ("F1", 16, 0, 16),
        ("F2", 4, 4, 16),
    ]
    assert [lift.key for lift in now.held] == ["5th"]


def test_the_second_lift_meets_the_front_and_waits_for_it_to_pass() -> None:
    second = looked(16, "0635").lifts[1]
    dives = from_us(looked(16, "0635").at_us).timestamp() + second.dive_h.p50 * 3600
    assert z(16, "2200").timestamp() < dives < z(17, "0800").timestamp()


def test_people_from_the_after_refuge_go_under_pressure_and_those_forward_do_not() -> None:
    now = looked(16, "0635")
    assert [lift.chamber for lift in now.lifts] == ["chamber 1", "chamber 2", "", ""]
    held = now.chambers
    assert held is not None
    assert held.invented
    assert int(held.chambers[0].persons[2].max()) == 18  # sixteen and two attendants
    stays = {refuge: hours for refuge, hours, _ in held.dose_units}
    assert stays == {"after": pytest.approx(27.0), "forward": 0.0}


def test_what_is_learnt_from_the_first_sortie_replaces_its_estimates() -> None:
    setting = looked(16, "0635").setting
    assert setting is not None
    assert {one.sorties for one in setting.learnt} == {1}
    # mating took 0250Z to 0331Z
    assert setting.vehicle(s.VEHICLE).mate.likely == pytest.approx(41.0)


def test_the_sortie_under_way_at_0345_is_transferring() -> None:
    (one,) = looked(16, "0345").sorties
    assert one.phase.value == "transfer"
    assert one.battery_spare_kwh > 0
    assert from_us(one.next_due_us) == z(16, "0400")


def test_the_decisions_on_the_table_can_all_be_weighed() -> None:
    weighed = looked(13, "2302").decisions
    assert weighed is not None
    assert {gain.key for gain in weighed.gains} >= {"pods", "after-first", "other-port"}
    assert [gain.reason for gain in weighed.gains if gain.persons is None] == []
    best = weighed.gains[0]
    assert best.persons is not None
    assert best.persons.value > best.persons.bar > 0


def test_the_sentence_and_the_tables_agree() -> None:
    now = looked(16, "0635")
    said = margin_sentence(now)
    table = tables(now)["Margin by refuge"]
    after = next(row for row in table.as_dicts() if row["Refuge"] == "after")
    assert f"after refuge: {after['If nobody leaves']}" in said
    for shown in tables(now).values():
        assert shown.rows
        assert len(set(shown.heads)) == len(shown.heads)
