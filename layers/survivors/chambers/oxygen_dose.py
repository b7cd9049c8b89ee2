"""Oxygen doses: of the lungs (UPTD) in a chamber and through days in a refuge, and of the nerves.

The dose is an aid to whoever approves the schedule; resting people in a chamber differ from
the divers it was fitted to, and newer guidance uses another index.
"""

from __future__ import annotations

import numpy as np

from layers.earth.arrays import Floats
from layers.earth.units import PA_PER_ATM, PA_PER_BAR
from layers.survivors.chambers.schedule import PressureBand

THRESHOLD_ATA = 0.5
EXPONENT = 0.833  # Clark & Lambertsen 1970-71
ATA_PER_BAR = PA_PER_BAR / PA_PER_ATM
SHOWN_AS = "UPTD after Clark & Lambertsen 1970-71; some newer guidance replaces it (ESOT)"


def rate_per_min(po2_ata: float) -> float:
    """Return units of pulmonary toxicity dose a minute at an oxygen partial pressure.

    Parameters
    ----------
    po2_ata : float
        Oxygen partial pressure, atmospheres absolute.

    Notes
    -----
    ``((PO2 - 0.5) / 0.5) ** 0.833``, zero at or below 0.5 ata.

    References
    ----------
    Clark & Lambertsen 1970-71, as printed in a medical appendix with its rate table.
    """
    if po2_ata <= THRESHOLD_ATA:
        return 0.0
    return float(((po2_ata - THRESHOLD_ATA) / THRESHOLD_ATA) ** EXPONENT)


def dose_of_step(po2_from_ata: float, po2_to_ata: float, minutes: float) -> float:
    """Return the dose while the partial pressure changes evenly, in units.

    The integral in closed form, of the part above the threshold only.
    """
    high, low = max(po2_from_ata, po2_to_ata), min(po2_from_ata, po2_to_ata)
    if high <= THRESHOLD_ATA:
        return 0.0
    if high - low < 1e-9:
        return rate_per_min(high) * minutes
    above_high = (high - THRESHOLD_ATA) / THRESHOLD_ATA
    above_low = max(low - THRESHOLD_ATA, 0.0) / THRESHOLD_ATA
    power = EXPONENT + 1.0
    area = (above_high**power - above_low**power) / power
    return float(area * THRESHOLD_ATA / (high - low) * minutes)


def dose_of_band(band: PressureBand) -> float:
    """Return the dose of a whole stay, in units."""
    return sum(
        dose_of_step(
            step.from_bar_abs * ATA_PER_BAR * step.oxygen_fraction,
            step.to_bar_abs * ATA_PER_BAR * step.oxygen_fraction,
            step.minutes,
        )
        for step in band.steps
    )


# NOAA Diving Manual, oxygen exposure limits of working divers: minutes at a partial pressure in one
# exposure, and in 24 h (verified: table seen in an instrument manual).
CNS_ATA = (0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.3, 1.4, 1.5, 1.6)
CNS_SINGLE_MIN = (720, 570, 450, 360, 300, 240, 210, 180, 150, 120, 45)
CNS_DAY_MIN = (720, 570, 450, 360, 300, 270, 240, 210, 180, 180, 150)
CNS_SOURCE = "NOAA Diving Manual, limits of working divers; resting people differ"
# Repeated exposure: a day alone, and each of many days (Hamilton et al, REPEX, 1988-89, seen at
# second hand; not a limit of rescue).
UPTD_ONE_DAY, UPTD_MANY_DAYS = 850.0, 300.0


def cns_share_a_min(po2_ata: float, *, day: bool = False) -> float | None:
    """Return the share of the nerves' limit that a minute takes, None beyond the table.

    Notes
    -----
    ``1 / limit`` with the limit taken in a straight line between two rows; nothing below 0.6 ata.
    """
    limits = CNS_DAY_MIN if day else CNS_SINGLE_MIN
    if po2_ata > CNS_ATA[-1] + 1e-9:
        return None
    if po2_ata < CNS_ATA[0]:
        return 0.0
    return 1.0 / float(np.interp(po2_ata, CNS_ATA, limits))


def cns_of_band(band: PressureBand) -> float | None:
    """Return the share of the nerves' single-exposure limit that a stay takes.

    None where a step lies beyond the table, at the pressure it begins with.
    """
    total = 0.0
    for step in band.steps:
        share = cns_share_a_min(step.from_bar_abs * ATA_PER_BAR * step.oxygen_fraction)
        if share is None:
            return None
        total += share * step.minutes
    return total


def refuge_dose(hours: Floats, oxygen_kpa: Floats) -> tuple[float, float | None]:
    """Return the units a day and the share of the nerves' day limit of a stay in a refuge.

    Parameters
    ----------
    hours : ndarray, shape (n,)
        Of the readings or of the curve, ascending; at least two.
    oxygen_kpa : ndarray, shape (n,)
        Oxygen there, kPa; in a straight line between.

    Returns
    -------
    units_a_day : float
        UPTD, the mean of the span; 300 a day is the allowance of many days.
    cns : float or None
        Of the highest day's limit, None beyond the table.
    """
    ata = oxygen_kpa * 1000.0 / PA_PER_ATM
    pairs = zip(ata[:-1], ata[1:], np.diff(hours) * 60.0, strict=True)
    units = sum(dose_of_step(float(a), float(b), float(m)) for a, b, m in pairs)
    share = cns_share_a_min(float(ata.max()), day=True)
    span_h = float(hours[-1] - hours[0])
    return units / span_h * 24.0, None if share is None else share * 1440.0
