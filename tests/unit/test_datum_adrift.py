"""One drift from release to now, and searches judged where the object was when it was passed."""

from datetime import timedelta

import numpy as np
import pytest

from layers.contract import Moment
from layers.datum.adrift.drift import draw_drifters
from layers.datum.adrift.flock import Flock
from layers.datum.adrift.leeway import BY_KEY
from layers.datum.adrift.looked import LookedLeg, swept
from layers.datum.compute import compute
from layers.earth.plane import Plane
from layers.earth.values import Conditions
from tests.unit.test_datum_reports import LKP, START, known

HOUR_US = 3_600_000_000
PLANE = Plane(49.83, -8.5)
RAFT = {"name": "raft", "object_type": "raft, deep ballast", "persons": 4}
SEEN = {
    "latitude_deg": 49.8, "longitude_deg": -8.5, "what": "raft", "object": "raft",
    "object_type": "raft, deep ballast", "sigma_m": 200.0, "observer": "X", "leak": "not of her",
}  # fmt: skip


def raft(*facts, hours=48.0):
    found, _ = known(
        ("datum.lkp", 0.0, LKP), ("datum.object", 0.0, RAFT), ("datum.sighting", 1.0, SEEN), *facts
    )
    at = START + timedelta(hours=hours)
    return compute(found, {}, Moment(at, at)).adrift[0]


def far_search(ended_h):
    """Return a search 500 nmi away that can have seen nothing of the raft."""
    return ("datum.negative_search", ended_h, {
        "searcher": "FAR", "sweep_width_m": 1_000.0, "object": "raft",
        "started_at": (START + timedelta(hours=ended_h - 1)).isoformat(),
        "waypoints": [{"latitude_deg": 42.0, "longitude_deg": -15.0},
                      {"latitude_deg": 42.1, "longitude_deg": -15.0}],
    })  # fmt: skip


def test_reports_that_say_nothing_do_not_widen_the_drift():
    alone = raft()
    papered = raft(*(far_search(h) for h in range(7, 47, 6)))
    assert papered.still_there == pytest.approx(1.0)
    assert papered.radius_95_m == pytest.approx(alone.radius_95_m, rel=0.04)


@pytest.mark.parametrize("seed", range(20))
def test_a_leg_past_a_drifting_object_sums_to_the_integral_over_time(seed):
    # Koopman's inverse cube rate k h / r^3 integrated over time in twenty thousand steps; an
    # endless leg passed at x gives 2 k h / (v x^2) = m / x^2, m = W^2 / (4 pi), so k h = m v / 2
    rng = np.random.default_rng(seed)
    width, speed = 1_852.0, 5.0
    start, course = rng.uniform(-8e3, 8e3, 2), rng.uniform(0, 2 * np.pi)
    length = rng.uniform(3e3, 2e4)
    end = start + length * np.array([np.sin(course), np.cos(course)])
    span_s = length / speed
    objects = rng.uniform(-8e3, 8e3, (30, 2))
    drift = rng.uniform(-0.8, 0.8, (30, 2))
    moved = objects + drift * span_s
    t = (np.arange(20_000) + 0.5) / 20_000 * span_s
    ship = start + (end - start) * (t / span_s)[:, None]
    r2 = np.stack([((ship - (o + d * t[:, None])) ** 2).sum(axis=1)
                   for o, d in zip(objects, drift, strict=True)])  # fmt: skip
    clear = np.sqrt(r2.min(axis=1)) > 60.0  # nearer, the integral over steps is the coarse one
    m = width**2 / (4.0 * np.pi)
    exact = (0.5 * m * speed / r2**1.5).sum(axis=1) * span_s / 20_000
    leg = LookedLeg(from_m=tuple(start), to_m=tuple(end), begin_us=0, end_us=int(span_s * 1e6))
    found = swept(leg, tuple(objects.T), tuple(moved.T), width)
    assert found[clear] == pytest.approx(exact[clear], rel=2e-3)


class Stream:
    """A current of 1 kn to the east everywhere, exactly known; no wind."""

    def conditions(self, lat, lon, at_us):
        still, exact = np.zeros(len(lat)), np.full(len(lat), 1e-4)
        return Conditions(
            wind_east_m_s=still, wind_north_m_s=still, wind_sigma_m_s=exact,
            current_east_m_s=np.full(len(lat), self.speed(lat, lon)), current_north_m_s=still,
            current_sigma_m_s=exact, hs_m=still, hs_sigma_m=still, tp_s=still,
        )  # fmt: skip

    def speed(self, lat, lon):
        return 1852.0 / 3600.0


class Jet(Stream):
    """A jet 12 km wide of 1.5 m/s along 49.83 N, still water beside it."""

    def speed(self, lat, lon):
        return np.where(np.abs(lat - 49.83) < 6.0 / 111.2, 1.5, 0.0)


def flock(stream, x=0.0, y=0.0, count=400):
    rng = np.random.default_rng(3)
    return Flock(
        x_m=np.full(count, x), y_m=np.full(count, y), at_us=0, began_us=0, released_us=None,
        drifters=draw_drifters(BY_KEY["drifts with the water alone"], count, rng),
        plane=PLANE, conditions=stream, rng=rng,
    )  # fmt: skip


def test_a_jet_narrower_than_the_nodes_of_yesterday_carries_what_floats_in_it():
    boat = flock(Jet())
    boat.go_to(12 * HOUR_US)
    # by hand: 1.5 m/s for 12 h
    assert np.median(boat.x_m) == pytest.approx(64_800.0, rel=0.02)


def test_it_drifts_on_however_far():
    boat = flock(Stream())
    boat.go_to(72 * HOUR_US)
    assert np.median(boat.x_m) == pytest.approx(72 * 1852.0, rel=0.01)


def test_a_drift_in_two_pieces_is_the_drift_in_one():
    whole, parted = flock(None), flock(None)
    whole.go_to(30 * HOUR_US)
    for hour in range(1, 31):
        parted.go_to(hour * HOUR_US)
    assert np.std(parted.x_m) == pytest.approx(np.std(whole.x_m), rel=0.12)


def test_unknown_wind_and_current_are_wide_and_said():
    item = raft(hours=13.0)
    # 0.35 m/s of current for 12 h is 15 km a component; the 95 % circle is 2.45 times as wide
    assert item.radius_95_m > 2.4477 * 0.35 * 12 * 3_600.0
    assert "no wind or current is known for 100%" in item.notes[0]


def test_one_unconfirmed_slick_does_not_localise_her():
    slick = {
        "latitude_deg": 49.53, "longitude_deg": -9.5, "what": "oil slick",
        "object_type": "oil slick", "sigma_m": 500.0, "observer": "X",
    }  # fmt: skip
    found, _ = known(("datum.lkp", 0.0, LKP), ("datum.sighting", 1.5, slick))
    at = START + timedelta(hours=2)
    result = compute(found, {}, Moment(at, at))
    assert not result.localised
