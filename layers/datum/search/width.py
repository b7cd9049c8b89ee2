"""The sweep width of a searcher corrected for sea, wind and tired eyes; that of a sonar.

The tables of uncorrected widths (by craft, height, visibility and object) are not shipped: their
pages were not seen. The watch types the figure of its own table; the factors on it are here.

References
----------
US National Search and Rescue Manual (JP 3-50, 1991), appendix D, table D-1 and text (seen): weather
factors, and 0.9 for a crew reported much tired; ordinary tiredness is in the tables already. The
international table for ships differs (0.6 for other objects in heavy weather) and is remembered
only: it is not used. A sweep width is the integral of the lateral range curve (Koopman 1946).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from layers.earth.errors import InputError
from layers.earth.units import M_S_PER_KN

Sort = Literal["person in the water or a boat under 9 m", "anything larger"]
SOURCE = "US National SAR Manual 1991, appendix D"
TIRED = 0.9
FT_M = 0.3048
# wind above (knots) or sea above (metres): factor for small objects, factor for others
BANDS = ((25.0, 4.0 * FT_M, 0.25, 0.9), (15.0, 2.0 * FT_M, 0.5, 0.9))


@dataclass(frozen=True, slots=True, kw_only=True)
class Width:
    """A corrected sweep width, metres, and how it came about."""

    metres: float
    words: str


def weather_factor(sort: Sort, wind_kn: float | None, sea_m: float | None) -> float:
    """Return the weather factor; where wind and sea say different ones, the worse.

    Raises
    ------
    InputError
        Neither wind nor sea is known: fair weather is not assumed.
    """
    if wind_kn is None and sea_m is None:
        raise InputError(
            "neither wind nor sea is known there",
            where="sweep width",
            accepted="the wind in knots, or the height of the sea",
        )
    for wind, sea, small, other in BANDS:
        if (wind_kn or 0.0) > wind or (sea_m or 0.0) >= sea:
            return small if sort.startswith("person") else other
    return 1.0


def corrected(
    table_m: float, sort: Sort, wind_kn: float | None, sea_m: float | None, *, tired: bool
) -> Width:
    """Return a table's sweep width corrected for weather and tiredness."""
    if not table_m > 0.0:
        raise InputError("a sweep width of nothing", where="sweep width", accepted="more than 0")
    weather, crew = weather_factor(sort, wind_kn, sea_m), TIRED if tired else 1.0
    found = table_m * weather * crew
    return Width(
        metres=found,
        words=f"{table_m:.0f} m as typed × {weather:g} for the weather"
        f"{f' × {TIRED:g} for a much tired crew' if tired else ''} ({SOURCE})",
    )


def sonar_width(range_m: float, gap_m: float, chance: float) -> Width:
    """Return the sweep width of a sonar that sees to both sides, less the gap under its keel.

    Parameters
    ----------
    range_m, gap_m : float
        From so far to so far to either side it sees with this chance. The swath is no sweep width.
    chance : float
        Of seeing what lies there, 0 to 1: lower over rough ground and at speed.
    """
    if not (range_m > gap_m >= 0.0 and 0.0 < chance <= 1.0):
        raise InputError(
            "a sonar range that is not beyond its gap, or a chance that is none",
            where="sweep width",
            accepted="a range beyond the gap under the keel, a chance above 0 and up to 1",
        )
    found = 2.0 * chance * (range_m - gap_m)
    return Width(
        metres=found,
        words=f"{chance:.0%} from {gap_m:.0f} to {range_m:.0f} m on either side; integral of the "
        "lateral range curve",
    )


def over_the_bottom(
    range_m: float,
    above_m: float,
    gap_m: float,
    chance: float,
    speed_kn: float,
    length_m: float,
) -> Width:
    """Return the sweep width of a sonar, hull or towed, so high above the bottom and so fast.

    Its range is slant: of a hull sonar the water's depth goes off it, of a towed one only its
    height. Faster than `fastest_kn` too few pings fall on what is looked for; it is then seen the
    more seldom by as much (common practice, no source).

    Parameters
    ----------
    above_m : float
        Of the sonar over the bottom: hull less her draught, or the height a body is towed at.
    length_m : float
        Of what is looked for.

    Raises
    ------
    InputError
        The range does not come to the bottom, or a length or speed is not more than 0.
    """
    if above_m >= range_m:
        raise InputError(
            f"{range_m:.0f} m of range does not come to a bottom {above_m:.0f} m below",
            where="sweep width",
            accepted="a longer range, shallower water, or a sonar towed nearer to the bottom",
        )
    if not (speed_kn > 0.0 and length_m > 0.0):
        raise InputError("no speed or no length", where="sweep width", accepted="more than 0")
    reach = float(np.sqrt(range_m**2 - above_m**2))
    seldom = min(fastest_kn(range_m, length_m) / speed_kn, 1.0)
    found = sonar_width(reach, gap_m, chance * seldom)
    fast = "" if seldom == 1.0 else f"; too fast, seen {seldom:.0%} as often"
    return Width(
        metres=found.metres,
        words=f"{found.words}; {range_m:.0f} m slant from {above_m:.0f} m above the bottom{fast}",
    )


def fastest_kn(range_m: float, length_m: float, pings: int = 5, sound_m_s: float = 1500.0) -> float:
    """Return the speed at which so many pings fall on an object of this length.

    A ping is sent when the last has come back from the greatest range. Five is common practice,
    no source.
    """
    return length_m * sound_m_s / (pings * 2.0 * range_m) / M_S_PER_KN
