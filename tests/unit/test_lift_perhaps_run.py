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
from layers.earth.uncertain import Bounds, NotKnown, Number, either, ends
from layers.survivors.compute import MarginResult, compute_margin
from layers.survivors.lifts.margin_model import RefugeOutlook
from tests.survivors_journal import AT, Told
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
