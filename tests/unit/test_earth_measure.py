"""Range and bearing over legs, and the verbs that say it without a screen."""

from __future__ import annotations

import json
from datetime import UTC, datetime

import pytest

from layers.__main__ import main
from layers.earth.errors import InputError
from layers.earth.measure import bearing_words, measure, range_words
from layers.earth.position import Position

AT = datetime(2027, 3, 16, 6, 35, tzinfo=UTC)
A, B, C = Position(49.8333, -8.5), Position(50.153, -5.06), Position(51.84, -8.27)


def answer(capsys, *words):
    status = main([*words, "--json"])
    out = capsys.readouterr()
    assert out.err == ""
    return status, json.loads(out.out)


def test_legs_run_up_to_the_total():
    found = measure([A, B, C], AT, speed_kn=12.0)
    assert found.legs[-1].total_m == pytest.approx(sum(leg.distance_m for leg in found.legs))
    assert found.total_time_s == pytest.approx(found.total_nmi / 12.0 * 3600.0)
    assert found.area_m2 > 0
    leg = found.legs[0]
    assert leg.bearing_magnetic_deg == pytest.approx(leg.bearing_true_deg - leg.variation_deg)


def test_closing_adds_the_leg_home():
    assert len(measure([A, B, C], AT, closed=True).legs) == 3
    assert len(measure([A, B], AT, closed=True).legs) == 1


def test_same_place_twice_has_no_bearing():
    leg = measure([A, A], AT).legs[0]
    assert (leg.distance_m, leg.bearing_true_deg, leg.bearing_magnetic_deg) == (0.0, None, None)


def test_one_point_or_no_speed_is_refused():
    with pytest.raises(InputError, match="two points or more"):
        measure([A], AT)
    with pytest.raises(InputError, match="not a speed"):
        measure([A, B], AT, speed_kn=0.0)


def test_words_never_say_360():
    assert bearing_words(359.97) == "000.0°T"
    assert bearing_words(None) == "no bearing"
    assert range_words(1852.0) == "1.00 nmi (1852 m)"
    assert range_words(18_520.0) == "10.0 nmi"


def test_measure_verb_has_the_agreed_keys(capsys):
    status, said = answer(
        capsys, "measure", "49 50.0N 008 30.0W", "50.153 -5.06", "--at", "2027-03-16T06:35Z"
    )
    assert status == 0
    assert {
        "distance_m", "distance_nmi", "bearing_true_deg", "bearing_magnetic_deg",
        "back_bearing_true_deg", "rhumb_distance_m", "rhumb_bearing_true_deg",
    } <= said["legs"][0].keys()  # fmt: skip
    assert said["total_nmi"] == pytest.approx(134.6, abs=0.1)


def test_forward_verb_matches_the_published_pair(capsys):
    # VERIFIED. geographiclib 2.1 and pygeodesy 26.10.26: 50N 10W, 060, 100 NM
    _, said = answer(capsys, "forward", "50N 10W", "060T", "100nmi")
    assert said["latitude_deg"] == pytest.approx(50.810432, abs=1e-6)
    assert said["longitude_deg"] == pytest.approx(-7.724177, abs=1e-6)
    assert said["rhumb"]["latitude_deg"] == pytest.approx(50.832456, abs=1e-6)
    assert said["rhumb"]["longitude_deg"] == pytest.approx(-7.743317, abs=1e-6)


def test_forward_verb_past_the_pole_has_no_rhumb_line(capsys):
    _, said = answer(capsys, "forward", "89N 10W", "000T", "200nmi")
    assert said["latitude_deg"] == pytest.approx(87.7, abs=0.1)
    assert said["rhumb"]["latitude_deg"] is None
    assert "pole" in said["rhumb"]["note"]


def test_position_verb_has_the_agreed_keys(capsys):
    _, said = answer(capsys, "position", "33.3 44.4", "--at", "2026-01-01T00:00Z")
    assert said["mgrs"] == "38SMB4414084706"
    assert {"latitude_deg", "longitude_deg", "dm", "dms", "utm", "variation_deg"} <= said.keys()
    assert said["variation_date"].startswith("2026-01-01")


@pytest.mark.parametrize(
    "words",
    [
        ("position", "91N"),
        ("measure", "49N 8W"),
        ("measure", "49N 8W", "49 60.0N 8W"),
        ("forward", "50N 10W", "060", "100nmi"),
        ("forward", "50N 10W", "060G", "100nmi"),
        ("forward", "50N 10W", "R060", "100nmi"),
        ("forward", "50N 10W", "060T", "100"),
        ("position", "50N 8W", "--at", "2027-03-16T06:35"),
    ],
)
def test_bad_input_is_one_line_and_status_2(capsys, words):
    assert main(list(words)) == 2
    out = capsys.readouterr()
    assert out.out == ""
    assert out.err.count("\n") == 1
    assert "Traceback" not in out.err


def test_say_reads_as_sentences(capsys):
    assert main(["measure", "49N 8W", "50N 8W", "51N 8W", "--speed", "12"]) == 0
    said = capsys.readouterr().out
    assert "leg 1: 60.1 nmi, 000.0°T" in said
    assert "Not for navigation." in said
    assert main(["forward", "50N 10W", "R045", "5nmi", "--heading", "350T"]) == 0
    assert "035.0°T" in capsys.readouterr().out
    assert main(["position", "50N 8W"]) == 0
    assert "WMM2025" in capsys.readouterr().out
