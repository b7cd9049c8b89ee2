"""One position: two heaps are two places, a net fix is the position, farthest-on runs to now."""

from datetime import timedelta

import numpy as np
import pytest

from layers.contract import Moment
from layers.datum.answers import position
from layers.datum.compute import compute
from layers.datum.report import sentence
from layers.earth.geodesy import between
from layers.earth.position import Position
from layers.earth.uncertain import Stated
from layers.earth.values import Ellipse, FoundFix, TranspondersValue
from tests.unit.test_datum_reports import LKP, POST, START, answer, known

NMI = 1852.0
THERE = Position(49.80, -8.62)


def fixed(at_h, place=THERE, radius_m=5.0, agrees=True):
    at = START + timedelta(hours=at_h)
    return FoundFix(
        position=place,
        ellipse_95=Ellipse(semi_major_m=radius_m, semi_minor_m=radius_m, bearing_true_deg=0.0),
        depth_m=142.0,
        at=at,
        heard_at=at,
        source="net",
        lines=4,
        agrees=agrees,
        disputed=False,
        records=(f"{at_h:032d}",),
    )


def with_net(*fixes, facts=(), hours=20.0):
    found, _ = known(("datum.lkp", 0.0, LKP), *facts)
    at = START + timedelta(hours=hours)
    others = {"transponders": TranspondersValue(profile=None, fixes=fixes)}
    return compute(found, others, Moment(at, at))


def test_two_crossings_of_two_ranges_are_two_places_never_the_empty_middle():
    # two posts 6 nmi apart on one meridian, both 5.83 nmi from her: by Pythagoras she lies 5 nmi
    # east or 5 nmi west of the middle, and the middle itself is 3 nmi from each post
    post = {"observer": "A", "latitude_deg": 49.75, "longitude_deg": -8.6}
    other = post | {"observer": "B", "latitude_deg": 49.85}
    ranged = {"slant_range_m": np.hypot(3.0, 5.0) * NMI, "sigma_m": 200.0, "position_sigma_m": 50.0}
    found, _ = known(("datum.range", 10.0, post | ranged), ("datum.range", 11.0, other | ranged))
    at = START + timedelta(hours=12)
    result = compute(found, {}, Moment(at, at))
    middle = Position(49.80, -8.6)
    assert len(result.places) == 2
    # symmetry shares them evenly; that both ranges may be wrong leaves a part elsewhere
    shares = [place.share for place in result.places]
    assert 0.6 < sum(shares) < 1.0
    assert shares[1] / shares[0] > 0.8
    for place in result.places:
        assert between(place.position, middle)[0] == pytest.approx(5.0 * NMI, abs=0.3 * NMI)
        assert place.radius_95_m < 2.0 * NMI
    assert between(result.position, middle)[0] > 4.0 * NMI
    assert "two places" in sentence(result)


def test_one_range_gives_a_place_on_its_ring_not_its_middle():
    post = POST | {"slant_range_m": 9_000.0, "sigma_m": 200.0}
    found, _ = known(("datum.range", 10.0, post))
    at = START + timedelta(hours=12)
    result = compute(found, {}, Moment(at, at))
    away = between(result.position, Position(POST["latitude_deg"], POST["longitude_deg"]))[0]
    # good to one cell of so wide a grid, 0.95 km; its middle would be 0
    assert away == pytest.approx(9_000.0, abs=1_000.0)


def test_a_net_fix_is_the_position_and_what_was_seen_before_is_evidence():
    seen = {
        "latitude_deg": 49.8003, "longitude_deg": -8.6004 - 0.02, "observer": "ROV",
        "sigma_m": 55.0, "form": "hull", "identified": "DISSUB", "depth_m": 140.0,
    }  # fmt: skip
    before = with_net(facts=[("datum.contact", 12.0, seen)])
    after = with_net(fixed(15), facts=[("datum.contact", 12.0, seen)])
    assert before.is_fix
    assert before.radius_95_m == pytest.approx(2.45 * 55.0, rel=0.05)
    assert after.is_fix
    assert after.radius_95_m < 8.0
    assert between(after.position, THERE)[0] < 3.0
    assert after.depth_m == 142.0
    told = position(after, Moment(after.at, after.at))
    assert isinstance(told, Stated)
    assert told.value.said_by.startswith("net fix")
    assert told.value.last_heard == START + timedelta(hours=15)
    assert set(told.rests_on) >= {f"{15:032d}"}
    kinds = {item.kind: item.state for item in after.evidence}
    assert kinds["datum.contact"] == "counts"


def test_a_net_fix_alone_is_enough():
    found, _ = known()
    at = START + timedelta(hours=20)
    others = {"transponders": TranspondersValue(profile=None, fixes=(fixed(15),))}
    assert compute(found, others, Moment(at, at)).is_fix


def test_the_later_of_two_fixes_counts_and_the_older_is_told_as_noted():
    elsewhere = Position(49.81, -8.62)
    result = with_net(fixed(15, elsewhere), fixed(16))
    assert between(result.position, THERE)[0] < 5.0
    states = [item.state for item in result.evidence if item.kind == "transponders.typed_fix"]
    assert sorted(states) == ["counts", "noted"]


def test_a_fix_whose_lines_disagree_does_not_overrule_what_was_seen():
    seen = {
        "latitude_deg": 49.9, "longitude_deg": -8.62, "observer": "ROV", "sigma_m": 55.0,
        "form": "hull", "identified": "DISSUB",
    }  # fmt: skip
    result = with_net(fixed(15, agrees=False), facts=[("datum.contact", 12.0, seen)])
    assert between(result.position, Position(49.9, -8.62))[0] < 100.0
    assert result.contradictions


@pytest.mark.parametrize("hours", [0.05, 2.0, 9.0])
def test_farthest_on_stands_with_a_last_known_position_alone_and_runs_to_now(hours):
    found, _ = known(("datum.lkp", 0.0, LKP))
    at = START + timedelta(hours=hours)
    result = compute(found, {}, Moment(at, at))
    # by hand: 95 % of a normal error in two dimensions is 2.4477 sigma, then 8 kn from the report
    assert result.farthest_on.radius_m == pytest.approx(2.4477 * 900.0 + hours * 8 * NMI, rel=1e-3)
    assert result.farthest_on.until == at
    assert "8 kn (assumed" in result.farthest_on.words
    if hours >= 2.0:
        assert result.ellipse.semi_major_m < result.farthest_on.radius_m
    assert "begins: last known position" in result.moved if hours < 4.0 else True


def test_farthest_on_ends_when_she_was_on_the_bottom():
    seen = {
        "latitude_deg": 49.6, "longitude_deg": -9.3, "observer": "ROV", "sigma_m": 55.0,
        "form": "hull", "identified": "DISSUB",
    }  # fmt: skip
    result, _ = answer(("datum.contact", 12.0, seen), hours=20.0)
    assert result.farthest_on.until == START + timedelta(hours=12)
