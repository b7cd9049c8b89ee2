"""Two ships with one number, a clock that is wrong, and times of arrival by her own state."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from layers.earth.geodesy import between, going
from layers.earth.position import Position
from layers.tracks import LAYER
from layers.tracks.handed_on import hand
from tests.unit.test_tracks_ships import DATUM, NOW, fix, result, run, vessel

M = 1852.0
assert isinstance(DATUM.where, Position)
DATUM_PLACE = DATUM.where
FAR = going(DATUM_PLACE, 230.0, 850 * M)


def near(minutes: list[float], subject: str = "mmsi:299000101") -> list[Any]:
    start = going(DATUM_PLACE, 0.0, 40 * M)
    return run(start, 180.0, 12.0, minutes)


def test_two_ships_with_one_number_alternating_are_told_apart() -> None:
    ours = near([60, 50, 40, 30, 20, 10])
    theirs = [fix(ago, FAR, speed_kn=0.0) for ago in (55, 45, 35, 25, 15, 5)]
    found = result([vessel("support ship"), *ours, *theirs])
    ship, second = found.ships
    off_m, _, _ = between(ship.position, DATUM_PLACE)
    assert off_m / M == pytest.approx(30.0, abs=0.1)  # 40 nmi off, 50 min at 12 kn
    assert ship.doubt
    assert "two send her number" in ship.doubt
    assert second.name == "second with the number of NORTHERN LANTERN"
    assert second.role == "other"
    assert LAYER.sentence(found).startswith("NORTHERN LANTERN is in doubt: two send her number")
    assert not found.approaches  # no closest approach is worked out of a place in doubt
    (handed,) = hand(found).ships
    assert handed.doubt
    assert ship.jumps == 0  # never joined into one track


def test_an_impostor_who_goes_on_alone_is_not_taken_for_her() -> None:
    ours = near([300, 240, 180, 120, 60, 30, 20])
    theirs = [fix(ago, FAR, speed_kn=0.0) for ago in (8, 6, 4, 2)]
    ship, _ = result([vessel("support ship"), *ours, *theirs]).ships
    assert ship.fixed_at == NOW - timedelta(minutes=20)
    assert ship.doubt


def test_three_wild_fixes_long_ago_do_not_cast_doubt_for_ever() -> None:
    wild = [fix(ago, FAR) for ago in (2_000, 1_998, 1_996)]
    ship = result([vessel("support ship"), *wild, *near([300, 240, 180, 120, 60, 30])]).ships[0]
    assert not ship.doubt
    assert ship.fixed_at == NOW - timedelta(minutes=30)


def test_her_own_greatest_speed_tells_a_jump() -> None:
    """16 kn entered: 10 nmi in 15 min (40 kn) is a jump though a launch could make it."""
    start = going(DATUM_PLACE, 0.0, 40 * M)
    wild = fix(5, going(start, 90.0, 20 * M), speed_kn=12.0, course_true_deg=180.0)
    found = result([vessel("support ship"), *run(start, 180.0, 12.0, [60, 40, 20]), wild])
    assert found.ships[0].doubt


def test_a_clock_an_hour_ahead_is_noticed_and_left_out() -> None:
    """Five fixes of an hour ago under a time that is now: 12 nmi behind where she is."""
    right = near([float(m) for m in range(180, 58, -5)])
    start = going(DATUM_PLACE, 0.0, 40 * M)
    wrong = [
        fix(
            float(ago),
            going(start, 180.0, 12 * M * (180 - ago - 60) / 60),  # where she was an hour before
            speed_kn=12.0,
            course_true_deg=180.0,
        )
        for ago in (25, 20, 15, 10, 5)
    ]
    (ship,) = result([vessel("support ship"), *right, *wrong]).ships
    assert "a clock is wrong" in ship.doubt
    assert "1 h 00 before" in ship.doubt
    assert ship.fixed_at == NOW - timedelta(minutes=60)


@pytest.mark.parametrize("hours", [-1.0, 1.0, -2.0, 0.5])
@pytest.mark.parametrize("tells", [{"speed_kn": 12.0}, {}])
@pytest.mark.parametrize("turns", [False, True])
def test_a_second_receiver_whose_clock_is_wrong_is_no_second_ship(
    hours: float, turns: bool, tells: dict[str, float]
) -> None:
    """Both hear her all the time; the one stamps what it hears ``hours`` too late."""
    start = going(DATUM_PLACE, 0.0, 40 * M)

    def place(ago: float) -> Position:
        ran_nmi = 12 * (300 - ago) / 60
        if turns and ran_nmi > 30:
            corner = going(start, 180.0, 30 * M)
            return going(corner, 90.0, (ran_nmi - 30) * M)
        return going(start, 180.0, ran_nmi * M)

    right = [fix(float(ago), place(ago), **tells) for ago in range(300, -1, -5)]
    wrong = [
        fix(ago - 60 * hours, place(ago), **tells)
        for ago in (a + 2.5 for a in range(290, -1, -5))
        if ago - 60 * hours >= 0
    ]
    (ship,) = result([vessel("support ship"), *right, *wrong]).ships
    assert "a clock is wrong" in ship.doubt, ship.doubt
    assert ("before" if hours > 0 else "after") in ship.doubt
    off_m, _, _ = between(ship.position, place(0))
    assert off_m < 0.1 * M


def test_a_ship_that_follows_along_the_same_track_more_slowly_is_a_second_one() -> None:
    """An hour behind her at first, and half a knot slower: no clock goes so."""
    start = going(DATUM_PLACE, 0.0, 40 * M)
    hers = run(start, 180.0, 12.0, [float(m) for m in range(300, -1, -5)])
    behind = run(start, 180.0, 9.0, [m + 2.5 for m in range(240, -1, -5)])
    ship, second = result([vessel("support ship"), *hers, *behind]).ships
    assert "two send her number" in ship.doubt
    assert second.role == "other"


def test_a_ship_that_steams_back_along_her_track_has_no_wrong_clock() -> None:
    out = near([float(m) for m in range(180, 88, -5)])
    turn = going(going(DATUM_PLACE, 0.0, 40 * M), 180.0, 12 * M * 1.5)
    back = [
        fix(float(ago), going(turn, 0.0, 12 * M * (90 - ago) / 60), speed_kn=12.0,
            course_true_deg=0.0)
        for ago in range(85, -1, -5)
    ]  # fmt: skip
    (ship,) = result([vessel("support ship"), *out, *back]).ships
    assert not ship.doubt


def test_an_arrival_is_never_before_now() -> None:
    """A fix 20 h old, steaming away from the datum: reckoned on, and she has to turn."""
    start = going(DATUM_PLACE, 90.0, 100 * M)
    old = [fix(20 * 60 + ago, start, speed_kn=12.0, course_true_deg=90.0) for ago in (20, 0)]
    found = result([vessel("support ship"), *old])
    (ship,) = found.ships
    assert ship.arrival is not None
    assert ship.arrival.turns
    assert ship.arrival.by_great_circle > NOW
    hours = (ship.arrival.by_great_circle - NOW).total_seconds() / 3600
    assert hours == pytest.approx((100 + 240) / 12, rel=0.01)
    assert "if she turns for the datum now" in LAYER.sentence(found)


def test_a_ship_that_lies_stopped_has_hours_when_ordered_and_no_time_of_day() -> None:
    place = going(DATUM_PLACE, 10.0, 3.2 * M)
    found = result([vessel("support ship"), fix(10, place, speed_kn=0.0), fix(5, place,
                    speed_kn=0.0)])  # fmt: skip
    (ship,) = found.ships
    assert ship.arrival is not None
    assert not ship.arrival.under_way
    row = LAYER.table(found).as_dicts()[0]
    assert row["ETA great circle (Z)"] is None
    assert "not under way: 12 min when ordered" in str(row["Remarks"])


def test_a_ship_not_heard_for_two_days_has_no_arrival() -> None:
    old = fix(48 * 60, Position(49.0, -8.0), speed_kn=12.0, course_true_deg=10.0)
    (ship,) = result([vessel("support ship"), old]).ships
    assert ship.arrival is None


def round_and_round(
    speed_kn: float, leg_nmi: float, step_min: float, total_min: float
) -> list[Any]:
    """Return fixes of one that steams round a rectangle a mile wide, at even times."""
    north = going(DATUM_PLACE, 0.0, 40 * M)
    whole, found, ago = 2 * leg_nmi + 2.0, [], total_min
    while ago > 0:
        run_nmi = speed_kn / 60 * (total_min - ago) % whole
        if run_nmi < leg_nmi:
            place, course = going(north, 90.0, run_nmi * M), 90.0
        elif run_nmi < leg_nmi + 1:
            corner = going(north, 90.0, leg_nmi * M)
            place, course = going(corner, 180.0, (run_nmi - leg_nmi) * M), 180.0
        elif run_nmi < 2 * leg_nmi + 1:
            south = going(north, 180.0, M)
            place, course = going(south, 90.0, (2 * leg_nmi + 1 - run_nmi) * M), 270.0
        else:
            place, course = going(north, 180.0, (whole - run_nmi) * M), 0.0
        found.append(fix(ago, place, speed_kn=speed_kn, course_true_deg=course))
        ago -= step_min
    return found


@pytest.mark.parametrize(
    ("role", "speed_kn", "leg_nmi", "step_min", "total_min"),
    [
        ("aircraft", 180.0, 10.0, 1.0, 120.0),
        ("support ship", 15.0, 6.5, 6.0, 240.0),
        ("support ship", 16.0, 6.0, 4.2, 300.0),
    ],
)
def test_who_searches_round_and_round_has_no_wrong_clock(
    role: str, speed_kn: float, leg_nmi: float, step_min: float, total_min: float
) -> None:
    """The same places after an even time, lap after lap: she came there from the fix before."""
    fixes = round_and_round(speed_kn, leg_nmi, step_min, total_min)
    ship = result([unlimited(role), *fixes]).ships[0]
    assert not ship.doubt
    assert ship.fixes == len(fixes)
    assert ship.age_s <= 60 * step_min


def unlimited(role: str) -> Any:
    """Return her entry without a greatest speed: nobody has told it."""
    entered = vessel(role)
    payload = {k: v for k, v in entered.payload.items() if k != "max_speed_kn"}
    return replace(entered, payload=payload, identity=f"{role} without a greatest speed")


def test_a_wrong_clock_is_noticed_in_a_log_that_tells_no_speed() -> None:
    start = going(DATUM_PLACE, 0.0, 40 * M)

    def at(ago: float, late_min: float = 0.0) -> Any:
        return fix(ago, going(start, 180.0, 12 * M * (180 - ago - late_min) / 60))

    right = [at(float(m)) for m in range(180, 58, -5)]
    wrong = [at(float(m), 60.0) for m in (25, 20, 15, 10, 5)]
    (ship,) = result([vessel("support ship"), *right, *wrong]).ships
    assert "a clock is wrong" in ship.doubt
    assert ship.fixed_at == NOW - timedelta(minutes=60)


@pytest.mark.parametrize(("apart_nmi", "every_min"), [(1.2, 1.5), (4.0, 5.0), (15.0, 5.0)])
def test_two_with_one_number_near_each_other_are_told_apart_by_the_speed_they_tell(
    apart_nmi: float, every_min: float
) -> None:
    """Nobody entered a greatest speed: 1.2 nmi in 90 s is 48 kn, and both say 12."""
    start = going(DATUM_PLACE, 0.0, 40 * M)
    hers = [every_min * n for n in range(30, 0, -2)]
    theirs = [every_min * n for n in range(29, 0, -2)]
    beside = going(start, 90.0, apart_nmi * M)
    found = result(
        [unlimited("support ship"), *run(start, 180.0, 12.0, hers),
         *run(beside, 180.0, 12.0, theirs)]
    )  # fmt: skip
    ship, second = found.ships
    assert "two send her number" in ship.doubt
    off_m, _, _ = between(ship.position, going(start, 180.0, 12 * M * (hers[0] - hers[-1]) / 60))
    assert off_m < 0.05 * M
    assert second.role == "other"


def test_a_sprint_between_two_fixes_far_apart_in_time_is_no_second_ship() -> None:
    """A fast boat lies at the pier, and twenty minutes later eight miles off: 24 kn, none told."""
    start = going(DATUM_PLACE, 0.0, 40 * M)
    there = going(start, 180.0, 8 * M)
    fixes = [fix(float(m), start, speed_kn=0.0) for m in (60, 50, 40, 30)]
    fixes += [fix(float(m), there, speed_kn=0.0) for m in (10, 5)]
    (ship,) = result([unlimited("search ship"), *fixes]).ships
    assert not ship.doubt
