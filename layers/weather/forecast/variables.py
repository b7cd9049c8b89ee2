"""What a forecast carries: the names used here, and how files in the world name the same.

Directions are kept as two components, since 359° and 1° do not average to 180°.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from layers.earth.arrays import Array
from layers.earth.errors import InputError
from layers.earth.units import KELVIN_AT_0_C, M_PER_FT, M_PER_NMI, M_S_PER_KN

# Name -> (what it is, unit). ``*_from_east`` and ``*_from_north`` are the two components of a
# unit vector that points to where the waves come from.
VARIABLES: dict[str, tuple[str, str]] = {
    "wind_east_m_s": ("10 m wind, towards east", "m/s"),
    "wind_north_m_s": ("10 m wind, towards north", "m/s"),
    "gust_m_s": ("gust", "m/s"),
    "hs_m": ("significant wave height", "m"),
    "tp_s": ("peak wave period", "s"),
    "mean_period_s": ("mean wave period", "s"),
    "wave_from_east": ("direction the waves come from, east component", "1"),
    "wave_from_north": ("direction the waves come from, north component", "1"),
    "hs_wind_m": ("height of wind waves", "m"),
    "hs_swell_m": ("height of swell", "m"),
    "swell_tp_s": ("period of swell", "s"),
    "current_east_m_s": ("current, towards east", "m/s"),
    "current_north_m_s": ("current, towards north", "m/s"),
    "air_c": ("air temperature at 2 m", "°C"),
    "sea_c": ("sea surface temperature", "°C"),
    "pressure_hpa": ("pressure at mean sea level", "hPa"),
    "visibility_nmi": ("visibility", "nmi"),
    "salinity_psu": ("salinity at the surface", "psu"),
}

# What people call them together, by the first word of the name where that is not it.
_TOGETHER = {
    "hs": "waves", "tp": "waves", "mean": "waves", "wave": "waves", "swell": "waves",
    "air": "air temperature", "sea": "sea temperature",
}  # fmt: skip


def carried_words(names: Iterable[str]) -> str:
    """Return what a forecast carries in few words: ``wind, waves, current``."""
    first = [name.partition("_")[0] for name in names]
    return ", ".join(dict.fromkeys(_TOGETHER.get(word, word) for word in first))


# As read from a file, before directions become components.
POLAR: dict[tuple[str, str], tuple[str, str, float]] = {
    # (speed or nothing, direction) -> east, north, and 180 to turn "from" into "towards"
    ("wind_speed_m_s", "wind_from_deg"): ("wind_east_m_s", "wind_north_m_s", 180.0),
    ("current_speed_m_s", "current_set_deg"): ("current_east_m_s", "current_north_m_s", 0.0),
    ("", "wave_from_deg"): ("wave_from_east", "wave_from_north", 0.0),
}

# WMO-No. 306 vol. I.2, GRIB 2 code table 4.2: (discipline, category, number).
GRIB2: dict[tuple[int, int, int], str] = {
    (0, 2, 2): "wind_east_m_s",
    (0, 2, 3): "wind_north_m_s",
    (0, 2, 1): "wind_speed_m_s",
    (0, 2, 0): "wind_from_deg",
    (0, 2, 22): "gust_m_s",
    (0, 0, 0): "air_c",
    (0, 3, 1): "pressure_hpa",
    (0, 3, 0): "pressure_hpa",
    (0, 19, 0): "visibility_nmi",
    (10, 0, 3): "hs_m",
    (10, 0, 5): "hs_wind_m",
    (10, 0, 8): "hs_swell_m",
    (10, 0, 9): "swell_tp_s",
    (10, 0, 10): "wave_from_deg",
    (10, 0, 11): "mean_period_s",
    (10, 0, 14): "wave_from_deg",
    (10, 0, 15): "mean_period_s",
    (10, 0, 34): "tp_s",
    (10, 1, 0): "current_set_deg",
    (10, 1, 1): "current_speed_m_s",
    (10, 1, 2): "current_east_m_s",
    (10, 1, 3): "current_north_m_s",
    (10, 3, 0): "sea_c",
    (10, 4, 3): "salinity_psu",
}
# GRIB 1 has other tables; eccodes' short names cover both editions.
GRIB1: dict[str, str] = {
    "10u": "wind_east_m_s", "10v": "wind_north_m_s", "10si": "wind_speed_m_s",
    "10wdir": "wind_from_deg", "gust": "gust_m_s", "10fg": "gust_m_s", "2t": "air_c",
    "prmsl": "pressure_hpa", "msl": "pressure_hpa", "vis": "visibility_nmi", "swh": "hs_m",
    "shww": "hs_wind_m", "shts": "hs_swell_m", "mwd": "wave_from_deg", "mwp": "mean_period_s",
    "pp1d": "tp_s", "sst": "sea_c",
}  # fmt: skip
# CF standard names (CF conventions, standard name table).
CF: dict[str, str] = {
    "eastward_wind": "wind_east_m_s",
    "x_wind": "wind_east_m_s",
    "northward_wind": "wind_north_m_s",
    "y_wind": "wind_north_m_s",
    "wind_speed": "wind_speed_m_s",
    "wind_from_direction": "wind_from_deg",
    "wind_speed_of_gust": "gust_m_s",
    "sea_surface_wave_significant_height": "hs_m",
    "sea_surface_wind_wave_significant_height": "hs_wind_m",
    "sea_surface_swell_wave_significant_height": "hs_swell_m",
    "sea_surface_wave_period_at_variance_spectral_density_maximum": "tp_s",
    "sea_surface_wave_mean_period": "mean_period_s",
    "sea_surface_swell_wave_period": "swell_tp_s",
    "sea_surface_wave_from_direction": "wave_from_deg",
    "eastward_sea_water_velocity": "current_east_m_s",
    "surface_eastward_sea_water_velocity": "current_east_m_s",
    "northward_sea_water_velocity": "current_north_m_s",
    "surface_northward_sea_water_velocity": "current_north_m_s",
    "sea_water_speed": "current_speed_m_s",
    "sea_water_velocity_to_direction": "current_set_deg",
    "air_temperature": "air_c",
    "sea_surface_temperature": "sea_c",
    "sea_water_temperature": "sea_c",
    "sea_water_potential_temperature": "sea_c",
    "sea_water_salinity": "salinity_psu",
    "sea_water_practical_salinity": "salinity_psu",
    "air_pressure_at_mean_sea_level": "pressure_hpa",
    "air_pressure_at_sea_level": "pressure_hpa",
    "visibility_in_air": "visibility_nmi",
}


@dataclass(frozen=True, slots=True)
class Unit:
    """How the numbers of one unit become the unit used here."""

    scale: float = 1.0
    offset: float = 0.0

    def apply(self, values: Array) -> Array:
        """Return the values in the unit used here."""
        return values * self.scale + self.offset


_SPEED = {
    **dict.fromkeys(("m/s", "m s-1", "m s^-1", "m.s-1", "m s**-1", "meter/sec"), Unit()),
    **dict.fromkeys(("kn", "knot", "knots", "kt", "kts"), Unit(M_S_PER_KN)),
    **dict.fromkeys(("km/h", "km h-1"), Unit(1.0 / 3.6)),
    **dict.fromkeys(("cm/s", "cm s-1"), Unit(0.01)),
}
_LENGTH = {
    **dict.fromkeys(("m", "meter", "meters", "metre", "metres"), Unit()),
    **dict.fromkeys(("ft", "feet", "foot"), Unit(M_PER_FT)),
    **dict.fromkeys(("cm", "centimeter", "centimeters", "centimetre", "centimetres"), Unit(0.01)),
    "mm": Unit(0.001),
}
_SECONDS = {**dict.fromkeys(("s", "sec", "second", "seconds"), Unit())}
_DEGREES = {
    **dict.fromkeys(
        ("degree", "degrees", "deg", "degree_true", "degrees_true", "degree true", "Degree true"),
        Unit(),
    ),
    "rad": Unit(180.0 / np.pi),
    "radian": Unit(180.0 / np.pi),
}
_CELSIUS = {
    **dict.fromkeys(("degC", "degrees_C", "degree_C", "Celsius", "celsius", "deg_C", "°C"), Unit()),
    **dict.fromkeys(("K", "kelvin", "Kelvin"), Unit(1.0, -KELVIN_AT_0_C)),
}
_PRESSURE = {"Pa": Unit(0.01), **dict.fromkeys(("hPa", "mbar", "mb", "millibar"), Unit())}
_DISTANCE = {
    **dict.fromkeys(("m", "meters", "metres"), Unit(1.0 / M_PER_NMI)),
    "km": Unit(1000.0 / M_PER_NMI),
    **dict.fromkeys(("nmi", "nautical_mile", "nautical_miles"), Unit()),
}
_SALINITY = {
    **dict.fromkeys(("1e-3", "psu", "PSU", "0.001", "g kg-1", "practical salinity unit"), Unit()),
    **dict.fromkeys(("kg kg**-1", "kg kg-1"), Unit(1000.0)),
    "1": Unit(),
}


def units_of(name: str) -> dict[str, Unit]:
    """Return the units that are understood for a variable, as read."""
    ends: tuple[tuple[str, dict[str, Unit]], ...] = (
        ("_m_s", _SPEED),
        ("_nmi", _DISTANCE),
        ("_hpa", _PRESSURE),
        ("_psu", _SALINITY),
        ("_deg", _DEGREES),
        ("_m", _LENGTH),
        ("_s", _SECONDS),
        ("_c", _CELSIUS),
    )
    return next(units for end, units in ends if name.endswith(end))


def converted(name: str, values: Array, unit: str | None) -> Array:
    """Return values in the unit used here; a unit that is not stated is not guessed.

    Raises
    ------
    InputError
        No unit, or one that is not a unit of this quantity.
    """
    understood = units_of(name)
    accepted = ", ".join(understood)
    bare = "" if unit is None else unit.strip()
    if not bare:
        raise InputError("it states no unit, and a unit is never guessed", accepted=accepted)
    if bare not in understood and len(bare) > 3:  # a word has one meaning, a sign may have two
        bare = bare.lower()
    if bare not in understood:
        raise InputError(f"its unit {unit!r} is not one of this quantity", accepted=accepted)
    return understood[bare].apply(values)


def components(found: dict[str, Array]) -> dict[str, Array]:
    """Return the variables with speeds and directions turned into components.

    Wind waves and swell that come apart also give the height of both together.
    """
    done = {name: values for name, values in found.items() if name in VARIABLES}
    for (speed, direction), (east, north, turn) in POLAR.items():
        if direction not in found or (speed and speed not in found) or east in done:
            continue
        angle = np.radians(found[direction] + turn)
        size = found[speed] if speed else 1.0
        done[east], done[north] = size * np.sin(angle), size * np.cos(angle)
    if "hs_m" not in done and {"hs_wind_m", "hs_swell_m"} <= done.keys():
        # energies add: Hs of two wave systems together
        done["hs_m"] = np.hypot(done["hs_wind_m"], done["hs_swell_m"])
    return done
