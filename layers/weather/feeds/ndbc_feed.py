"""Buoy text of the NDBC kind: standard meteorology, spectral summary, oceanographic, currents.

Two heading lines (names, units), then a row a time, newest first; ``MM`` is missing. The rows
carry no station and no position, but in the table of the latest of all stations, where both stand
before the time. Format: NDBC, "Measurement descriptions and units".
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

from layers.contract import Feed, Origin, Reading
from layers.contract.rows import bare_text
from layers.earth.errors import InputError
from layers.earth.units import M_PER_FT, M_S_PER_KN
from layers.weather.feeds.lines import NOTHING, add_observation, reject, station_of_source

Convert = Callable[[str], float]

POINTS = (
    "N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE",
    "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW",
)  # fmt: skip


def _same(text: str) -> float:
    return float(text)


def _m_s(text: str) -> float:
    return round(float(text) / M_S_PER_KN, 2)


def _cm_s(text: str) -> float:
    return round(float(text) / 100.0 / M_S_PER_KN, 3)


def _feet(text: str) -> float:
    return float(text) * M_PER_FT


def _point(text: str) -> float:
    """Return degrees for a compass point or a number of degrees."""
    if text.upper() in POINTS:
        return POINTS.index(text.upper()) * 22.5
    return float(text)


CURRENT_DEPTH = "the current's depth"
# Heading and unit of the second line -> field and conversion. A unit that is not here is not
# guessed: the column is left out and the reading says so.
COLUMNS: dict[tuple[str, str], tuple[str, Convert]] = {
    ("WDIR", "degT"): ("wind_from_true_deg", _same),
    ("WSPD", "m/s"): ("wind_kn", _m_s),
    **{("WSPD", word): ("wind_kn", _same) for word in ("kt", "kts", "kn", "knots")},
    ("GST", "m/s"): ("gust_kn", _m_s),
    **{("GST", word): ("gust_kn", _same) for word in ("kt", "kts", "kn", "knots")},
    ("WVHT", "m"): ("hs_m", _same),
    ("WVHT", "ft"): ("hs_m", _feet),
    ("DPD", "sec"): ("tp_s", _same),
    ("APD", "sec"): ("mean_period_s", _same),
    ("MWD", "degT"): ("wave_from_true_deg", _same),
    ("PRES", "hPa"): ("pressure_hpa", _same),
    ("ATMP", "degC"): ("air_c", _same),
    ("WTMP", "degC"): ("sea_c", _same),
    ("DEWP", "degC"): ("dew_c", _same),
    ("VIS", "nmi"): ("visibility_nmi", _same),
    ("VIS", "mi"): ("visibility_nmi", _same),  # NDBC writes mi over nautical miles
    ("SwH", "m"): ("swell_hs_m", _same),
    ("SwP", "sec"): ("swell_tp_s", _same),
    ("SwD", "-"): ("swell_from_true_deg", _point),
    ("WWH", "m"): ("wind_wave_hs_m", _same),
    ("WWP", "sec"): ("wind_wave_tp_s", _same),
    ("WWD", "-"): ("wind_wave_from_true_deg", _point),
    ("WWD", "degT"): ("wind_wave_from_true_deg", _point),  # degT stands over compass points
    ("DEPTH", "m"): ("sea_depth_m", _same),
    ("OTMP", "degC"): ("sea_c", _same),
    ("SAL", "psu"): ("salinity_psu", _same),
    # a current profiler's bins, of which the first is the nearest to the surface; DIR is towards
    ("DEP01", "m"): (CURRENT_DEPTH, _same),
    ("DIR01", "degT"): ("current_set_true_deg", _same),
    ("SPD01", "cm/s"): ("current_kn", _cm_s),
}
DEEPER = re.compile(r"(DEP|DIR|SPD)(?!01)\d\d")
DEEPEST_M = 20.0  # of a current that stands for the surface's
# Carried by the format, used by nothing here.
UNUSED = frozenset(
    {
        *("PTDY", "TIDE", "STEEPNESS", "COND", "O2%", "O2PPM", "CLCON", "TURB", "PH", "EH"),
        *("YY", "MM", "DD", "hh", "mm", "YYYY", "yr", "mo", "dy", "hr", "mn"),
        *("STN", "LAT", "LON"),  # taken beside the columns
    }
)
# In the supplementary form a column is the hour's extreme, with the minute at which it was.
PEAKS = {"PTIME": ("PRES", "PTIME"), "WTIME": ("WSPD", "WDIR", "WTIME")}
MISSING = frozenset({"MM", "N/A", "-", "-99", ""})  # -99 stands for a direction not found
# The yearly files write nines in place of MM.
NINES = {
    "WDIR": 999.0, "WSPD": 99.0, "GST": 99.0, "WVHT": 99.0, "DPD": 99.0, "APD": 99.0,
    "MWD": 999.0, "PRES": 9999.0, "ATMP": 999.0, "WTMP": 999.0, "DEWP": 999.0, "VIS": 99.0,
    "SwH": 99.0, "SwP": 99.0, "WWH": 99.0, "WWP": 99.0, "OTMP": 999.0, "SAL": 99.0,
}  # fmt: skip
ACCEPTED = "the two heading lines of NDBC text, names over units (#YY MM DD hh mm WDIR …)"


def recognise(head: bytes, name: str) -> float:
    """Return how surely these bytes are buoy text: its first heading line decides."""
    first = head[:400].decode("latin-1").lstrip("\ufeff\xef\xbb\xbf").split("\n", 1)[0].split()
    words = [word.lstrip("#") for word in first]
    words = words[_shift(words) :][:5]
    dated = words[:1] in (["YY"], ["YYYY"]) and words[1:4] == ["MM", "DD", "hh"]
    # the yearly files of before 2005 have no minutes; those of before 2007 no line of units
    return 1.0 if dated and words[4:] in (["mm"], ["WD"], ["WDIR"]) else 0.0


def _shift(names: list[str]) -> int:
    """Return how many columns stand before the time: none, or the station and its place."""
    return 3 if names[:3] == ["STN", "LAT", "LON"] else 0


def read(data: bytes, origin: Origin) -> Reading:
    """Return one observation a row, or the reason why there is none."""
    reading = Reading()
    lines = bare_text(data).splitlines()
    if recognise(data[:400], origin.source) == 0.0:
        reading.rejects.append(
            reject(origin, 1, lines[0] if lines else "", f"no heading line; accepted: {ACCEPTED}")
        )
        return reading
    names = lines[0].lstrip("\ufeff").lstrip("#").split()
    units = lines[1].lstrip("#").split() if len(lines) > 1 and lines[1].startswith("#") else []
    if len(units) != len(names):
        text = lines[1] if len(lines) > 1 else ""
        reason = (
            f"no line of units under the heading, and a unit is never guessed; accepted: {ACCEPTED}"
        )
        reading.rejects.append(reject(origin, 2, text, reason))
        return reading
    plan = _plan(names, units, origin, reading)
    reading.passed_over["heading line"] = 2
    station = station_of_source(origin.source)
    known = [line.split() for line in lines[:2]]
    for number, line in enumerate(lines[2:], start=3):
        if line.startswith(("#YY", "#yr")) and line.split() not in known:
            said = "other headings: two files in one; what follows is not read, part them"
            reading.rejects.append(reject(origin, number, line, said))
            reading.ended = True
            break
        _row(line, number, names, plan, station, origin, reading)
    return reading


Plan = list[tuple[int, str, str, Convert]]


def _plan(names: list[str], units: list[str], origin: Origin, reading: Reading) -> Plan:
    """Return which column fills which field; a column with a strange unit is set aside."""
    plan: Plan = []
    peaks = {column for time, columns in PEAKS.items() if time in names for column in columns}
    for index, (name, unit) in enumerate(zip(names, units, strict=True)):
        if name in peaks:
            said = f"column {name} is the hour's extreme, not its mean; the column is left out"
            reading.rejects.append(reject(origin, 2, f"{name} {unit}", said))
        elif (name, unit) in COLUMNS:
            field, convert = COLUMNS[name, unit]
            plan.append((index, name, field, convert))
        elif DEEPER.fullmatch(name):
            said = "column of a current further down"
            reading.passed_over[said] = reading.passed_over.get(said, 0) + 1
        elif name not in UNUSED:
            accepted = sorted(u for n, u in COLUMNS if n == name)
            reason = (
                f"column {name} in {unit!r}: the unit is not one of {', '.join(accepted)}"
                if accepted
                else f"column {name} is not known"
            )
            reading.rejects.append(
                reject(origin, 2, f"{name} {unit}", f"{reason}; the column is left out")
            )
    return plan


def _row(
    line: str,
    number: int,
    names: list[str],
    plan: Plan,
    station: str,
    origin: Origin,
    reading: Reading,
) -> None:
    words = line.split()
    if not words or line.lstrip().startswith("#"):
        reason = "empty line" if not words else "heading line"
        reading.passed_over[reason] = reading.passed_over.get(reason, 0) + 1
        return
    try:
        if len(words) != len(names):
            raise InputError(f"{len(words)} columns under {len(names)} headings")
        shift = _shift(names)
        at = _time(words[shift:])
        fields: dict[str, Any] = {"station": station, "sort": "buoy"}
        if shift:
            fields["station"] = words[0][:60].upper()
            fields["latitude_deg"] = _value(words[1], "LAT", _same)
            fields["longitude_deg"] = _value(words[2], "LON", _same)
        for index, name, field, convert in plan:
            value = _value(words[index], name, convert)
            if value is not None:
                fields[field] = value
        if fields.get("tp_s") == 0.0:  # written for a flat sea: no period
            del fields["tp_s"]
        _current(fields)
        add_observation(reading, origin, number, line, at, fields)
    except InputError as fault:
        if str(fault) == NOTHING:
            said = "row with every value missing"
            reading.passed_over[said] = reading.passed_over.get(said, 0) + 1
            return
        reading.rejects.append(reject(origin, number, line, str(fault)))


def _current(fields: dict[str, Any]) -> None:
    """Leave a current only where speed and set stand together, near the surface; say its depth."""
    depth_m = fields.pop(CURRENT_DEPTH, None)
    if not {"current_kn", "current_set_true_deg"} <= fields.keys() or not (
        depth_m is not None and depth_m <= DEEPEST_M
    ):
        fields.pop("current_kn", None)
        fields.pop("current_set_true_deg", None)
    else:
        fields["note"] = f"current at {depth_m:g} m"


def _value(word: str, name: str, convert: Convert) -> float | None:
    if word in MISSING:
        return None
    try:
        value = convert(word)
    except ValueError:
        raise InputError(f"{name} {word!r} is not a number", accepted="a number or MM") from None
    if name in NINES and word.replace(".", "").strip("0") and float_or_none(word) == NINES[name]:
        return None
    return value


def float_or_none(word: str) -> float | None:
    """Return a number, or None for a word that is none."""
    try:
        return float(word)
    except ValueError:
        return None


def _time(words: list[str]) -> datetime:
    try:
        year, month, day, hour, minute = (int(word) for word in words[:5])
        return datetime(year + (2000 if year < 100 else 0), month, day, hour, minute, tzinfo=UTC)
    except (ValueError, OverflowError):
        raise InputError(
            f"{' '.join(words[:5])!r} is not a time", accepted="year month day hour minute, UTC"
        ) from None


FEED = Feed(
    key="ndbc",
    title="buoy text (standard, spectral, ocean)",
    recognise=recognise,
    read=read,
    stale_after_s=7_200.0,
)
