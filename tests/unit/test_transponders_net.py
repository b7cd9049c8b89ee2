"""Fixes from lines to the net and from the ship, the map of geometry, and one more transponder."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from layers.earth.errors import InputError
from layers.earth.plane import ellipse_of
from layers.earth.values import Ellipse
from layers.transponders.net.fixing import circle_95
from layers.transponders.net.net import LineInSpace, fix, hdop, one_more, scale_line
from layers.transponders.sound.travel import reached_m

NET = np.array([[250.0, 250, 142], [250, -250, 142], [-250, -250, 142], [-250, 250, 142]])
SEAT = np.array([20.0, -30.0, 134.0])


def range_line(k, place=SEAT, off_m=0.0, sigma=2.0):
    slant = float(np.linalg.norm(place - NET[k]))
    return LineInSpace(name=f"range TP{k + 1}", sort="range", origin_m=tuple(NET[k]),
                measured=slant + off_m, sigma=sigma)  # fmt: skip


def depth_line(depth_m=134.0, sigma=1.0):
    return LineInSpace(
        name="depth", sort="depth", origin_m=(0.0, 0.0, 0.0), measured=depth_m, sigma=sigma
    )


def ship_lines(place=SEAT, sigma_deg=0.5):
    ship = np.array([-100.0, 300.0, 6.0])
    offset = place - ship
    bearing = np.degrees(np.arctan2(offset[0], offset[1])) % 360.0
    down = np.degrees(np.arctan2(offset[2], np.hypot(*offset[:2])))
    return (
        LineInSpace(name="bearing", sort="bearing", origin_m=tuple(ship), measured=float(bearing),
             sigma=sigma_deg),
        LineInSpace(name="depression", sort="depression", origin_m=tuple(ship),
                    measured=float(down), sigma=sigma_deg),
    )  # fmt: skip


def test_four_ranges_and_a_depth_give_the_place():
    made = fix((*(range_line(k) for k in range(4)), depth_line()), np.array([0.0, 0.0, 140.0]))
    assert made.place_m == pytest.approx(SEAT, abs=0.01)
    assert made.suspect is None
    assert made.second_m is None


def test_bearing_depression_and_depth_give_the_place_from_the_ship():
    made = fix((*ship_lines(), depth_line()), np.array([0.0, 0.0, 140.0]))
    assert made.place_m == pytest.approx(SEAT, abs=0.05)


def test_two_ranges_meet_twice_and_both_places_are_told():
    made = fix((range_line(0), range_line(1), depth_line()), np.array([0.0, 0.0, 134.0]))
    mirrored = np.array([480.0, -30.0, 134.0])  # in the line through TP1 and TP2, east = 250
    found = sorted([made.place_m[0], made.second_m[0]])
    assert found == pytest.approx(sorted([SEAT[0], mirrored[0]]), abs=0.5)


def test_a_bearing_tells_the_two_apart():
    lines = (range_line(0), range_line(1), depth_line(), ship_lines()[0])
    made = fix(lines, np.array([0.0, 0.0, 134.0]))
    assert made.place_m == pytest.approx(SEAT, abs=0.05)
    assert made.second_m is None


def test_the_line_that_does_not_belong_is_found_by_leaving_it_out():
    lines = [range_line(k) for k in range(4)]
    lines[2] = range_line(2, off_m=40.0)
    made = fix((*lines, depth_line()), np.array([0.0, 0.0, 134.0]))
    assert made.suspect == "range TP3"


def test_lines_from_one_place_do_not_fix():
    lines = (range_line(0), range_line(0), range_line(0))
    with pytest.raises(InputError, match="do not meet"):
        fix(lines, np.array([0.0, 0.0, 134.0]))
    with pytest.raises(InputError, match="2 lines do not fix"):
        fix((range_line(0), range_line(1)), np.array([0.0, 0.0, 134.0]))


def test_the_covariance_is_what_two_hundred_trials_scatter():
    rng = np.random.default_rng(1)
    inside, places = 0, []
    for _ in range(200):
        lines = [range_line(k, off_m=rng.normal(0, 2.0)) for k in range(4)]
        lines.append(depth_line(134.0 + rng.normal(0, 1.0)))
        made = fix(tuple(lines), np.array([0.0, 0.0, 134.0]))
        gap = (made.place_m - SEAT)[:2]
        inside += gap @ np.linalg.solve(made.covariance[:2, :2], gap) <= 5.991
        places.append(made.place_m[:2])
    # Two sigma of a count of 200 at 95 % is 3 %.
    assert 0.92 <= inside / 200 <= 0.98, f"{inside} of 200"
    stated = fix((*(range_line(k) for k in range(4)), depth_line()), np.array([0.0, 0.0, 134.0]))
    scatter = np.sqrt(np.diag(stated.covariance)[:2])
    assert np.std(places, axis=0) == pytest.approx(scatter, rel=0.15)


def test_hdop_in_the_middle_of_a_square_is_one():
    # Closed form: n ranges evenly round a place on their level give 2 / sqrt(n); 1 for four.
    assert hdop(NET, 0.0, 0.0, 142.0) == pytest.approx(1.0)
    assert hdop(NET[:3], 0.0, 0.0, 142.0) > 1.0
    assert np.isinf(hdop(NET[:1], 0.0, 0.0, 142.0))
    # On the line through two, beyond both, nothing across it is known.
    assert np.isinf(hdop(NET[:2], 250.0, 900.0, 142.0))


def test_one_more_goes_where_the_net_is_weak():
    better = one_more(NET[:2], 142.0, (0.0, 0.0), 200.0, 400.0)
    assert better.mean_after < better.mean_before
    # Two lie in the east: the third belongs across from them or on the axis they leave weak.
    assert better.east_m < 250.0
    whole = one_more(NET, 142.0, (0.0, 0.0), 200.0, 400.0)
    assert whole.mean_before - whole.mean_after < better.mean_before - better.mean_after


def test_95_percent_in_two_dimensions_is_2_448_sigma():
    # Pitfall 5 of the check table; 2.448 = sqrt(chi-square 0.95 with two degrees).
    made = ellipse_of(np.diag([9.0, 4.0]))
    assert made.semi_major_m == pytest.approx(2.448 * 3.0, abs=0.002)
    assert made.semi_minor_m == pytest.approx(2.448 * 2.0, abs=0.002)
    assert made.bearing_true_deg == pytest.approx(90.0)


def test_the_circle_of_95_percent_lies_between_one_and_two_dimensions():
    # Equal axes: 2.448 sigma; one axis alone: 1.960 sigma.
    assert circle_95(Ellipse(semi_major_m=24.48, semi_minor_m=24.48, bearing_true_deg=0.0)) == (
        pytest.approx(24.48, abs=0.01)
    )
    line = Ellipse(semi_major_m=24.48, semi_minor_m=0.001, bearing_true_deg=0.0)
    assert circle_95(line) == pytest.approx(19.60, abs=0.05)
    rng = np.random.default_rng(2)
    draws = rng.normal(0, 1, (200_000, 2)) * [3.0, 1.2]
    radius = circle_95(ellipse_of(np.diag([9.0, 1.44])))
    assert np.mean(np.hypot(*draws.T) <= radius) == pytest.approx(0.95, abs=0.002)


def _net_side(side):
    half = side / 2
    return np.array(
        [[half, half, 142], [half, -half, 142], [-half, -half, 142], [-half, half, 142]]
    )


@pytest.mark.parametrize("out_m", [0.0, 600.0, 1_400.0])
def test_the_fix_carries_the_sound_speed_scale_and_its_error(out_m):
    """Net of 850 m side, all ranges long or short by one scale of 0.2 %: 93 to 97 of 100."""
    net, truth = _net_side(850.0), np.array([out_m, 0.0, 134.0])
    rng, inside, runs = np.random.default_rng(int(out_m) + 1), 0, 400
    for _ in range(runs):
        wrong = 1.0 + rng.normal(0, 0.002)
        lines = [
            LineInSpace(name=f"range TP{k}", sort="range", origin_m=tuple(net[k]), sigma=1.0,
                 measured=float(np.linalg.norm(truth - net[k])) * wrong + rng.normal(0, 1.0))
            for k in range(4)
        ]  # fmt: skip
        lines += [depth_line(134.0 + rng.normal(0, 1.0)), scale_line(0.002)]
        made = fix(tuple(lines), truth + np.array([20.0, 20.0, 0.0]))
        gap = (made.place_m - truth)[:2]
        inside += gap @ np.linalg.solve(made.covariance[:2, :2], gap) <= 5.991
    assert 0.93 <= inside / runs <= 0.985, f"{inside} of {runs}"


def test_a_planted_error_widens_the_ellipse_and_the_place_without_it_is_told():
    lines = [range_line(k, sigma=1.0) for k in range(4)]
    clean = fix((*lines, depth_line()), np.array([0.0, 0.0, 134.0]))
    lines[1] = range_line(1, off_m=15.0, sigma=1.0)
    made = fix((*lines, depth_line()), np.array([0.0, 0.0, 134.0]))
    assert made.suspect == "range TP2"
    assert np.linalg.norm(made.without_m - SEAT) < 0.1
    gap = (made.place_m - SEAT)[:2]
    assert gap @ np.linalg.solve(made.covariance[:2, :2], gap) <= 5.991
    assert made.covariance[0, 0] > 10.0 * clean.covariance[0, 0]


def test_an_error_too_small_to_be_named_still_widens_the_ellipse():
    """+6 m in one of four, sigma 1 m: the truth stays inside in nine of ten and more."""
    rng, inside, runs = np.random.default_rng(9), 0, 200
    for _ in range(runs):
        lines = [range_line(k, off_m=rng.normal(0, 1.0) + 6.0 * (k == 1), sigma=1.0)
                 for k in range(4)]  # fmt: skip
        lines.append(depth_line(134.0 + rng.normal(0, 1.0)))
        made = fix(tuple(lines), np.array([0.0, 0.0, 134.0]))
        gap = (made.place_m - SEAT)[:2]
        inside += gap @ np.linalg.solve(made.covariance[:2, :2], gap) <= 5.991
    assert inside / runs >= 0.75, f"{inside} of {runs}; 7 of 100 with the ellipse unwidened"


def test_a_depression_is_bent_by_the_profile():
    """Summer profile 1512 to 1494 m/s over 150 m; by solve_ivp through dn/ds, not by layers."""
    z, c = np.array([0.0, 200.0]), np.array([1512.0, 1512.0 - 18.0 * 200 / 150])
    gradient = (c[1] - c[0]) / 200.0

    def bends(_, state):
        depth, angle = state[1], state[2]
        speed = 1512.0 + gradient * depth
        # ray equation in a layered medium: d(theta)/ds = -(cos theta / c) dc/dz, theta downwards
        return [np.cos(angle), np.sin(angle), -np.cos(angle) / speed * gradient]

    def at_depth(_, state):
        return state[1] - 150.0

    at_depth.terminal = True
    for angle in (10.0, 15.0, 20.0):
        found = solve_ivp(bends, (0, 5_000), [0.0, 0.0, np.radians(angle)], events=at_depth,
                          rtol=1e-10, atol=1e-9)  # fmt: skip
        by_hand = found.y_events[0][0][0]
        assert reached_m(z, c, 0.0, 150.0, angle) == pytest.approx(by_hand, abs=0.1)
    assert reached_m(z, c, 0.0, 150.0, 10.0) < 740.0  # a straight line comes to 851 m


def test_a_ray_that_turns_first_reaches_no_depth():
    z, c = np.array([0.0, 200.0]), np.array([1490.0, 1520.0])
    assert reached_m(z, c, 0.0, 150.0, 5.0) is None
