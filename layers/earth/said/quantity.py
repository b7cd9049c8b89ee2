"""Quantities as people say them: one reading for heard lines, fields and tools.

A number alone takes the unit that stands beside it; a unit of the same sort is converted. What can
be read in two ways is not guessed: `TwoReadings` says both. What `printed` writes, `parse`
reads back to the same value, so no figure that leaves the program is one of the doubtful ones.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from layers.earth import units as u
from layers.earth.errors import InputError, TwoReadings

# one to three figures, not beginning with 0, one comma or point, exactly three figures
DOUBTFUL = re.compile(r"[1-9]\d{0,2}[.,]\d{3}", re.ASCII)
_PLAIN = re.compile(r"\d+(?:[.,]\d+)?|[.,]\d+", re.ASCII)
_GROUPED = re.compile(r"\d{1,3}(?:([ ,.'])\d{3})(?:\1\d{3})*(?:[.,]\d+)?", re.ASCII)
NUMBER = r"[+-]?(?:\d[\d.,]*\d|\d|[.,]\d+)"  # a figure in a line of text; `readings` judges it
_SPLIT = re.compile(r"([+-]?)\s*([\d.,' ]*[\d])\s*(.*)", re.ASCII | re.DOTALL)
_SPACES = str.maketrans({"\u00a0": " ", "\u202f": " ", "\u2009": " ", "−": "-", "–": "-"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Sort:
    """One sort of quantity: its units, each as how many of the first it is worth.

    ``spelled`` maps each way a unit is written or said, in small letters, to its key.
    """

    name: str
    units: Mapping[str, float]
    spelled: Mapping[str, str]


def _sort(name: str, **told: tuple[float, str]) -> Sort:
    """Return a sort from ``key=(worth, "ways to write it")``; ``_`` stands for a slash."""
    spelled = {}
    for key, (_, ways) in told.items():
        spelled[key.replace("_", " ").lower()] = key
        spelled |= {way.strip().lower(): key for way in ways.split("|") if way.strip()}
    return Sort(name=name, units={k: v for k, (v, _) in told.items()}, spelled=spelled)


LENGTH = _sort(
    "length",
    m=(1.0, "metre|metres|meter|meters|mtr|mtrs"),
    nmi=(u.M_PER_NMI, "nm|nautical mile|nautical miles|mile|miles|sea miles|n mile|n miles"),
    km=(u.M_PER_KM, "kilometre|kilometres|kilometer|kilometers|kms"),
    cable=(u.M_PER_NMI / 10.0, "cables"),  # a tenth of a nautical mile; common practice
    yd=(3.0 * u.M_PER_FT, "yard|yards|yds"),
    kyd=(3000.0 * u.M_PER_FT, "kiloyard|kiloyards|kyds"),
    ft=(u.M_PER_FT, "foot|feet"),
    fathom=(6.0 * u.M_PER_FT, "fathoms|fm|fms"),
    cm=(0.01, "centimetre|centimetres"),
    mm=(0.001, "millimetre|millimetres"),
)
SPEED = _sort(
    "speed",
    kn=(1.0, "knot|knots|kt|kts|kns"),
    m_s=(1.0 / u.M_S_PER_KN, "m/s|mps|metres per second|metres a second"),
    km_h=(1.0 / 1.852, "km/h|kmh|kph|kilometres an hour|kilometres per hour"),
)
SPAN = _sort(
    "time",
    s=(1.0, "sec|secs|second|seconds"),
    min=(60.0, "mins|minute|minutes"),
    h=(3600.0, "hr|hrs|hour|hours"),
    d=(86_400.0, "day|days"),
    ms=(0.001, "millisecond|milliseconds"),
)
MASS = _sort(
    "mass",
    kg=(1.0, "kgs|kilo|kilos|kilogram|kilograms"),
    t=(1000.0, "tonne|tonnes|ton metric|metric tons"),
    g=(0.001, "gram|grams"),
    lb=(0.45359237, "lbs|pound|pounds"),  # exactly; international agreement of 1959
)
VOLUME = _sort("volume", m3=(1.0, "m³|m^3|cubic metre|cubic metres|cubic meters"),
               l=(0.001, "litre|litres|liter|liters"))  # fmt: skip
SHARE = _sort("share", percent=(1.0, "%|per cent|pct|% by volume|percent by volume"))
CHANCE = _sort("chance", one=(1.0, ""), percent=(0.01, "%|per cent|pct|of 100|in 100"))
PARTS = _sort("parts", ppm=(1.0, "parts per million"))
ANGLE = _sort("angle", deg=(1.0, "°|degree|degrees|degs"))
FREQUENCY = _sort("frequency", hz=(1.0, "hertz"), khz=(1000.0, "kilohertz"))
LEVEL = _sort("level", db=(1.0, "decibel|decibels"))
POWER = _sort("power", kw=(1.0, "kilowatt|kilowatts"))
ENERGY = _sort("energy", kwh=(1.0, "kilowatt hours|kw h"))
FLOW = _sort("flow", m3_h=(1.0, "m³/h|m3/h|cubic metre an hour|cubic metres an hour|"
                                "m³ per hour|m3 per hour"),
             l_min=(0.06, "l/min|litres a minute|litres per minute"))  # fmt: skip
# per unit of pressure, in bar; what is read at the surface must still be said for the first five
PRESSURE = _sort(
    "pressure",
    bar=(1.0, "bars"),
    mbar=(0.001, "millibar|millibars"),
    hpa=(0.001, "hectopascal|hectopascals"),
    kpa=(0.01, "kilopascal|kilopascals"),
    atm=(u.PA_PER_ATM / u.PA_PER_BAR, "ata|atmosphere|atmospheres"),
    msw=(u.PA_PER_MSW / u.PA_PER_BAR, "metres of sea water"),
    fsw=(u.PA_PER_FSW / u.PA_PER_BAR, "feet of sea water"),
)
# the air outside: a barometer's reading needs no reference
BAROMETER = _sort("air pressure", hpa=(1.0, "mbar|millibar|millibars|hectopascal"))
TEMPERATURE = _sort("temperature", c=(1.0, "°c|deg c|degrees c|celsius|degrees celsius|degrees"))
COUNT = _sort("count", one=(1.0, "people|persons|person|men|man|souls|survivors|pax"))

# a field's ending -> its sort and the unit in which it is kept
ENDINGS: tuple[tuple[str, Sort, str], ...] = (
    ("_bar_abs", PRESSURE, "bar"),
    ("_m_s", SPEED, "m_s"),
    ("_m_min", LENGTH, "m"),
    ("_m3_per_h", FLOW, "m3_h"),
    ("m3_per_h", FLOW, "m3_h"),
    ("_deg", ANGLE, "deg"),
    ("_kn", SPEED, "kn"),
    ("_nmi", LENGTH, "nmi"),
    ("_km", LENGTH, "km"),
    ("_min", SPAN, "min"),
    ("_kwh", ENERGY, "kwh"),
    ("_kw", POWER, "kw"),
    ("_kg", MASS, "kg"),
    ("_m3", VOLUME, "m3"),
    ("_db", LEVEL, "db"),
    ("_khz", FREQUENCY, "khz"),
    ("_hz", FREQUENCY, "hz"),
    ("_hpa", BAROMETER, "hpa"),
    ("_percent", SHARE, "percent"),
    ("_ppm", PARTS, "ppm"),
    ("_c", TEMPERATURE, "c"),
    ("_h", SPAN, "h"),
    ("_t", MASS, "t"),
    ("_m", LENGTH, "m"),
    ("_s", SPAN, "s"),
    ("_chance", CHANCE, "one"),
    ("chance_wrong", CHANCE, "one"),
)
WORDS = {  # a unit's key -> as it is printed
    "deg": "°", "percent": "%", "c": "°C", "m3": "m³", "m_s": "m/s", "km_h": "km/h", "hpa": "hPa",
    "kpa": "kPa", "khz": "kHz", "hz": "Hz", "db": "dB", "kw": "kW", "kwh": "kWh", "one": "",
    "m3_h": "m³/h", "l_min": "l/min",
}  # fmt: skip
PRESSURE_REFERENCES = {
    "abs": "absolute", "absolute": "absolute", "a": "absolute", "abs.": "absolute",
    "g": "gauge", "gauge": "gauge", "gage": "gauge", "over surface": "gauge",
}  # fmt: skip


def sort_of(name: str) -> tuple[Sort, str] | None:
    """Return the sort and unit that a field's name ends with, None for a bare number."""
    last = name.rsplit(".", 1)[-1]
    if "_per_" in last and not last.endswith("m3_per_h"):
        return None  # a rate of its own, shown with its label
    for ending, sort, unit in ENDINGS:
        if last.endswith(ending) and (len(last) > len(ending) or not ending.startswith("_")):
            return sort, unit
    return None


def readings(text: str) -> tuple[float, ...]:
    """Return the numbers that some figures can be read as: none, one, or two.

    Notes
    -----
    ``3,704`` and ``3.704`` are 3704 or 3.704; ``1,9`` is 1.9; ``1,234,567`` and ``17 400`` are in
    groups of three (ISO 80000-1, 7.3.1); ``0.704`` can only be a decimal.
    """
    plain = text.translate(_SPACES).strip()
    sign = -1.0 if plain.startswith("-") else 1.0
    plain = plain.lstrip("+-").strip()
    if DOUBTFUL.fullmatch(plain):
        whole, decimals = re.split("[.,]", plain)
        return sign * float(whole + decimals), sign * float(f"{whole}.{decimals}")
    if _PLAIN.fullmatch(plain):
        return (sign * float(plain.replace(",", ".")),)
    if _GROUPED.fullmatch(plain) and not plain.startswith("0"):
        mark = re.search(r"[ ,.']", plain)
        assert mark is not None
        joined = plain.replace(mark[0], "")
        return (sign * float(joined.replace(",", ".")),)
    return ()


def number(
    text: str, where: str = "", *, least: float = -math.inf, most: float = math.inf
) -> float:
    """Return the number that a person typed, in the unit that stands beside it.

    Raises
    ------
    InputError
        Not a number.
    TwoReadings
        ``3,704`` where 3704 and 3.704 both lie within the bounds.
    """
    found = readings(text)
    if not found:
        raise InputError(f"{text[:40]!r} is not a number", where=where, accepted="a number")
    return _one(text, {figure(value): value for value in found}, where, least, most)


def _one(text: str, found: Mapping[str, float], where: str, least: float, most: float) -> float:
    """Return the only reading within the bounds; where none is, the last one, for its refusal."""
    within = {said: value for said, value in found.items() if least <= value <= most}
    if len(within) > 1:
        raise TwoReadings(f"{text.strip()[:40]!r} can be read two ways", tuple(within), where=where)
    return next(iter((within or found).values()), math.nan)


def parse(
    text: str, sort: Sort, unit: str, where: str = "", *,
    least: float = -math.inf, most: float = math.inf,
) -> float:  # fmt: skip
    """Return a quantity in ``unit``; a number alone is in it already.

    Parameters
    ----------
    text : str
        ``"2 nmi"``, ``"3.7 km"``, ``"5 h 30 min"``, ``"60 fsw"``, ``"1,9 %"``, ``"17 400"``.
    sort, unit : Sort, str
        What is wanted.
    least, most : float
        Its bounds, in ``unit``; they decide between two readings, the caller refuses beyond them.

    Raises
    ------
    InputError
        No number, or a unit of another sort.
    TwoReadings
        Both readings lie within the bounds; a pressure without its reference.
    """
    plain = text.translate(_SPACES).strip()
    if sort is SPAN and (whole := _span(plain)) is not None:
        return whole / sort.units[unit]
    found = _SPLIT.fullmatch(plain)
    if found is None:
        raise InputError(f"{plain[:40]!r} is not a number", where=where, accepted=accepted(sort))
    figures, said = found[1] + found[2].strip(), found[3].strip()
    numbers = readings(figures)
    if not numbers:
        raise InputError(f"{plain[:40]!r} is not a number", where=where, accepted=accepted(sort))
    if sort is PRESSURE:
        return _pressure(plain, numbers, said, where, least, most)
    options: dict[str, float] = {}
    for key in _keys(said, sort, unit, plain, where):
        for value in numbers:
            options[printed(value, key)] = convert(value, sort, key, unit)
    return _one(plain, options, where, least, most)


def _keys(said: str, sort: Sort, unit: str, plain: str, where: str) -> tuple[str, ...]:
    if not said:
        return (unit,)
    if said == "M" and sort is LENGTH:  # miles on a chart, metres in capitals
        return ("m", "nmi")
    key = sort.spelled.get(" ".join(said.lower().rstrip(".").split()))
    if key is None:
        raise InputError(
            f"{plain[:40]!r}: {said[:20]!r} is no unit of {sort.name}",
            where=where,
            accepted=accepted(sort),
        )
    return (key,)


def convert(value: float, sort: Sort, unit: str, wanted: str) -> float:
    """Return a value in another unit of its sort; unchanged, to the bit, in the same one."""
    return value if unit == wanted else value * sort.units[unit] / sort.units[wanted]


def _span(plain: str) -> float | None:
    """Return seconds of ``5 h 30 min``, ``2 d 14 h``, ``21 h 06``; None if it is not so told."""
    found = re.fullmatch(
        r"(?:(\d+) ?d(?:ays?)?)? ?(?:(\d+) ?h(?:ours?|rs?)?)? ?(?:(\d+)(?: ?min(?:utes?|s)?)?)?",
        plain.lower(),
        re.ASCII,
    )
    if found is None or sum(part is not None for part in found.groups()) < 2:
        return None
    days, hours, minutes = (float(part or 0) for part in found.groups())
    return days * 86_400.0 + hours * 3600.0 + minutes * 60.0


def pressure_parts(said: str) -> tuple[str, str] | None:
    """Return a pressure's unit and reference (empty if not said) from the words behind a number.

    ``msw`` and ``fsw`` count from the surface: gauge, unless they say otherwise.
    """
    plain = " ".join(said.lower().replace("(", " ").replace(")", " ").split())
    if plain in ("bara", "barg"):
        return "bar", "absolute" if plain == "bara" else "gauge"
    if plain == "ata":
        return "atm", "absolute"
    key = PRESSURE.spelled.get(plain)
    if key is not None:
        return key, "gauge" if key in ("msw", "fsw") else ""
    for word, reference in PRESSURE_REFERENCES.items():
        head = plain.removesuffix(" " + word)
        if head != plain and head in PRESSURE.spelled:
            return PRESSURE.spelled[head], reference
    return None


def _pressure(
    plain: str, numbers: tuple[float, ...], said: str, where: str, least: float, most: float
) -> float:
    parts = pressure_parts(said) if said else ("bar", "absolute")
    if parts is None:
        raise InputError(
            f"{plain[:40]!r}: {said[:20]!r} is no unit of pressure",
            where=where,
            accepted=accepted(PRESSURE),
        )
    key, reference = parts
    if not reference:
        shown = f"{figure(numbers[-1])} {WORDS.get(key, key)}"
        raise TwoReadings(
            f"{plain[:40]!r} does not say from what it counts",
            (f"{shown} absolute", f"{shown} gauge"),
            where=where,
        )
    over = u.PA_PER_ATM / u.PA_PER_BAR if reference == "gauge" else 0.0
    options = {
        f"{printed(v, key)} {reference}": convert(v, PRESSURE, key, "bar") + over for v in numbers
    }
    return _one(plain, options, where, least, most)


def accepted(sort: Sort) -> str:
    """Return the units of a sort, for a refusal."""
    shown = [WORDS.get(key, key) for key in sort.units]
    tail = " absolute or gauge" if sort is PRESSURE else ""
    return "a number, with or without " + ", ".join(s for s in shown if s) + tail


def figure(value: float, decimals: int | None = None, *, plus: bool = False) -> str:
    """Return a number as the program prints it: no exponent, no thousands comma, never doubtful.

    Parameters
    ----------
    value : float
        Any finite number.
    decimals : int, optional
        How many; without it as many as it takes to read back the same.
    plus : bool
        Put a plus before what is above nought.

    Notes
    -----
    From 10,000 on groups of three stand apart by a narrow space; a figure that could be taken
    for thousands gets a zero more.
    """
    text = format(Decimal(repr(float(value))), "f") if decimals is None else f"{value:.{decimals}f}"
    if decimals is None and "." in text:
        text = text.rstrip("0").rstrip(".")
    sign = "−" if text.startswith("-") and float(text) != 0.0 else ""
    if plus and float(text) > 0.0:
        sign = "+"
    text = text.lstrip("-")
    if DOUBTFUL.fullmatch(text):
        return f"{sign}{text}0"
    whole, point, rest = text.partition(".")
    if len(whole) > 4:
        head = len(whole) % 3
        parts = [whole[:head]] * bool(head) + [whole[i : i + 3] for i in range(head, len(whole), 3)]
        whole = "\u202f".join(parts)
    return f"{sign}{whole}{point}{rest}"


def printed(value: float, unit: str, decimals: int | None = None) -> str:
    """Return a value with its unit, as `parse` reads it: ``2 nmi``, ``1.9 %``, ``17 400 m``."""
    word = WORDS.get(unit, unit)
    return f"{figure(value, decimals)} {word}".strip()
