"""The plan that is sent is the plan that is valued: from now, in the hours there are, apart."""

from dataclasses import replace
from datetime import timedelta
from itertools import pairwise

import numpy as np
import pytest
from scipy.optimize import LinearConstraint, minimize
from shapely import Polygon

from layers.contract import Moment
from layers.datum.answers import search_next
from layers.datum.compute import compute
from layers.datum.result import Ahead
from layers.datum.search.moving import best_effort
from layers.datum.search.patterns import pattern
from layers.datum.search.steer import missed_by
from layers.earth.clock import to_us
from layers.earth.geodesy import between
from layers.earth.position import Position
from layers.earth.uncertain import NotKnown, Stated
from tests.unit.test_datum_reports import BEARING, LKP, RANGE, START, answer, known

NMI = 1852.0


def searcher(name, hours_from_start=16.0, **other):
    at = (START + timedelta(hours=hours_from_start)).isoformat()
    return {
        "name": name, "latitude_deg": 49.7, "longitude_deg": -8.9, "search_speed_kn": 10.0,
        "transit_speed_kn": 16.0, "sweep_width_m": 900.0, "endurance_h": 8.0, "ready_at": at,
    } | other  # fmt: skip


THREE = [
    ("datum.searcher", 16.0, searcher("A", search_speed_kn=14.0)),
    ("datum.searcher", 16.0, searcher("B", endurance_h=6.0, latitude_deg=49.95)),
    ("datum.searcher", 16.0, searcher("C", sweep_width_m=1_600.0, longitude_deg=-8.2)),
]
EVIDENCE = [("datum.bearing", 14.0, BEARING), ("datum.range", 15.0, RANGE)]


def plan_of(*facts, hours=16.0):
    result, _ = answer(*EVIDENCE, *facts, hours=hours)
    return result, result.plans[0]


def own_pos(item, ahead, plane, searching=None):
    """Return what legs find by an integral of our own: k h / r^3 along each leg in fine steps.

    k h by Koopman from the sweep width: W = 2 sqrt(pi m), an endless leg gives m / x^2 = 2 k h /
    (v x^2). Written against where the object is at each step, not leg by leg.
    """
    m = item.searcher.sweep_width_m**2 / (4.0 * np.pi)
    v = item.searcher.search_speed_kn * NMI / 3_600.0
    total = np.zeros(ahead.x_m.shape[1])
    turns = item.pattern.turns
    for leg, (a, b) in enumerate(pairwise(turns)):
        if searching is not None and not searching[leg]:
            continue
        span = (b.at - a.at).total_seconds()
        xa, ya = plane.point(a.position.latitude_deg, a.position.longitude_deg)
        xb, yb = plane.point(b.position.latitude_deg, b.position.longitude_deg)
        steps = max(int(span * v / 25.0), 1)
        for part in (np.arange(steps) + 0.5) / steps:
            ox, oy = ahead.places(to_us(a.at) + part * span * 1e6)
            r2 = (xa + part * (xb - xa) - ox) ** 2 + (ya + part * (yb - ya) - oy) ** 2
            total += 0.5 * m * v / np.maximum(r2, 1.0) ** 1.5 * span / steps
    return 0.99 * (1.0 - np.exp(-total))


def test_what_the_legs_find_is_what_is_said():
    result, plan = plan_of(THREE[1])
    item = plan.planned[0]
    own = own_pos(item, result.ahead, result.plane)
    assert item.pos == pytest.approx(own.mean(), abs=0.01)
    assert plan.pos == pytest.approx(item.pos)


def test_every_pattern_is_steered_within_the_hours_and_starts_after_now():
    _, plan = plan_of(*THREE)
    now = START + timedelta(hours=16)
    assert len(plan.planned) == 3
    for item in plan.planned:
        one = item.searcher
        assert item.begins >= now
        assert item.ends <= item.must_leave
        # hours by hand: both ways at transit speed and the search in what she was told to have
        first, last = item.pattern.turns[0].position, item.pattern.turns[-1].position
        home = (one.latitude_deg, one.longitude_deg)
        ways = sum(between(Position(*home), p)[0] for p in (first, last))
        used = ways / NMI / one.transit_speed_kn + (item.ends - item.begins).total_seconds() / 3600
        assert used <= one.endurance_h
        # the spacing fills them: no idle third
        assert (item.ends - item.begins) > 0.7 * (item.must_leave - item.begins)
        along = sum(item.pattern.lengths_m()) / one.search_speed_kn / NMI * 3_600.0
        assert along == pytest.approx((item.ends - item.begins).total_seconds(), rel=2e-3)


@pytest.mark.parametrize(
    "told",
    [
        {"endurance_h": 1.5, "search_speed_kn": 70.0, "transit_speed_kn": 120.0, "aircraft": True},
        {"endurance_h": 3.0, "search_speed_kn": 9.0, "transit_speed_kn": 10.0},
        {"endurance_h": 4.0, "search_speed_kn": 12.0, "transit_speed_kn": 12.0,
         "sweep_width_m": 300.0},
    ],
)  # fmt: skip
def test_a_searcher_can_be_where_he_begins_and_back_when_his_hours_end(told):
    """By hand, both ways at transit speed: a helicopter of 90 minutes, two ships short of time."""
    now = START + timedelta(hours=16)
    _, plan = plan_of(("datum.searcher", 16.0, searcher("ONE", **told)))
    item = plan.planned[0]
    one, home = item.searcher, Position(49.7, -8.9)
    first, last = item.pattern.turns[0].position, item.pattern.turns[-1].position
    there, back = (between(home, p)[0] / NMI / one.transit_speed_kn for p in (first, last))
    second, ends = timedelta(seconds=1), now + timedelta(hours=one.endurance_h)
    assert item.begins >= now + timedelta(hours=there) - second
    assert item.leaves_for_it >= now - second
    assert item.must_leave + timedelta(hours=back) <= ends + second
    assert item.ends <= item.must_leave
    assert item.must_leave - item.ends < timedelta(minutes=20)  # nor is the time left unused


def test_the_pattern_that_is_taken_finds_most_of_all_that_are_told():
    raft = {"latitude_deg": 49.6, "longitude_deg": -9.1, "what": "raft", "object": "raft",
            "object_type": "raft, deep ballast", "sigma_m": 500.0, "observer": "M",
            "leak": "not of her"}  # fmt: skip
    for width, hours in ((900.0, 1.5), (1_400.0, 3.0), (500.0, 5.0)):
        told = searcher("HELO", object="raft", search_speed_kn=70.0, transit_speed_kn=120.0,
                        endurance_h=hours, sweep_width_m=width)  # fmt: skip
        result, _ = answer(
            ("datum.object", 14.0, {"name": "raft", "object_type": "raft, deep ballast"}),
            ("datum.sighting", 14.0, raft), ("datum.searcher", 16.0, told), hours=16.0,
        )  # fmt: skip
        item = next(plan for plan in result.plans if plan.object == "raft").planned[0]
        assert item.others
        assert item.pos >= max(pos for _, pos in item.others)


def test_searchers_get_areas_of_their_own():
    _, plan = plan_of(*THREE)
    boxes = [Polygon([(p.longitude_deg, p.latitude_deg) for p in item.outline])
             for item in plan.planned if item.pattern.code in ("PS", "CS")]  # fmt: skip
    for number, box in enumerate(boxes):
        for other in boxes[number + 1 :]:
            assert box.intersection(other).area < 0.05 * min(box.area, other.area)


def test_the_chances_of_all_add_up_to_that_of_the_plan():
    _, plan = plan_of(*THREE)
    assert sum(item.pos for item in plan.planned) == pytest.approx(plan.pos, abs=1e-9)
    assert max(item.pos for item in plan.planned) < plan.pos < 1.0


def test_a_plan_told_long_ago_has_lapsed_and_says_what_to_ask():
    result, plan = plan_of(THREE[0], hours=70.0)
    assert plan.planned == ()
    assert "2 d 6 h ago" in plan.lapsed[0].why
    assert "where A is" in plan.lapsed[0].ask
    told = search_next(result, Moment(result.at, result.at))
    assert isinstance(told, NotKnown)
    assert any("where A is" in missing for missing in told.missing)


def test_who_cannot_come_in_time_is_told_not_planned():
    _, plan = plan_of(("datum.searcher", 16.0, searcher("FAR", latitude_deg=44.0)))
    assert plan.planned == ()
    assert "go there and back" in plan.lapsed[0].why


def test_the_answer_is_the_search_that_finds_most():
    result, plan = plan_of(*THREE)
    told = search_next(result, Moment(result.at, result.at))
    assert isinstance(told, Stated)
    best = max(plan.planned, key=lambda item: item.pos)
    assert told.value.who == best.searcher.name
    assert (told.value.begins, told.value.pos) == (best.begins, best.pos)


def test_no_searcher_is_a_question():
    result, _ = answer(*EVIDENCE, hours=16.0)
    told = search_next(result, Moment(result.at, result.at))
    assert isinstance(told, NotKnown)
    assert "a searcher" in told.missing[0]


def test_a_search_for_people_adrift_goes_with_the_drift():
    seen = {
        "latitude_deg": 49.8, "longitude_deg": -8.5, "what": "two", "object": "two",
        "object_type": "person in water, survival suit", "sigma_m": 300.0, "observer": "X",
        "leak": "not of her",
    }  # fmt: skip
    two = {"name": "two", "object_type": "person in water, survival suit", "persons": 2}
    found, _ = known(
        ("datum.lkp", 0.0, LKP), ("datum.object", 0.0, two), ("datum.sighting", 15.0, seen),
        ("datum.searcher", 16.0, searcher("A", object="two")),
    )  # fmt: skip
    at = START + timedelta(hours=16)
    result = compute(found, {}, Moment(at, at))
    plan = next(plan for plan in result.plans if plan.object == "two")
    item = plan.planned[0]
    own = own_pos(item, result.adrift[0].ahead, result.plane)
    assert item.pos == pytest.approx(own.mean(), abs=0.01)
    assert item.pos > 0.05


def small(seed, periods=3, side=4, paths=60):
    rng = np.random.default_rng(seed)
    start = rng.integers(0, side, (paths, 2))
    moved = [np.clip(start + k * rng.integers(-1, 2, (paths, 2)), 0, side - 1)
             for k in range(periods)]  # fmt: skip
    cells = np.array([m[:, 0] * side + m[:, 1] for m in moved])
    weight = rng.random(paths)
    return cells, weight / weight.sum(), side * side


@pytest.mark.parametrize("seed", range(6))
def test_the_moving_optimum_is_that_of_a_general_solver(seed):
    cells, weight, count = small(seed)
    periods, spend = len(cells), 6.0
    found = best_effort(cells, weight, count, 1.0, [spend] * periods)

    def missed(flat):
        u = flat.reshape(periods, count)
        return np.exp(-sum(u[t][cells[t]] for t in range(periods)))

    def slope(flat):
        gone, out = missed(flat), np.zeros((periods, count))
        for t in range(periods):
            np.add.at(out[t], cells[t], -weight * gone)
        return out.ravel()

    rows = np.kron(np.eye(periods), np.ones(count))
    best = minimize(
        lambda flat: float(weight @ missed(flat)), np.full(periods * count, spend / count),
        jac=slope, bounds=[(0.0, None)] * (periods * count), method="SLSQP",
        constraints=[LinearConstraint(rows, spend, spend)], options={"maxiter": 400, "ftol": 1e-10},
    )  # fmt: skip
    assert found.probability_seen >= (1.0 - best.fun) * 0.999
    assert found.swept_m2.sum(axis=1) == pytest.approx(spend)


def test_the_best_effort_on_a_chain_of_two_cells_is_the_known_one():
    # two cells, start (0.6, 0.4), look first, then move by ((0.8, 0.2), (0.3, 0.7)), three
    # periods, effort 1 each, miss = exp(-w x), w = 1.2 and 0.8 (problem form: Brown 1980;
    # values COMPUTED: forward-backward, a general solver and a grid of 101^3 agree)
    start, move = (0.6, 0.4), ((0.8, 0.2), (0.3, 0.7))
    paths = [(a, b, c) for a in (0, 1) for b in (0, 1) for c in (0, 1)]
    weight = np.array([start[a] * move[a][b] * move[b][c] for a, b, c in paths])
    found = best_effort(np.array(paths).T, weight, 2, np.array([1 / 1.2, 1 / 0.8]), [1.0] * 3)
    assert found.probability_seen == pytest.approx(0.792890, abs=2e-5)
    assert found.swept_m2[:, 0] == pytest.approx([0.669498, 0.533531, 0.669498], abs=5e-3)


def test_places_between_the_hours_lie_on_the_way():
    ahead = Ahead(at_us=(0, 10), x_m=np.array([[0.0], [10.0]], dtype=np.float32),
                  y_m=np.zeros((2, 1), dtype=np.float32))  # fmt: skip
    assert ahead.places(5)[0] == pytest.approx([5.0])


def test_sonar_lanes_are_valued_by_their_own_legs_and_turn_on_the_radius_asked_for():
    result, plan = plan_of(("datum.searcher", 16.0, searcher("A", search_speed_kn=4.0)))
    item = plan.planned[0]
    made = pattern(
        "lanes", plane=result.plane, middle=item.middle, length_m=4_000.0, width_m=4_000.0,
        bearing_true_deg=30.0, spacing_m=400.0, speed_kn=4.0, start=item.begins, searcher="A",
        turn_radius_m=500.0, run_in_m=300.0,
    )  # fmt: skip
    gone = missed_by(made, result.plane, result.ahead, 900.0)
    lanes_only = replace(item, pattern=made)
    own = own_pos(lanes_only, result.ahead, result.plane, searching=made.searching)
    assert 1.0 - gone.mean() == pytest.approx(own.mean(), abs=0.01)
    # corners of a quarter circle lie on it: three that follow each other give its radius
    x, y = zip(*(result.plane.point(t.position.latitude_deg, t.position.longitude_deg)
                 for t in made.turns), strict=True)  # fmt: skip
    first = next(k for k, counts in enumerate(made.searching) if counts)
    radii = []
    for k in range(first + 2, first + 4):
        a, b, c = (np.array([x[n], y[n]]) for n in (k, k + 1, k + 2))
        sides = [np.hypot(*(p - q)) for p, q in ((a, b), (b, c), (c, a))]
        area = abs((b - a)[0] * (c - a)[1] - (b - a)[1] * (c - a)[0]) / 2.0
        radii.append(np.prod(sides) / (4.0 * area))
    assert min(radii) > 490.0
