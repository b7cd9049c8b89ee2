"""One observation told with more digits and with fewer: whether two are the same."""

from __future__ import annotations

from layers.earth.said.digits import fewer, near
from layers.earth.units import M_S_PER_KN
from layers.journal.kinds import Told

# Not in it: where the station lies, which one form of a report brings and another does not.
TURNS = {
    "wind_from_true_deg": 360.0, "wave_from_true_deg": 360.0, "swell_from_true_deg": 360.0,
    "wind_wave_from_true_deg": 360.0, "current_set_true_deg": 360.0,
}  # fmt: skip
SPEEDS = ("wind_kn", "gust_kn", "current_kn")
ONCE = 1e9  # what never begins anew
# Exports round wind, temperature, pressure and periods to whole units, these to a tenth at most:
# half a metre of sea or half a knot of current decides what can be done.
TENTHS = frozenset(
    {"hs_m", "swell_hs_m", "wind_wave_hs_m", "current_kn", "salinity_psu", "visibility_nmi"}
)
ALIKE = (
    *TURNS, *SPEEDS, *sorted(TENTHS - {"current_kn"}), "tp_s", "mean_period_s", "swell_tp_s",
    "wind_wave_tp_s", "pressure_hpa", "air_c", "dew_c", "sea_c",
)  # fmt: skip


def same_observation(one: Told, other: Told) -> bool:
    """Return whether one station's observation says nothing that another of its does not say.

    Their times and depths are the same, each value that the one tells the other tells too, and
    they agree to the decimals of the coarser; speeds in knots or in m/s, as the one or the other
    was rounded. What the station sent to replace a report is never the report that it replaces.
    """
    (at_us, said), (other_us, held) = one, other
    if at_us != other_us or said.get("sea_depth_m") != held.get("sea_depth_m"):
        return False
    if bool(said.get("corrected")) != bool(held.get("corrected")):
        return False
    told = [name for name in ALIKE if said.get(name) is not None]
    return bool(told) and all(_agree(name, said[name], held.get(name)) for name in told)


def _agree(name: str, a: float, b: float | None) -> bool:
    if b is None:
        return False
    if _near(name, a, b):
        return True
    return name in SPEEDS and _near(name, _m_s(a), _m_s(b))


def _near(name: str, a: float, b: float) -> bool:
    digits = max(fewer(a, b), 1 if name in TENTHS else 0)
    return near(a, b, digits, TURNS.get(name, ONCE))


def _m_s(speed_kn: float) -> float:
    return round(float(speed_kn) * M_S_PER_KN, 2)
