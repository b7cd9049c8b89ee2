"""PERT, critical path, off-tracking, wind triangle, speed loss and tide against the world."""

import math
from datetime import UTC, datetime, timedelta
from itertools import pairwise

import networkx as nx
import numpy as np
import pytest
from scipy import stats

from layers.earth import geodesy
from layers.earth.clock import to_us
from layers.earth.errors import InputError
from layers.earth.position import Position
from layers.forward_port import model
from layers.forward_port.chain import chain, pert
from layers.forward_port.legs.flight import flight_h, ground_speed_kn
from layers.forward_port.legs.off_tracking import off_tracking_m, swept_width_m
from layers.forward_port.legs.sea_speed import beaufort, direction_factor, kept_speed_kn
from layers.forward_port.ports import tide
from tests.benchmarks.bench_chain import by_networkx, links

# --- three-point times -------------------------------------------------------------------


@pytest.mark.parametrize(
    "three", [(1.0, 4.0, 7.0), (2.0, 3.0, 10.0), (0.0, 8.0, 9.0), (5.0, 5.0, 6.0)]
)
def test_pert_mean_and_variance(three):
    # Malcolm et al. 1959 (MEMORY): mean (a + 4m + b)/6, standard deviation (b − a)/6; COMPUTED:
    # scipy's beta with shapes 1 + 4(m−a)/(b−a) and 1 + 4(b−m)/(b−a) has exactly that mean.
    a, m, b = three
    share = (m - a) / (b - a)
    beta = stats.beta(1 + 4 * share, 5 - 4 * share, loc=a, scale=b - a)
    assert pert.mean_h(*three) == pytest.approx(beta.mean())
    drawn = pert.draw_h(*three, pert.uniforms("key", 1, 200_000))
    # Four standard errors of 200,000 draws.
    assert drawn.mean() == pytest.approx(beta.mean(), abs=4 * beta.std() / math.sqrt(200_000))
    assert drawn.std() == pytest.approx(beta.std(), rel=0.02)
    assert drawn.min() >= a
    assert drawn.max() <= b


def test_quantile_table_is_the_quantile():
    u = np.linspace(0.001, 0.999, 997)
    expected = 2.0 + 8.0 * stats.beta.ppf(u, 1 + 4 / 8, 1 + 28 / 8)
    assert pert.draw_h(2.0, 3.0, 10.0, u) == pytest.approx(expected, abs=2e-3)


# --- critical path -----------------------------------------------------------------------


def test_ten_thousand_draws_agree_with_networkx_longest_path():
    # VERIFIED against networkx 3 dag_longest_path_length, on the same draws; to the second.
    made = links()
    net = chain.network(made)
    done = chain.run(net, level=np.zeros(10_000, dtype=np.int64))
    theirs = by_networkx(made, 60)
    ours = done.finish_h[net.place["end"], :60]
    assert np.abs(ours - theirs).max() * 3600 < 1.0


# The worked example of the critical path method in Hillier & Lieberman,
# Introduction to Operations Research, chapter "Project Management with PERT/CPM": the Reliable
# Construction Co. example, 14 activities, project duration 44 weeks, critical path
# START-A-B-C-E-F-J-L-N-FINISH (MEMORY: book and figures from memory, page not seen).
RELIABLE = {
    "A": (2, ""), "B": (4, "A"), "C": (10, "B"), "D": (6, "C"), "E": (4, "C"), "F": (5, "E"),
    "G": (7, "D"), "H": (9, "EG"), "I": (7, "C"), "J": (8, "FI"), "K": (4, "J"), "L": (5, "J"),
    "M": (2, "H"), "N": (6, "KL"),
}  # fmt: skip


def reliable():
    made = [
        chain.Link(key=key, after=tuple(after), duration_h=np.array([float(weeks)]))
        for key, (weeks, after) in RELIABLE.items()
    ]
    end = chain.Link(key="end", after=("M", "N"), duration_h=np.zeros(1))
    net = chain.network([*made, end])
    return net, chain.run(net, level=np.zeros(1, dtype=np.int64))


def test_handbook_project_takes_44_weeks_by_its_critical_path():
    net, done = reliable()
    assert done.finish_h[net.place["end"], 0] == 44.0
    found, _ = chain.critical(done, net.place["end"])
    path = {link.key for link in net.links if found[net.place[link.key], 0]}
    assert path == set("ABCEFJLN") | {"end"}


def test_handbook_slacks():
    # MEMORY, the same example: slack D 4, G 4, H 4, I 2, K 1, M 4 weeks, the critical ones 0.
    net, done = reliable()
    _, slack = chain.latest_h(net, net.place["end"], done)
    found = {link.key: slack[net.place[link.key]] for link in net.links}
    expected = {"D": 4, "G": 4, "H": 4, "I": 2, "K": 1, "M": 4}
    for key in RELIABLE:
        assert found[key] == pytest.approx(expected.get(key, 0)), key


def test_handbook_project_by_networkx():
    graph = nx.DiGraph()
    for key, (_, after) in RELIABLE.items():
        for other in after:
            graph.add_edge(other, key, weight=RELIABLE[other][0])
    for key in "MN":
        graph.add_edge(key, "end", weight=RELIABLE[key][0])
    assert nx.dag_longest_path_length(graph) == 44


# --- off-tracking ------------------------------------------------------------------------


def towed(radius_m, wheelbase_m):
    """Return the radius at which a towed axle settles: the tractrix of a circle, integrated."""
    heading, angle = 0.0, 0.0
    for _ in range(60_000):
        step = 0.0005
        angle += step
        # kingpin moves along the circle; the axle follows straight towards it
        heading += step * radius_m / wheelbase_m * math.sin(angle + math.pi / 2 - heading)
    kingpin = radius_m * math.cos(angle), radius_m * math.sin(angle)
    axle = (
        kingpin[0] - wheelbase_m * math.cos(heading),
        kingpin[1] - wheelbase_m * math.sin(heading),
    )
    return math.hypot(*axle)


@pytest.mark.parametrize(("radius", "wheelbase"), [(14.0, 9.2), (25.0, 12.0), (12.5, 6.0)])
def test_off_tracking_is_where_a_towed_axle_settles(radius, wheelbase):
    # COMPUTED: the tractrix integrated to its steady state, independent of the closed form.
    found = off_tracking_m(radius, wheelbase)
    assert found == pytest.approx(radius - towed(radius, wheelbase), abs=0.01)


def test_off_tracking_of_two_units_by_the_sum_of_squares():
    # COMPUTED: R 14, L 3.9 and 9.2 m: 14 − √(196 − 15.21 − 84.64) = 4.194 m.
    assert off_tracking_m(14.0, 3.9, 9.2) == pytest.approx(4.194, abs=0.001)
    assert swept_width_m(14.0, 2.75, 3.3, 3.9, 9.2) == pytest.approx(4.194 + 3.025, abs=0.001)


def test_turn_tighter_than_the_trailer_cannot_be_made():
    assert off_tracking_m(9.0, 3.9, 9.2) is None


# --- wind triangle -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("track", "wind_from", "wind", "expected"),
    [
        (90.0, 270.0, 50.0, 450.0),  # tail
        (90.0, 90.0, 50.0, 350.0),  # head
        (0.0, 90.0, 300.0, math.sqrt(400.0**2 - 300.0**2)),  # abeam, a 3-4-5 triangle
        (90.0, 225.0, 80.0, math.sqrt(400**2 - 3200) + 80 / math.sqrt(2)),
    ],
)
def test_ground_speed_by_the_wind_triangle(track, wind_from, wind, expected):
    # COMPUTED, closed form: √(V² − c²) − h.
    assert ground_speed_kn(400.0, track, wind_from, wind) == pytest.approx(expected)


def test_ground_speed_is_the_vector_sum():
    # COMPUTED: heading that puts the sum of air and wind velocity on the track, by bisection.
    track, wind_from, wind, air = 62.0, 300.0, 70.0, 380.0
    speed = ground_speed_kn(air, track, wind_from, wind)
    east = speed * math.sin(math.radians(track)) + wind * math.sin(math.radians(wind_from))
    north = speed * math.cos(math.radians(track)) + wind * math.cos(math.radians(wind_from))
    assert math.hypot(east, north) == pytest.approx(air)


def test_flight_in_still_air_is_distance_over_speed():
    # check_values GeodSolve0 (VERIFIED, geographiclib 2.1): 5,853,226 m.
    points = [Position(40.6, -73.8), Position(49 + 1 / 60, 2 + 33 / 60)]
    nmi, hours = flight_h(points, 400.0, None, None, "leg")
    assert nmi * 1852 == pytest.approx(5_853_226, abs=1)
    assert hours == pytest.approx(nmi / 400.0)


def test_flight_along_a_meridian_against_a_head_wind():
    points = [Position(40.0, -10.0), Position(50.0, -10.0)]
    nmi, hours = flight_h(points, 400.0, 0.0, 40.0, "leg")
    assert hours == pytest.approx(nmi / 360.0, rel=1e-9)


def test_wind_stronger_than_the_aircraft_is_refused():
    points = [Position(40.0, -10.0), Position(50.0, -10.0)]
    with pytest.raises(InputError, match="cannot be flown against"):
        flight_h(points, 60.0, 0.0, 80.0, "leg x")
    with pytest.raises(InputError, match="half a wind"):
        flight_h(points, 60.0, None, 80.0, "leg x")


# --- speed loss --------------------------------------------------------------------------


def test_speed_loss_of_the_container_ship_at_beaufort_6():
    # A public transcription of a paper's table 15 gives the factor 0.932 for the KCS (block
    # coefficient 0.60, displaced volume 52,030 m³, 24 kn, Fr about 0.26) at Beaufort 6, head
    # sea, by Kwon's form for container ships. Seen at second hand; the tolerance of 0.01 is
    # that test's own, since the paper does not restate its inputs.
    waterline = (24.0 * 1852 / 3600) ** 2 / 9.80665 / 0.26**2
    wind = np.array([0.836 * 6.0**1.5])
    kept = kept_speed_kn(
        24.0,
        wind,
        np.array([0.0]),
        displacement_t=52_030 * 1.025,
        block_coefficient=0.60,
        waterline_m=waterline,
    )
    assert kept[0] / 24.0 == pytest.approx(0.932, abs=0.01)


def test_beaufort_number_of_the_wind():
    # WMO: U = 0.836 B^1.5 (check_values, sea state rows); 12.29 m/s is Beaufort 6.
    assert beaufort(np.array([0.0, 0.836, 0.836 * 6**1.5])) == pytest.approx([0.0, 1.0, 6.0])


def test_loss_grows_with_wind_and_falls_off_the_bow():
    ship = {"displacement_t": 6400.0, "block_coefficient": 0.65, "waterline_m": 90.0}
    wind = np.linspace(0.0, 20.0, 41)
    kept = kept_speed_kn(14.5, wind, np.zeros(41), **ship)
    assert kept[0] == 14.5
    assert np.all(np.diff(kept) <= 1e-12)
    at_6 = [direction_factor(np.array([6.0]), np.array([a]))[0] for a in (0, 45, 90, 170)]
    assert all(b < a for a, b in pairwise(at_6))
    astern = kept_speed_kn(14.5, wind, np.full(41, 180.0), **ship)
    assert np.all(astern <= 14.5)
    assert np.all(astern >= kept - 1e-12)


# --- tide --------------------------------------------------------------------------------


def test_tide_between_turns_by_twelfths():
    # Rule of twelfths (COMMON PRACTICE, no source): after 1..6 sixths of the time the water has
    # risen 1, 3, 6, 9, 11, 12 twelfths; half a cosine agrees within 0.02 of the range.
    start = datetime(2027, 3, 14, 6, 0, tzinfo=UTC)
    turns = (
        model.TideTurn(at=start, height_m=1.0),
        model.TideTurn(at=start + timedelta(hours=6), height_m=4.0),
    )
    curve = model.Tide(port="P", turns=turns)
    at = np.array([to_us(start + timedelta(hours=h)) for h in range(7)], dtype=np.int64)
    expected = 1.0 + 3.0 * np.array([0, 1, 3, 6, 9, 11, 12]) / 12
    assert tide.heights_m(curve, at) == pytest.approx(expected, abs=0.06)


def test_tide_outside_its_turns_is_not_known():
    start = datetime(2027, 3, 14, 6, 0, tzinfo=UTC)
    turns = (
        model.TideTurn(at=start, height_m=1.0),
        model.TideTurn(at=start + timedelta(hours=6), height_m=4.0),
    )
    curve = model.Tide(port="P", turns=turns)
    before = np.array([to_us(start - timedelta(minutes=1))], dtype=np.int64)
    assert np.isnan(tide.heights_m(curve, before)).all()
    assert tide.least_height_m(curve, start, timedelta(hours=7)) is None
    assert tide.least_height_m(curve, start, timedelta(hours=6)) == pytest.approx(1.0)


# --- the exercise's flight ---------------------------------------------------------------


def test_limpet_is_flown_about_2400_nautical_miles():
    from demo_data import scenario as s

    points = [s.HOME_BASE, s.FLIGHT_STOP, s.AIRFIELDS["Aldermouth field"]]
    total = sum(geodesy.between(a, b)[0] for a, b in pairwise(points)) / 1852
    assert total == pytest.approx(2400, abs=30)
