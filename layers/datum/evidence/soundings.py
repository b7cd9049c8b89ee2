"""Acoustic ranges: time of travel to slant range to horizontal range, by each possible path.

A depression is a range too: in level layers the cosine of the slope over the speed of sound stays
the same along a ray (Snell's law; Urick, Principles of Underwater Sound, ch. 5, from memory), so
the profile says how far off it comes down. What turns level above her depth never reaches her.
"""

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
LAYERS = 400


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


def bent_range_m(
    profile: SoundSpeedProfile | None, depression_deg: float, upper_m: float, lower_m: float
) -> float | None:
    """Return the horizontal range at which a ray reaches a depth, None where it never does.

    Parameters
    ----------
    depression_deg : float
        Below the horizontal at ``upper_m``.
    """
    if lower_m <= upper_m:
        return None
    edges = np.linspace(upper_m, lower_m, LAYERS + 1)
    middles = 0.5 * (edges[:-1] + edges[1:])
    if profile is None or len(profile.depth_m) < 2:
        return float((lower_m - upper_m) / np.tan(np.radians(depression_deg)))
    speed = np.interp(middles, profile.depth_m, profile.speed_m_s)
    start = float(np.interp(upper_m, profile.depth_m, profile.speed_m_s))
    cosine = np.cos(np.radians(depression_deg)) / start * speed
    if np.any(cosine >= 1.0):
        return None
    return float(np.sum(cosine / np.sqrt(1.0 - cosine**2)) * (lower_m - upper_m) / LAYERS)


def range_of(
    profile: SoundSpeedProfile | None,
    depression_deg: float,
    sigma_deg: float,
    upper_m: float,
    depth: tuple[float, float],
    speed: SoundSpeed,
) -> tuple[float, float, str]:
    """Return the range of a depression, its standard deviation, and how it came about.

    Worked at the depression, a standard deviation to either side of it, and at depths a standard
    deviation above and below: near the horizontal a degree is miles.

    Raises
    ------
    InputError
        The ray never reaches that depth.
    """
    lower, spread = depth
    found = bent_range_m(profile, depression_deg, upper_m, lower)
    if found is None:
        raise InputError(
            f"sound that leaves {figure(depression_deg, 1)}° down at {figure(upper_m, 0)} m "
            f"does not come to {figure(lower, 0)} m by the profile",
            where="depression",
            accepted="a steeper depression, her depth, or a newer profile",
        )
    steeper = bent_range_m(profile, min(depression_deg + sigma_deg, 89.9), upper_m, lower) or found
    flatter = bent_range_m(profile, max(depression_deg - sigma_deg, 0.05), upper_m, lower)
    by_angle = max(found - steeper, (flatter or 3.0 * found) - found)
    above = bent_range_m(profile, depression_deg, upper_m, max(lower - spread, upper_m + 1.0))
    by_depth = found - above if above is not None else 0.0
    words = f"depression {figure(depression_deg, 1)}° to {figure(lower, 0)} m, {speed.words}"
    return found, float(np.hypot(by_angle, by_depth) or 1.0), words
