"""A reading far off may only shorten what is said, from the refuge to the strip.

Written from the text: told at once and asked about; if it would shorten a time it sets the *at
least* of margin, chance and strip; if it would lengthen one it waits until somebody says so.
"""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from layers.contract import Moment
from layers.earth.uncertain import Bounds, Number, ends
from layers.survivors.compute import MarginResult, compute_margin
from layers.survivors.lifts.answers import all_out_answer, margin_answers
from tests.survivors_journal import AT, Told
from tests.unit.test_margin_unknown import SOURCE, air, boat, calm, level

COLD = {
    "name": "cold",
    "refuge": "after",
    "quantity": "low temperature",
    "temperature_c": 4.0,
    "source": SOURCE,
    "entered_by": "medical officer",
}
POISON = {
    "name": "CO",
    "refuge": "after",
    "quantity": "carbon monoxide",
    "carbon_monoxide_ppm": 50.0,
    "source": SOURCE,
    "entered_by": "medical officer",
}


DRAWS = 1_000


def looked(told: Told, hours: float) -> MarginResult:
    at = AT + timedelta(hours=hours)
    others = {"weather": calm(at)}
    return compute_margin(told.known(), others, Moment(at, at), n_draws=DRAWS)


def read(told: Told, hours: float, **changes: Any) -> str:
    return told.add("survivors.air", {**air("after", 1.3, 1.0 + 0.145 * hours), **changes}, hours)


def quiet(**more: Any) -> Told:
    told = boat(levels=(level(), COLD, POISON))
    for hours in (2.0, 4.0, 6.0):
        read(told, hours, temperature_c=9.0 - 0.1 * hours, carbon_monoxide_ppm=8.0, **more)
    read(told, 0.1, carbon_monoxide_ppm=8.0)
    return told


def after(result: MarginResult) -> Any:
    return result.outlook.of("after")


@pytest.fixture(scope="module")
def sure() -> MarginResult:
    return looked(quiet(), 8.5)


SLIPS: dict[str, dict[str, Any]] = {
    "carbon dioxide": {"carbon_dioxide": {"value": 19.8, "unit": "percent"}},
    "cold": {"temperature_c": 0.5},
    "carbon monoxide": {"carbon_monoxide_ppm": 800.0},
}


@pytest.mark.parametrize("what", ["carbon dioxide", "cold", "carbon monoxide"])
def test_a_slip_that_shortens_sets_the_least_of_margin_and_chance(
    what: str, sure: MarginResult
) -> None:
    told = quiet()
    read(told, 8.0, **SLIPS[what])
    result = looked(told, 8.5)
    one, before = after(result), after(sure)
    assert isinstance(before.nobody, Number)
    assert isinstance(one.nobody, Bounds)
    least, most = one.nobody.at_least, one.nobody.at_most
    assert least is not None
    assert most is not None
    assert least < before.nobody.value - 3.0
    assert most == pytest.approx(before.nobody.value, abs=4.0)
    assert "in doubt in after" in " ".join(one.nobody.missing)
    assert ends(one.chance)[0] < 0.05 < ends(one.chance)[1]  # type: ignore[operator]  # told in this case
    moment = Moment(result.at, result.at)
    told_margin = {a.refuge: a for a in margin_answers(result, moment)}["after"]  # type: ignore[union-attr]  # this case has one
    assert ends(told_margin.if_nobody_leaves_h) == (least, most)
    assert ends(all_out_answer(result, moment))[0] == pytest.approx(0.0, abs=0.05)
    assert isinstance(result.outlook.of("forward").nobody, Number)  # type: ignore[union-attr]  # this case has one
    assert any("Doubtful" in refuge.doubt for refuge in result.air.refuges)


@pytest.mark.parametrize(
    "changes",
    [
        {"carbon_dioxide": {"value": 0.1, "unit": "percent"}},
        {"temperature_c": 21.0},
        {"carbon_monoxide_ppm": 0.0, "temperature_c": 25.0},
    ],
)
def test_a_slip_that_lengthens_waits(changes: dict[str, Any], sure: MarginResult) -> None:
    told = quiet()
    read(told, 8.0, **changes)
    one, before = after(looked(told, 8.5)), after(sure)
    assert ends(one.nobody)[1] <= before.nobody.value + 2.0


def test_a_second_reading_or_a_person_settles_it(sure: MarginResult) -> None:
    again, adopted, settled = quiet(), quiet(), quiet()
    for told in (again, adopted, settled):
        key = read(told, 8.0, **SLIPS["cold"])
        if told is again:
            read(told, 8.2, temperature_c=0.5)
        elif told is adopted:
            told.opinion("journal.adopt", key, 8.2)
        else:
            read(told, 8.2, temperature_c=8.0)
    for told in (again, adopted):  # it stands: the level is reached
        one = after(looked(told, 8.5))
        assert one.binding == "cold"
        assert ends(one.nobody)[1] < 0.0
    one = after(looked(settled, 8.5))
    assert isinstance(one.nobody, Number)
    assert one.nobody.value == pytest.approx(after(sure).nobody.value, abs=4.0)


def test_a_doubt_counts_where_the_other_account_never_reaches_the_level() -> None:
    told = boat(levels=(COLD,))
    for hours in (2.0, 4.0, 6.0):
        read(told, hours, temperature_c=9.0)
    steady = after(looked(told, 8.5))
    read(told, 8.0, **SLIPS["cold"])
    one = after(looked(told, 8.5))
    assert ends(steady.nobody)[0] > 50.0  # an even temperature never gets there
    assert ends(one.nobody)[0] < 0.0
    assert ends(one.nobody)[1] is None or ends(one.nobody)[1] > 50.0


def test_a_temperature_slip_does_not_move_the_gas(sure: MarginResult) -> None:
    told = quiet()
    read(told, 8.0, temperature_c=40.0)
    one = looked(told, 8.5).air.of("after")
    before = sure.air.of("after")
    assert one is not None
    assert before is not None
    assert one.pressure_bar.p50 == pytest.approx(before.pressure_bar.p50, abs=0.02)
    assert timedelta(0) < one.read_at - AT
