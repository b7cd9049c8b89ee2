"""Several searchers and several watches planned together, and what was sent stands as sent."""

from datetime import timedelta
from itertools import pairwise

import numpy as np
import pytest

from layers.contract import Moment
from layers.datum.answers import search_next
from layers.datum.compute import compute
from layers.datum.result import Ahead
from layers.datum.search.moving import best_effort
from layers.datum.search.plan import plan_search
from layers.datum.search.watches import Sought
from layers.earth.clock import to_us
from layers.earth.geodesy import between
from layers.earth.plane import Plane
from layers.earth.position import Position
from tests.unit.test_datum_plan import EVIDENCE, THREE, own_pos, searcher
from tests.unit.test_datum_reports import LKP, START, known

NMI = 1852.0
NOW = START + timedelta(hours=16)
PLANE = Plane(49.7, -8.9)


def drifting(hours=16, n=1_500, east_kn=0.8):
    """Return a raft that drifts east, each particle at a speed of its own."""
    rng = np.random.default_rng(4)
    at = np.arange(hours + 1.0)
    speed = east_kn * NMI * (1.0 + 0.3 * rng.standard_normal(n))
    x = 2_500.0 * rng.standard_normal(n) + np.outer(at, speed)
    y = 2_000.0 * rng.standard_normal(n) + np.outer(at, 250.0 * rng.standard_normal(n))
    times = tuple(to_us(NOW + timedelta(hours=float(h))) for h in at)
    ahead = Ahead(at_us=times, x_m=x.astype(np.float32), y_m=y.astype(np.float32))
    return Sought(name="raft", ahead=ahead, plane=PLANE)


def planned(sought, *searchers, sent=()):
    facts, _ = known(*[("datum.searcher", 16.0, one | {"object": "raft"}) for one in searchers],
                     *sent)  # fmt: skip
    return plan_search(sought, facts.entries("datum.searcher"), NOW,
                       facts.entries("datum.search_sent"))  # fmt: skip


FOUR = [searcher(name, endurance_h=12.0, latitude_deg=49.6 + 0.08 * k)
        for k, name in enumerate("ABCD")]  # fmt: skip


@pytest.fixture(scope="module")
def four():
    """Return a drifting raft, and the plan of four searchers for twelve hours."""
    sought = drifting()
    return sought, planned(sought, *FOUR)


def strewn(sought, plan, across=40, periods=12):
    """Return what the same effort would find, strewn freely and best over place and time.

    Koopman's law of random search, optimum for what moves by Brown's rule: the yardstick that a
    plan of real legs, which wastes ways and turns, is held to.
    """
    begins = min(item.begins for item in plan.planned)
    ends = max(item.ends for item in plan.planned)
    edges = [begins + (ends - begins) * k / periods for k in range(periods + 1)]
    swept, cells = [], []
    spots = [sought.ahead.places(to_us(a + (b - a) / 2)) for a, b in pairwise(edges)]
    low = min(x.min() for x, _ in spots), min(y.min() for _, y in spots)
    high = max(x.max() for x, _ in spots), max(y.max() for _, y in spots)
    cell = max(high[0] - low[0], high[1] - low[1]) * 1.001 / across
    for (a, b), (x, y) in zip(pairwise(edges), spots, strict=True):
        swept.append(sum(
            max((min(b, item.ends) - max(a, item.begins)).total_seconds(), 0.0)
            * item.searcher.sweep_width_m * item.searcher.search_speed_kn * NMI / 3_600.0
            for item in plan.planned
        ))  # fmt: skip
        cells.append(
            ((y - low[1]) // cell).astype(int) * across + ((x - low[0]) // cell).astype(int)
        )
    weight = np.full(cells[0].size, 1.0 / cells[0].size)
    return best_effort(np.array(cells), weight, across * across, cell**2, swept).probability_seen


def test_what_four_steer_in_their_watches_finds_what_the_best_strewn_effort_would(four):
    sought, plan = four
    assert plan.pos > 0.97 * strewn(sought, plan)
    # and it is worth what an integral of our own along the very legs says
    left = np.ones(sought.ahead.x_m.shape[1])
    for item in plan.planned:
        left *= 1.0 - own_pos(item, sought.ahead, PLANE)
    assert plan.pos == pytest.approx(1.0 - left.mean(), abs=0.02)


def test_nobody_gets_scraps_where_two_alike_can_share():
    plan = planned(drifting(), *FOUR[:2])
    parts = {name: sum(i.pos for i in plan.planned if i.searcher.name == name) for name in "AB"}
    alone = planned(drifting(), FOUR[0]).pos
    assert plan.pos > alone + 0.25 * (1.0 - alone)
    assert min(parts.values()) > 0.1


def test_a_long_stay_is_planned_in_watches_that_can_be_steered_one_after_another(four):
    _, plan = four
    mine = [item for item in plan.planned if item.searcher.name == "A"]
    assert len(mine) == 2
    for one, other in pairwise(mine):
        end, start = one.pattern.turns[-1].position, other.pattern.turns[0].position
        way_h = between(end, start)[0] / NMI / one.searcher.transit_speed_kn
        assert other.begins + timedelta(minutes=20) >= one.ends + timedelta(hours=way_h)
    home = Position(mine[0].searcher.latitude_deg, mine[0].searcher.longitude_deg)
    back_h = between(mine[-1].pattern.turns[-1].position, home)[0] / NMI / 16.0
    assert mine[-1].ends + timedelta(hours=back_h) <= NOW + timedelta(hours=12.0 * 1.1)


def test_people_must_rest_before_the_fuel_is_gone():
    plan = planned(drifting(), FOUR[0] | {"crew_hours_h": 4.0})
    assert len(plan.planned) == 1
    assert plan.planned[0].ends <= NOW + timedelta(hours=4)


def test_whoever_is_told_of_is_planned_for_or_asked_about():
    """A helicopter 25 nmi off: from too short a time to go there and back to enough to search."""
    sought = drifting(n=300)
    for hours in (0.3, 0.42, 0.48, 0.52, 0.6, 0.8):
        plan = planned(sought, searcher("HELO", latitude_deg=50.1, search_speed_kn=70.0,
                                        transit_speed_kn=120.0, endurance_h=hours))  # fmt: skip
        told = [item.searcher.name for item in plan.planned] + [one.name for one in plan.lapsed]
        assert told == ["HELO"], hours
    slow = planned(drifting(n=300, east_kn=3.0), searcher("SLOW", search_speed_kn=3.0))
    assert [one.name for one in slow.lapsed] == ["SLOW"]
    assert "no pattern" in slow.lapsed[0].why


def test_aircraft_out_at_the_same_time_are_five_hundred_feet_apart():
    fast = {"search_speed_kn": 120.0, "transit_speed_kn": 150.0, "endurance_h": 4.0}
    plan = planned(drifting(), FOUR[0] | fast, FOUR[1] | fast, FOUR[2])
    heights = {item.searcher.name: item.height_m for item in plan.planned}
    assert abs(heights["A"] - heights["B"]) == pytest.approx(500 * 0.3048)
    assert heights["C"] is None


def test_what_is_towed_is_given_lanes_with_turns_that_it_can_follow():
    resting = Sought(name="raft", plane=PLANE, ahead=Ahead(
        at_us=(to_us(NOW),),
        x_m=(3_000.0 * np.random.default_rng(1).standard_normal((1, 1_000))).astype(np.float32),
        y_m=(3_000.0 * np.random.default_rng(2).standard_normal((1, 1_000))).astype(np.float32),
    ))  # fmt: skip
    towed = FOUR[0] | {"search_speed_kn": 4.0, "sweep_width_m": 300.0, "turn_radius_m": 400.0,
                       "run_in_m": 200.0}  # fmt: skip
    item = planned(resting, towed).planned[0]
    assert item.pattern.code == "lanes"
    points = [PLANE.point(t.position.latitude_deg, t.position.longitude_deg)
              for t in item.pattern.turns]  # fmt: skip
    heads = [np.arctan2(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(points)]
    turned = [abs((b - a + np.pi) % (2.0 * np.pi) - np.pi) for a, b in pairwise(heads)]
    # steps of 30 degrees round a circle of 400 m: no corner that a body on a cable cannot follow
    assert np.degrees(max(turned)) < 46.0
    assert item.pattern.searching.count(False) > item.pattern.searching.count(True)


def sent_of(item):
    return ("datum.search_sent", 16.0, {
        "searcher": item.searcher.name, "object": "DISSUB", "pattern": item.pattern.title,
        "waypoints": [{"latitude_deg": t.position.latitude_deg,
                       "longitude_deg": t.position.longitude_deg, "at": t.at.isoformat()}
                      for t in item.pattern.turns],
        "sweep_width_m": item.searcher.sweep_width_m, "spacing_m": item.spacing_m,
        "speed_kn": item.pattern.speed_kn, "pos": round(item.pos, 4),
        "searching": list(item.pattern.searching),
    })  # fmt: skip


def test_the_answer_is_the_plan_that_was_sent_until_it_is_steered():
    facts, _ = known(("datum.lkp", 0.0, LKP), *EVIDENCE, *THREE)
    before = compute(facts, {}, Moment(NOW, NOW)).plans[0]
    small = min(before.planned, key=lambda item: item.pos)
    facts, _ = known(("datum.lkp", 0.0, LKP), *EVIDENCE, *THREE, sent_of(small))
    later = NOW + timedelta(minutes=30)
    result = compute(facts, {}, Moment(later, later))
    told = search_next(result, Moment(later, later)).value
    assert (told.who, told.begins, told.until, told.pos) == (
        small.searcher.name, small.begins, small.ends, round(small.pos, 4),
    )  # fmt: skip
    # nobody is told to steer two things at once
    name = small.searcher.name
    theirs = [item for item in result.plans[0].planned if item.searcher.name == name]
    assert all(item.begins >= small.ends for item in theirs)
    assert result.plans[0].pos > small.pos
