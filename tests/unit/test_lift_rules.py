"""Rules of the lifts as they are told by a tired hand: late, broken, overrun, fouled, in doubt."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import numpy as np
import pytest

from layers.contract import Moment
from layers.earth.clock import from_us, to_us
from layers.earth.errors import RecordRefused
from layers.survivors.air.endurance import RefugePeople
from layers.survivors.decisions.gain import Standing, rank
from layers.survivors.decisions.report import gain_sentences
from layers.survivors.lifts.choose import as_chosen
from layers.survivors.lifts.model import Phase
from layers.survivors.lifts.plan import read_setting
from layers.survivors.lifts.run.ground import PlanGround
from layers.survivors.lifts.run.outcome import evaluate
from layers.survivors.lifts.run.windows import NEVER
from layers.survivors.lifts.sorties.sortie import moves_of, sorties
from layers.survivors.lifts.sorties.timed import lasting
from layers.survivors.lifts.sorties.turn_back import Left, turn_back
from layers.survivors.muster.escape_or_wait import places_free
from tests.unit.lift_air import PlainAir
from tests.unit.lift_cases import NOW_US, chamber, eight_lifts, lift, limits, spread, vehicle
from tests.unit.lift_ground import ground, option
from tests.unit.test_survivors_sortie import START, Book, book, gone_down, phase

THIRTY = (
    RefugePeople(refuge="after", persons=30, stretcher=0, pressure_bar_abs=2.1, seat="clear"),
)


def plain(n_draws: int = 400, **changes: Any) -> PlanGround:
    base: dict[str, Any] = dict(people=THIRTY, air=PlainAir({"after": 200.0}, {"after": 30}))
    return ground(n_draws, **{**base, **changes})


def setting_at(made: Book, at: Any) -> Any:
    return as_chosen(read_setting(made.known(at), Moment(as_of=at, at=at), None))


# The pressure of the hour --------------------------------------------------------------------


def test_the_stay_is_that_of_the_pressure_when_the_hatch_shuts() -> None:
    people = (replace(THIRTY[0], pressure_bar_abs=1.25),)  # no stay below 1.3 bar in the table
    plan = eight_lifts(
        lifts=(lift("A", 0, "V1", "after", 15, 0), lift("B", 1, "V1", "after", 15, 0))
    )
    still = evaluate(plan, plain(people=people))
    assert still.runs.chamber.max() == -1
    rising = plain(people=people, pressure_at=lambda refuge, hours: 1.25 + 0.02 * hours)
    later = evaluate(plan, rising)
    assert later.pressures["A"] is not None
    assert later.pressures["A"] > 1.3
    assert (later.runs.chamber[:, later.runs.start_s[0] < NEVER] >= 0).all()


def test_a_pressure_beyond_the_table_by_then_stops_that_lift_and_says_so() -> None:
    people = (replace(THIRTY[0], pressure_bar_abs=2.9),)
    plan = eight_lifts(
        lifts=(lift("A", 0, "V1", "after", 15, 0), lift("B", 1, "V1", "after", 15, 0))
    )
    outcome = evaluate(
        plan, plain(people=people, pressure_at=lambda refuge, hours: 2.9 + 0.05 * hours)
    )
    assert set(outcome.stopped) == {"A", "B"}
    assert "outside schedule" in outcome.stopped["A"]


# What overruns -------------------------------------------------------------------------------


@pytest.mark.parametrize("hours", [1.5, 3.0, 5.0])
def test_a_mating_that_overruns_is_not_over_now_nor_certain(hours: float) -> None:
    at = START + timedelta(hours=hours)
    setting = setting_at(gone_down(), at)
    outcome = evaluate(setting, plain(2_000))
    left_h = outcome.runs.left_s[0] / 3600.0
    transfer_h = (13 * 1.0 + 1 * 5.0) / 60.0  # the least that the transfer takes
    assert left_h.min() > transfer_h * 0.99
    p10, p90 = np.quantile(left_h, (0.1, 0.9))
    assert p90 - p10 > 0.2
    assert outcome.runs.back_s[0].min() > outcome.runs.left_s[0].min()


def test_what_is_left_of_a_phase_is_the_conditional_distribution() -> None:
    # uniform between 0 and 100 given more than 40 is uniform between 40 and 100: textbook
    rng = np.random.default_rng(1)
    lengths = np.rint(rng.uniform(0, 100_000, 50_000)).astype(np.int64)
    found = lasting(lengths, 40_000, rng.random(50_000))
    assert found.min() > 40_000
    assert np.quantile(found, (0.1, 0.5, 0.9)) == pytest.approx([46_000, 70_000, 94_000], rel=0.02)


# Turning back --------------------------------------------------------------------------------


def test_turn_back_counts_the_power_of_the_phase_she_is_in() -> None:
    """By hand: 600 m at 20 m/min is 30 min down; launch 15; 118 kWh, 18 kW moving, 8 at the seat.

    Down takes 0.75 h and 13.5 kWh. Home: 5 min at 8 kW, then 30 min up and 20 min recovery at
    18 kW: 0.667 + 15.0 kWh. With a reserve of 30: 118 - 13.5 - 15.667 - 30 = 58.83 kWh at the
    seat, 7.354 h: so 8.104 h from the dive.
    """
    craft = vehicle(
        transit_kw=18.0, seat_kw=8.0, speed_down_m_min=20.0, speed_up_m_min=20.0, battery_kwh=150.0,
        life_support_h=40.0, launch=spread(15, 15, 15), away=spread(5, 5, 5),
        recover=spread(20, 20, 20),
    )  # fmt: skip
    dive = Left(battery_kwh=118.0, life_h=40.0, phase=Phase.DOWN, rest_min={Phase.DOWN: 45.0})
    told = turn_back(craft, 600.0, dive, NOW_US)
    assert (told.likely_us - NOW_US) / 3.6e9 == pytest.approx(8.104, abs=0.002)
    seat = Left(battery_kwh=118.0 - 13.5, life_h=39.25, phase=Phase.SEARCH, rest_min={})
    later = turn_back(craft, 600.0, seat, NOW_US + round(0.75 * 3.6e9))
    assert later.likely_us == pytest.approx(told.likely_us, abs=1e6)  # the same clock
    assert told.early_us == pytest.approx(told.likely_us, abs=1e6)  # nothing spreads here


def test_turn_back_has_a_safe_side_and_comes_before_the_seat_when_it_must() -> None:
    wide = vehicle(recover=spread(15, 20, 240))
    left = Left(battery_kwh=90.0, life_h=40.0, phase=Phase.SEARCH, rest_min={})
    told = turn_back(wide, 142.0, left, NOW_US)
    assert told.early_us < told.likely_us - 20 * 60e6
    empty = Left(battery_kwh=42.0, life_h=40.0, phase=Phase.DOWN, rest_min={Phase.DOWN: 24.0})
    soon = turn_back(vehicle(), 142.0, empty, NOW_US)
    assert soon.likely_us - NOW_US < 24 * 60e6


# Vehicles ------------------------------------------------------------------------------------


def back_on_deck() -> Book:
    made = gone_down()
    for name, minutes in ((Phase.TRANSFER, 90), (Phase.AWAY, 120), (Phase.BACK, 160)):
        more = {"chamber": "C1"} if name is Phase.BACK else {}
        made.add("sortie_phase", phase(name, **more), START + timedelta(minutes=minutes))
    return made


SIXTEEN = (replace(THIRTY[0], persons=16),)


def test_a_vehicle_broken_after_its_first_dive_waits_for_its_repair() -> None:
    made, at = back_on_deck(), START + timedelta(hours=4)
    mended = START + timedelta(hours=80)
    made.add("vehicle", vehicle("V1", state="broken", ready_at=mended), at)
    outcome = evaluate(setting_at(made, at), plain(people=SIXTEEN))
    dives = outcome.runs.start_s[1]
    assert (dives[dives < NEVER // 2] >= 76 * 3600 - 1).all()
    lost = back_on_deck()
    lost.add("vehicle", vehicle("V1", state="broken"), at)
    told = evaluate(setting_at(lost, at), plain(people=SIXTEEN))
    assert told.stopped == {"A2": "V1 is broken, with no time when mended"}
    assert [one.key for one in told.setting.lifts] == ["A1"]  # what was done stands


def test_a_vehicle_taken_out_of_the_plan_leaves_what_it_did() -> None:
    made, at = back_on_deck(), START + timedelta(hours=4)
    made.add("vehicle", vehicle("V1", planned=False), at)
    made.add("vehicle", vehicle("V2", ready_at=at, follows_chain=False), at)
    made.add("lift", lift("A2", 1, "V2", "after", 16, 0), at)
    outcome = evaluate(setting_at(made, at), plain(people=SIXTEEN))
    assert outcome.stopped == {}
    assert (outcome.runs.chamber_out_s[0] > 20 * 3600).all()  # its people are in their chamber
    early = outcome.runs.back_s[1] < outcome.runs.chamber_out_s[0]
    assert early.any()
    assert (outcome.runs.chamber[1, early] == 1).all()  # the first is not free yet


def test_a_done_lift_withdrawn_keeps_its_chamber() -> None:
    made, at = back_on_deck(), START + timedelta(hours=4)
    before = evaluate(setting_at(made, at), plain(people=SIXTEEN))
    gone = lift("A1", 0, "V1", "after", 13, 1).model_copy(update={"withdrawn": True})
    made.add("lift", gone, at)
    after = evaluate(setting_at(made, at), plain(people=SIXTEEN))
    np.testing.assert_array_equal(before.runs.chamber, after.runs.chamber)


def test_a_vehicle_that_may_be_lost_leaves_people_below_in_that_share() -> None:
    one = eight_lifts(
        lifts=(lift("A", 0, "V1", "after", 15, 0), lift("B", 1, "V1", "after", 15, 0)),
        vehicles=(vehicle("V1", loss_chance=0.2, failed_mating_chance=0.0),),
    )
    outcome = evaluate(one, plain(4_000))
    assert outcome.runs.lost[0].mean() == pytest.approx(0.2, abs=0.025)
    assert (outcome.last_left_s["after"] == NEVER).mean() == pytest.approx(1 - 0.8**2, abs=0.03)


# Chambers ------------------------------------------------------------------------------------


def test_the_smallest_chamber_that_serves_is_taken() -> None:
    plan = eight_lifts(
        lifts=(lift("A", 0, "V1", "after", 2, 0), lift("B", 1, "V1", "after", 16, 0)),
        chambers=(chamber("C1"), chamber("C2", places=6)),
    )
    people = (replace(THIRTY[0], persons=18),)
    outcome = evaluate(plan, plain(people=people))
    ran = outcome.runs.start_s[0] < NEVER
    assert (outcome.runs.chamber[0, ran] == 1).all()
    waits = (outcome.runs.start_s[1] - outcome.runs.back_s[0])[ran]
    assert np.median(waits) < 12 * 3600  # not a day: the large one is free


def test_a_chamber_is_filled_by_places_and_a_group_is_parted() -> None:
    eight = eight_lifts(
        lifts=(lift("A", 0, "V1", "after", 8, 0), lift("B", 1, "V1", "after", 6, 0)),
        chambers=(chamber("C1"),),
    )
    few = (replace(THIRTY[0], persons=14),)
    outcome = evaluate(eight, plain(people=few))
    both = (outcome.runs.start_s < NEVER).all(axis=0)
    gap = (outcome.runs.back_s[1] - outcome.runs.back_s[0])[both]
    assert np.median(gap) < 20 * 3600
    parted = eight_lifts(
        lifts=(lift("A", 0, "V1", "after", 16, 0),),
        chambers=(chamber("C1", places=12), chamber("C2", places=12)),
    )
    alone = evaluate(parted, plain(people=(replace(THIRTY[0], persons=16),)))
    ran = alone.runs.start_s[0] < NEVER
    assert alone.stopped == {}
    assert (alone.runs.shares[0, :, ran].sum(axis=1) == 16).all()
    assert (alone.runs.shares[0, :, ran].max(axis=1) == 10).all()


def test_a_chamber_fitting_out_counts_from_its_date_and_not_without_one() -> None:
    made = book()
    made.add("chamber", chamber("C2", state="fitting out"))
    at = START + timedelta(minutes=1)
    assert [c.name for c in setting_at(made, at).chambers] == ["C1"]
    made.add("chamber", chamber("C2", state="fitting out", available_at=at + timedelta(hours=9)))
    assert [c.name for c in setting_at(made, at).chambers] == ["C1", "C2"]


def test_escape_counts_the_places_that_are_free_now() -> None:
    made, at = back_on_deck(), START + timedelta(hours=4)
    outcome = evaluate(setting_at(made, at), plain(people=SIXTEEN))
    assert places_free(outcome) == 16 + 2  # C2 whole, and what fourteen leave of C1's sixteen


# What is told, late and out of order ---------------------------------------------------------


def test_the_limit_last_true_counts_not_the_one_last_typed() -> None:
    made = book()
    five, two = START + timedelta(hours=5), START + timedelta(hours=2)
    made.add("lift_limits", limits(launch_hs_m=3.0), five)
    made.add("lift_limits", limits(launch_hs_m=1.0), two)  # a late entry
    at = START + timedelta(hours=6)
    assert setting_at(made, at).limits.launch_hs_m == 3.0
    early = START + timedelta(hours=3)
    assert setting_at(made, early).limits.launch_hs_m == 1.0


@pytest.mark.parametrize(
    ("payload", "minutes", "said"),
    [
        ({"vehicle": "V7", "lift": "A1", "phase": "transfer"}, 60, "no vehicle 'V7'"),
        ({"vehicle": "V2", "lift": "A1", "phase": "transfer"}, 60, "planned for V1, not for V2"),
        ({"vehicle": "V1", "lift": "A2", "phase": "back"}, 60, "has not gone down"),
        ({"vehicle": "V1", "lift": "A1", "phase": "search"}, 60, "is past 'search'"),
        ({"vehicle": "V1", "lift": "A1", "phase": "transfer"}, 30, "'mate' was told"),
    ],
)
def test_a_phase_by_another_vehicle_or_out_of_order_is_asked_about(
    payload: dict[str, Any], minutes: int, said: str
) -> None:
    made = gone_down()
    made.add("vehicle", vehicle("V2"))
    with pytest.raises(RecordRefused, match=said):
        made.add("sortie_phase", payload, START + timedelta(minutes=minutes))


def test_a_phase_out_of_order_in_the_journal_is_left_out_and_said() -> None:
    made = back_on_deck()
    late = START + timedelta(minutes=170)
    made.add("sortie_phase", phase(Phase.UP), late, check=False)
    at = START + timedelta(hours=3)
    fact = setting_at(made, at).facts["A1"]
    assert fact.done
    assert "'up'" in fact.odd[0]
    assert sorties(made.known(at), Moment(as_of=at, at=at), setting_at(made, at)) == ()


def test_those_really_aboard_are_booked_not_the_plan() -> None:
    (moved,) = moves_of(
        Phase.AWAY, lift("A1", 0, "V1", "after"), None, aboard=(9, 2), vehicle_place="V1"
    )
    assert [(g["persons"], g["fitness"]) for g in moved["groups"]] == [
        (9, "walking"),
        (2, "stretcher"),
    ]
    assert moved["to_place"] == "V1"


# The horizon, and what gains -----------------------------------------------------------------


def test_the_air_is_looked_at_as_far_as_the_plan_runs() -> None:
    asked: list[float] = []

    class Far(PlainAir):
        def __call__(self, **told: Any) -> Any:  # type: ignore[override]  # a stand-in
            asked.append(told["horizon_h"])
            return super().__call__(**told)

    plan = eight_lifts(lifts=(lift("A", 0, "V1", "after", 15, 0),), limits=limits(horizon_h=400.0))
    evaluate(plan, plain(50, air=Far({"after": 300.0}, {"after": 30})))
    assert set(asked) == {400.0}


def test_a_slower_rescue_is_never_a_gain_and_zeros_are_said_in_a_line() -> None:
    two = (lift("A", 0, "V1", "after", 16, 0), lift("B", 1, "V1", "after", 14, 0))
    table = (option("few", people_per_lift=4), option("same", launch_hs_m=3.0),
             option("none", add_chamber="C9"))  # fmt: skip
    setting = eight_lifts(lifts=two, vehicles=(vehicle("V1"),), options=table)
    gains = {one.key: one for one in rank(setting, plain(800)).gains}
    assert gains["few"].standing is Standing.COSTS
    assert gains["same"].standing is Standing.NOTHING
    assert gains["none"].standing is Standing.CANNOT
    assert [one.key for one in rank(setting, plain(800)).gains][-1] == "none"
    said = gain_sentences(tuple(gains.values()))
    assert any("1 other changes nothing" in one for one in said)
    assert any("decision few" in one and "no gain" in one for one in said)


def test_since_when_a_decision_is_chosen_is_told() -> None:
    made = book()
    made.add("decision", option("calm", launch_hs_m=1.5))
    choice = {"chosen": ["calm"], "reason": "test", "decided_by": "SSRA"}
    made.add("plan_choice", choice, START + timedelta(hours=1))
    made.add("plan_choice", choice, START + timedelta(hours=2))
    at = START + timedelta(hours=3)
    assert setting_at(made, at).chosen_us == {"calm": to_us(START + timedelta(hours=1))}
    assert from_us(setting_at(made, at).chosen_us["calm"]) == START + timedelta(hours=1)
