"""Acoustic ranges: time of travel to slant range to horizontal range, by each possible path."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from layers.datum.model import Range
from layers.earth.clock import dtg
from layers.earth.errors import InputError
from layers.earth.said.quantity import figure
from layers.earth.values import SoundSpeedProfile

# With no profile: a round figure for shelf water; common practice, no source.
ASSUMED_M_S, ASSUMED_SIGMA = 1_500.0, 0.01
MEASURED_SIGMA = 0.002


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundSpeed:
    """Mean speed of sound along a path, its error as a part of it, and where it is from."""

    speed_m_s: float
    sigma: float
    words: str


def mean_speed(
    profile: SoundSpeedProfile | None, upper_m: float, lower_m: float | None
) -> SoundSpeed:
    """Return the harmonic mean of the profile between two depths.

    The straight path spends its time in each layer in proportion to its thickness over its
    speed, whatever its slope; hence harmonic.
    """
    if profile is None or len(profile.depth_m) < 2:
        return SoundSpeed(
            speed_m_s=ASSUMED_M_S,
            sigma=ASSUMED_SIGMA,
            words="no sound profile, 1,500 m/s assumed (common practice, no source)",
        )
    low = profile.depth_m[-1] if lower_m is None else lower_m
    first, last = sorted((upper_m, float(low)))
    depths = np.linspace(first, max(last, first + 1.0), 200)
    slowness = 1.0 / np.interp(depths, profile.depth_m, profile.speed_m_s)
    speed = 1.0 / float(slowness.mean())
    return SoundSpeed(
        speed_m_s=speed,
        sigma=MEASURED_SIGMA,
        words=f"{figure(speed, 1)} m/s by the profile of {dtg(profile.taken_at)}",
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Horizontal:
    """The horizontal ranges of every path that is possible, their error, and how they came about.

    ``speed_sigma_m`` is the part of ``sigma_m`` that all ranges by that speed of sound share;
    None for a range that was given as a length.
    """

    metres: tuple[float, ...]
    sigma_m: float
    speed_sigma_m: float | None
    words: str


def slant_range(value: Range, speed: SoundSpeed) -> tuple[float, float, float | None, str]:
    """Return the slant range and its error in metres, the speed's part of it, and words."""
    if value.slant_range_m is not None and value.sigma_m is not None:
        return value.slant_range_m, value.sigma_m, None, "as given"
    assert value.travel_time_s is not None  # the model refuses a range without either
    assert value.sigma_s is not None
    if value.way == "two-way":
        one_way_s, sigma_s = (value.travel_time_s - value.turn_round_s) / 2.0, value.sigma_s / 2.0
    else:
        one_way_s, sigma_s = value.travel_time_s, value.sigma_s
    slant = one_way_s * speed.speed_m_s
    by_speed = slant * speed.sigma
    sigma = float(np.hypot(sigma_s * speed.speed_m_s, by_speed))
    return slant, sigma, by_speed, f"{value.way}, {speed.words}"


def horizontal_ranges(
    value: Range, speed: SoundSpeed, depth: tuple[float, float] | None = None
) -> Horizontal:
    """Return the horizontal ranges of every path that is possible.

    A path bounced off the surface or the bottom is a straight one to a mirror image. Where the
    object's depth is not told, the middle of the depths she may lie in stands for it, with their
    spread (``depth``, from a depth grid).

    Raises
    ------
    InputError
        No path is as short as the slant range: it is less than the difference of depth.
    """
    slant, sigma, by_speed, words = slant_range(value, speed)
    lower, spread_m = value.object_depth_m, 0.0
    if lower is None:
        if value.paths != ("direct",):
            raise InputError("paths other than direct need object_depth_m", where="range")
        if depth is None:
            words = f"{words}; taken as horizontal, no depth given"
            return Horizontal(metres=(slant,), sigma_m=sigma, speed_sigma_m=by_speed, words=words)
        lower, spread_m = depth
        words += f"; to a depth of {lower:.0f} m by the depth grid".replace(",", "\N{THIN SPACE}")
    upper = value.observer_depth_m
    floor = value.water_depth_m or 0.0
    vertical = {
        "direct": lower - upper,
        "surface bounce": lower + upper,
        "bottom bounce": 2.0 * floor - lower - upper,
    }
    found = [
        (float(np.sqrt(slant**2 - vertical[path] ** 2)), abs(vertical[path]))
        for path in value.paths
        if slant > abs(vertical[path])
    ]
    if not found and spread_m and slant + 2.0 * (sigma + spread_m) > abs(vertical["direct"]):
        found = [(max(sigma, 1.0), abs(vertical["direct"]))]  # right over her
    if not found:
        raise InputError(
            f"a slant range of {slant:.0f} m is shorter than the {lower - upper:.0f} m "
            "between the depths",
            where="range",
        )
    nearest, down = min(found)
    # d(horizontal) = slant / horizontal d(slant), and as much of the depth as it is steep
    steep = min(slant / max(nearest, 1.0), 10.0)
    by_depth = spread_m * min(down / max(nearest, 1.0), 10.0)
    return Horizontal(
        metres=tuple(metres for metres, _ in found),
        sigma_m=float(np.hypot(sigma * steep, by_depth)),
        speed_sigma_m=None if by_speed is None else by_speed * steep,
        words=words,
    )
