"""Forecasts in NetCDF (3 and 4) after the CF conventions.

A variable is known by its ``standard_name`` (or, in files made from GRIB, by the GRIB code kept
beside it). One without a unit, or in a unit of something else, is set aside and said; the rest
goes on.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

import numpy as np

from layers.contract import Feed, Origin, Reading
from layers.earth.arrays import Array
from layers.earth.clock import parse_time
from layers.earth.errors import InputError
from layers.weather.feeds.cf_times import moments
from layers.weather.feeds.lines import reject
from layers.weather.forecast.fields import field_grid
from layers.weather.forecast.issue_draft import add_forecast
from layers.weather.forecast.sound import set_aside
from layers.weather.forecast.variables import CF, GRIB2, components, converted

MAGIC = (b"CDF\x01", b"CDF\x02", b"CDF\x05", b"\x89HDF\r\n\x1a\n")
WORDS = (b"wind", b"sea_surface_wave", b"sea_water_velocity", b"forecast_reference_time")
LATITUDE = ("latitude", "lat")
LONGITUDE = ("longitude", "lon")
# CF 4.1 and 4.2: the spellings of one unit
NORTH = ("degrees_north", "degree_north", "degree_N", "degrees_N", "degreeN", "degreesN")
EAST = ("degrees_east", "degree_east", "degree_E", "degrees_E", "degreeE", "degreesE")
PLAIN = (None, "degrees", "degree", "deg")
ISSUE_ATTRIBUTES = ("forecast_reference_time", "issued_at", "reference_time")
STRANGE = 12 * 366 * 86_400.0  # a span longer than this in a forecast is a fault of units
ACCEPTED = (
    "CF-NetCDF with time, latitude and longitude and wind, waves, current, temperature, "
    "pressure or visibility by standard_name"
)


MEMBERS = ("realization", "ensemble", "member", "number", "ens")
_PEAK = re.compile(
    r"\btime\d?\s*:\s*(maximum|minimum|standard_deviation|variance|range|mode|median)"
)
_LONG_MEAN = re.compile(
    r"\btime\d?\s*:\s*mean\b[^)]*interval:\s*\d*\s*(day|month|year|season)|"
    r"\bmean\s+(over|within)\s+(day|month|year|season)s"
)


def recognise(head: bytes, name: str) -> float:
    """Return how surely these bytes are a forecast in NetCDF."""
    if not head.startswith(MAGIC):
        return 0.0
    found = sum(word in head for word in WORDS)
    return 0.9 if found else 0.15


def read(data: bytes, origin: Origin) -> Reading:
    """Return the forecast in a file, or the reason why there is none."""
    import netCDF4

    reading = Reading()
    try:
        with netCDF4.Dataset("in-memory", mode="r", memory=data) as dataset:
            dataset.set_auto_maskandscale(True)
            _read(dataset, origin, reading)
    except InputError as fault:
        reading.rejects.append(reject(origin, None, "", str(fault)))
    except (OSError, RuntimeError, ValueError, IndexError, KeyError):
        said = "a NetCDF file that is cut short or damaged: get the file again"
        reading.rejects.append(reject(origin, None, "", said))
    return reading


def _read(dataset: Any, origin: Origin, reading: Reading) -> None:
    notes: list[str] = []
    curved = _curved(dataset)
    if curved is not None:
        _read_curved(dataset, curved, origin, reading)
        return
    latitude = _axis(dataset, LATITUDE, NORTH, notes)
    longitude = _axis(dataset, LONGITUDE, EAST, notes)
    times_us, time_name = _times(dataset)
    axes = (time_name, latitude, longitude)
    longitudes = _plain(dataset.variables[longitude][:])
    if longitudes.max() > 180.0:
        notes.append("longitudes 0 to 360 turned to -180 to 180")
    found: dict[str, Array] = {}
    for variable in dataset.variables.values():
        _take(variable, axes, dataset, found, origin, reading)
    ready = set_aside(components(found), origin, reading)
    if not ready:
        raise InputError("no wind, wave, current, temperature or visibility", accepted=ACCEPTED)
    _say_unused(found, ready, origin, reading)
    grid = field_grid(times_us, _plain(dataset.variables[latitude][:]), longitudes, ready)
    issued_at = _issued(dataset, origin, times_us, notes)
    model = _model(dataset, origin)
    add_forecast(
        reading, origin, grid, model=model, issued_at=issued_at, form="NetCDF", notes=notes
    )


def _curved(dataset: Any) -> tuple[Any, Any] | None:
    """Return the variables with latitude and longitude of each point; None where axes do."""
    found: dict[str, Any] = {}
    for name, variable in dataset.variables.items():
        unit = getattr(variable, "units", "")
        for sort, names, units in (("north", LATITUDE, NORTH), ("east", LONGITUDE, EAST)):
            named = name.lower() in names or getattr(variable, "standard_name", "") in names
            if named and unit in units:
                if variable.ndim == 1 and variable.dimensions == (name,):
                    return None
                if variable.ndim == 2:
                    found[sort] = variable
    if len(found) < 2 or found["north"].dimensions != found["east"].dimensions:
        return None
    return found["north"], found["east"]


def _read_curved(dataset: Any, curved: tuple[Any, Any], origin: Origin, reading: Reading) -> None:
    """Read fields whose latitude and longitude stand point by point."""
    from layers.weather.forecast.curved import straightened

    times_us, time_name = _times(dataset)
    rows, columns = curved[0].dimensions
    found: dict[str, Array] = {}
    for variable in dataset.variables.values():
        along = str(getattr(variable, "standard_name", ""))
        if along.startswith(("x_", "y_")) and along in CF:
            said = f"variable {variable.name} runs along its grid, not east or north; not used"
            reading.rejects.append(reject(origin, None, variable.name, said))
            continue
        _take(variable, (time_name, rows, columns), dataset, found, origin, reading)
    made = straightened(_plain(curved[0][:]), _plain(curved[1][:]))
    ready = {name: made.apply(values) for name, values in components(found).items()}
    ready = set_aside(ready, origin, reading)
    if not ready:
        raise InputError("no wind, wave, current, temperature or visibility", accepted=ACCEPTED)
    notes = ["a curved grid, brought onto parallels and meridians by straight interpolation"]
    grid = field_grid(times_us, made.latitudes_deg, made.longitudes_deg, ready)
    issued_at = _issued(dataset, origin, times_us, notes)
    model = _model(dataset, origin)
    add_forecast(
        reading, origin, grid, model=model, issued_at=issued_at, form="NetCDF", notes=notes
    )


def _axis(dataset: Any, names: tuple[str, ...], units: tuple[str, ...], notes: list[str]) -> str:
    """Return the name of the one-dimensional axis; known by its unit, or by its plain name."""
    for name, variable in dataset.variables.items():
        if getattr(variable, "units", "") in units and variable.dimensions == (name,):
            return str(name)
    for name, variable in dataset.variables.items():
        if name.lower() in names and variable.dimensions == (name,):
            unit = getattr(variable, "units", None)
            if unit in PLAIN and getattr(variable, "standard_name", names[0]) == names[0]:
                said = "no unit" if unit is None else f"{unit!r} only"
                notes.append(f"{name} states {said}; {units[0]} by its name")
                return str(name)
            raise InputError(f"{name} is in {unit!r}", accepted=units[0])
    raise InputError(f"no axis of {names[0]}", accepted=ACCEPTED)


def _times(dataset: Any) -> tuple[Array, str]:
    """Return the times as UTC microseconds, and the name of their axis."""
    for name, variable in dataset.variables.items():
        units = str(getattr(variable, "units", ""))
        if " since " in units and variable.dimensions == (name,):
            return _decoded_times(variable, units), str(name)
    raise InputError("no time axis with a unit such as 'hours since 2027-03-16T06:00:00Z'")


def _decoded_times(variable: Any, units: str) -> Array:
    numbers = _plain(variable[:])
    if not np.isfinite(numbers).all() or not len(numbers):
        raise InputError("the time axis has missing values")
    times = moments(numbers, units, str(getattr(variable, "calendar", "standard")))
    if (max(times) - min(times)) / 1e6 > STRANGE:
        raise InputError(f"the times span {(max(times) - min(times)) / 3.15e13:.0f} years")
    return np.array(times, dtype=np.int64)


def _take(
    variable: Any,
    axes: tuple[str, str, str],
    dataset: Any,
    found: dict[str, Array],
    origin: Origin,
    reading: Reading,
) -> None:
    """Put one variable among those found, or say why it is set aside."""
    name = _known_as(variable)
    if variable.name in dataset.dimensions or variable.ndim < 2:
        return
    if name is None or not set(axes) <= set(variable.dimensions):
        said = "variable of no use here"
        reading.passed_over[said] = reading.passed_over.get(said, 0) + 1
        return
    try:
        _value_itself(variable, dataset, name)
        values = _level(variable, axes, dataset, name, reading)
        unit = getattr(variable, "units", None)
        ready = converted(name, values, None if unit is None else str(unit))
    except InputError as fault:
        text = f"variable {variable.name}"
        reading.rejects.append(reject(origin, None, text, f"{text} is set aside: {fault}"))
        return
    if name in found:
        said = "variable that stands there twice"
        reading.passed_over[said] = reading.passed_over.get(said, 0) + 1
        return
    found[name] = ready


def _known_as(variable: Any) -> str | None:
    standard = str(getattr(variable, "standard_name", ""))
    if standard in CF:
        return CF[standard]
    code = getattr(variable, "Grib2_Parameter", None)
    if code is None or len(code) != 3:
        return None
    name = GRIB2.get((int(code[0]), int(code[1]), int(code[2])))
    if name == "air_c" and "surface" in variable.name.lower():
        return None  # the ground's own temperature is not the air's
    if name == "pressure_hpa" and "msl" not in variable.name.lower():
        return None
    return name


def _height_of(name: str) -> float:
    """Return at what height a quantity is meant, metres; 0 for the sea's own."""
    return 10.0 if name.startswith(("wind", "gust")) else 2.0 if name == "air_c" else 0.0


def _value_itself(variable: Any, dataset: Any, name: str) -> None:
    """Refuse what is at another height, or is no value at a time (CF 1.11, 5.7 and 7.3)."""
    said = str(getattr(variable, "cell_methods", ""))
    peak = _PEAK.search(said)
    if peak and not (name == "gust_m_s" and peak[1] == "maximum"):
        raise InputError(f"it is the {peak[1]} over a span of time", accepted="the value at a time")
    if _LONG_MEAN.search(said):
        raise InputError("it is a mean over days", accepted="the value at a time")
    for word in str(getattr(variable, "coordinates", "")).split():
        level = dataset.variables.get(word)
        if level is None or level.size != 1 or not _height_of(name):
            continue
        if getattr(level, "standard_name", "") == "height":
            _nearest(_plain(level[...]).reshape(1), _height_of(name), name)


def _level(
    variable: Any, axes: tuple[str, str, str], dataset: Any, name: str, reading: Reading
) -> Array:
    """Return (time, latitude, longitude) at 10 m, 2 m or the surface, whichever is meant."""
    index: list[Any] = []
    for dimension in variable.dimensions:
        if dimension in axes:
            index.append(slice(None))
            continue
        levels = dataset.variables.get(dimension)
        if dimension.lower() in MEMBERS or getattr(levels, "standard_name", "") == "realization":
            said = "further members of an ensemble: the first is used"
            reading.passed_over[said] = reading.passed_over.get(said, 0) + 1
            index.append(0)
            continue
        index.append(0 if levels is None else _nearest(_plain(levels[:]), _height_of(name), name))
    order = [d for d in variable.dimensions if d in axes]
    values = _plain(variable[tuple(index)])
    return np.transpose(values, [order.index(axis) for axis in axes])


def _nearest(levels: Array, wanted: float, name: str) -> int:
    at = int(np.argmin(np.abs(levels - wanted)))
    if wanted and abs(levels[at] - wanted) > 0.5:
        raise InputError(f"it has no level at {wanted:.0f} m, only {levels.tolist()[:8]}")
    if name.startswith(("current", "sea")) and abs(levels[at]) > 20.0:
        raise InputError(f"its shallowest level is {levels[at]:.0f} m")
    return at


def _plain(values: Any) -> Array:
    """Return floats with NaN for what is masked."""
    return np.asarray(np.ma.filled(np.ma.asarray(values, dtype=np.float64), np.nan))


def _say_unused(
    found: Mapping[str, Array], ready: Mapping[str, Array], origin: Origin, reading: Reading
) -> None:
    for lonely, partner in (
        ("wind_speed_m_s", "wind_from_deg"),
        ("current_speed_m_s", "current_set_deg"),
    ):
        if (lonely in found) != (partner in found):
            here = lonely if lonely in found else partner
            stem = lonely.split("_")[0]
            if f"{stem}_east_m_s" not in ready:
                reason = f"{here} without its partner is no vector; it is set aside"
                reading.rejects.append(reject(origin, None, here, reason))


def _issued(dataset: Any, origin: Origin, times_us: Array, notes: list[str]) -> datetime:
    """Return the issue time: stated, else the first time or the receipt, and said so."""
    for variable in dataset.variables.values():
        if (
            getattr(variable, "standard_name", "") == "forecast_reference_time"
            and variable.size == 1
        ):
            at_us = _decoded_scalar(variable)
            return datetime.fromtimestamp(at_us / 1e6, tz=UTC)
    for name in ISSUE_ATTRIBUTES:
        if hasattr(dataset, name):
            return parse_time(str(getattr(dataset, name)), name)
    first = datetime.fromtimestamp(int(times_us.min()) / 1e6, tz=UTC)
    notes.append("no issue time in the file: the earlier of its first time and the receipt")
    return min(first, origin.received_at)


def _decoded_scalar(variable: Any) -> int:
    value = float(np.ma.filled(np.ma.asarray(variable[...], dtype=np.float64), np.nan).ravel()[0])
    calendar = str(getattr(variable, "calendar", "standard"))
    return moments(np.array([value]), str(getattr(variable, "units", "")), calendar)[0]


def _model(dataset: Any, origin: Origin) -> str:
    """Return what made the forecast: one name for all issues of it."""
    for name in ("source", "title", "institution"):
        text = str(getattr(dataset, name, "")).strip()
        if text:
            return text
    return origin.source


FEED = Feed(
    key="netcdf-forecast",
    title="forecast in CF-NetCDF",
    recognise=recognise,
    read=read,
    stale_after_s=43_200.0,
    isolated=True,
)
