"""How long cold water leaves a person, by one named formula and only where it holds."""

from __future__ import annotations

from dataclasses import dataclass

SOURCE = "Hayward, Eckerson & Collis 1975: 15 + 7.2/(0.0785 − 0.0034 Tw) min"
LEAST_C, MOST_C = 0.0, 18.0
CLOTHING = "light clothing, lifejacket"
NEVER_A_REASON = "A survival time is never a reason to stop searching."


@dataclass(frozen=True, slots=True, kw_only=True)
class ColdWater:
    """Predicted time to a core temperature of 30 °C, or why none is given.

    ``minutes`` is None outside the formula's validity, and ``why_not`` says so.
    """

    minutes: float | None
    why_not: str


def predicted(water_c: float | None, clothing: str) -> ColdWater:
    """Return the predicted time in the water for a person adrift.

    Parameters
    ----------
    water_c : float or None
        Sea temperature, °C.
    clothing : str
        As reported; the formula is for light clothing and a lifejacket.

    Notes
    -----
    Valid 0 to about 18 °C. The formula has a pole at 23.09 °C and is refused long before.

    References
    ----------
    Hayward, J. S., Eckerson, J. D., and Collis, M. L. (1975); the formula seen at second hand.
    """
    if water_c is None:
        return ColdWater(minutes=None, why_not="the sea temperature is not known")
    if clothing != CLOTHING:
        return ColdWater(minutes=None, why_not=f"the formula is for {CLOTHING}, not {clothing}")
    if not LEAST_C <= water_c <= MOST_C:
        return ColdWater(
            minutes=None,
            why_not=f"{water_c:g} °C is outside the formula's {LEAST_C:g} to {MOST_C:g} °C",
        )
    return ColdWater(minutes=15.0 + 7.2 / (0.0785 - 0.0034 * water_c), why_not="")
