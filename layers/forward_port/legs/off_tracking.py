"""How much road a trailer needs in a corner.

Notes
-----
In a steady turn each wheelbase L swings the next axle inside the last: R² = r² + L². For a
tractor and one trailer the rear axle runs at r = √(R² − L₁² − L₂²), the sum of squares used in
highway practice (Western Highway Institute, 1970; SAE J695; both from memory, not checked
against the page). A real corner is shorter than a steady turn, so this asks for rather more
road than the corner will.
"""

from __future__ import annotations

import math


def off_tracking_m(radius_m: float, *wheelbases_m: float) -> float | None:
    """Return how far the last axle runs inside the first in a steady turn.

    None when the turn is too tight for it to be made at all.

    Parameters
    ----------
    radius_m : float
        Of the path of the middle of the steering axle.
    wheelbases_m : float
        Tractor, then trailer from kingpin to the middle of its axles.
    """
    rest = radius_m**2 - sum(wheelbase**2 for wheelbase in wheelbases_m)
    return None if rest < 0.0 else radius_m - math.sqrt(rest)


def swept_width_m(
    radius_m: float, tractor_width_m: float, load_width_m: float, *wheelbases_m: float
) -> float | None:
    """Return the width of road swept: off-tracking, half the tractor and half the load."""
    inside = off_tracking_m(radius_m, *wheelbases_m)
    return None if inside is None else inside + (tractor_width_m + load_width_m) / 2.0
