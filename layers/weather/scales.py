"""Sea state and Beaufort force from the WMO tables."""

from __future__ import annotations

import bisect
import math

# Upper bounds of codes 0 to 8 in metres; the bound itself belongs to the lower code.
SEA_STATE_UPPER_M = (0.0, 0.1, 0.5, 1.25, 2.5, 4.0, 6.0, 9.0, 14.0)
SEA_STATE_WORDS = (
    "calm (glassy)",
    "calm (rippled)",
    "smooth",
    "slight",
    "moderate",
    "rough",
    "very rough",
    "high",
    "very high",
    "phenomenal",
)
# Upper bounds of forces 0 to 11 in whole knots.
BEAUFORT_UPPER_KN = (0, 3, 6, 10, 16, 21, 27, 33, 40, 47, 55, 63)


def sea_state(hs_m: float) -> int:
    """Return the sea state code 0 to 9 for a wave height.

    Parameters
    ----------
    hs_m : float
        Significant wave height, metres, 0 or more. The table is for well-developed wind
        waves; a swell is coded here by its height all the same.

    References
    ----------
    WMO-No. 306 vol. I.1 part A, code table 3700.
    """
    return bisect.bisect_left(SEA_STATE_UPPER_M, hs_m)


def beaufort(wind_kn: float) -> int:
    """Return the Beaufort force 0 to 12 for a 10 m wind in knots, by the column in knots.

    The class bounds are whole knots; between them the wind is rounded. The columns in knots
    and in metres per second differ by up to half a knot at the bounds.

    References
    ----------
    WMO code table 1100.
    """
    return bisect.bisect_left(BEAUFORT_UPPER_KN, math.floor(wind_kn + 0.5))


def wind_at_10_m(wind: float, anemometer_m: float) -> float:
    """Return the 10 m wind for one measured at another height, in the same unit.

    Power law with exponent 0.11 over open sea in near-neutral air (Hsu, Meindl & Gilhousen,
    J. Appl. Meteor. 33 (1994); from memory, not checked against the page).
    """
    return float(wind * (10.0 / anemometer_m) ** 0.11)
