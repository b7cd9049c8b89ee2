"""What a margin says when something is taken away, comes late or speaks against the rest.

Written from a trial's findings, in a world of its own: two refuges of 29 and 21, everything told,
a calm sea. Whatever takes knowledge away, or tells of something worse, may widen what is said and
never make it more hopeful; nobody falls out of the sum or is in it twice.
"""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from layers.contract import Moment
from layers.earth.uncertain import Bounds, Number, ends
from layers.survivors.compute import MarginResult, compute_margin
from layers.survivors.decisions.gain import Gain, Standing
from layers.survivors.decisions.report import gain_sentences, regret_table
from layers.survivors.lifts.margin_model import RefugeOutlook
from tests.survivors_journal import AT, Told
from tests.unit.lift_cases import chamber, lift, limits, schedule, vehicle
from tests.unit.test_margin_unknown import air, calm

SOURCE = "exercise annex, invented"
LIFTS = (
    lift("A1", 0, "V1", "after", 15, 0),
    lift("A2", 1, "V1", "after", 14, 0),
    lift("F1", 2, "V1", "forward", 16, 0),
    lift("F2", 3, "V1", "forward", 5, 0),
)
DOWN_TO_TRANSFER = (("down", 15.2), ("mate", 16.0), ("transfer", 16.3))
# volume 320 m³, 29 persons, 21.5 litres an hour each of oxygen at a respiratory quotient of 0.85
READ = ((1.1, 1.45, 18.6, 1.30), (5.0, 1.45, 18.1, 1.75), (9.0, 1.45, 17.6, 2.22))


def level(name: str, quantity: str, value: float, unit: str) -> dict[str, Any]:
    gas = {"value": value, "unit": unit}
    return {"name": name, "quantity": quantity, "gas": gas, "source": SOURCE,
            "entered_by": "medical officer"}  # fmt: skip


def craft(name: str, ready_h: float, **more: Any) -> dict[str, Any]:
    ready = AT + timedelta(hours=ready_h)
    made = vehicle(name, ready_at=ready, follows_chain=False, loss_chance=0.0, **more)
    return made.model_dump(mode="json")


def told(*, unread: tuple[str, ...] = (), second: bool = False, **options: Any) -> Told:
    journal = Told()
    journal.complement("list", 50)
    for refuge, persons in (("after", 29), ("forward", 21)):
        room = {"refuge": refuge, "free_volume_m3": 320.0 if refuge == "after" else 380.0,
                "spread_percent": 8.0, "depth_m": 142.0}  # fmt: skip
        journal.move("not accounted for", refuge, [(persons, "walking")], 1.0)
        journal.add("survivors.compartment", room, 1.0)
        clear = {"seat": refuge[0].upper(), "refuge": refuge, "state": "clear"}
        journal.add("survivors.seat", clear, 1.0)
        lime = {"item": "absorbent", "chemical": "soda lime", "mass_kg": 60.0, "efficiency": 0.7}
        candles = {"item": "oxygen candles", "count": 6, "oxygen_kg_each": 2.0}
        for stock, unit, kept in ((lime, "sev_percent", 4.5), (candles, "kPa", 18.0)):
            held = {"refuge": refuge, "stock": stock, "held_at": {"value": kept, "unit": unit}}
            journal.add("survivors.stores", held, 1.0)
        if refuge not in unread:
            for hours, bar, o2, co2 in READ:
                reading = air(refuge, bar if refuge == "after" else 1.25, co2)
                reading["oxygen"]["value"] = o2
                journal.add("survivors.air", reading, hours)
    journal.add("survivors.level", level("CO2", "carbon dioxide", 6.0, "sev_percent"), 1.0)
    journal.add("survivors.level", level("low O2", "low oxygen", 15.0, "kPa"), 1.0)
    journal.add("survivors.place", {"name": "V1", "sort": "vehicle"}, 2.0)
    journal.add("survivors.vehicle", craft("V1", 15.0), 2.0)
    if second:
        journal.add("survivors.vehicle", craft("V2", 30.0), 2.0)
    for name in ("C1", "C2"):
        journal.add("survivors.chamber", chamber(name).model_dump(mode="json"), 2.0)
    journal.add("survivors.schedule", schedule().model_dump(mode="json"), 2.0)
    journal.add("survivors.lift_limits", limits().model_dump(mode="json"), 2.0)
    for one in LIFTS:
        journal.add("survivors.lift", one.model_dump(mode="json"), 3.0)
    for key, change in options.items():
        journal.add("survivors.decision", {"key": key, "title": key, **change}, 9.0)
    return journal


def looked(
    journal: Told, hours: float = 10.0, decision_draws: int = 0, sea: bool = True
) -> MarginResult:
    at = AT + timedelta(hours=hours)
    others = {"weather": calm(at)} if sea else {}
    return compute_margin(journal.known(), others, Moment(at, at), 600, decision_draws)


def refuge(found: MarginResult, name: str = "after") -> RefugeOutlook:
    one = found.outlook.of(name)
    assert one is not None
    return one


def read_again(journal: Told, hours: float, co2: float = 3.3, o2: float = 16.2) -> None:
    reading = air("after", 1.44, co2)
    reading["oxygen"]["value"] = o2
    journal.add("survivors.air", reading, hours)


def test_with_everything_told_the_answers_are_numbers() -> None:
    found = looked(told()).outlook
    assert isinstance(found.all_out, Number)
    assert all(isinstance(one.nobody, Number) for one in found.refuges)


# 6 % SEV is 6.08 kPa: 3.9, 4.45 and 4.7 % of 1.44 bar are 5.6, 6.4 and 6.8 kPa. The people were
# said to hold 4.5 % SEV by their absorbent.
def test_readings_that_creep_past_a_level_are_not_explained_away() -> None:
    journal = told()
    read_again(journal, 20.0, co2=3.9)
    assert isinstance(refuge(looked(journal, 20.2)).nobody, Number)
    for hours, co2 in ((24.0, 4.45), (26.0, 4.7)):
        read_again(journal, hours, co2=co2)
        found = looked(journal, hours + 0.2)
        least, _ = ends(refuge(found).nobody)
        assert least is not None
        assert least < 0.0  # reached now by the reading, and the last is out in hours
        assert ends(found.outlook.all_out)[0] == 0.0
        one = found.air.of("after")
        assert one is not None
        assert "Read as reached: the level 'CO2'" in one.doubt


@pytest.mark.parametrize(("co2", "o2"), [(5.5, 16.2), (3.3, 10.2)])
def test_a_reading_past_a_level_is_not_denied_by_stores_that_are_left(
    co2: float, o2: float
) -> None:
    journal = told()
    read_again(journal, 20.0, co2=co2, o2=o2)  # 7.9 kPa of carbon dioxide; 14.7 kPa of oxygen
    one = looked(journal, 20.5).air.of("after")
    assert one is not None
    assert min(level.at_least_h for level in one.levels if level.at_least_h is not None) == 0.0


def test_a_level_read_as_past_and_then_read_again_as_not_is_settled() -> None:
    journal = told()
    read_again(journal, 20.0, co2=5.5)
    read_again(journal, 22.0, co2=3.2)
    assert isinstance(refuge(looked(journal, 22.2)).nobody, Number)


def test_people_in_a_refuge_told_flooded_are_not_out_in_time_for_certain() -> None:
    journal = told()
    journal.add("survivors.water", {"refuge": "after", "state": "flooded"}, 9.5)
    found = looked(journal)
    assert ends(refuge(found).nobody)[0] is None
    assert ends(refuge(found).chance)[0] == 0.0
    assert ends(found.outlook.all_out)[0] == 0.0
    out = found.outlook.out_in_time
    assert isinstance(out, Bounds)
    assert out.at_least is not None
    assert out.at_least < 22.0  # those of the other refuge
    assert any("are alive there" in asked for asked in out.missing)


def test_who_is_counted_and_by_a_later_headcount_is_not_there_stays_in_the_sum() -> None:
    journal = told()
    journal.report("after", 25, 9.6)
    found = looked(journal).outlook
    assert found.to_bring == 50
    assert isinstance(found.all_out, Bounds)
    assert found.all_out.at_least == 0.0
    assert isinstance(found.out_in_time, Bounds)
    least, most = found.out_in_time.at_least, found.out_in_time.at_most
    assert least is not None
    assert most is not None
    assert most - least == pytest.approx(4.0, abs=0.01)
    assert "25 or 29 in after, the larger counted" in found.all_out.missing


def gone(journal: Told, *phases: tuple[str, float], away_h: float | None = None) -> Told:
    for phase, hours in phases:
        said = {"vehicle": "V1", "lift": "A1", "phase": phase}
        journal.add("survivors.sortie_phase", said, hours)
    if away_h is not None:
        said = {"vehicle": "V1", "lift": "A1", "phase": "away"}
        aboard = {"walking_aboard": 15, "stretcher_aboard": 0}
        journal.add("survivors.sortie_phase", {**said, **aboard}, away_h)
    return journal


@pytest.mark.parametrize("phases", [1, 2, 3])
def test_who_is_moved_aboard_is_not_fetched_a_second_time_in_the_same_lift(phases: int) -> None:
    known = gone(told(), *DOWN_TO_TRANSFER, away_h=16.8)
    known.move("after", "V1", [(15, "walking")], 16.8)
    untold = gone(told(), *DOWN_TO_TRANSFER[:phases])
    untold.move("after", "V1", [(15, "walking")], 16.8)
    true, found = (looked(one, 17.2) for one in (known, untold))
    last = [refuge(one).last_left_h for one in (true, found)]
    assert last[0] is not None
    assert last[1] is not None
    # the other 14 need lift A2 whether or not somebody told that the hatch of A1 is shut
    assert last[1].p50 > last[0].p50 - 0.1
    assert not [said for said in found.outlook.remarks if "have room for" in said]


def lost(journal: Told) -> Told:
    journal.add("survivors.vehicle", craft("V1", 15.0, state="lost"), 17.3)
    return journal


def test_who_was_moved_into_a_vehicle_that_is_lost_is_neither_fetched_again_nor_forgotten() -> None:
    journal = gone(told(second=True), *DOWN_TO_TRANSFER)
    journal.move("after", "V1", [(15, "walking")], 16.8)
    found = looked(lost(journal), 18.0).outlook
    assert found.to_bring == 50
    assert "15 in V1, which is lost" in found.all_out.missing  # type: ignore[union-attr]
    assert ends(found.all_out)[0] == 0.0
    assert not [one for one in found.lifts if one.key.startswith("A1 by")]


def test_who_was_reported_aboard_a_lost_vehicle_and_not_moved_is_in_the_sum_once() -> None:
    journal = gone(told(second=True), *DOWN_TO_TRANSFER, away_h=16.8)
    assert looked(lost(journal), 18.0).outlook.to_bring == 50


def test_the_lifts_of_a_lost_vehicle_do_not_stand_beside_those_that_take_them_over() -> None:
    found = looked(lost(gone(told(second=True), *DOWN_TO_TRANSFER[:1])), 18.0).outlook
    assert [one for one in found.lifts if one.key.startswith("A1 by")]
    assert not [said for said in found.remarks if "have room for" in said]


FORWARD_FIRST = {"order": {"refuge_order": ("forward", "after")}}


def gains(journal: Told, sea: bool = True) -> dict[str, Gain]:
    decisions = looked(journal, decision_draws=600, sea=sea).outlook.decisions
    assert decisions is not None
    return {gain.key: gain for gain in decisions.gains}


def test_with_a_refuge_unread_what_helps_it_and_costs_the_other_is_neither_gain_nor_cost() -> None:
    assert gains(told(**FORWARD_FIRST))["order"].standing is Standing.COSTS
    gain = gains(told(unread=("forward",), **FORWARD_FIRST))["order"]
    assert gain.standing is Standing.OPEN
    (said,) = gain_sentences((gain,))
    assert "the last of forward" in said
    assert "sooner" in said
    assert "no gain" not in said


def test_with_no_refuge_read_the_order_cannot_be_said_and_slower_for_both_is_no_gain() -> None:
    few = {"few": {"people_per_lift": 8}}
    found = gains(told(unread=("forward", "after"), **FORWARD_FIRST, **few))
    assert found["order"].standing is Standing.OPEN
    assert found["few"].standing is Standing.COSTS


def test_without_a_forecast_a_higher_limit_of_the_sea_is_not_said_to_change_nothing() -> None:
    found = gains(told(high={"launch_hs_m": 3.5}), sea=False)["high"]
    assert found.standing is Standing.CANNOT
    assert "no forecast of the sea" in found.reason


SHUT = (*DOWN_TO_TRANSFER, ("away", 16.8))


@pytest.mark.parametrize("counted", [True, False])
@pytest.mark.parametrize("back", [False, True])
def test_who_is_told_aboard_and_not_moved_may_be_out_or_still_below(
    counted: bool, back: bool
) -> None:
    """The hatch is told shut behind 15, and the muster has all 29 in the refuge yet."""
    journal = gone(told(), *DOWN_TO_TRANSFER, away_h=16.8) if counted else gone(told(), *SHUT)
    if back:
        gone(journal, ("up", 17.0), ("recover", 17.6), ("back", 18.2))
    found = looked(journal, 18.4)
    out, there = found.outlook.out_in_time, refuge(found)
    moved = gone(told(), *DOWN_TO_TRANSFER, away_h=16.8)
    moved.move("after", "V1", [(15, "walking")], 16.8)
    true = looked(moved, 18.4)
    assert found.outlook.to_bring == 50
    for said, if_out in ((found.outlook.all_out, true.outlook.all_out),
                         (there.chance, refuge(true).chance)):  # fmt: skip
        assert isinstance(said, Bounds)
        assert said.at_least == 0.0
        assert said.at_most == pytest.approx(ends(if_out)[1], abs=0.05)
        assert any("15 of lift A1" in asked for asked in said.missing)
    assert isinstance(out, Bounds)
    if_out = ends(true.outlook.out_in_time)[1]
    assert if_out is not None
    assert out.at_most == pytest.approx(if_out + 15, abs=0.5)
    assert out.at_most - out.at_least == pytest.approx(15.0, abs=1.0)  # type: ignore[operator]
    assert any("move them in the muster" in remark for remark in found.outlook.remarks)


def test_who_is_told_aboard_and_moved_is_not_asked_about() -> None:
    journal = gone(told(), *DOWN_TO_TRANSFER, away_h=16.8)
    journal.move("after", "V1", [(15, "walking")], 16.9)
    found = looked(journal, 18.4).outlook
    assert isinstance(found.all_out, Number)
    assert not any("still booked" in remark for remark in found.remarks)


def test_of_fifteen_aboard_of_whom_ten_were_moved_five_are_asked_about() -> None:
    journal = gone(told(), *DOWN_TO_TRANSFER, away_h=16.8)
    journal.move("after", "V1", [(10, "walking")], 16.9)
    found = looked(journal, 18.4).outlook
    assert isinstance(found.all_out, Bounds)
    assert any("the 5 of lift A1" in asked for asked in found.all_out.missing)
    assert found.to_bring == 40


def test_with_people_told_aboard_and_not_moved_the_decisions_hold_both() -> None:
    journal = gone(told(few={"people_per_lift": 8}), *DOWN_TO_TRANSFER, away_h=16.8)
    decisions = looked(journal, 18.4, decision_draws=600).outlook.decisions
    assert decisions is not None
    assert any("15 of lift A1" in asked for asked in decisions.unsure)


@pytest.mark.parametrize("unread", [("forward", "after"), ("forward",)])
def test_regret_is_not_told_in_persons_of_whose_air_nothing_is_known(
    unread: tuple[str, ...],
) -> None:
    outlook = looked(told(unread=unread, **FORWARD_FIRST), decision_draws=300).outlook
    table = regret_table(outlook)
    if len(unread) == 2:
        assert table.rows
        assert all("not known" in str(cell) for row in table.rows for cell in row[1:])
        return
    assert all("without those in forward" in head for head in table.heads[1:-1])
    assert float(str(table.rows[0][1]).split()[0]) > 20.0  # of the 29 in after
