"""People booked out of a refuge while no phase of a sortie is told: was the lift run or not?

Written from the text: what is not told leaves bounds that hold what it would be if it were told,
with that named; never a single number of a plan in which the vehicle goes again for people who
are out.
"""

from __future__ import annotations

from datetime import timedelta
from functools import lru_cache
from typing import Any

import pytest

from layers.contract import Moment
from layers.earth.clock import from_us, to_us
from layers.earth.uncertain import Bounds, NotKnown, Number, either, ends
from layers.survivors.compute import MarginResult, compute_margin
from layers.survivors.decisions.gain import Change, Gain, lesser
from layers.survivors.decisions.report import gain_sentences
from layers.survivors.lifts.margin_model import RefugeOutlook
from layers.survivors.lifts.model import Phase
from layers.survivors.lifts.plan import read_setting
from layers.survivors.lifts.untold import perhaps_run
from tests.survivors_journal import AT, Told
from tests.unit.lift_cases import lift, vehicle
from tests.unit.test_margin_unknown import boat, calm

HOURS = 10.0
# as long as the vehicle's likely times: nothing is learnt from it that would change later lifts
PHASES = (("down", 4.2), ("search", 4.61), ("mate", 4.81), ("transfer", 5.23), ("away", 5.63),
          ("up", 5.71), ("recover", 5.83), ("back", 6.16))  # fmt: skip
LEFT_H = 5.63


def out_of_after(phases: bool, persons: int = 16, to: str = "V1") -> Told:
    told = boat()
    for phase, at_h in PHASES if phases else ():
        said: dict[str, Any] = {"vehicle": "V1", "lift": "A1", "phase": phase}
        if phase == "away":
            said |= {"walking_aboard": persons, "stretcher_aboard": 0}
        told.add("survivors.sortie_phase", said, at_h)
    told.move("after", to, [(persons, "walking")], LEFT_H)
    return told


def looked(told: Told, hours: float) -> MarginResult:
    at = AT + timedelta(hours=hours)
    moment = Moment(at, at)
    return compute_margin(told.known(), {"weather": calm(at)}, moment, 500, decision_draws=0)


@lru_cache(maxsize=4)
def result(phases: bool, to: str = "V1") -> MarginResult:
    return looked(out_of_after(phases, to=to), HOURS)


def refuge(found: MarginResult, name: str = "after") -> RefugeOutlook:
    one = found.outlook.of(name)
    assert one is not None
    return one


@pytest.mark.parametrize("to", ["V1", "deck"])
@pytest.mark.parametrize("name", ["after", "forward"])
def test_without_phases_the_answers_hold_those_with_them_and_name_the_lift(
    name: str, to: str
) -> None:
    told, untold = refuge(result(True), name), refuge(result(False, to), name)
    for what in ("nobody", "planned"):
        was, now = getattr(told, what), getattr(untold, what)
        assert isinstance(now, Bounds)
        assert "whether lift A1 was run" in now.missing
        low, high = ends(was)
        assert now.at_least is not None
        assert low is None or now.at_least <= low + 1.0
        assert now.at_most is None or (high is not None and now.at_most >= high - 1.0)


def test_it_is_asked_in_a_sentence_and_with_the_phases_it_is_not() -> None:
    asked = "was lift A1 run?"
    assert any(said.endswith(asked) for said in result(False).outlook.remarks)
    assert not any(said.endswith(asked) for said in result(True).outlook.remarks)
    assert isinstance(refuge(result(True)).nobody, Number)


def test_who_was_put_back_or_moved_between_refuges_asks_nothing() -> None:
    told = out_of_after(False)
    told.move("V1", "after", [(16, "walking")], 6.5)
    told.move("after", "forward", [(2, "walking")], 6.6)
    assert not any("was lift" in said for said in looked(told, HOURS).outlook.remarks)


def test_a_lift_under_way_whose_people_are_booked_into_it_asks_nothing() -> None:
    told = boat()
    for phase, at_h in PHASES[:4]:
        told.add("survivors.sortie_phase", {"vehicle": "V1", "lift": "A1", "phase": phase}, at_h)
    told.move("after", "V1", [(16, "walking")], 5.3)
    found = looked(told, 5.4)
    assert found.at == AT + timedelta(hours=5.4)
    assert not any("was lift" in said for said in found.outlook.remarks)


def test_two_lifts_perhaps_run_left_when_their_own_people_were_moved() -> None:
    told = out_of_after(False)
    told.move("V1", "deck", [(16, "walking")], 6.2)
    told.move("after", "V1", [(14, "walking")], 9.0)
    at = AT + timedelta(hours=HOURS)
    known, moment = told.known(), Moment(at, at)
    found = perhaps_run(known, moment, read_setting(known, moment, None))
    left = {key: from_us(fact.began_us[Phase.AWAY]) for key, fact in found.items()}
    assert left == {"A1": AT + timedelta(hours=LEFT_H), "A2": AT + timedelta(hours=9.0)}
    # the first is back before the second leaves, the second has its people still aboard
    assert found["A1"].began_us[Phase.BACK] == to_us(AT + timedelta(hours=6.2))
    assert found["A2"].phase is Phase.AWAY


def test_two_lifts_booked_out_together_were_at_the_seat_one_after_another() -> None:
    """One booking of thirty at 9.0: the vehicle has sixteen seats, it was there twice."""
    told = boat()
    told.move("after", "deck", [(30, "walking")], 9.0)
    at = AT + timedelta(hours=HOURS)
    known, moment = told.known(), Moment(at, at)
    found = perhaps_run(known, moment, read_setting(known, moment, None))
    left = {key: from_us(fact.began_us[Phase.AWAY]) for key, fact in found.items()}
    cycle = timedelta(minutes=15 + 142 / 15 + 12 + 25 + 14 * 1.5 + 5 + 142 / 20 + 20 + 120)
    assert left["A2"] == AT + timedelta(hours=9.0)
    assert abs(left["A2"] - left["A1"] - cycle) < timedelta(seconds=2)
    assert found["A1"].done


def test_two_lifts_of_two_vehicles_may_have_left_together() -> None:
    told = boat()
    told.add("survivors.vehicle", vehicle("V2", ready_at=AT).model_dump(mode="json"))
    told.add("survivors.lift", lift("A2", 1, "V2", "after", 14, 0).model_dump(mode="json"))
    told.move("after", "deck", [(30, "walking")], 9.0)
    at = AT + timedelta(hours=HOURS)
    known, moment = told.known(), Moment(at, at)
    found = perhaps_run(known, moment, read_setting(known, moment, None))
    assert {fact.began_us[Phase.AWAY] for fact in found.values()} == {
        to_us(AT + timedelta(hours=9.0))
    }


def gain(key: str, persons: float, bar: float = 0.1) -> Gain:
    change, same = Change(value=persons, bar=bar), Change(value=0.0, bar=0.0)
    return Gain(key=key, title=key, taken=False, persons=change, all_out=same, p50_h=same)


def test_a_decision_counts_with_the_less_of_what_it_gives_run_or_not() -> None:
    not_run = (gain("early", 9.0), gain("pods", 4.0), gain("wait", -1.0))
    if_run = (gain("pods", 5.0), gain("early", 0.0), gain("wait", -3.0))
    found = lesser(not_run, if_run, "lift A1 was not run", "lift A1 was run")
    assert [one.key for one in found] == ["pods", "early", "wait"]
    values = {one.key: one.persons.value for one in found if one.persons}
    assert values == {"pods": 4.0, "early": 0.0, "wait": -3.0}
    assert {one.key: one.only_if for one in found} == {
        "pods": "", "early": "lift A1 was not run", "wait": "",
    }  # fmt: skip
    assert "early: a gain only if lift A1 was not run." in gain_sentences(found)


def test_until_when_a_branch_can_wait_is_not_told_while_a_lift_is_perhaps_run() -> None:
    told = out_of_after(False)
    told.add("survivors.decision", {"key": "few", "title": "ten a lift", "people_per_lift": 10})
    at = AT + timedelta(hours=HOURS)
    found = compute_margin(
        told.known(), {"weather": calm(at)}, Moment(at, at), 200, decision_draws=100
    ).outlook.decisions
    assert found is not None
    assert found.latest == ()
    assert found.unsure == ("whether lift A1 was run",)


def test_either_of_several_goes_from_the_least_to_the_most() -> None:
    one, two = Number(value=3.0, unit="h"), Number(value=5.0, p10=1.0, p90=9.0, unit="h")
    found = either((two, one), ("which",))
    assert found == Bounds(at_least=3.0, at_most=5.0, missing=("which",), unit="h")
    open_end = Bounds(at_least=1.0, missing=("a reading",), unit="h")
    assert either((one, open_end), ("which",)) == Bounds(
        at_least=1.0, missing=("a reading", "which"), unit="h"
    )
    assert either((one, one), ("which",)) is one
    gone = NotKnown(missing=("a reading",), unit="h")
    assert either((one, gone), ("which",)) == NotKnown(missing=("a reading", "which"), unit="h")


# Lifts of which one was run and another not -------------------------------------------------


def phases_of(told: Told, key: str, vehicle_name: str, left_h: float, persons: int) -> None:
    """Tell a whole sortie that left the seat at an hour, as long as the vehicle's likely times."""
    for name, at_h in PHASES:
        said: dict[str, Any] = {"vehicle": vehicle_name, "lift": key, "phase": name}
        if name == "away":
            said |= {"walking_aboard": persons, "stretcher_aboard": 0}
        told.add("survivors.sortie_phase", said, left_h + at_h - LEFT_H)


def partly_out(*told_lifts: tuple[str, str, float, int], second: bool = False) -> MarginResult:
    """Twenty of thirty are out of after; of some lifts it is told that they brought them.

    ``second`` has a vehicle of its own for the second lift.
    """
    told = boat()
    if second:
        craft = vehicle("V2", ready_at=AT + timedelta(hours=4), follows_chain=False)
        told.add("survivors.vehicle", craft.model_dump(mode="json"))
        told.add("survivors.lift", lift("A2", 1, "V2", "after", 14, 0).model_dump(mode="json"))
    for one in told_lifts:
        phases_of(told, *one)
    told.move("after", "deck", [(20, "walking")], 10.6)
    return looked(told, 11.0)


FIRST, BOTH_BY_ONE = ("A1", "V1", 5.6, 16), ("A2", "V1", 10.0, 4)


@pytest.mark.parametrize("second", [False, True])
@pytest.mark.parametrize(
    "truth", [(), (FIRST,), (FIRST, BOTH_BY_ONE), (("A2", "V1", 5.6, 14),)], ids=len
)
def test_whichever_of_two_lifts_was_run_the_answers_hold_it(
    truth: tuple[tuple[str, str, float, int], ...], second: bool
) -> None:
    told = tuple((k, "V2" if second and k == "A2" else v, h, n) for k, v, h, n in truth)
    known, untold = partly_out(*told, second=second), partly_out(second=second)
    for name in ("after", "forward"):
        for what in ("nobody", "planned", "chance"):
            was, now = (getattr(refuge(one, name), what) for one in (known, untold))
            if isinstance(was, NotKnown):
                assert isinstance(now, NotKnown)
                continue
            (low, high), (least, most) = ends(was), ends(now)
            # phases told teach the vehicle's times; who stays longest makes much of some minutes
            near = 0.02 if what == "chance" else max(1.0, 0.02 * abs(high or 0.0))
            assert least is None or (low is not None and least <= low + near), (name, what)
            assert most is None or (high is not None and most >= high - near), (name, what)
    asked = [said for said in untold.outlook.remarks if "was lift" in said]
    assert len(asked) == 2
