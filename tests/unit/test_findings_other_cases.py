"""Other cases of what once was wrong: each of a kind that one case alone had covered."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import numpy as np
import pytest

from layers.contract import Moment
from layers.earth.clock import to_us
from layers.earth.errors import RecordRefused
from layers.earth.uncertain import Bounds, NotKnown, ends
from layers.survivors.air.formulas import air_outlook
from layers.survivors.air.report import refuge_sentence, sentence
from layers.survivors.compute import MarginResult, compute_margin
from layers.survivors.decisions.gain import Standing, rank
from layers.survivors.lifts.choose import as_chosen
from layers.survivors.lifts.margin import ground_of
from layers.survivors.lifts.model import Phase
from layers.survivors.lifts.plan import read_setting
from layers.survivors.lifts.report import margin_sentence
from layers.survivors.lifts.run.outcome import evaluate
from layers.survivors.lifts.run.windows import NEVER
from layers.survivors.lifts.spread import margin_words
from layers.survivors.muster.muster import muster
from tests.survivors_journal import AT, Told
from tests.unit.lift_cases import chamber, eight_lifts, lift, spread, vehicle
from tests.unit.lift_ground import option
from tests.unit.test_lift_rules import THIRTY, back_on_deck, plain, setting_at
from tests.unit.test_margin_unknown import air, boat, calm, level
from tests.unit.test_survivors_sortie import START, book, gone_down, phase


def looked(told: Told, hours: float = 1.0) -> MarginResult:
    at = AT + timedelta(hours=hours)
    return compute_margin(
        told.known(), {"weather": calm(at)}, Moment(at, at), 1_000, decision_draws=0
    )


# A1: what is not known is no safety


def test_a_refuge_whose_only_level_is_of_a_gas_nobody_read_has_no_margin() -> None:
    sulphide = {"name": "H2S", "quantity": "other gas", "gas_name": "hydrogen sulphide",
                "ppm": 20.0, "source": "annex", "entered_by": "doctor"}  # fmt: skip
    found = looked(boat(levels=(sulphide,))).outlook
    for one in found.refuges:
        assert isinstance(one.nobody, NotKnown)
    assert isinstance(found.all_out, Bounds | NotKnown)
    assert ends(found.all_out)[0] in (None, 0.0)


# A2: every level binds, one that is reached is said first


def test_a_pressure_level_that_is_reached_binds_and_is_said_first() -> None:
    bar = {"name": "pressure", "quantity": "pressure", "source": "annex", "entered_by": "doctor",
           "pressure": {"value": 1.2, "unit": "bar", "reference": "absolute"}}  # fmt: skip
    result = looked(boat(levels=(level(), bar)))
    for one in result.outlook.refuges:
        assert one.binding == "pressure"
        assert ends(one.nobody)[1] is not None
        assert ends(one.nobody)[1] <= 0.0
        assert ends(one.chance)[1] == 0.0
    first = "Forward refuge: 'pressure' (1.20 bar absolute) IS REACHED. After refuge: 'pressure' "
    assert sentence(result.air).startswith(first)


# A3: who has left breathes no more, from the hour of that draw


def test_what_leaving_gives_is_worth_in_each_draw_what_its_own_hours_are() -> None:
    """Person-hours to a level are one sum in a draw, whoever breathes them.

    Two refuges by turns of one vehicle that breaks often: the hours spread over days. Where all
    breathe alike, people times the hours if nobody leaves is the sum of the hours that each stays.
    """
    told = boat(levels=(level(percent=5.0),), lifts=(
        lift("A1", 0, "V1", "after", 9, 0), lift("F1", 1, "V1", "forward", 12, 0),
        lift("A2", 2, "V1", "after", 9, 0), lift("F2", 3, "V1", "forward", 8, 0),
        lift("A3", 4, "V1", "after", 12, 0),
    ))  # fmt: skip
    craft = vehicle("V1", ready_at=AT + timedelta(hours=2), follows_chain=False,
                    failure_chance=0.5, repair=spread(300.0, 900.0, 1_800.0))  # fmt: skip
    told.add("survivors.vehicle", craft.model_dump(mode="json"))
    at = AT + timedelta(hours=1)
    known, moment, others = told.known(), Moment(at, at), {"weather": calm(at)}
    air_, people = air_outlook(known, moment, n_draws=800), looked(told).refuges
    ground = ground_of(others, people, air_.model, 800, 7, to_us(at) + round(240 * 3.6e9))
    out = evaluate(as_chosen(read_setting(known, moment, None)), ground)
    for refuge, persons in (("after", 30), ("forward", 20)):
        alone_h, limit_h = out.alone_s[refuge] / 3600.0, out.limit_s[refuge] / 3600.0
        goes = out.lifts_of(refuge)
        left_h = np.sort(out.runs.left_s[goes] / 3600.0, axis=0)
        sizes = np.take_along_axis(
            np.repeat(out.persons[goes][:, None], 800, axis=1),
            np.argsort(out.runs.left_s[goes], axis=0), axis=0,
        )  # fmt: skip
        ends = (limit_h < 238.0) & (alone_h > 0.0)
        assert ends.mean() > 0.5
        stayed = sizes[-1] * limit_h + (sizes[:-1] * np.minimum(left_h[:-1], limit_h)).sum(axis=0)
        ratio = (stayed / (persons * alone_h))[ends]
        assert np.quantile(np.abs(ratio - 1.0), 0.9) < 0.08  # sleep and waking, draw by draw
        # and not by the middle hours: those of another draw fit worse
        other = np.minimum(np.roll(left_h[:-1], 1, axis=1), limit_h)
        wrong = (sizes[-1] * limit_h + (sizes[:-1] * other).sum(axis=0)) / (persons * alone_h)
        far = [float(np.quantile(np.abs(one - 1.0), 0.9)) for one in (ratio, wrong[ends])]
        assert far[1] > 1.3 * far[0]


# A6: an overrun is not over now


@pytest.mark.parametrize("name", [Phase.TRANSFER, Phase.UP, Phase.RECOVER])
def test_a_phase_that_overruns_is_never_over_at_this_moment(name: Phase) -> None:
    made = gone_down()
    made.add("sortie_phase", phase(name, walking_aboard=14), START + timedelta(minutes=100))
    at = START + timedelta(hours=8)
    ran = evaluate(setting_at(made, at), plain(1_000)).runs
    last = ran.left_s if name is Phase.TRANSFER else ran.back_s
    hours = last[0] / 3600.0
    assert hours.min() >= 0.0
    assert np.median(hours) > 0.1
    assert np.quantile(hours, 0.9) - np.quantile(hours, 0.1) > 0.2


# A8: a vehicle that breaks and works again


def test_a_vehicle_told_to_work_again_dives_as_before() -> None:
    made, at = back_on_deck(), START + timedelta(hours=4)
    made.add("vehicle", vehicle("V1", state="broken", ready_at=START), at)
    made.add("vehicle", vehicle("V1", ready_at=START), at + timedelta(minutes=30))
    few = (replace(THIRTY[0], persons=16),)
    again = evaluate(setting_at(made, at + timedelta(hours=1)), plain(people=few))
    assert again.stopped == {}
    assert (again.runs.start_s[1] < 30 * 3600).mean() > 0.9


# A10: stores


def stored(*told_at: tuple[str, dict[str, Any], float]) -> float:
    """Return what absorbent still takes, kg of carbon dioxide, in the middle of the draws."""
    told = boat(stores=())
    for kind, payload, hours in told_at:
        told.add(f"survivors.{kind}", {"refuge": "after", **payload}, hours)
    at = AT + timedelta(hours=3)
    found = air_outlook(told.known(), Moment(at, at), n_draws=500)
    one = found.of("after")
    assert one is not None
    (left,) = (pool.left_kg.p50 for pool in one.stores if pool.store == "absorbent")
    return left


def lime(kg: float) -> dict[str, Any]:
    return {"item": "absorbent", "chemical": "soda lime", "mass_kg": kg, "efficiency": 0.7}


def test_used_before_and_after_a_pod_adds_up_in_whatever_order() -> None:
    pod = {"pod": "P1", "state": "taken in", "contents": [lime(40.0)]}
    used = {"item": "absorbent", "unit": "kg", "amount": 10.0}
    mixed = stored(("stores", {"stock": lime(30.0)}, 0.2), ("stores_used", used, 0.4),
                   ("pod", pod, 0.6), ("stores_used", {**used, "amount": 45.0}, 2.9))  # fmt: skip
    counted = stored(("stores", {"stock": lime(30.0)}, 0.2), ("pod", pod, 0.6),
                     ("stores", {"stock": lime(15.0)}, 2.9))  # fmt: skip
    assert mixed == pytest.approx(counted, rel=0.05)


# A12, A26: who fits


def test_people_of_whom_nobody_said_whether_they_walk_make_it_at_most() -> None:
    told = boat()
    told.move("forward", "forward", [(6, "unknown", "walking")])
    found = looked(told).outlook.of("forward")
    assert found is not None
    assert isinstance(found.chance, Bounds)
    assert found.chance.at_least == 0.0
    assert any("walk or lie" in said for said in found.chance.missing)


def test_who_is_dead_goes_to_no_chamber_unasked() -> None:
    told = boat()
    told.move("after", "dead", [(1, "dead", "walking")])
    with pytest.raises(RecordRefused):
        told.move("dead", "chamber 1", [(1, "walking")])


# A13: chambers


def test_a_chamber_whose_fitting_out_is_past_its_date_serves() -> None:
    made = book()
    past = START - timedelta(hours=1)
    made.add("chamber", chamber("C2", state="fitting out", available_at=past))
    assert [c.name for c in setting_at(made, START + timedelta(minutes=1)).chambers] == ["C1", "C2"]


def test_three_stretchers_of_three_places_each_fill_a_chamber_of_nine() -> None:
    few = (replace(THIRTY[0], persons=9, stretcher=3),)
    made = book()
    for name in ("C1", "C2"):
        made.add("chamber", chamber(name, places=11, stretcher_places=3))
    made.add("lift", lift("A1", 0, "V1", "after", 0, 3))
    made.add("lift", lift("A2", 1, "V1", "after", 6, 0))
    ran = evaluate(setting_at(made, START + timedelta(minutes=1)), plain(300, people=few))
    both = (ran.runs.start_s < NEVER // 2).all(axis=0)
    assert (ran.runs.shares[0, :, both].max(axis=1) == 9).all()
    assert (ran.runs.chamber[0, both] != ran.runs.chamber[1, both]).all()


# A16: a gas that was not read


def test_of_one_gas_read_alone_the_other_is_never_spoken() -> None:
    told = boat(read=("forward",))
    only = {key: value for key, value in air("after").items() if key != "oxygen"}
    told.add("survivors.air", only)
    result = looked(told)
    one = result.air.of("after")
    assert one is not None
    assert one.oxygen_kpa is None
    assert "oxygen" not in refuge_sentence(one).split(";")[0]
    assert one.co2_sev_percent is not None


# A19: schedules


def table(*steps: dict[str, Any]) -> dict[str, Any]:
    whole = [
        {"minutes": 60.0, "breathing": "air", "oxygen_fraction": 0.21, **step} for step in steps
    ]
    band = {"saturated_from_bar_abs": 1.3, "saturated_to_bar_abs": 2.5, "steps": whole}
    return {"name": "t", "source": "annex", "approved_by": "doctor", "invented": True,
            "bands": [band]}  # fmt: skip


@pytest.mark.parametrize(
    ("step", "said"),
    [
        (dict(breathing="oxygen", oxygen_fraction=0.5), "oxygen with an oxygen fraction of 0.5"),
        (dict(oxygen_fraction=0.4), "air with an oxygen fraction of 0.4"),
        (dict(breathing="nitrox", oxygen_fraction=1.0, from_bar_abs=3.2), "nitrox"),
        (dict(breathing="oxygen", oxygen_fraction=1.0, from_bar_abs=4.0), "bar of oxygen"),
    ],
)
def test_a_gas_that_is_not_what_it_is_called_or_nobody_breathes_is_refused(
    step: dict[str, Any], said: str
) -> None:
    told = table({"from_bar_abs": 2.5, "to_bar_abs": 1.0, **step})
    with pytest.raises(RecordRefused, match=said):
        Told().add("survivors.schedule", told)


def test_a_table_that_begins_below_what_they_sat_at_is_said_on_the_page() -> None:
    told = boat()
    told.add("survivors.schedule", table({"from_bar_abs": 1.5, "to_bar_abs": 1.0}), 0.5)
    said = looked(told).outlook.remarks
    assert any("begins at 1.5 bar abs: who sat above that drops to it" in one for one in said)


# A20: what the plan names is a place


def test_a_chamber_on_the_table_only_or_called_by_another_case_takes_those_aboard() -> None:
    told = boat()
    spare = chamber("port deck chamber", planned=False).model_dump(mode="json")
    told.add("survivors.chamber", spare)
    told.add("survivors.vehicle", vehicle("V2", planned=False).model_dump(mode="json"))
    told.move("after", "V2", [(5, "walking")], 1.0)  # taken over from the table, told in a hurry
    told.move("V2", "port deck chamber", [(5, "walking")], 2.0)
    at = AT + timedelta(hours=3)
    found = muster(told.known(), Moment(at, at)).by_place
    assert (found["port deck chamber"], found["V2"], found["after"]) == (5, 0, 25)
    assert sum(found.values()) == 50
    with pytest.raises(RecordRefused, match="port deck chamber"):  # says what there is
        told.move("after", "starboard deck chamber", [(2, "walking")], 2.5)


# A5, A11: the pressure then, and slower is no gain


def test_a_refuge_that_is_vented_by_then_needs_no_stay() -> None:
    plan = eight_lifts(
        lifts=(lift("A", 0, "V1", "after", 15, 0), lift("B", 1, "V1", "after", 15, 0))
    )
    falling = plain(pressure_at=lambda refuge, hours: max(2.1 - 0.6 * hours, 1.0))
    held, vented = evaluate(plan, plain()).runs, evaluate(plan, falling).runs
    assert (held.chamber[:, held.start_s[0] < NEVER // 2] >= 0).any()
    assert vented.chamber.max() == -1


@pytest.mark.parametrize("people", [4, 7, 12])
def test_fewer_people_a_lift_never_gain_where_all_come_out_either_way(people: int) -> None:
    two = (lift("A", 0, "V1", "after", 16, 0), lift("B", 1, "V1", "after", 14, 0))
    calmer = option("few", people_per_lift=people)
    setting = eight_lifts(lifts=two, vehicles=(vehicle("V1"),), options=(calmer,))
    (gain,) = rank(setting, plain(800)).gains
    assert gain.standing is not Standing.GAINS


# A22, A23: order and lateness


def test_a_late_word_of_a_chamber_does_not_take_away_a_newer_one() -> None:
    made = book()
    five, two = START + timedelta(hours=5), START + timedelta(hours=2)
    made.add("chamber", chamber("C2", places=30), five)
    made.add("chamber", chamber("C2", state="out of order"), two)  # told late
    at = START + timedelta(hours=6)
    assert {c.name: c.places for c in setting_at(made, at).chambers}["C2"] == 30
    assert [c.name for c in setting_at(made, START + timedelta(hours=3)).chambers] == ["C1"]


def test_a_lift_given_up_cannot_be_back_with_people() -> None:
    made = gone_down()
    made.add("sortie_phase", phase(Phase.GIVEN_UP), START + timedelta(minutes=120))
    with pytest.raises(RecordRefused, match="has not gone down"):
        made.add("sortie_phase", phase(Phase.BACK), START + timedelta(minutes=130))


# A25: words


@pytest.mark.parametrize(
    ("hours", "said"),
    [(-0.001, "1 min short"), (0.0, "0 min to spare"), (1.999, "119 min to spare"),
     (2.0, "2 h to spare"), (-1.999, "2 h short"), (-2.01, "3 h short"), (47.99, "47 h to spare")],
)  # fmt: skip
def test_a_margin_is_rounded_to_the_bad_side(hours: float, said: str) -> None:
    assert margin_words(hours) == said


# A9, A24: one thing that cannot be


def test_a_vehicle_too_weak_for_one_refuge_leaves_the_other_its_number() -> None:
    told = boat(after_bar=2.2)
    craft = vehicle("V1", ready_at=AT + timedelta(hours=4), follows_chain=False,
                    max_pressure_bar_abs=1.8)  # fmt: skip
    told.add("survivors.vehicle", craft.model_dump(mode="json"))
    result = looked(told)
    assert "takes at most 1.8" in " ".join(result.outlook.remarks)
    forward = result.outlook.of("forward")
    assert forward is not None
    assert not isinstance(forward.nobody, NotKnown)
    assert "forward refuge" in margin_sentence(result.outlook)


# A1 again: what is not told of one refuge is no vehicle the sooner for another


def taken_away(told: Told, *kinds: str, to_place: str = "") -> Told:
    """Return a journal without the records of some kinds, of moves those into a place alone."""
    left = Told()
    for one in told.records:
        if one.kind not in kinds or (to_place and one.payload.get("to_place") != to_place):
            left.records.append(replace(one, seq=len(left.records) + 1))
    return left


FORWARD_FIRST = (
    lift("F1", 0, "V1", "forward", 16, 0), lift("F2", 1, "V1", "forward", 4, 0),
    lift("A1", 2, "V1", "after", 16, 0), lift("A2", 3, "V1", "after", 14, 0),
)  # fmt: skip


@pytest.mark.parametrize(
    ("kinds", "to_place", "said"),
    [(("survivors.move",), "forward", "whether anybody waits in forward"),
     (("survivors.chamber",), "", "no chamber told")],
)  # fmt: skip
def test_lifts_that_do_not_run_for_want_of_news_make_no_other_refuge_surer(
    kinds: tuple[str, ...], to_place: str, said: str
) -> None:
    told = boat(after_bar=1.0, lifts=FORWARD_FIRST)
    for bar in ("forward",):  # above what needs a stay, so that it wants a chamber
        told.add("survivors.air", air(bar, 2.2), 0.5)
    whole = looked(told).outlook.of("after")
    found = looked(taken_away(told, *kinds, to_place=to_place)).outlook.of("after")
    assert whole is not None
    assert found is not None
    for name in ("nobody", "planned", "chance"):
        was, now = getattr(whole, name), getattr(found, name)
        assert not isinstance(was, NotKnown)
        assert isinstance(now, Bounds)
        assert said in now.missing
        least, most = ends(now)
        assert least in (None, 0.0)
        assert most is None or most >= (ends(was)[1] or 0.0) - 0.5
