"""Change of activity, a reading in doubt, depth at the seat: code and event model compared.

Here the lifts run against the air as it is learnt from records, not against a stand-in for it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from typing import Any

import numpy as np
import pytest

from layers.contract import Moment
from layers.survivors.air.endurance import RefugePeople
from layers.survivors.air.formulas import AirOutlook, air_outlook
from layers.survivors.lifts.run.ground import fewer
from layers.survivors.lifts.run.outcome import PlanOutcome, evaluate
from layers.survivors.lifts.run.windows import NEVER
from layers.survivors.lifts.sorties.facts import lift_facts
from layers.survivors.lifts.spread import quantile
from tests import survivors_journal as journal
from tests.unit.lift_cases import NOW, vehicle
from tests.unit.lift_events import Plan, futures
from tests.unit.lift_events_air import Refuge, Told
from tests.unit.test_lift_futures import FOUR_AFTER, ground_of, plan, with_own_time

FUTURES, DRAWS = 300, 2_000
TENTH, HALF = 3.2 * (0.09 / FUTURES) ** 0.5, 3.2 * (0.25 / FUTURES) ** 0.5
NOW_H = (NOW - journal.AT).total_seconds() / 3600.0
ROOM = Told(persons=56, volume_m3=880.0, bar=1.05, celsius=9.0, level_sev=6.0, read=((-1.0, 0.8),))
AIR = {
    "nobody said what they do": ROOM,
    "working from now on": replace(ROOM, volume_m3=1_350.0, doing=((0.0, "working"),)),
    "told to sleep an hour ago": replace(ROOM, doing=((-1.0, "asleep"),)),
    "a reading in doubt that would shorten": replace(ROOM, read=((-1.0, 0.8), (-0.5, 2.6))),
    "a reading in doubt that would lengthen": replace(
        ROOM, volume_m3=1_290.0, read=((-1.0, 2.4), (-0.5, 0.3))
    ),
}  # fmt: skip


def recorded(room: Told) -> AirOutlook:
    """Return the air as the program learns it from the records that tell the same."""
    told = journal.Told()
    told.complement("sailing list", room.persons)
    told.move("not accounted for", "after", [(room.persons, "walking")])
    size = {"refuge": "after", "free_volume_m3": room.volume_m3, "spread_percent": 10.0}
    told.add("survivors.compartment", size)
    for stock in (
        {"item": "absorbent", "chemical": "soda lime", "mass_kg": 0.0, "efficiency": 0.7},
        {"item": "oxygen candles", "count": 0, "oxygen_kg_each": 2.0},
    ):
        told.add("survivors.stores", {"refuge": "after", "stock": stock})
    told.add("survivors.level", {
        "name": "CO2", "quantity": "carbon dioxide", "source": "invented", "entered_by": "test",
        "gas": {"value": room.level_sev, "unit": "sev_percent"},
    })  # fmt: skip
    for at, percent in room.read:
        told.add("survivors.air", {
            "refuge": "after", "temperature_c": room.celsius,
            "pressure": {"value": room.bar, "unit": "bar", "reference": "absolute"},
            "carbon_dioxide": {"value": percent, "unit": "percent"},
        }, NOW_H + at)  # fmt: skip
    for at, what in room.doing:
        told.add("survivors.activity", {"refuge": "after", "activity": what}, NOW_H + at)
    return air_outlook(told.known(), Moment(NOW, NOW), n_draws=DRAWS)


@lru_cache(maxsize=1)
def lifts() -> tuple[Plan, list[list[tuple[float, int]]]]:
    """Return the plan, and by future when how many leave."""
    told = with_own_time(
        plan({"after": 60.0}, lifts=FOUR_AFTER, vehicles=(vehicle("V1"),), stay_h=0.0)
    )
    sizes = {k.key: k.walking + k.stretcher for k in told.setting.lifts}
    return told, [
        sorted((run.out[key][0], sizes[key]) for key in run.out) for run in futures(told, FUTURES)
    ]


def outcome_of(room: Told) -> PlanOutcome:
    told, _ = lifts()
    people = RefugePeople(
        refuge="after", persons=room.persons, stretcher=0, pressure_bar_abs=room.bar, seat="clear"
    )
    ground = fewer(ground_of(told), DRAWS)
    return evaluate(told.setting, replace(ground, people=(people,), air=recorded(room).model))


def falls(ours: np.ndarray, theirs: Sequence[float], near: float, what: str) -> None:
    """Fail where P10, P50 or P90 of the code lies elsewhere among the other's futures."""
    among = np.asarray(theirs)
    for share, error in ((0.1, TENTH), (0.5, HALF), (0.9, TENTH)):
        mark = quantile(ours, share)
        below, upto = float((among < mark - near).mean()), float((among <= mark + near).mean())
        assert below - error <= share <= upto + error, (what, share, mark, below, upto)


@pytest.mark.parametrize("name", AIR)
def test_air_hours_and_chance_agree_with_the_event_model(name: str) -> None:
    room = AIR[name]
    _, leave = lifts()
    outcome = outcome_of(room)
    rng = np.random.default_rng(77)
    refuges = [Refuge(room, rng) for _ in range(FUTURES)]
    alone = [one.ends_h() for one in refuges]
    hours = outcome.alone_s["after"] / 3600.0
    falls(hours, alone, 0.5, "if nobody leaves")
    last = [goes[-1][0] if sum(n for _, n in goes) == room.persons else np.inf for goes in leave]
    each = list(zip(refuges, leave, last, strict=True))
    # how long the last who wait can last is what is asked: they do not leave by leaving
    planned = np.mean([out <= one.ends_h(goes[:-1]) for one, goes, out in each])
    assert float(outcome.all_in_time.mean()) == pytest.approx(planned, abs=HALF)
    stays = np.mean(np.array(last) <= np.array(alone))
    assert float((outcome.worst_margin_h >= 0).mean()) == pytest.approx(stays, abs=HALF)
    assert 0.1 < stays < 0.97  # a chance that could be told wrong
    least = np.mean([out <= one.least_h(goes[:-1]) for one, goes, out in each])
    assert float(outcome.all_if_doubted.mean()) == pytest.approx(least, abs=HALF)
    if "shorten" in name:
        assert least < planned - 0.15


DEPTHS = ((48.0, 0.0), (33.0, 30.0), (18.0, 139.0), (6.0, 141.0))  # minutes ago, metres


def by_its_depth() -> dict[str, Any]:
    """Return what the program makes of a dive that was told, and then of nothing but depths."""
    told = journal.Told()
    told.add("survivors.vehicle", vehicle("V1").model_dump(mode="json"))
    told.add("survivors.lift", FOUR_AFTER[0].model_dump(mode="json"))
    (dived, _), *deeper = DEPTHS
    down = {"vehicle": "V1", "lift": "A0", "phase": "down"}
    told.add("survivors.sortie_phase", down, NOW_H - dived / 60.0)
    for ago, depth in deeper:
        said = {"vehicle": "V1", "lift": "A0", "depth_m": depth}
        told.add("survivors.sortie_report", said, NOW_H - ago / 60.0)
    return dict(lift_facts(told.known(), NOW, 142.0))


def test_at_the_seat_by_its_depth_every_lift_agrees_with_the_event_model() -> None:
    one = plan({"after": 60.0}, lifts=FOUR_AFTER, vehicles=(vehicle("V1", ready_at=None),),
               stay_h=0.0, facts=by_its_depth())  # fmt: skip
    told = with_own_time(replace(one, track={"A0": DEPTHS}))
    people = RefugePeople(
        refuge="after", persons=56, stretcher=0, pressure_bar_abs=1.05, seat="clear"
    )
    outcome = evaluate(told.setting, replace(fewer(ground_of(told), DRAWS), people=(people,)))
    runs = futures(told, FUTURES)
    for n, lift in enumerate(told.setting.lifts):
        left = outcome.runs.left_s[n]
        ours = np.where(left >= NEVER // 2, np.inf, left / 3600.0)
        theirs = [run.out.get(lift.key, (np.inf, 0.0))[0] for run in runs]
        falls(ours, theirs, 0.05, lift.key)
