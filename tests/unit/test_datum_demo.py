"""The exercise's datum closes from a strip to a circle to a fix, and holds the truth."""

import json
from functools import lru_cache

import pytest

from demo_data import scenario
from demo_data.load import demo_journal
from demo_data.writers.write_datum import records
from layers.contract import Moment
from layers.datum import LAYER
from layers.earth.geodesy import between
from layers.earth.units import M_PER_NMI
from layers.picture import picture


@lru_cache(maxsize=8)
def seen(day, hhmm):
    shelf, _ = demo_journal()
    at = scenario.z(day, hhmm)
    upto = max(record.seq for record in shelf.records if record.recorded_at <= at)
    shown = picture(shelf, Moment(at, at), upto, ("datum",)).shown("datum")
    assert shown is not None
    return shown


def holds_truth(result):
    away, _, _ = between(result.circle_centre, scenario.TRUTH)
    return away <= result.circle_radius_m


def test_before_anything_is_seen_it_is_a_strip_some_60_nmi_long():
    result = seen(13, "0905").result
    assert 55.0 <= result.along_m / M_PER_NMI <= 72.0
    # the chance that she left her track widens it; without that it is ten times as long as wide
    assert result.ellipse.semi_minor_m < 0.3 * result.ellipse.semi_major_m
    assert result.ellipse.bearing_true_deg == pytest.approx(65.0, abs=3.0)
    assert not result.localised
    assert holds_truth(result)


@pytest.mark.parametrize("hhmm", ["0620", "0710", "0905"])
def test_a_strip_on_which_nothing_was_seen_is_one_patch_in_each_band_no_lumps(hhmm):
    # sampling once showed as seven bright lumps, which read as seven places
    drawn = [mark.key for mark in LAYER.marks(seen(13, hhmm).result)]
    patches = [key for key in drawn if key.startswith("holds-0.")]
    assert sorted(patches) == ["holds-0.50-0", "holds-0.80-0", "holds-0.95-0"]


def test_slick_and_parted_buoy_bring_it_under_10_nmi_by_1300():
    result = seen(13, "1300").result
    assert 5.0 <= 2.0 * result.circle_radius_m / M_PER_NMI <= 10.0
    assert not result.localised
    assert holds_truth(result)


def test_bearings_and_ranges_bring_it_to_some_4_nmi_across_by_2100():
    shown = seen(13, "2100")
    result = shown.result
    assert 2.5 <= 2.0 * result.circle_radius_m / M_PER_NMI <= 4.5
    assert result.localised
    assert holds_truth(result)
    assert shown.sentence.startswith("Most probable position 49°50.")
    assert "95 % within 1." in shown.sentence
    assert "last heard 2050Z" in shown.sentence


def test_the_inspection_vehicle_brings_it_to_a_fix_good_to_150_m():
    shown = seen(14, "1000")
    result = shown.result
    assert result.is_fix
    assert result.radius_95_m <= 160.0
    assert holds_truth(result)
    assert shown.sentence.startswith("Position by fix 49°50.0′N 008°30.0′W, 95 % within")
    assert result.depth_m == scenario.DEPTH_M


def test_the_bearing_wrong_by_8_degrees_is_the_one_named():
    result = seen(14, "1000").result
    assert len(result.contradictions) == 1
    assert "from GREY HERON at 131721Z" in result.contradictions[0]
    wrong = [e for e in result.evidence if e.agreement == "does not fit the rest"]
    assert len(wrong) == 1
    assert "+8" in wrong[0].residual


def test_collapse_is_said():
    result = seen(14, "1000").result
    assert "drawn again in" in result.collapse


def test_the_charted_wreck_is_not_taken_for_her():
    contacts = seen(14, "0800").result.contacts
    by_wreck = [contact for contact in contacts if "SALTMARSH" in contact.says]
    assert by_wreck[0].chance_dissub < 0.1
    assert by_wreck[0].wreck_m < 200.0
    assert contacts[0].chance_dissub > 0.5


def test_the_two_escapees_are_an_object_of_their_own():
    result = seen(13, "2100").result
    assert [item.name for item in result.adrift] == ["two escapees"]
    item = result.adrift[0]
    assert item.persons == 2
    away, bearing, _ = between(scenario.TRUTH, item.position)
    assert away / M_PER_NMI > 5.0
    assert 30.0 < bearing < 100.0
    assert "from memory, not checked against the page" in item.leeway_words


def test_what_moved_it_is_said_in_one_sentence():
    moved = seen(13, "2100").result.moved
    assert moved.startswith("Since 1700Z the datum moved")
    assert moved.count(". ") == 0


def test_searches_leave_a_probability_never_a_cleared_area():
    result = seen(13, "2100").result
    assert 0.0 < result.searched.probability_seen < 0.9
    assert result.searched.left_outside > 0.0
    tables = seen(13, "2100").tables.values()
    words = " ".join(str(cell) for table in tables for row in table.rows for cell in row)
    assert "cleared" not in words


def test_the_file_is_what_the_script_writes():
    held = (scenario.FOLDER / "datum" / "records.jsonl").read_text("utf-8").splitlines()
    assert [json.loads(line) for line in held] == records()


def test_drift_of_the_exercise_rests_on_the_weather_layer():
    for item in seen(13, "2100").result.evidence:
        if item.kind == "datum.sighting" and item.state == "counts":
            assert "no wind or current" not in item.says
