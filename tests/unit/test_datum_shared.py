"""One observer's error is the same in all his reports; a report's time meets the time of loss."""

from datetime import timedelta

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from layers.datum.before.prior import States
from layers.datum.evidence.contacts import LookedAtTerm
from layers.datum.evidence.likelihood import BearingTerm
from layers.datum.evidence.shared import Member, SharedTerm
from layers.earth.plane import Plane, range_bearing
from layers.journal.record import Draft, as_record, form_identity
from tests.unit.test_datum_reports import BEARING, LKP, NAMED, PIM, POST, START, answer, compute

PLANE = Plane(49.83, -8.5)


def bearings(offsets_deg, *, shared_deg, wrong=1e-9, sigma_deg=2.0):
    """Return bearings of the middle by one observer 9 km west of it, each off by so much."""
    post = PLANE.position(-9_000.0, 0.0)
    _, true = range_bearing(PLANE, post.latitude_deg, post.longitude_deg, np.zeros(1), np.zeros(1))
    return tuple(
        Member(
            key=str(number),
            term=BearingTerm(
                plane=PLANE, latitude_deg=post.latitude_deg, longitude_deg=post.longitude_deg,
                bearing_true_deg=float(true[0] + off) % 360.0, sigma_deg=sigma_deg,
                position_sigma_m=0.0, wrong=wrong, shared_sigma_deg=shared_deg,
            ),
        )
        for number, off in enumerate(offsets_deg)
    )  # fmt: skip


def test_reports_of_one_owner_have_the_joint_normal_law_of_a_known_covariance():
    offsets = [1.0, -0.5, 2.0, 0.3, 1.5]
    members = bearings(offsets, shared_deg=1.6)
    rng = np.random.default_rng(4)
    states = States(rng.normal(0, 800.0, 40), rng.normal(0, 800.0, 40), np.zeros(40))
    found = SharedTerm(owner="A", members=members)(states)
    offs = np.stack([member.term.offsets(states)[0] for member in members]).astype(float)
    n = len(offsets)
    # covariance by hand: 1.6 degrees in common, sqrt(2^2 - 1.6^2) each by itself
    cov = np.radians(1) ** 2 * ((2.0**2 - 1.6**2) * np.eye(n) + 1.6**2)
    exact = multivariate_normal(np.zeros(n), cov).pdf(offs.T)
    likely = exact > 1e-4 * exact.max()
    assert likely.sum() > 10
    assert found[likely] == pytest.approx(exact[likely], rel=5e-3)


def test_the_tenth_bearing_of_one_gyro_is_worth_little():
    def area(facts):
        return answer(*facts, hours=20.0)[0].grid.area_m2(0.95)

    other = BEARING | {"latitude_deg": 49.9, "observer": "HERON", "bearing_deg": 140.0}
    cross = ("datum.bearing", 12.0, other)
    one = area([cross, ("datum.bearing", 12.0, BEARING)])
    ten = area([cross, *(("datum.bearing", 12.0 + 0.2 * k, BEARING) for k in range(10))])
    apart = area(
        [cross, *(("datum.bearing", 12.0 + 0.2 * k, BEARING | {"observer": f"S{k}"})
                  for k in range(10))]
    )  # fmt: skip
    three = area([cross, *(("datum.bearing", 12.0 + 0.2 * k, BEARING) for k in range(3))])
    # ten ships make it a root of ten narrower; of one ship more reports only say that the first
    # was no slip of the pen
    assert apart < 0.35 * one
    assert ten > 0.5 * one
    assert ten > 0.85 * three


def test_one_report_told_twice_is_one():
    twice, _ = answer(("datum.bearing", 12.0, BEARING), ("datum.bearing", 12.01, BEARING))
    once, _ = answer(("datum.bearing", 12.0, BEARING))
    assert [item.state for item in twice.evidence] == ["counts", "noted"]
    assert "the same as told" in twice.evidence[1].why
    assert twice.radius_95_m == pytest.approx(once.radius_95_m, rel=1e-6)
    assert twice.reports == once.reports


def test_what_each_observer_adds_is_told():
    facts = [("datum.bearing", 12.0 + 0.2 * k, BEARING | {"bearing_deg": 20.0 + 0.1 * k})
             for k in range(3)]  # fmt: skip
    result, _ = answer(*facts)
    assert [(item.owner, item.reports) for item in result.owners] == [("SALTMARSH, gyro", 3)]
    nothing, _ = answer()
    assert result.owners[0].radius_without_m == pytest.approx(nothing.radius_95_m, rel=0.1)


@pytest.mark.parametrize(
    ("kind", "extra"),
    [
        ("datum.heard", {"within_m": 60_000.0, "by": "hull tapping"}),
        ("datum.bearing", {"bearing_deg": 20.0, "sense": "true", "sigma_deg": 30.0,
                           "by": "pinger"}),
        ("datum.bearing", {"bearing_deg": 20.0, "sense": "true", "sigma_deg": 30.0,
                           "she_was": "on the bottom"}),
    ],
)  # fmt: skip
def test_what_was_heard_on_the_bottom_was_heard_after_the_loss(kind, extra):
    place = {"latitude_deg": 49.6, "longitude_deg": -9.2, "observer": "EAR", "chance_wrong": 0.01}
    result, _ = answer((kind, 3.0, place | extra), hours=9.0)
    assert result.lost.p95 <= START + timedelta(hours=3.2)
    assert result.lost.narrowed
    assert result.farthest_on.until == START + timedelta(hours=3)


def test_a_bearing_before_the_loss_is_of_a_boat_under_way_not_of_the_wreck():
    # seen at 1 h on the last known position's doorstep: it says nothing of where she sank at 8 h
    seen = {
        "latitude_deg": 49.45, "longitude_deg": -9.3, "observer": "EYE", "bearing_deg": 0.0,
        "sense": "true", "sigma_deg": 2.0, "she_was": "under way", "chance_wrong": 0.01,
    }  # fmt: skip
    plain, _ = answer(hours=9.0)
    result, _ = answer(("datum.bearing", 1.0, seen), hours=9.0)
    assert result.lost.p5 >= START + timedelta(hours=1)
    assert result.radius_95_m > 0.6 * plain.radius_95_m


def test_a_bang_fixes_the_time_of_loss_and_a_missed_report_bounds_it():
    at = (START + timedelta(hours=4)).isoformat()
    bang = {"what": "underwater explosion", "observer": "ARRAY", "earliest": at, "latest": at,
            "chance_wrong": 0.0}  # fmt: skip
    result, _ = answer(("datum.loss_time", 4.0, bang), hours=9.0)
    assert abs(result.lost.p50 - START - timedelta(hours=4)) < timedelta(minutes=10)
    # 6.5 kn at 7.2 to 8.8 kn for 4 h: she lies 28.8 to 35.2 nmi along the track
    assert result.along_m < 0.6 * answer(hours=9.0)[0].along_m
    assert result.lost.narrowed
    missed = {"what": "missed report", "observer": "CONSORT", "latest": at, "chance_wrong": 0.0}
    bounded, _ = answer(("datum.loss_time", 4.0, missed), hours=9.0)
    assert bounded.lost.p95 < START + timedelta(hours=4.1)


def test_without_a_report_on_it_the_time_of_loss_is_not_known_but_for_its_span():
    result, _ = answer(hours=9.0)
    assert not result.lost.narrowed
    assert (result.lost.first, result.lost.last) == (START, START + timedelta(hours=8))


def test_a_search_that_ended_before_the_loss_proves_nothing():
    ended = {
        "searcher": "PATROL", "sweep_width_m": 9_000.0, "started_at": START.isoformat(),
        "waypoints": [{"latitude_deg": 49.4, "longitude_deg": -9.6},
                      {"latitude_deg": 50.0, "longitude_deg": -8.0}],
    }  # fmt: skip
    lost = {"what": "last signal", "observer": "X", "chance_wrong": 0.0,
            "earliest": (START + timedelta(hours=2)).isoformat()}  # fmt: skip
    facts = [("datum.loss_time", 2.0, lost)]
    plain, _ = answer(*facts, hours=9.0)
    searched, _ = answer(*facts, ("datum.negative_search", 1.9, ended), hours=9.0)
    later, _ = answer(*facts, ("datum.negative_search", 8.9, ended), hours=9.0)
    assert searched.radius_95_m == pytest.approx(plain.radius_95_m, rel=0.02)
    assert later.searched.probability_seen > 0.2


def test_a_contact_ruled_out_excludes_what_was_looked_at_however_badly_its_place_is_known():
    # area excluded = integral of the chance: the circle's own area, whatever the blur
    x, y = np.meshgrid(np.arange(-9e3, 9e3, 50.0), np.arange(-9e3, 9e3, 50.0))
    states = States(x.ravel(), y.ravel(), np.zeros(x.size))
    for sigma in (0.0, 50.0, 500.0, 2_000.0):
        term = LookedAtTerm(x_m=0.0, y_m=0.0, radius_m=130.0, sigma_m=sigma, missed=0.0)
        excluded = float((1.0 - term(states)).sum()) * 50.0**2
        assert excluded == pytest.approx(np.pi * 130.0**2, rel=0.05)


def test_grades_move_the_chance_that_a_report_is_wrong_and_dispute_splits_it():
    records = []

    def add(kind, payload, hours, **said):
        at = START + timedelta(hours=hours)
        draft = Draft(kind=kind, payload=payload, valid_at=at, heard_at=at, source="t",
                      identity=form_identity(f"{kind}{len(records)}"), **said)  # fmt: skip
        records.append(as_record(draft, seq=len(records) + 1, recorded_at=at, author="a"))
        return records[-1]

    add("datum.lkp", LKP, 0.0)
    add("datum.intended_movement", PIM, 0.0)
    bearing = add("datum.bearing", BEARING, 12.0)

    def radius():
        from layers.contract import Moment
        from layers.journal.known import Known, ListShelf

        at = START + timedelta(hours=20)
        known = Known(ListShelf(records), NAMED, len(records), at)
        return compute(known, {}, Moment(at, at))

    plain = radius()
    add("journal.grade", {"target": bearing.id, "reliability": "E", "credibility": 5}, 13.0)
    graded = radius()
    assert graded.radius_95_m > 1.1 * plain.radius_95_m
    assert "graded E5" in graded.evidence[0].why
    add("datum.wrong_chances", {"reliability_e": 0.01, "credibility_5": 1.0}, 14.0)
    assert radius().radius_95_m < plain.radius_95_m * 1.02


def test_silence_is_evidence_with_its_doubt():
    quiet = POST | {
        "latitude_deg": 49.7, "longitude_deg": -8.9, "within_m": 20_000.0, "by": "pinger",
        "sounding_chance": 0.8, "started_at": (START + timedelta(hours=10)).isoformat(),
    }  # fmt: skip
    result, _ = answer(("datum.not_heard", 12.0, quiet))
    item = result.evidence[0]
    assert item.state == "counts"
    # never more than the chance that she sounds at all, by the text
    share = float(item.agreement.removeprefix("would have heard her with ").rstrip("%")) / 100.0
    assert 0.1 < share <= 0.8
