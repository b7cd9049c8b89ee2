"""Particles against closed forms: Gaussian products, two stations, collapse and repeatability."""

from datetime import UTC, datetime

import numpy as np
import pytest
from scipy.stats import cauchy

from layers.datum.before.prior import DiscPrior, States, TrackPrior
from layers.datum.evidence.likelihood import (
    BearingTerm,
    DifferenceTerm,
    HeardTerm,
    PlaceTerm,
    RangeTerm,
)
from layers.datum.probability.containment import ellipse_95, quantile
from layers.datum.probability.particles import (
    Term,
    effective_number,
    estimate,
    systematic,
    weights,
    without,
)
from layers.earth.geodesy import WGS84
from layers.earth.plane import Plane, range_bearing

START = datetime(2027, 3, 12, 22, 0, tzinfo=UTC)
PLANE = Plane(49.83, -8.5)


def disc(radius_m=50_000.0):
    return DiscPrior(
        words="", start=START, span_s=3_600.0, centre_x_m=0.0, centre_y_m=0.0, radius_m=radius_m
    )


def track(**other):
    settings = {
        "words": "",
        "start": START,
        "span_s": 8 * 3_600.0,
        "x_m": np.array([-60_000.0, 0.0, 55_000.0]),
        "y_m": np.array([-20_000.0, 0.0, 30_000.0]),
        "sigma_m": 900.0,
        "growth_m_per_s": 0.13,
        "speed_min_m_s": 3.7,
        "speed_max_m_s": 4.5,
        "off_track_chance": 0.05,
    } | other
    return TrackPrior(**settings)


def at(east_m, north_m):
    place = PLANE.position(east_m, north_m)
    return {"latitude_deg": place.latitude_deg, "longitude_deg": place.longitude_deg}


def bearing_to(observer, target=(0.0, 0.0), sigma=1.0, wrong=0.0, error=0.0):
    _, true_deg = range_bearing(
        PLANE, *at(*observer).values(), np.array([target[0]]), np.array([target[1]])
    )
    return BearingTerm(
        plane=PLANE,
        **at(*observer),
        bearing_true_deg=float(true_deg[0]) + error,
        sigma_deg=sigma,
        position_sigma_m=0.0,
        wrong=wrong,
    )


def moments(cloud):
    x, y, w = cloud.states.x_m, cloud.states.y_m, cloud.weight
    mean = np.array([w @ x, w @ y])
    return mean, np.cov(np.stack([x, y]), aweights=w)


@pytest.mark.parametrize("sigmas", [(3_000.0, 2_000.0), (300.0, 200.0), (60.0, 45.0)])
def test_two_gaussians_multiply_as_the_closed_form_says(sigmas):
    # product of N(a, s^2) and N(b, t^2): variance 1/(1/s^2 + 1/t^2), mean weighted by precision
    one, two = sigmas
    a, b = np.array([0.0, 0.0]), np.array([1.2 * one, -0.6 * one])
    terms = [
        Term(key=str(n), likelihood=PlaceTerm(x_m=p[0], y_m=p[1], sigma_m=s, chance_dissub=1.0,
             elsewhere_per_m2=0.0))
        for n, (p, s) in enumerate(((a, one), (b, two)))
    ]  # fmt: skip
    cloud, _ = estimate(disc(), terms, 5)
    variance = 1.0 / (1.0 / one**2 + 1.0 / two**2)
    expected = variance * (a / one**2 + b / two**2)
    mean, cov = moments(cloud)
    assert mean == pytest.approx(expected, abs=0.02 * np.sqrt(variance) + 0.02 * one)
    assert cov[0, 0] == pytest.approx(variance, rel=0.05)
    assert cov[1, 1] == pytest.approx(variance, rel=0.05)
    assert abs(cov[0, 1]) < 0.05 * variance


def test_two_stations_give_the_closed_form_ellipse():
    # stations 10,000 m apart, target (5,000, 5,000): sigma 1 deg at 7,071 m is 123.413 m
    terms = [
        Term(key="a", likelihood=bearing_to((-5_000.0, -5_000.0))),
        Term(key="b", likelihood=bearing_to((5_000.0, -5_000.0))),
    ]
    cloud, _ = estimate(disc(), terms, 6, 60_000)
    found = ellipse_95(cloud.states.x_m, cloud.states.y_m, cloud.weight)
    assert found.semi_major_m == pytest.approx(2.44775 * 123.413, rel=0.06)
    assert found.semi_minor_m == pytest.approx(2.44775 * 123.413, rel=0.06)


def test_the_same_seed_gives_the_same_answer_to_the_last_bit():
    terms = [Term(key="a", likelihood=bearing_to((-9_000.0, 2_000.0)))]
    one, two = estimate(track(), terms, 3, 30_000)[0], estimate(track(), terms, 3, 30_000)[0]
    assert np.array_equal(one.states.x_m, two.states.x_m)
    assert np.array_equal(one.weight, two.weight)


def test_collapse_is_noticed_and_the_cloud_drawn_again():
    place = PlaceTerm(x_m=1_000.0, y_m=500.0, sigma_m=50.0, chance_dissub=1.0, elsewhere_per_m2=0.0)
    cloud, _ = estimate(track(), [Term(key="a", likelihood=place)], 3)
    assert cloud.stages > 0
    assert cloud.effective < 4_000
    assert len(np.unique(cloud.states.x_m)) > 50_000
    mean, cov = moments(cloud)
    assert mean == pytest.approx([1_000.0, 500.0], abs=4.0)
    assert np.sqrt(np.diag(cov)) == pytest.approx([50.0, 50.0], rel=0.05)


def test_two_ranges_keep_both_places():
    ranges = [
        RangeTerm(plane=PLANE, **at(*post), horizontal_m=[metres], sigma_m=80.0,
                  position_sigma_m=0.0, wrong=0.0)
        for post, metres in (((-6_000.0, 0.0), 7_500.0), ((6_000.0, 0.0), 7_500.0))
    ]  # fmt: skip
    cloud, _ = estimate(
        disc(), [Term(key=str(n), likelihood=r) for n, r in enumerate(ranges)], 4, 60_000
    )
    north = cloud.weight[cloud.states.y_m > 0.0].sum()
    assert north == pytest.approx(0.5, abs=0.06)
    assert np.abs(cloud.states.y_m).min() > 3_000.0


def test_several_paths_are_all_kept():
    term = RangeTerm(
        plane=PLANE, **at(0.0, 0.0), horizontal_m=[4_000.0, 5_000.0], sigma_m=60.0,
        position_sigma_m=0.0, wrong=0.0,
    )  # fmt: skip
    cloud, _ = estimate(disc(), [Term(key="a", likelihood=term)], 4, 60_000)
    metres = np.hypot(cloud.states.x_m, cloud.states.y_m)
    near = cloud.weight[metres < 4_500.0].sum()
    assert 0.3 < near < 0.6  # the ring farther out is longer


def test_prior_density_integrates_to_one_and_agrees_with_its_draws():
    prior = track(off_track_chance=0.2)
    rng = np.random.default_rng(1)
    wide = States(
        rng.uniform(-2e5, 2e5, 400_000), rng.uniform(-2e5, 2e5, 400_000),
        rng.uniform(0.0, prior.span_s, 400_000),
    )  # fmt: skip
    volume = 4e5 * 4e5 * prior.span_s
    assert np.exp(prior.log_density(wide)).mean() * volume == pytest.approx(1.0, abs=0.05)
    drawn = prior.draw(200_000, rng)
    box = (np.abs(drawn.x_m + 30_000.0) < 4_000.0) & (np.abs(drawn.y_m + 10_000.0) < 4_000.0)
    inside = States(
        rng.uniform(-34_000.0, -26_000.0, 200_000), rng.uniform(-14_000.0, -6_000.0, 200_000),
        rng.uniform(0.0, prior.span_s, 200_000),
    )  # fmt: skip
    held = np.exp(prior.log_density(inside)).mean() * 8_000.0**2 * prior.span_s
    assert box.mean() == pytest.approx(held, rel=0.06)


def test_moving_does_not_change_a_prior_that_nothing_bears_on():
    # a likelihood of 1 everywhere but a thin strip forces the led path; the rest must stay put
    prior = track()
    never = HeardTerm(
        plane=PLANE, **at(0.0, 0.0), within_m=1e7, fades_over_m=1e6, wrong=0.0
    )  # fmt: skip
    cloud, first = estimate(prior, [Term(key="a", likelihood=never)], 9, 60_000, enough=300_000.0)
    assert cloud.stages >= 1
    for part in (0.1, 0.5, 0.9):
        mine = quantile(cloud.states.x_m, cloud.weight, part)
        theirs = quantile(first.states.x_m, first.weight, part)
        assert mine == pytest.approx(theirs, abs=1_800.0)


def test_leaving_one_out_is_the_answer_without_it():
    near = bearing_to((-9_000.0, 2_000.0), sigma=2.0)
    off = bearing_to((8_000.0, -3_000.0), sigma=1.0, wrong=0.1, error=10.0)
    terms = [Term(key="a", likelihood=near), Term(key="b", likelihood=off)]
    found, first = estimate(track(), terms, 2, 60_000)
    states, weight = without(track(), terms, first, found, {1: None}, 77)
    alone, _ = estimate(track(), terms[:1], 3, 60_000)
    assert weight @ states.x_m == pytest.approx(alone.weight @ alone.states.x_m, abs=1_500.0)


def test_a_wrong_bearing_cannot_rule_the_truth_out():
    posts = [(-9_000.0, 4_000.0), (7_000.0, 8_000.0), (2_000.0, -9_000.0), (-6_000.0, -8_000.0)]
    terms = [
        Term(key=str(n), likelihood=bearing_to(p, wrong=0.1, error=10.0 if n == 3 else 0.0))
        for n, p in enumerate(posts)
    ]
    cloud, _ = estimate(disc(), terms, 8, 60_000)
    middle = np.array(
        [np.median(cloud.states.x_m), np.median(cloud.states.y_m)]
    )  # led particles weigh alike
    assert np.hypot(*middle) < 250.0


def test_hyperbola_passes_through_the_truth():
    first, second = at(-8_000.0, 0.0), at(8_000.0, 1_000.0)
    x, y = np.array([3_000.0]), np.array([5_000.0])
    lat, lon = PLANE.unproject(x, y)
    near = WGS84.inv(first["longitude_deg"], first["latitude_deg"], lon[0], lat[0])[2]
    far = WGS84.inv(second["longitude_deg"], second["latitude_deg"], lon[0], lat[0])[2]
    term = DifferenceTerm(
        plane=PLANE, first=tuple(first.values()), second=tuple(second.values()),
        difference_m=far - near, sigma_m=30.0, wrong=0.0, apart_m=16_000.0,
    )  # fmt: skip
    off, _ = term.residual_m(States(x, y, x))
    assert abs(off[0]) < 2.0


def test_plane_agrees_with_the_ellipsoid_within_its_reach():
    rng = np.random.default_rng(1)
    x, y = rng.uniform(-1e5, 1e5, 500), rng.uniform(-1e5, 1e5, 500)
    observer = at(60_000.0, -70_000.0)
    metres, bearing = range_bearing(PLANE, *observer.values(), x, y)
    lat, lon = PLANE.unproject(x, y)
    azimuth, _, true_m = WGS84.inv(
        np.full(500, observer["longitude_deg"]), np.full(500, observer["latitude_deg"]), lon, lat
    )
    assert np.abs(metres / true_m - 1.0).max() < 2.5e-4
    assert np.abs((bearing - azimuth + 180.0) % 360.0 - 180.0).max() < 0.02


def test_fast_bearing_density_is_the_plain_one():
    term = bearing_to((-30_000.0, 9_000.0), sigma=1.5, wrong=0.05)
    rng = np.random.default_rng(1)
    states = States(rng.normal(0, 9e3, 2_000), rng.normal(0, 9e3, 2_000), np.zeros(2_000))
    off, sigma = term.residual_deg(states)
    off, sigma = np.radians(off), np.radians(sigma)

    def law(size):
        return np.exp(-0.5 * (off / size) ** 2) / (size * np.sqrt(2 * np.pi))

    # half of 0.05 of those not wrong are understated: half by a root of two, half by two
    right = 0.975 * law(sigma) + 0.0125 * (law(np.sqrt(2) * sigma) + law(2 * sigma))
    # of the wrong ones nine in ten follow Cauchy's law of four times the stated error
    plain = 0.95 * right + 0.05 * (0.9 * cauchy.pdf(off, scale=4 * sigma) + 0.1 / (2 * np.pi))
    assert term(states) == pytest.approx(plain, rel=5e-4)


def test_resampling_keeps_the_weights():
    rng = np.random.default_rng(1)
    weight = np.array([0.5, 0.25, 0.25, 0.0])
    rows = systematic(weight, 4_000, rng)
    assert np.bincount(rows, minlength=4) == pytest.approx([2_000, 1_000, 1_000, 0], abs=1)
    assert effective_number(np.full(10, 0.1)) == pytest.approx(10.0)
    assert weights(np.full(4, -np.inf)) == pytest.approx(np.full(4, 0.25))


def test_quantile_by_bins_is_the_sorted_one():
    rng = np.random.default_rng(2)
    values, weight = rng.exponential(1_000.0, 20_000), rng.random(20_000)
    order = np.argsort(values)
    edges = np.cumsum(weight[order]) / weight.sum()
    for part in (0.05, 0.5, 0.95):
        plain = values[order][np.searchsorted(edges, part)]
        assert quantile(values, weight, part) == pytest.approx(plain, abs=0.05)


@pytest.mark.parametrize("sigma_m", [400.0, 4_000.0, 12_000.0])
def test_a_listener_whose_place_is_doubtful_tells_less(sigma_m):
    """The chance to have been within earshot, against drawn places of the listener."""
    away = np.array([0.0, 3_000.0, 6_000.0, 12_000.0, 25_000.0])
    states = States(away, np.zeros(5), np.zeros(5))
    term = HeardTerm(plane=PLANE, **at(0.0, 0.0), within_m=5_000.0, fades_over_m=2_500.0,
                     wrong=0.0, position_sigma_m=sigma_m)  # fmt: skip
    rng = np.random.default_rng(7)
    east, north = rng.normal(0.0, sigma_m, (2, 200_000))
    for mine, metres in zip(term(states), away, strict=True):
        apart = np.hypot(metres + east, north)
        heard = 1.0 / (1.0 + np.exp(np.clip(4.0 * (apart - 5_000.0) / 2_500.0, -60.0, 60.0)))
        assert mine == pytest.approx(heard.mean(), abs=0.01), metres
