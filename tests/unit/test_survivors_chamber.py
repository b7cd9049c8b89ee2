"""Schedules as entered, who is in which chamber until when, and the stores aboard."""

from __future__ import annotations

import numpy as np
import pytest
from pydantic import ValidationError

from layers.earth.errors import InputError
from layers.survivors.chambers.chamber import occupancy
from layers.survivors.chambers.schedule import PressureBand, Schedule, Step, read_csv
from layers.survivors.lifts.check import remarks, stops
from layers.survivors.lifts.run.outcome import evaluate
from tests.unit.lift_cases import by_lift, chamber, eight_lifts, lift, schedule, vehicle
from tests.unit.lift_ground import PEOPLE, ground

HEAD = (
    "saturated_from_bar_abs,saturated_to_bar_abs,from_bar_abs,to_bar_abs,minutes,breathing,"
    "oxygen_fraction,oxygen_l_min\n"
)
GOOD = HEAD + "1.0,1.4,,,,,,\n1.4,2.5,2.0,1.5,600,air,0.21,0\n1.4,2.5,1.5,1.0,840,oxygen,1.0,8\n"


def read(text: str) -> Schedule:
    return read_csv(text, name="table", source="test", approved_by="nobody", invented=True)


def test_a_table_is_read_as_entered() -> None:
    table = read(GOOD)
    assert table.stay_s(1.2) == 0
    assert table.stay_s(2.1) == 24 * 3600
    assert [band.hours for band in table.bands] == [0.0, 24.0]


def test_on_a_border_the_deeper_band_counts() -> None:
    assert read(GOOD).stay_s(1.4) == 24 * 3600


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (GOOD.replace("1.4,2.5", "1.6,2.5"), "a gap between 1.4 and 1.6"),
        (GOOD.replace("1.4,2.5", "1.3,2.5"), "an overlap"),
        (GOOD.replace("1.5,1.0,840", "1.4,1.0,840"), "has a gap: a step ends at 1.5"),
        (GOOD.replace("1.5,1.0,840", "1.5,1.2,840"), "must end at the surface"),
        (GOOD.replace("2.0,1.5,600", "1.4,1.5,600"), "a step goes up"),
        (GOOD.replace("600", "ten"), "'ten' is not a number"),
        (GOOD.replace("minutes", "hours"), "no column 'minutes'"),
        (GOOD.replace("2.0,1.5,600", "20,1.5,600"), "10 or less"),
    ],
)
def test_a_bad_table_is_refused_with_a_sentence(text: str, said: str) -> None:
    with pytest.raises(InputError, match=said):
        read(text)


def test_a_pressure_outside_the_table_is_refused_and_never_stretched() -> None:
    with pytest.raises(InputError, match="outside schedule"):
        read(GOOD).band(3.0)


def test_attendants_are_counted_and_nobody_is_in_a_chamber_too_many() -> None:
    outcome = evaluate(eight_lifts(), ground(400))
    held = occupancy(outcome)
    assert held is not None
    for load in held.chambers:
        assert load.persons.max() <= load.places
        assert load.persons.max() == 14 + load.attendants


def test_oxygen_burns_down_by_as_much_as_is_breathed() -> None:
    # COMPUTED: persons and attendants at 24.516 l/h for the stay, one lift from the after refuge
    one = eight_lifts(lifts=(lift("A", 0, "V1", "after"),))
    people = (PEOPLE[0].__class__(
        refuge="after", persons=14, stretcher=1, pressure_bar_abs=2.1, seat="clear"
    ),)  # fmt: skip
    held = occupancy(evaluate(one, ground(200, people=people)))
    assert held is not None
    assert held.oxygen_m3 is not None
    used = 900.0 - held.oxygen_m3[1, -1]
    assert used == pytest.approx(16 * 24.0 * 0.024516, rel=1e-3)
    assert held.air_m3 is not None
    assert 20_000 - held.air_m3[1, -1] == pytest.approx(30.0 * 1.0)  # 30 m3 to 2 bar


def test_third_lift_from_the_after_refuge_has_nowhere_to_go_until_a_chamber_is_free() -> None:
    three = tuple(lift(f"A{n}", n, "V1", "after", 14, 0) for n in range(3))
    people = (PEOPLE[0].__class__(
        refuge="after", persons=42, stretcher=0, pressure_bar_abs=2.1, seat="clear"
    ),)  # fmt: skip
    base = ground(200, people=people)
    two = evaluate(eight_lifts(lifts=three, chambers=(chamber("C1"), chamber("C2"))), base)
    more = evaluate(
        eight_lifts(lifts=three, chambers=(chamber("C1"), chamber("C2"), chamber("C3"))), base
    )
    waited = two.runs.back_s[2] - two.runs.back_s[0]
    assert (waited >= 24 * 3600).all()
    assert np.median(more.runs.back_s[2]) < np.median(two.runs.back_s[2]) - 6 * 3600


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        (dict(lifts=(lift("A", 0, "V1", "after", 14, 1),)), "want 17 seats, V1 has 16"),
        (dict(lifts=(lift("A", 0, "V1", "after", 1, 5),)), "5 stretcher cases have no seats"),
        (
            dict(vehicles=(vehicle("V1", battery_kwh=45.0), vehicle("V2"))),
            "kWh above its reserve",
        ),
        (
            dict(vehicles=(vehicle("V1", max_pressure_bar_abs=2.0), vehicle("V2"))),
            "takes at most 2",
        ),
        (dict(chambers=(chamber("C1", places=12),)), "the chambers have 10 beside"),
    ],
)
def test_a_plan_that_cannot_run_is_refused_with_the_figure(
    changes: dict[str, object], said: str
) -> None:
    setting = eight_lifts(**changes)
    found = stops(setting, by_lift(setting), {})
    assert found
    assert said in next(iter(found.values()))


def test_pressure_is_matched_between_0_8_and_5_atmospheres() -> None:
    # common practice, no source: a vehicle matches 0.8 to 5 atmospheres
    plan = eight_lifts(schedule=None)
    assert stops(plan, by_lift(plan, {"after": 4.99, "forward": 0.95}), {}) == {}
    over = stops(plan, by_lift(plan, {"after": 5.1, "forward": 1.0}), {})
    assert set(over) == {"L0", "L1", "L4", "L5"}  # those from after; the others stand
    assert all("takes at most 5" in why for why in over.values())


def test_what_a_plan_leaves_out_is_said() -> None:
    bare = eight_lifts(
        lifts=(lift("A", 0, "V1", "after", 13, 1),),
        vehicles=(vehicle("V1", ballast_kg=1000.0),),
        schedule=None,
        chambers=(chamber("C1", attendants=9),),
    )
    people = (PEOPLE[0].__class__(
        refuge="after", persons=30, stretcher=1, pressure_bar_abs=None, seat="fouled"
    ),)  # fmt: skip
    said = " ".join(remarks(bare, bare, people, {}))
    assert "No lift is planned for 16 of the 30 in after." in said
    assert "The rescue seat of after is fouled." in said
    assert "takes on 1260 kg, V1 can give up only 1000 kg" in said
    assert "No decompression schedule is loaded" in said
    assert "want 9 attendants at once, S has 8" in said


def test_ballast_given_up_is_the_weight_of_those_lifted() -> None:
    # common practice, no source
    from layers.survivors.lifts.sorties.energy import ballast_kg

    assert ballast_kg(vehicle(person_kg=90.0), 13, 1) == 14 * 90.0


def test_a_step_that_is_not_finite_is_refused() -> None:
    with pytest.raises(ValidationError):
        Step(
            from_bar_abs=float("nan"),
            to_bar_abs=1.0,
            minutes=5.0,
            breathing="air",
            oxygen_fraction=0.21,
        )
    with pytest.raises(ValidationError, match="runs backwards"):
        PressureBand(saturated_from_bar_abs=2.0, saturated_to_bar_abs=1.0)


def test_the_test_table_itself_has_no_gap() -> None:
    assert schedule().stay_s(2.1) == 24 * 3600


def test_people_out_already_keep_the_stay_of_the_table_when_the_refuge_floods_on() -> None:
    table = read(GOOD)
    assert table.nearest(3.4) == table.band(2.5)
    assert table.nearest(0.95) == table.band(1.0)
    assert table.nearest(2.1) == table.band(2.1)
