"""Reports, good and bad: what each says, what is refused, nothing lost."""

import hashlib
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from layers.contract import Moment, Origin
from layers.datum.compute import compute
from layers.datum.evidence.soundings import horizontal_ranges, mean_speed
from layers.datum.handed_on import hand
from layers.datum.kinds import KINDS
from layers.datum.lines import feed
from layers.datum.lines.directions import true_bearing
from layers.datum.marks import marks
from layers.datum.model import Bearing, Range
from layers.datum.report import sentence, table, tables
from layers.earth.errors import InputError
from layers.earth.geodesy import between
from layers.earth.position import Position
from layers.earth.values import SoundSpeedProfile
from layers.earth.variation import variation
from layers.journal.kinds import OPINIONS
from layers.journal.known import Known, ListShelf, check_payload
from layers.journal.record import Draft, as_record, form_identity

NAMED = {kind.name: kind for kind in (*OPINIONS, *KINDS)}
START = datetime(2027, 3, 12, 22, 0, tzinfo=UTC)
DUE = "2027-03-13T06:00:00Z"
LKP = {"latitude_deg": 49.52, "longitude_deg": -9.52, "sigma_m": 900.0, "reported_by": "X"}
PIM = {
    "course_true_deg": 65.0,
    "length_nmi": 95.0,
    "speed_min_kn": 7.2,
    "speed_max_kn": 8.8,
    "report_due": DUE,
}
POST = {"latitude_deg": 49.72, "longitude_deg": -8.6, "observer": "SALTMARSH"}
BEARING = POST | {"bearing_deg": 20.0, "sense": "true", "sigma_deg": 3.0}
RANGE = POST | {"slant_range_m": 9_000.0, "sigma_m": 300.0}


def known(*facts):
    """Return what is known of (kind, hours after the start, payload)."""
    records = []
    for number, (kind, hours, payload) in enumerate(facts, start=1):
        check_payload(NAMED[kind], payload, kind)
        at = START + timedelta(hours=hours)
        draft = Draft(
            kind=kind, payload=payload, valid_at=at, heard_at=at, source="test",
            identity=form_identity(f"{kind}{number}"),
        )  # fmt: skip
        records.append(as_record(draft, seq=number, recorded_at=at, author="a"))
    return Known(ListShelf(records), NAMED, len(records), START + timedelta(hours=20)), records


def answer(*facts, hours=20.0):
    found, records = known(("datum.lkp", 0.0, LKP), ("datum.intended_movement", 0.0, PIM), *facts)
    at = START + timedelta(hours=hours)
    return compute(found, {}, Moment(at, at)), records


def refused(kind, payload):
    with pytest.raises(InputError) as caught:
        check_payload(NAMED[kind], payload, kind)
    return str(caught.value)


@pytest.mark.parametrize(
    ("kind", "payload", "said"),
    [
        ("datum.bearing", BEARING | {"bearing_deg": 361.0}, "361° is not a direction"),
        ("datum.bearing", BEARING | {"bearing_deg": -1.0}, "0 to 360"),
        ("datum.bearing", BEARING | {"sense": "relative"}, "needs the observer's heading"),
        ("datum.bearing", BEARING | {"sense": "grid"}, "grid_convergence_deg"),
        ("datum.bearing", BEARING | {"sense": "compass"}, "'true', 'magnetic', 'grid'"),
        ("datum.bearing", {k: v for k, v in BEARING.items() if k != "sense"}, "sense"),
        ("datum.bearing", BEARING | {"range_m": 5.0}, "range_sigma_m"),
        ("datum.range", RANGE | {"slant_range_m": 0.0}, "range of 0 is not a range"),
        ("datum.range", RANGE | {"travel_time_s": 3.0, "sigma_s": 0.1}, "give slant_range_m"),
        (
            "datum.range",
            POST | {"travel_time_s": 1.0, "sigma_s": 0.1, "turn_round_s": 1.5},
            "not longer than the turn-round",
        ),
        ("datum.range", RANGE | {"paths": ["bottom bounce"]}, "water_depth_m"),
        ("datum.lkp", LKP | {"latitude_deg": 91.0}, "90 or less"),
        ("datum.intended_movement", PIM | {"speed_min_kn": 9.0}, "is above the greatest"),
        ("datum.intended_movement", {"note": "as planned"}, "one part is enough"),
        (
            "datum.sighting",
            {
                "latitude_deg": 49.8, "longitude_deg": -8.5, "what": "buoy", "object_type": "buoy",
                "sigma_m": 100.0, "observer": "X", "leeway_percent": 2.0,
            },
            "who says so",
        ),
        (
            "datum.time_difference",
            POST | {"second_latitude_deg": 49.72, "second_longitude_deg": -8.6,
                    "earlier_by_s": 1.0, "sigma_s": 0.1},
            "both are the same point",
        ),
        ("datum.negative_search", {"searcher": "X", "waypoints": [], "sweep_width_m": 1.0,
                                   "started_at": DUE}, "at least 2"),
    ],
)  # fmt: skip
def test_what_cannot_stand_is_refused_with_a_sentence(kind, payload, said):
    assert said in refused(kind, payload)


def test_nothing_known_says_what_would_fill_the_place():
    found, _ = known()
    with pytest.raises(InputError, match="last known position with the intended movement"):
        compute(found, {}, Moment(START, START))


def test_evidence_before_the_loss_could_happen_is_set_aside_not_lost():
    result, records = answer(("datum.bearing", -2.0, BEARING))
    item = next(e for e in result.evidence if e.key == records[2].id)
    assert item.state == "set aside"
    assert "before she can have been lost (122200Z)" in item.why
    assert item.key not in result.rests_on


def test_a_slant_range_shorter_than_the_depth_is_set_aside_with_its_reason():
    short = RANGE | {"slant_range_m": 50.0, "object_depth_m": 142.0, "sigma_m": 10.0}
    result, _ = answer(("datum.range", 14.0, short))
    assert result.evidence[0].state == "set aside"
    assert "shorter than the 137 m between the depths" in result.evidence[0].why


def test_a_floating_object_of_unknown_leeway_is_set_aside_with_its_reason():
    seen = {
        "latitude_deg": 49.8, "longitude_deg": -8.5, "what": "plank", "object_type": "debris",
        "sigma_m": 100.0, "observer": "X",
    }  # fmt: skip
    result, _ = answer(("datum.sighting", 12.0, seen))
    assert result.evidence[0].state == "set aside"
    assert "no leeway is known for 'debris'" in result.evidence[0].why


def test_a_suspended_report_does_not_count_and_says_why():
    plain, records = answer(("datum.bearing", 16.0, BEARING))
    weighting = {"target": records[2].id, "weight": 0.0, "reason": "whales"}
    result, _ = answer(("datum.bearing", 16.0, BEARING), ("datum.weighting", 17.0, weighting))
    nothing, _ = answer()
    assert result.evidence[0].state == "suspended"
    assert result.evidence[0].why == "whales"
    assert result.radius_95_m == pytest.approx(nothing.radius_95_m, rel=1e-6)
    assert plain.radius_95_m < 0.8 * nothing.radius_95_m


def test_half_a_weight_lies_between():
    whole, records = answer(("datum.bearing", 16.0, BEARING))
    half = {"target": records[2].id, "weight": 0.5, "reason": "doubtful"}
    result, _ = answer(("datum.bearing", 16.0, BEARING), ("datum.weighting", 17.0, half))
    assert result.evidence[0].state == "counts in part"
    assert whole.radius_95_m < result.radius_95_m


def test_without_it_is_told_for_each_report():
    result, _ = answer(("datum.bearing", 16.0, BEARING), ("datum.range", 16.5, RANGE))
    for item in result.evidence:
        assert item.shift_m is not None
        assert item.radius_without_m > result.radius_95_m * 0.9
        assert item.agreement == "agrees"


def test_before_the_report_is_due_it_is_dead_reckoning():
    result, _ = answer(hours=4.0)
    assert not result.overdue
    assert sentence(result).startswith("No report is overdue: by dead reckoning at")
    assert hand(result).lost_at is None
    late, _ = answer(hours=12.0)
    assert late.overdue
    # by hand: 95 % of the last position's error (2.4477 sigma), then 12 h at the 15 kn told; a
    # boat with a dead radio may have way on after the report she missed at 8 h
    assert late.farthest_on.radius_m == pytest.approx(2.4477 * 900.0 + 12 * 15 * 1852.0, rel=1e-3)


def test_dead_reckoning_error_grows():
    early, _ = answer(hours=1.0)
    late, _ = answer(hours=6.0)
    assert late.dead_reckoning_sigma_m > early.dead_reckoning_sigma_m > 900.0


def test_the_localisation_limit_is_the_users():
    result, _ = answer(
        ("datum.bearing", 16.0, BEARING),
        ("datum.range", 16.5, RANGE),
        ("datum.localisation_limit", 1.0, {"across_nmi": 50.0}),
    )
    assert result.localised
    small, _ = answer(("datum.localisation_limit", 1.0, {"across_nmi": 0.5}))
    assert not small.localised


def test_bearings_alone_work_without_a_last_known_position():
    found, _ = known(
        ("datum.bearing", 10.0, BEARING),
        ("datum.bearing", 11.0, BEARING | {"latitude_deg": 49.9, "bearing_deg": 140.0}),
    )
    at = START + timedelta(hours=12)
    result = compute(found, {}, Moment(at, at))
    assert result.last_known is None
    # they cross 2.7 nmi east of the northern post's meridian, by hand; that either may be wrong
    # keeps the 95 % circle wide
    there = between(result.position, Position(49.845, -8.53))[0]
    assert there < 4.0 * 1852.0  # a cell of so wide a grid is 1.4 nmi
    assert result.grid.area_m2(0.5) < 200.0 * 1852.0**2  # of 14,000 nmi2 to start with
    assert result.radius_95_m > 20_000.0


def test_every_mark_has_a_tooltip_and_a_source_and_the_table_its_units():
    result, _ = answer(("datum.bearing", 16.0, BEARING), ("datum.range", 16.5, RANGE))
    for mark in marks(result):
        assert mark.tooltip
        assert mark.source
    bands = [mark for mark in marks(result) if mark.key.startswith("holds-")]
    assert {mark.key[:10] for mark in bands} >= {"holds-0.95", "holds-0.80", "holds-0.50"}
    assert sum(mark.label == "95 %" for mark in bands) == 1
    assert len({mark.key for mark in marks(result)}) == len(marks(result))
    assert table(result).rows
    assert set(tables(result)) >= {"Evidence", "Leeway"}


@pytest.mark.parametrize(
    ("fields", "expected"),
    [
        ({"sense": "true", "gyro_error_deg": 1.5}, 21.5),
        ({"sense": "grid", "grid_convergence_deg": -0.7}, 19.3),
        ({"sense": "relative", "heading_deg": 350.0}, 10.0),
    ],
)
def test_bearings_are_turned_into_true(fields, expected):
    value = Bearing(**(BEARING | fields))
    assert true_bearing(value, START).bearing_true_deg == pytest.approx(expected, abs=1e-9)


def test_a_magnetic_bearing_takes_the_variation_of_its_date():
    value = Bearing(**(BEARING | {"sense": "magnetic", "deviation_deg": 2.0}))
    expected = 22.0 + variation(Position(49.72, -8.6), START).variation_deg
    assert true_bearing(value, START).bearing_true_deg == pytest.approx(expected, abs=1e-9)


def test_two_way_time_becomes_a_horizontal_range():
    # by hand: (8.2 - 1.2) / 2 * 1500 = 5250 m slant; 137 m down: sqrt(5250^2 - 137^2) = 5248.2 m
    value = Range(**POST, travel_time_s=8.2, sigma_s=0.02, turn_round_s=1.2, object_depth_m=142.0)
    found = horizontal_ranges(value, mean_speed(None, 5.0, 142.0))
    assert found.metres[0] == pytest.approx(5_248.2, abs=0.1)
    assert found.sigma_m > 0.01 * 5_250.0
    assert found.speed_sigma_m == pytest.approx(0.01 * 5_250.0, rel=1e-3)
    assert "assumed (common practice, no source)" in found.words


def test_the_sound_profile_is_averaged_harmonically():
    # two layers of equal thickness at 1500 and 1480 m/s: 2 / (1/1500 + 1/1480) = 1489.93 m/s
    profile = SoundSpeedProfile(
        depth_m=np.array([0.0, 70.0, 70.001, 140.0]),
        speed_m_s=np.array([1_500.0, 1_500.0, 1_480.0, 1_480.0]),
        taken_at=START,
        position=None,
        source="test",
    )
    assert mean_speed(profile, 0.0, 140.0).speed_m_s == pytest.approx(1_489.93, abs=0.05)


def test_surface_bounce_and_direct_are_both_kept():
    # images: direct 137 m, bounce 147 m apart in depth; by hand for a slant range of 400 m
    value = Range(
        **POST, slant_range_m=400.0, sigma_m=5.0, object_depth_m=142.0,
        paths=("direct", "surface bounce"),
    )  # fmt: skip
    ranges = horizontal_ranges(value, mean_speed(None, 5.0, 142.0)).metres
    assert ranges == pytest.approx([375.81, 372.01], abs=0.02)


CSV = """kind;time;observer;position;bearing;range;sigma
bearing;2027-03-13T14:12Z;SALTMARSH;49 44.0N 008 34.0W;020T;;2deg
bearing;2027-03-13T14:20Z;SALTMARSH;49 44.0N 008 34.0W;361T;;2deg
range;2027-03-13T19:17Z;SALTMARSH;49 46.0N 008 36.0W;;6.1nmi;300m
range;;SALTMARSH;49 46.0N 008 36.0W;;6.1nmi;300m
"""


def origin(data):
    return Origin(source="lines.csv", received_at=START, digest=hashlib.sha256(data).hexdigest())


@pytest.mark.parametrize("encode", ["utf-8", "utf-8-sig", "latin-1"])
def test_a_file_of_lines_is_read_line_by_line_and_bad_ones_are_kept(encode):
    data = CSV.encode(encode)
    assert feed.recognise(data, "lines.csv") > 0.5
    reading = feed.read(data, origin(data))
    assert [draft.kind for draft in reading.drafts] == ["datum.bearing", "datum.range"]
    assert len(reading.rejects) == 2
    assert "0 to 360" in reading.rejects[0].reason
    assert reading.rejects[0].line == 3
    assert "no time" in reading.rejects[1].reason


def test_other_files_are_not_taken_for_lines():
    assert feed.recognise(b"name,depth_m,crane_t\nA,1,2\n", "ports.csv") == 0.0
    assert feed.recognise(b"\\x00\\x01binary", "x.bin") == 0.0
    assert feed.recognise(b'{"id": "a", "kind": "datum.bearing"}', "records.jsonl") == 0.0


DEEP, LONG = b"[" * 50_000, b'{"lines": [{"range_m": ' + b"9" * 5_000 + b"}]}"


@pytest.mark.parametrize(
    "data", [b"", b"\x00\x00", b"[1, 2]", b"{", b"a,b\n1,2\n", DEEP, LONG], ids=range(7)
)
def test_a_broken_file_becomes_one_reject(data):
    reading = feed.read(data, origin(data))
    assert reading.drafts == []
    assert len(reading.rejects) == 1
    assert reading.rejects[0].reason


def test_a_report_due_before_the_last_one_is_refused():
    found, _ = known(
        ("datum.lkp", 0.0, LKP),
        ("datum.intended_movement", 0.0, PIM | {"report_due": "2027-03-12T20:00:00Z"}),
    )
    at = START + timedelta(hours=2)
    with pytest.raises(InputError, match="not after the last one"):
        compute(found, {}, Moment(at, at))


def test_a_track_that_goes_nowhere_is_refused():
    here = {"latitude_deg": LKP["latitude_deg"], "longitude_deg": LKP["longitude_deg"]}
    still = {k: v for k, v in PIM.items() if k not in ("course_true_deg", "length_nmi")}
    found, _ = known(
        ("datum.lkp", 0.0, LKP), ("datum.intended_movement", 0.0, still | {"waypoints": [here]})
    )
    at = START + timedelta(hours=2)
    with pytest.raises(InputError, match="never leaves"):
        compute(found, {}, Moment(at, at))


def test_the_variation_says_its_model_and_date():
    value = Bearing(**(BEARING | {"sense": "magnetic"}))
    assert "by WMM2025 for 12 Mar 2027" in true_bearing(value, START).words


def test_one_position_alone_gives_a_circle_she_can_have_reached():
    found, _ = known(("datum.lkp", 0.0, LKP))
    at = START + timedelta(hours=2)
    result = compute(found, {}, Moment(at, at))
    # 3 sigma and 2 h at 8 kn; 95 % of an even disc lies within sqrt(0.95) of its radius
    assert result.radius_95_m == pytest.approx(np.sqrt(0.95) * (2_700.0 + 16 * 1852.0), rel=0.02)
    assert "no intended movement is known" in result.prior_words
