"""What was told of her movement piece by piece: each piece alone, and put together."""

from __future__ import annotations

from datetime import timedelta

import pytest
from pyproj import Geod

from layers.contract import Moment
from layers.datum.before.base import base_of
from layers.datum.before.prior import DiscPrior, TrackPrior
from layers.datum.compute import compute
from tests.unit.test_datum_reports import DUE, LKP, PIM, START, known

COURSE = {"course_true_deg": 215.0, "speed_min_kn": 6.0, "speed_max_kn": 6.0}


def at(hours):
    return START + timedelta(hours=hours)


def result(*facts, hours):
    found, _ = known(("datum.lkp", 0.0, LKP), *facts)
    return compute(found, {}, Moment(at(hours), at(hours)))


@pytest.mark.parametrize("part", [{"report_due": DUE}, {"speed_min_kn": 6.0}, {"length_nmi": 30.0}])
def test_one_part_without_a_course_leaves_the_last_place_and_is_no_refusal(part):
    found, _ = known(("datum.lkp", 0.0, LKP), ("datum.intended_movement", 0.0, part))
    assert isinstance(base_of(found, at(4)).prior, DiscPrior)


def test_a_report_that_was_due_is_overdue_without_a_course():
    due = ("datum.intended_movement", 0.0, {"report_due": DUE})  # eight hours after the start
    assert not result(due, hours=7.9).overdue
    assert result(due, hours=8.1).overdue


def test_course_and_speed_alone_reckon_on_to_now():
    found = result(("datum.intended_movement", 0.0, COURSE), hours=1.5)
    # 6 kn for 1.5 h is 9.0 nmi along 215
    place = found.dead_reckoning
    away_m = Geod(ellps="WGS84").inv(
        LKP["longitude_deg"], LKP["latitude_deg"], place.longitude_deg, place.latitude_deg
    )[2]
    assert away_m == pytest.approx(9.0 * 1852.0, rel=0.002)
    assert "no report was told to be due" in " ".join(found.notes)


def test_parts_told_apart_are_the_same_as_told_at_once():
    whole = ("datum.intended_movement", 0.0, COURSE | {"report_due": DUE, "length_nmi": 48.0})
    apart = (
        ("datum.intended_movement", 0.1, {"report_due": DUE}),
        ("datum.intended_movement", 0.2, {"course_true_deg": 215.0}),
        ("datum.intended_movement", 0.3, {"speed_min_kn": 6.0, "speed_max_kn": 6.0}),
        ("datum.intended_movement", 0.4, {"length_nmi": 48.0}),
    )
    one, several = result(whole, hours=10.0), result(*apart, hours=10.0)
    assert several.position == one.position
    assert several.radius_95_m == one.radius_95_m
    assert len(several.rests_on) == len(one.rests_on) + 3
    assert not one.notes


def test_a_length_left_out_is_her_speed_to_the_report():
    # 6 kn for the eight hours to the report is 48 nmi
    left = result(("datum.intended_movement", 0.0, COURSE | {"report_due": DUE}), hours=10.0)
    told = result(
        ("datum.intended_movement", 0.0, COURSE | {"report_due": DUE, "length_nmi": 48.0}),
        hours=10.0,
    )
    assert left.position == told.position


def test_a_newer_course_takes_the_place_of_the_old_track_and_keeps_the_hour():
    found, _ = known(
        ("datum.lkp", 0.0, LKP),
        ("datum.intended_movement", 0.0, PIM),
        ("datum.intended_movement", 1.0, {"course_true_deg": 180.0}),
    )
    base = base_of(found, at(20))
    assert isinstance(base.prior, TrackPrior)
    assert base.movement.track.course_true_deg == 180.0
    assert base.movement.due.isoformat() == DUE.replace("Z", "+00:00")
    # 8.8 kn for eight hours: the length of the old track is not the new one's
    assert base.movement.track.length_nmi == pytest.approx(70.4)
