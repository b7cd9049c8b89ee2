"""Oxygen dose of a stay in a chamber, in units of pulmonary toxicity dose (UPTD).

The dose is an aid to whoever approves the schedule; resting people in a chamber differ from
the divers it was fitted to, and newer guidance uses another index.
"""

from __future__ import annotations

from layers.earth.units import PA_PER_ATM, PA_PER_BAR
from layers.survivors.chambers.schedule import Band

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


def dose_of_band(band: Band) -> float:
    """Return the dose of a whole stay, in units."""
    return sum(
        dose_of_step(
            step.from_bar_abs * ATA_PER_BAR * step.oxygen_fraction,
            step.to_bar_abs * ATA_PER_BAR * step.oxygen_fraction,
            step.minutes,
        )
        for step in band.steps
    )
