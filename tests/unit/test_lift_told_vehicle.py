"""A vehicle told as "14 seats, 5.5 h": what is filled, how wide it is, what narrows it.

The shares of a cycle are ours; what is checked is that they add up to what was told, that the
spread is the one said, and that every better figure narrows it.
"""

from __future__ import annotations

import numpy as np
import pytest
from pydantic import ValidationError

from layers.survivors.lifts.choose import cycle_us
from layers.survivors.lifts.model import Chamber, LiftLimits, Phase
from layers.survivors.lifts.vehicle import Vehicle, at_depth, taken_words
from tests.unit.lift_cases import eight_lifts, job_of, lift, spread, vehicle

SURE = {"failure_chance": 0.0, "failed_mating_chance": 0.0}


def told(**more):
    return Vehicle(name="V1", seats=14, cycle_h=5.5, **more)


@pytest.mark.parametrize("depth_m", [60.0, 142.0, 410.0])
@pytest.mark.parametrize("more", [{}, {"mate": spread(20, 40, 60)}, {"speed_up_m_min": 25.0}])
def test_the_parts_add_up_to_the_cycle_at_any_depth_for_a_full_lift(depth_m, more):
    craft = at_depth(told(**more), depth_m)
    minutes = cycle_us(craft, lift("L1", 1, "V1", "after", 14, 0), depth_m) / 60e6
    # a speed that was told makes a deeper dive longer; all else is the cycle's own
    slack = abs(depth_m - 100.0) / 25.0 + 0.01 if more.get("speed_up_m_min") else 0.01
    assert minutes == pytest.approx(330.0, abs=slack)


def dive_to_dive_h(craft):
    setting = eight_lifts(
        vehicles=(craft,), lifts=(lift("L1", 1, "V1", "after", 14, 0),),
    )  # fmt: skip
    craft = at_depth(craft, setting.depth_m)
    job = job_of(eight_lifts(vehicles=(craft,), lifts=setting.lifts), 40_000)
    return (job.offsets["back"][0, 0] + job.rest_s[0, 0]) / 3600.0


def test_the_cycle_spreads_as_a_whole_by_what_is_said():
    hours = dive_to_dive_h(told(**SURE))
    # a symmetric triangle of half width a has P10 and P90 at 1 -+ a (1 - sqrt(0.2))
    for share, sign in ((10, -1), (50, 0), (90, 1)):
        by_hand = 5.5 * (1 + sign * 0.25 * (1 - np.sqrt(0.2)))
        assert np.percentile(hours, share) == pytest.approx(by_hand, rel=0.01)
    assert hours.min() >= 5.5 * 0.75 - 0.01
    assert hours.max() <= 5.5 * 1.25 + 0.01


def width(hours):
    low, high = np.percentile(hours, (10, 90))
    return high - low


def test_every_better_figure_narrows_the_cycle():
    coarse = width(dive_to_dive_h(told(**SURE)))
    one = width(dive_to_dive_h(told(turn_round=spread(115, 122, 130), **SURE)))
    two = width(
        dive_to_dive_h(told(turn_round=spread(115, 122, 130), mate=spread(40, 43, 46), **SURE))
    )
    assert two < one < coarse


def test_what_was_taken_is_said_and_what_was_told_is_not():
    words = taken_words(told())
    assert "cycle told as 5.5 h, taken ± 25 %" in words
    assert "battery" in words
    assert taken_words(vehicle()) == ""
    assert told().model_fields_set == {"name", "seats", "cycle_h"}


def test_without_a_cycle_every_part_is_wanted_and_named():
    with pytest.raises(ValidationError, match="one dive to the next"):
        Vehicle(name="V1", seats=14)
    with pytest.raises(ValidationError, match="turn round"):
        Vehicle(**{k: v for k, v in vehicle().model_dump().items()
                   if k not in ("turn_round", "cycle_h", "cycle_spread_percent")})  # fmt: skip


def test_parts_longer_than_the_cycle_are_refused():
    with pytest.raises(ValidationError, match="no less than the"):
        told(turn_round=spread(300, 340, 400))


def test_a_vehicle_told_whole_is_as_it_was():
    whole = vehicle()
    assert at_depth(whole, 300.0) is whole
    assert cycle_us(whole, lift("L", 1, "V1", "after", 2, 0), 150.0) / 60e6 == pytest.approx(
        # launch 15 + down 10 + search 12 + mate 25 + two of 1.5 + away 5 + up 7.5 + recover 20
        15 + 10 + 12 + 25 + 3 + 5 + 7.5 + 20 + 120
    )
    assert Phase.DOWN  # the phases are those of a sortie, the turn-round beside them


def test_one_limit_and_two_figures_of_a_chamber_are_enough():
    limits = LiftLimits(launch_hs_m=2.5)
    assert limits.recovery_hs_m == 2.5
    assert "that of launch is taken" in limits.left_open()
    with pytest.raises(ValidationError, match="no sea is limited"):
        LiftLimits(mating_kn=1.0)
    chamber = Chamber(name="C1", places=12)
    assert chamber.volume_m3 == 18.0
    assert chamber.attendants == 1
