"""An hour that nobody told is not known: the answers hold it late and at once, with its name.

Written from the text: a vehicle broken with no date for its mending, one of which nothing says when
it can first dive, a chamber that is fitting out. Nought is no answer, nor is the best there can be.
"""

from __future__ import annotations

from datetime import timedelta
from functools import lru_cache
from typing import Any

import pytest

from layers.contract import Moment
from layers.earth.uncertain import Bounds, NotKnown, Number, ends
from layers.survivors.compute import MarginResult, compute_margin
from layers.survivors.decisions.report import escape_table
from layers.survivors.lifts.answers import dive_answer, first_out_answer, next_decision_answer
from layers.survivors.lifts.report import level_table, margin_sentence
from tests.survivors_journal import AT
from tests.unit.lift_cases import chamber, vehicle
from tests.unit.test_margin_unknown import boat, calm

HOURS = 1.0
READY = AT + timedelta(hours=HOURS)
Changes = tuple[tuple[str, Any], ...]


@lru_cache(maxsize=16)
def looked(vehicles: tuple[Changes, ...] = (), chambers: tuple[Changes, ...] = ()) -> MarginResult:
    """Return the margin an hour on, some vehicles and chambers told anew."""
    told = boat()
    for changes in vehicles:
        craft = vehicle(**{"follows_chain": False, "loss_chance": 0.0, **dict(changes)})
        told.add("survivors.vehicle", craft.model_dump(mode="json", exclude_unset=True), 0.5)
    for changes in chambers:
        room = chamber(**dict(changes))
        told.add("survivors.chamber", room.model_dump(mode="json", exclude_unset=True), 0.5)
    return compute_margin(
        told.known(), {"weather": calm(READY)}, Moment(READY, READY), 1_000, decision_draws=200
    )


def one(**changes: Any) -> Changes:
    return tuple(changes.items())


NOW = one(name="V1", ready_at=READY)
BROKEN = one(name="V1", state="broken")
NO_HOUR = one(name="V1")
FITTING = tuple(one(name=name, state="fitting out") for name in ("C1", "C2"))
CASES = {
    "broken": (looked, dict(vehicles=(BROKEN,)), "when V1 is mended is not known"),
    "never told ready": (looked, dict(vehicles=(NO_HOUR,)), "when V1 can first dive is not known"),
    "chambers fitting out": (looked, dict(vehicles=(NOW,), chambers=FITTING),
                             "when C1 can be used is not known"),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_between_none_and_the_best_there_can_be_with_the_hour_named(name: str) -> None:
    look, changes, asked = CASES[name]
    found, best = look(**changes).outlook, looked(vehicles=(NOW,)).outlook
    assert isinstance(found.all_out, Bounds)
    assert found.all_out.at_least == 0.0
    assert found.all_out.at_most == pytest.approx(ends(best.all_out)[1])
    assert asked in found.all_out.missing
    for refuge in found.refuges:
        now = best.of(refuge.refuge)
        assert now is not None
        for what in ("nobody", "planned"):
            said, most = getattr(refuge, what), ends(getattr(now, what))[1]
            assert isinstance(said, Bounds)
            assert said.at_least is None
            assert said.at_most == pytest.approx(most)
            assert asked in said.missing
            assert not any("no lift" in other for other in said.missing)
    said = margin_sentence(found)
    assert "between 0 and" in said
    assert asked in said
    assert "less than 1 of 100" not in said


@pytest.mark.parametrize("name", CASES)
def test_every_table_holds_both_and_none_says_nought(name: str) -> None:
    look, changes, _ = CASES[name]
    found = look(**changes).outlook
    cells = [str(cell) for row in level_table(found).rows for cell in row]
    assert any("between 0 and" in cell for cell in cells)
    assert found.decisions is not None
    waiting = [row[2] for row in escape_table(found).rows if row[1] == "out in time"]
    assert all("between 0 and" in str(cell) for cell in waiting)
    assert found.decisions.latest == ()


def test_first_out_and_the_next_dive_ask_for_the_hour() -> None:
    moment = Moment(READY, READY)
    for name in ("broken", "never told ready"):
        look, changes, asked = CASES[name]
        found = look(**changes)
        first, order = first_out_answer(found, moment), next_decision_answer(found, moment)
        assert isinstance(first, NotKnown)
        assert isinstance(order, NotKnown)
        assert first.missing == order.missing == (asked,)
    # one that is broken does not dive now; of one that nobody spoke of it is not known
    assert dive_answer(looked(vehicles=(BROKEN,)), moment).value.may is False
    verdict = dive_answer(looked(vehicles=(NO_HOUR,)), moment).value
    assert verdict.may is None
    assert verdict.because == "when V1 can first dive is not known"


def test_another_vehicle_sets_the_least() -> None:
    other = one(name="V2", ready_at=READY, speed_up_m_min=5.0)
    found = looked(vehicles=(BROKEN, other)).outlook
    alone = looked(vehicles=(one(name="V1", state="lost"), other)).outlook
    for refuge in found.refuges:
        least = alone.of(refuge.refuge)
        assert least is not None
        assert isinstance(least.nobody, Number)
        assert isinstance(refuge.nobody, Bounds)
        assert refuge.nobody.at_least == pytest.approx(least.nobody.value)
        assert refuge.nobody.at_most is not None
        assert refuge.nobody.at_most > least.nobody.value


def test_the_hour_told_makes_it_a_number_again() -> None:
    told = one(name="V1", state="broken", ready_at=READY + timedelta(hours=9))
    found = looked(vehicles=(told,)).outlook
    assert isinstance(found.all_out, Number)
    assert found.undated == ()
    later, now = found.of("after"), looked(vehicles=(NOW,)).outlook.of("after")
    assert later is not None
    assert now is not None
    assert isinstance(later.nobody, Number)
    assert isinstance(now.nobody, Number)
    assert later.nobody.value == pytest.approx(now.nobody.value - 9.0, abs=0.5)


def test_a_vehicle_that_the_plan_does_not_need_bounds_nothing() -> None:
    spare = one(name="V2", state="broken")
    assert isinstance(looked(vehicles=(NOW, spare)).outlook.refuges_out, Number)


def test_a_decision_is_a_gain_only_if_it_is_one_late_and_at_once() -> None:
    told = boat()
    broken, spare = vehicle("V1", state="broken"), vehicle("V2", planned=False, ready_at=READY)
    for craft in (broken, spare.model_copy(update={"follows_chain": False})):
        told.add("survivors.vehicle", craft.model_dump(mode="json", exclude_unset=True), 0.5)
    option = {"key": "second", "title": "send V2", "add_vehicle": "V2"}
    told.add("survivors.decision", option)
    found = compute_margin(
        told.known(), {"weather": calm(READY)}, Moment(READY, READY), 400, decision_draws=400
    ).outlook.decisions
    assert found is not None
    assert found.unsure == ("when V1 is mended is not known",)
    (gain,) = found.gains
    assert gain.persons is not None
    assert gain.persons.value < 30.0  # not all it brings if V1 never dives again
