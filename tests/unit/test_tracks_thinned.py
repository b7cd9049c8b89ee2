"""A track that is drawn by fewer fixes than were heard: how near its line is to all of them.

Written from the text: a night of ships that send every few seconds does not make a picture longer
and longer; what a navigator reads does not change by what is left out of a line. Distances are
measured on the ellipsoid by pyproj, in a projection about the middle of the track.
"""

from __future__ import annotations

import pickle
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import Any

import numpy as np
import pyproj
import pytest

from layers.contract import Moment
from layers.earth.clock import to_us
from layers.journal.known import Known, ListShelf
from layers.journal.record import Draft, as_record
from layers.tracks import LAYER
from layers.tracks.follow import great_circle_m
from layers.tracks.steered import fixes_of
from layers.tracks.thinned import thinned

NOW = datetime(2027, 3, 13, 12, 0, tzinfo=UTC)
KINDS = {kind.name: kind for kind in LAYER.kinds}
GEOD = pyproj.Geod(ellps="WGS84")
RANDOM = np.random.default_rng(24)


def steamed(latitude: float, longitude: float, fixes: int, every_s: float = 5.0) -> np.ndarray:
    """Return (n, 2) degrees of a ship at 14 kn that alters course now and then, to 3 m."""
    course = np.cumsum(RANDOM.normal(0.0, 40.0, fixes) * (RANDOM.random(fixes) < 0.004)) + 70.0
    lon, lat = np.full(fixes, longitude), np.full(fixes, latitude)
    for k in range(1, fixes):
        lon[k], lat[k], _ = GEOD.fwd(lon[k - 1], lat[k - 1], course[k], every_s * 14 * 1852 / 3600)
    noise = RANDOM.normal(0.0, 3.0 / 111_120.0, (fixes, 2))
    return np.column_stack((lat, lon)) + noise / np.column_stack(
        (np.ones(fixes), np.cos(np.radians(lat)))
    )


def walked(latitude: float, longitude: float, fixes: int) -> np.ndarray:
    return np.array([latitude, longitude]) + np.cumsum(RANDOM.normal(0.0, 5e-4, (fixes, 2)), axis=0)


def farthest_m(track: np.ndarray, kept: np.ndarray) -> float:
    """Return how far the farthest fix is from the line through those that are kept."""
    middle = track[len(track) // 2]
    local = pyproj.Proj(proj="aeqd", lat_0=middle[0], lon_0=middle[1], ellps="WGS84")
    x, y = local((track[:, 1] + 180.0) % 360.0 - 180.0, track[:, 0])
    places, worst = np.column_stack((x, y)), 0.0
    for one, other in pairwise(kept):
        a, b, between = places[one], places[other], places[one : other + 1]
        along = np.clip((between - a) @ (b - a) / max(float((b - a) @ (b - a)), 1e-9), 0.0, 1.0)
        off = np.hypot(*(between - (a + along[:, None] * (b - a))).T)
        worst = max(worst, float(off.max()))
    return worst


@pytest.mark.parametrize(
    "track",
    [
        steamed(49.8, -8.5, 2_160),
        steamed(-33.0, 179.9, 2_160),  # over the date line
        steamed(74.0, 20.0, 2_160),
        steamed(5.0, 60.0, 4_000, every_s=30.0),
        walked(50.0, -8.0, 2_160),
        np.repeat([[50.0, -8.0]], 900, axis=0),  # at anchor, to the last figure
    ],
    ids=["sent for three hours", "date line", "far north", "33 hours", "wild", "at anchor"],
)
def test_no_fix_is_farther_from_the_drawn_line_than_is_said(track: np.ndarray) -> None:
    lat, lon = track.T
    step = np.append(np.nan, great_circle_m(lat[:-1], lon[:-1], lat[1:], lon[1:]))
    kept, within_m = thinned(lat, lon, step, np.zeros(len(track), bool), 200)
    assert len(kept) <= 200
    assert (kept[0], kept[-1]) == (0, len(track) - 1)
    assert farthest_m(track, kept) <= 1.3 * within_m  # the line through the kept is straight there


def test_what_a_ship_that_steams_is_drawn_by_is_seen_by_no_eye() -> None:
    lat, lon = steamed(49.8, -8.5, 2_160).T
    step = np.append(np.nan, great_circle_m(lat[:-1], lon[:-1], lat[1:], lon[1:]))
    _, within_m = thinned(lat, lon, step, np.zeros(len(lat), bool), 200)
    assert within_m <= 20.0


def heard(number: int, track: np.ndarray, every_s: float) -> list[Draft]:
    """Return a ship's fixes, the last of them now."""
    subject, found = f"mmsi:{299_000_300 + number}", []
    for k, (lat, lon) in enumerate(track):
        at = NOW - timedelta(seconds=every_s * (len(track) - 1 - k))
        payload: dict[str, Any] = {
            "subject": subject, "latitude_deg": float(lat), "longitude_deg": float(lon),
            "speed_kn": 8.0, "course_true_deg": 70.0, "heading_true_deg": 70.0,
        }  # fmt: skip
        found.append(Draft(kind="tracks.position", payload=payload, valid_at=at, heard_at=at,
                           source="AIS", identity=f"{subject} {k}"))  # fmt: skip
    return found


def known(drafts: list[Draft]) -> Known:
    records = [
        as_record(each, seq=n, recorded_at=NOW, author="test") for n, each in enumerate(drafts, 1)
    ]
    return Known(ListShelf(records), KINDS, len(records), NOW)


def shown(drafts: list[Draft]) -> tuple[Any, int]:
    """Return what the layer makes of fixes, and how many bytes that is as it is kept."""
    result = LAYER.compute(known(drafts), {}, Moment(NOW, NOW))
    return result, len(pickle.dumps((result, LAYER.marks(result))))


def test_three_hours_of_ships_take_no_more_room_than_half_an_hour() -> None:
    tracks = [walked(50.0, -8.0 + n, 2_160) for n in range(5)]
    whole = [each for n, track in enumerate(tracks) for each in heard(n, track, 5.0)]
    part = [each for n, track in enumerate(tracks) for each in heard(n, track[-360:], 5.0)]
    long, long_bytes = shown(whole)
    short, short_bytes = shown(part)
    assert long_bytes <= 1.2 * short_bytes
    # and what is read off is the same: place, time, age, course, speed
    for one, other in zip(long.ships, short.ships, strict=True):
        read = ("name", "position", "fixed_at", "age_s", "speed_kn", "course_true_deg", "expected")
        assert [getattr(one, name) for name in read] == [getattr(other, name) for name in read]
        assert one.position.latitude_deg == pytest.approx(float(one.latitudes_deg[-1]))
    line = next(m for m in LAYER.marks(long) if m.key == "mmsi:299000300 track")
    assert f"the others within {long.ships[0].within_m:.0f} m of it" in line.tooltip


def test_both_ends_of_a_gap_and_of_a_jump_stay_in_the_track() -> None:
    track = steamed(49.8, -8.5, 1_000)
    track[500] += (0.4, 0.0)  # 24 nmi away and back
    drafts = [each for k, each in enumerate(heard(0, track, 10.0)) if not 700 <= k < 900]
    found = LAYER.compute(known(drafts), {}, Moment(NOW, NOW))
    (ship,) = found.ships
    assert (ship.jumps, ship.gaps) == (2, 1)
    ends = {to_us(end) for each in ship.breaks for end in (each.from_at, each.to_at)}
    assert ends <= set(ship.at_us.tolist())
    line = next(m for m in LAYER.marks(found) if m.key.endswith("track"))
    assert np.isnan(line.latitudes_deg).sum() == 3


def test_a_search_goes_by_every_fix_though_few_are_drawn() -> None:
    told = known(heard(0, steamed(49.8, -8.5, 1_500), 5.0))
    (ship,) = LAYER.compute(told, {}, Moment(NOW, NOW)).ships
    assert len(ship.at_us) <= 200
    assert ship.fixes == 1_500
    fixes = fixes_of(told, ship, NOW)
    assert len(fixes.at_us) == 1_500
    assert (np.diff(fixes.at_us) == 5_000_000).all()
