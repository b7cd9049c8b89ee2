"""What a lost vehicle has left: another one fetches those people, or they are told as left."""

from __future__ import annotations

from datetime import datetime, timedelta
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from layers.contract import Moment
from layers.earth.uncertain import Bounds, Number, Stated
from layers.survivors.air.endurance import RefugePeople
from layers.survivors.lifts.answers import dive_answer, sortie_answer
from layers.survivors.lifts.margin import outlook
from layers.survivors.lifts.margin_model import Outlook
from layers.survivors.lifts.model import Phase
from layers.survivors.lifts.run.outcome import evaluate
from layers.survivors.lifts.run.windows import NEVER
from tests.unit.lift_air import PlainAir
from tests.unit.lift_cases import eight_lifts, lift, vehicle
from tests.unit.lift_ground import ground
from tests.unit.test_lift_rules import back_on_deck
from tests.unit.test_survivors_sortie import START, Book, book, gone_down, phase

LATER = START + timedelta(hours=4)


def there(persons: int) -> tuple[RefugePeople, ...]:
    return (
        RefugePeople(
            refuge="after", persons=persons, stretcher=0, pressure_bar_abs=1.1, seat="clear"
        ),
    )


def told(made: Book, at: datetime, persons: int) -> Outlook:
    air = PlainAir({"after": 200.0}, {"after": persons})
    moment = Moment(as_of=at, at=at)
    return outlook(made.known(at), {}, moment, there(persons), air, n_draws=300, decision_draws=0)


def with_another(made: Book, **changes: Any) -> Book:
    other = {"ready_at": LATER, "follows_chain": False, "ready_spread_h": 1.0, **changes}
    made.add("vehicle", vehicle("V2", **other), START - timedelta(hours=1))
    return made


def test_a_vehicle_told_as_lost_gives_what_waits_to_the_other() -> None:
    made = with_another(back_on_deck())
    made.add("vehicle", vehicle("V1", state="lost"), LATER)
    found = told(made, LATER + timedelta(hours=1), 16)
    taken = {one.key: one for one in found.lifts}["A2"]
    assert taken.vehicle == "V2"
    assert taken.state == "waiting"
    assert taken.runs > 0.99
    planned = found.refuges[0].planned  # at most: no forecast of the sea
    assert isinstance(planned, Bounds)
    assert planned.at_most is not None
    assert planned.at_most > 0
    assert not any("no lift" in said for said in planned.missing)
    assert any("V1 is lost" in said and "V2" in said and "A2" in said for said in found.remarks)


def test_a_smaller_vehicle_takes_them_in_loads_of_its_own() -> None:
    made = with_another(back_on_deck(), seats=6)
    made.add("vehicle", vehicle("V1", state="lost"), LATER)
    found = told(made, LATER + timedelta(hours=1), 16)
    loads = [one.walking for one in found.lifts if one.state == "waiting"]
    assert sum(loads) == 16
    assert max(loads) <= 6
    assert isinstance(found.refuges_out, Bounds | Number)


def test_without_another_vehicle_they_are_told_as_without_a_lift() -> None:
    made = back_on_deck()
    made.add("vehicle", vehicle("V1", state="lost"), LATER)
    found = told(made, LATER + timedelta(hours=1), 16)
    assert found.all_out == Number(value=0.0, unit="chance", at=found.all_out.at,
                                   rests_on=found.all_out.rests_on)  # fmt: skip
    assert found.first_dive_us is None
    planned = found.refuges[0].planned
    assert isinstance(planned, Bounds)
    assert planned.at_least is None
    assert any("16 of the 16 in after" in said for said in planned.missing)


def test_whom_it_had_not_yet_taken_aboard_the_other_one_fetches() -> None:
    made = with_another(gone_down())  # A1 is at the seat, its hatch open
    at = START + timedelta(minutes=90)
    made.add("vehicle", vehicle("V1", state="lost"), at)
    found = told(made, at + timedelta(hours=1), 30)
    runs = [one for one in found.lifts if one.state == "waiting"]
    assert sum(one.walking for one in runs) + sum(one.stretcher for one in runs) >= 30
    assert {one.vehicle for one in runs} == {"V2"}
    assert isinstance(found.all_out, Bounds)  # no forecast of the sea
    assert found.all_out.at_most is not None
    assert found.all_out.at_most > 0.9


def test_people_in_a_lost_vehicle_are_neither_out_nor_forgotten() -> None:
    made = with_another(gone_down())
    for name, minutes in ((Phase.TRANSFER, 80), (Phase.AWAY, 100)):
        more: dict[str, Any] = {"walking_aboard": 13, "stretcher_aboard": 1}
        made.add("sortie_phase", phase(name, **(more if name is Phase.AWAY else {})),
                 START + timedelta(minutes=minutes))  # fmt: skip
    at = START + timedelta(minutes=110)
    made.add("vehicle", vehicle("V1", state="lost"), at)
    found = told(made, at + timedelta(hours=1), 16)
    assert isinstance(found.all_out, Bounds)
    assert found.all_out.at_least == 0.0
    assert "14 in V1, which is lost" in found.all_out.missing
    assert found.to_bring == 30


def in_draws(other: bool) -> Any:
    crafts = (vehicle("V1", loss_chance=0.2, failed_mating_chance=0.0),
              vehicle("V2", failed_mating_chance=0.0))  # fmt: skip
    plan = eight_lifts(
        lifts=(lift("A", 0, "V1", "after", 15, 0), lift("B", 1, "V1", "after", 15, 0)),
        vehicles=crafts if other else crafts[:1],
    )
    people = there(30)
    return evaluate(
        plan, ground(4_000, people=people, air=PlainAir({"after": 200.0}, {"after": 30}))
    )


def test_in_each_draw_the_other_takes_over_after_the_loss_is_known() -> None:
    # by hand: A is out in 0.8; alone B is out in 0.8 * 0.8, with another vehicle in 0.8 * 0.8 + 0.2
    alone, helped = in_draws(False), in_draws(True)
    assert (alone.runs.left_s[0] < NEVER).mean() == pytest.approx(0.8, abs=0.02)
    assert (alone.runs.left_s[1] < NEVER).mean() == pytest.approx(0.64, abs=0.025)
    assert (helped.runs.left_s[1] < NEVER).mean() == pytest.approx(0.84, abs=0.02)
    lost = helped.runs.lost[0]
    same = np.minimum(helped.runs.left_s, alone.runs.left_s) < NEVER
    np.testing.assert_array_equal(  # nothing else has changed
        helped.runs.left_s[0][same[0]], alone.runs.left_s[0][same[0]]
    )
    taken = helped.runs.start_s[1][lost]
    usual = helped.runs.start_s[0][~lost]
    assert taken.min() > usual.min() + 1.5 * 3600  # not before it was due on deck
    assert not (lost & helped.all_in_time).any()  # its own people are lost with it


def test_a_vehicle_that_broke_before_it_ever_dived_waits_for_its_repair() -> None:
    made = book()
    mended = START + timedelta(hours=50)
    made.add("vehicle", vehicle("V1", state="broken", ready_at=mended, life_support_h=20.0), START)
    first = told(made, START + timedelta(hours=1), 16).lifts[0]
    assert first.state == "waiting"
    assert first.dive_h.p10 >= 48.9
    same = book()  # broken, and nothing new is said of when
    same.add("vehicle", vehicle("V1", state="broken", ready_at=START), START)
    assert told(same, START + timedelta(hours=1), 16).lifts[0].state == "stopped"


def test_the_sortie_of_a_lost_vehicle_is_told_as_lost_and_nobody_may_dive() -> None:
    made = gone_down()
    at = START + timedelta(minutes=90)
    made.add("vehicle", vehicle("V1", state="lost"), at)
    later = at + timedelta(hours=1)
    result: Any = SimpleNamespace(outlook=told(made, later, 30))
    moment = Moment(as_of=later, at=later)
    now = sortie_answer(result, moment)
    assert isinstance(now, Stated)
    assert now.value.phase == "lost"
    assert now.value.vehicle == "V1"
    dive = dive_answer(result, moment).value
    assert dive.may is False
    assert dive.opens is None
    assert dive.because == "V1 is lost"
