"""Tracks: last fix and age, dead reckoning, jumps and gaps, who is who, the search leg."""

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pytest

from layers.contract import Moment
from layers.earth.chart.marks import Freshness, PointMark, Symbol
from layers.earth.errors import InputError
from layers.earth.geodesy import between, going
from layers.earth.position import Position
from layers.earth.values import DatumValue
from layers.journal.known import Known, ListShelf
from layers.journal.record import Draft, as_record
from layers.tracks import LAYER
from layers.tracks.handed_on import hand
from layers.tracks.steered import steered

NOW = datetime(2027, 3, 13, 12, 0, tzinfo=UTC)
KINDS = {kind.name: kind for kind in LAYER.kinds}
DATUM = DatumValue(
    where=Position(49.8333, -8.5),
    radius_95_m=3000.0,
    ellipse_95=None,
    is_fix=False,
    depth_m=None,
    lost_at=None,
)


def fix(minutes_ago: float, place: Position, subject: str = "mmsi:299000101", **more: Any) -> Draft:
    payload = {
        "subject": subject,
        "latitude_deg": place.latitude_deg,
        "longitude_deg": place.longitude_deg,
        **more,
    }
    at = NOW - timedelta(minutes=minutes_ago)
    return Draft(
        kind="tracks.position",
        payload=payload,
        valid_at=at,
        heard_at=at,
        source="test",
        identity=f"{subject} {minutes_ago} {place} {more}",
    )


def vessel(role: str, subject: str = "mmsi:299000101", name: str = "NORTHERN LANTERN") -> Draft:
    return Draft(
        kind="tracks.vessel",
        payload={"subject": subject, "name": name, "role": role, "max_speed_kn": 16.0},
        valid_at=NOW - timedelta(hours=10),
        heard_at=NOW - timedelta(hours=10),
        source="test",
        identity=f"{subject} {name}",
    )


def known(drafts: Sequence[Draft]) -> Known:
    records = [
        as_record(draft, seq=seq, recorded_at=NOW, author="test")
        for seq, draft in enumerate(drafts, start=1)
    ]
    return Known(ListShelf(records), KINDS, len(records), NOW)


def result(drafts: Sequence[Draft], at: datetime = NOW, as_of: datetime = NOW) -> Any:
    return LAYER.compute(known(drafts), {"datum": DATUM}, Moment(as_of, at))


def run(start: Position, course: float, speed_kn: float, minutes: Sequence[float]) -> list[Draft]:
    """Return fixes on one course, so many minutes ago."""
    first = max(minutes)
    return [
        fix(
            ago,
            going(start, course, speed_kn * 1852 * (first - ago) / 60),
            speed_kn=speed_kn,
            course_true_deg=course,
        )
        for ago in sorted(minutes, reverse=True)
    ]


def test_nothing_known_says_what_would_fill_the_place():
    with pytest.raises(InputError, match="NMEA, AIS, GPX or RTZ"):
        result([])


def test_fix_age_and_dead_reckoning_stand_in_sentence_and_table():
    start = going(DATUM.where, 0.0, 60 * 1852.0)
    found = result([vessel("support ship"), *run(start, 180.0, 12.0, [70, 50, 30, 20])])
    ship = found.ships[0]
    assert ship.age_s == 1200
    assert not ship.stale
    assert ship.expected is not None
    moved_m, _, _ = between(ship.position, ship.expected)
    assert moved_m / 1852 == pytest.approx(4.0, abs=0.01)
    # 70 − 20 minutes at 12 kn are 10 nmi made, 50 to go: 4 h 10 after the fix.
    assert ship.arrival is not None
    hours = (ship.arrival.by_great_circle - ship.fixed_at).total_seconds() / 3600
    assert hours == pytest.approx(50 / 12, abs=0.01)
    said = LAYER.sentence(found)
    assert "NORTHERN LANTERN" in said
    assert "20 min old" in said
    assert "at 12.0 kn" in said
    row = LAYER.table(found).as_dicts()[0]
    assert row["Range to datum (nmi)"] == pytest.approx(50.0, abs=0.1)
    assert row["Bearing to datum (°T)"] == pytest.approx(180.0, abs=0.1)


def test_hindsight_uses_only_positions_valid_then():
    start = going(DATUM.where, 0.0, 60 * 1852.0)
    drafts = run(start, 180.0, 12.0, [70, 50, 30, 20])
    found = result(drafts, at=NOW - timedelta(minutes=45))
    assert found.ships[0].fixed_at == NOW - timedelta(minutes=50)


def test_expectation_reckons_on_past_now():
    start = going(DATUM.where, 0.0, 60 * 1852.0)
    drafts = [vessel("support ship"), *run(start, 180.0, 12.0, [30, 10])]
    found = result(drafts, at=NOW + timedelta(minutes=50))
    ship = found.ships[0]
    assert ship.expected is not None
    assert between(ship.position, ship.expected)[0] / 1852 == pytest.approx(12.0, abs=0.02)
    half = [m for m in LAYER.marks(found) if isinstance(m, PointMark) and "dead" in m.key]
    assert half[0].symbol is Symbol.DEAD_RECKONING
    assert half[0].freshness is Freshness.EXPECTED
    assert "1250Z" in half[0].label


def test_past_an_hour_dead_reckoning_is_no_longer_trusted():
    drafts = [vessel("support ship"), *run(DATUM.where, 90.0, 10.0, [100, 80])]
    ship = result(drafts).ships[0]
    assert ship.stale
    assert not ship.dead_reckoning_trusted


def test_ship_without_course_or_speed_gets_them_from_her_last_two_fixes():
    drafts = [fix(20, DATUM.where), fix(10, going(DATUM.where, 90.0, 3704.0))]
    ship = result([vessel("search ship"), *drafts]).ships[0]
    assert ship.speed_kn == pytest.approx(12.0, rel=0.01)
    assert ship.course_true_deg == pytest.approx(90.0, abs=0.5)


def test_a_position_that_stands_alone_is_shown_and_breaks_the_track():
    drafts = run(DATUM.where, 90.0, 10.0, [40, 30, 10])
    away = fix(20, going(DATUM.where, 200.0, 60 * 1852.0), speed_kn=10.0, course_true_deg=90.0)
    found = result([vessel("search ship"), *drafts, away])
    ship = found.ships[0]
    assert [each.kind for each in ship.breaks] == ["jump", "jump"]
    assert {each.alone for each in ship.breaks} == {NOW - timedelta(minutes=20)}
    assert not ship.last_doubted
    assert len(ship.at_us) == 4  # the false one is kept, nothing is smoothed
    track = next(m for m in LAYER.marks(found) if m.key.endswith("track"))
    assert np.isnan(track.latitudes_deg).sum() == 2


def test_a_jump_at_the_end_leaves_the_last_fix_in_doubt():
    drafts = run(DATUM.where, 90.0, 10.0, [40, 30, 20])
    away = fix(10, going(DATUM.where, 200.0, 60 * 1852.0), speed_kn=10.0, course_true_deg=90.0)
    found = result([vessel("search ship"), *drafts, away])
    assert found.ships[0].last_doubted
    assert "not settled" in LAYER.sentence(found)
    assert next(m for m in LAYER.marks(found) if m.key.endswith(" fix")).disputed


def test_three_silent_hours_are_a_gap_that_says_so():
    drafts = run(DATUM.where, 90.0, 10.0, [220, 210, 20, 10])
    found = result([vessel("search ship"), *drafts])
    (gap,) = found.ships[0].breaks
    assert gap.kind == "gap"
    said = LAYER.tables(found)["Jumps and gaps"].rows[0][-1]
    assert "no fix for 3 h 10" in said
    assert "not known" in said


def test_who_she_is_comes_from_the_watch_before_her_transmitter():
    static = Draft(
        kind="tracks.static",
        payload={"subject": "mmsi:299000101", "name": "SOMETHING ELSE", "length_m": 98.0},
        valid_at=NOW,
        heard_at=NOW,
        source="ais",
        identity="static",
    )
    ship = result([vessel("support ship"), static, fix(5, DATUM.where)]).ships[0]
    assert (ship.name, ship.role, ship.length_m) == ("NORTHERN LANTERN", "support ship", 98.0)


def test_distress_transmitter_is_always_shown():
    ship = result([fix(400, DATUM.where, subject="mmsi:970011223")]).ships[0]
    assert ship.role == "distress transmitter"


def test_old_traffic_is_counted_not_drawn():
    drafts = [fix(500, DATUM.where, subject="mmsi:299000999"), fix(5, DATUM.where)]
    found = result(drafts)
    assert len(found.ships) == 1
    assert found.undrawn == 1


def test_date_line_is_crossed_without_a_jump():
    drafts = [
        fix(20, Position(10.0, 179.97), speed_kn=12.0, course_true_deg=90.0),
        fix(10, Position(10.0, -179.99), speed_kn=12.0, course_true_deg=90.0),
    ]
    assert result([vessel("search ship"), *drafts]).ships[0].breaks == ()


def test_other_layers_get_the_ships_that_take_part():
    drafts = [
        vessel("support ship"),
        fix(5, DATUM.where),
        fix(5, DATUM.where, subject="mmsi:299000999"),
    ]
    assert [ship.name for ship in hand(result(drafts)).ships] == ["NORTHERN LANTERN"]


def test_search_leg_is_taken_from_the_track():
    drafts = run(DATUM.where, 90.0, 6.0, [60, 40, 20, 0])
    leg = steered(
        known(drafts), "mmsi:299000101", NOW - timedelta(minutes=50), NOW - timedelta(minutes=10)
    )
    assert leg.length_nmi == pytest.approx(4.0, abs=0.02)  # 40 minutes at 6 kn
    assert leg.mean_speed_kn == pytest.approx(6.0, abs=0.03)
    assert len(leg.at_us) == 4
    assert leg.breaks == ()


def test_search_leg_with_a_gap_in_it_says_so():
    drafts = run(DATUM.where, 90.0, 6.0, [120, 110, 10, 0])
    leg = steered(known(drafts), "mmsi:299000101", NOW - timedelta(minutes=115), NOW)
    assert [each.kind for each in leg.breaks] == ["gap"]


def test_search_leg_outside_the_track_is_refused():
    drafts = run(DATUM.where, 90.0, 6.0, [60, 40])
    with pytest.raises(InputError, match="does not cover"):
        steered(known(drafts), "mmsi:299000101", NOW - timedelta(minutes=50), NOW)


def test_every_mark_has_a_tooltip_and_a_source():
    drafts = run(DATUM.where, 90.0, 10.0, [220, 210, 20, 10])
    for mark in LAYER.marks(result([vessel("support ship"), *drafts])):
        assert mark.tooltip
        assert mark.source


def test_a_track_is_looked_at_over_two_days_and_the_fix_before_them():
    days = [60 * 24 * 5.0, 60 * 50.0, 60 * 20.0, 60 * 19.9, 10.0]  # minutes ago
    found = result([vessel("search ship"), *run(DATUM.where, 90.0, 1.0, days)])
    ship = found.ships[0]
    assert len(ship.at_us) == 4  # the fix of five days ago is not looked at
    assert (ship.jumps, ship.gaps, ship.shortened) == (0, 2, False)
    assert "0 jumps, 2 gaps in her last 48 h of track" in str(LAYER.table(found).as_dicts()[0])
    track = next(m for m in LAYER.marks(found) if m.key.endswith("track"))
    assert "track of the last 48 h, 3 fixes" in track.tooltip
    assert "48 h before a ship's last fix" in LAYER.caution


def test_a_ship_silent_for_days_keeps_her_last_fix():
    silent = run(DATUM.where, 90.0, 10.0, [60 * 24 * 8.0, 60 * 24 * 8.0 - 10])
    found = result([vessel("search ship"), *silent])
    ship = found.ships[0]
    assert ship.stale
    assert ship.fixed_at == NOW - timedelta(days=8) + timedelta(minutes=10)
    assert len(ship.at_us) == 2


def test_a_receiver_that_sends_without_end_is_cut_and_says_so(monkeypatch):
    monkeypatch.setattr("layers.tracks.ships.MOST_FIXES", 5)
    minutes = [float(m) for m in range(1, 12)]
    found = result([vessel("search ship"), *run(DATUM.where, 90.0, 10.0, minutes)])
    ship = found.ships[0]
    assert (len(ship.at_us), ship.shortened) == (5, True)
    assert ship.fixed_at == NOW - timedelta(minutes=1)
    track = next(m for m in LAYER.marks(found) if m.key.endswith("track"))
    assert "older ones are not drawn" in track.tooltip


def test_thousands_of_jumps_are_counted_and_the_newest_listed():
    # a jammed receiver throws her about: every fix in another direction, 60 nmi off
    jammed = [
        fix(m, going(DATUM.where, 137.50776 * m % 360.0, 60 * 1852.0), speed_kn=10.0)
        for m in range(1, 400)
    ]
    found = result([vessel("search ship"), *jammed])
    ship = found.ships[0]
    assert ship.jumps == 398
    assert len(ship.breaks) == 100
    assert ship.breaks[-1].to_at == ship.fixed_at
    said = str(LAYER.table(found).as_dicts()[0])
    assert "398 jumps, 0 gaps in her last 48 h of track, the newest 100 of them" in said


def test_who_she_is_is_put_together_from_reports_that_each_say_a_part():
    parts = [{"name": "LATE RISER"}, {"length_m": 98.0}, {"name": None, "ship_type": 70}]
    statics = [
        Draft(
            kind="tracks.static",
            payload={"subject": "mmsi:299000101", **part},
            valid_at=NOW - timedelta(minutes=30 - number),
            heard_at=NOW,
            source="ais",
            identity=f"static {number}",
        )
        for number, part in enumerate(parts)
    ]
    ship = result([*statics, fix(5, DATUM.where)]).ships[0]
    assert (ship.name, ship.length_m) == ("LATE RISER", 98.0)
