"""What people breathe, and what absorbents and candles can do at the most.

Masses and reactions only; nothing here depends on the exercise or on a policy.
"""

from __future__ import annotations

from layers.earth.units import KELVIN_AT_0_C, PA_PER_ATM, R_J_PER_MOL_K

# Molar masses, kg/mol, from IUPAC standard atomic weights (2021 abridged).
O2_KG_MOL = 31.998e-3
CO2_KG_MOL = 44.0095e-3
LIOH_KG_MOL = 23.94834e-3
CAOH2_KG_MOL = 74.0927e-3

# NASA RP-1324, Wieland, Designing for Human Presence in Space (1994): mean rate 136.7 W.
# VERIFIED as tabulated on a stored page; a resting diver uses about the same, a working one
# more than twice as much (Knafelc, NEDU Report 1-89, 1989).
O2_KG_PERSON_DAY = 0.84
CO2_KG_PERSON_DAY = 1.00
BREATHING_SOURCE = "NASA RP-1324, Wieland 1994: 0.84 kg O2 in, 1.00 kg CO2 out a person-day"

AIR_O2_FRACTION = 0.2095  # dry air

# kg CO2 that 1 kg can bind when every molecule reacts: 2 LiOH + CO2, Ca(OH)2 + CO2.
MOST_CO2_PER_KG: dict[str, float] = {
    "lithium hydroxide": CO2_KG_MOL / (2.0 * LIOH_KG_MOL),
    "soda lime": CO2_KG_MOL / CAOH2_KG_MOL,
}


def o2_mol_per_h(kg_person_day: float = O2_KG_PERSON_DAY) -> float:
    """Return mol of oxygen an hour for kg a person-day."""
    return kg_person_day / O2_KG_MOL / 24.0


def respiratory_quotient(
    o2_kg: float = O2_KG_PERSON_DAY, co2_kg: float = CO2_KG_PERSON_DAY
) -> float:
    """Return mol CO2 out per mol O2 in."""
    return (co2_kg / CO2_KG_MOL) / (o2_kg / O2_KG_MOL)


def standard_litres(mol: float) -> float:
    """Return litres at 0 °C and 1 atm of an ideal gas."""
    return mol * R_J_PER_MOL_K * KELVIN_AT_0_C / PA_PER_ATM * 1000.0


def gas_mol(pressure_pa: float, volume_m3: float, temperature_c: float) -> float:
    """Return mol of an ideal gas: n = pV/RT."""
    return pressure_pa * volume_m3 / (R_J_PER_MOL_K * (KELVIN_AT_0_C + temperature_c))
