"""Things said in one breath and typed in one field: a pressure, a gas, a time of three points."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from layers.earth.errors import InputError, TwoReadings
from layers.earth.said.quantity import SPAN, figure, parse, pressure_parts, readings

PRESSURE_UNITS = {"hpa": "hPa", "kpa": "kPa"}  # as they are kept, where not in small letters
ACCEPTED = {
    "pressure": "such as 1.4 bar abs, 0.4 bar gauge, 18 msw, 60 fsw",
    "gas": "such as 1.9 % (by volume), 2.7 % SEV (surface equivalent), 19 kPa, 190 mbar",
    "spread": "at least, most likely, at most: 10 15 25 min; or one time, taken ± 25 %",
}
_SPLIT = re.compile(r"([\d.,' \u202f]*\d)\s*(.*)", re.DOTALL)
SPREAD = 0.25


def read(sort: str, text: str, where: str) -> dict[str, Any]:
    """Return the JSON value of what was typed.

    Raises
    ------
    InputError
        No number, no unit, or an unknown one.
    TwoReadings
        It can be read in two ways: the figure, or a pressure without its reference.
    """
    if sort == "spread":
        return _spread(text, where)
    found = _SPLIT.fullmatch(text.strip())
    values = readings(found[1]) if found else ()
    if found is None or not values:
        raise InputError(f"{text[:40]!r} is not a number", where=where, accepted=ACCEPTED[sort])
    said = found[2].strip()
    if len(values) > 1:
        ways = tuple(f"{figure(value)} {said}".strip() for value in values)
        raise TwoReadings(f"{text[:40]!r} can be read two ways", ways, where=where)
    return (_pressure if sort == "pressure" else _gas)(values[0], said, text, where)


def _pressure(value: float, said: str, text: str, where: str) -> dict[str, Any]:
    parts = pressure_parts(said) if said else None
    if parts is None:
        raise InputError(
            f"{text[:40]!r} states no unit of pressure", where=where, accepted=ACCEPTED["pressure"]
        )
    unit, reference = parts
    if not reference:
        shown = f"{figure(value)} {unit}"
        ways = (f"{shown} absolute", f"{shown} gauge")
        raise TwoReadings(f"{text[:40]!r} does not say from what it counts", ways, where=where)
    return {"value": value, "unit": PRESSURE_UNITS.get(unit, unit), "reference": reference}


def _gas(value: float, said: str, text: str, where: str) -> dict[str, Any]:
    plain = " ".join(said.lower().replace("per cent", "%").replace("percent", "%").split())
    if plain in ("%", "% by volume", "vol %", "% vol"):
        unit = "percent"
    elif plain.replace("%", "").strip() in ("sev", "surface equivalent", "surface"):
        unit = "sev_percent"
    elif plain in ("kpa", "mbar"):
        unit = {"kpa": "kPa", "mbar": "mbar"}[plain]
    else:
        raise InputError(
            f"{text[:40]!r} does not say of what", where=where, accepted=ACCEPTED["gas"]
        )
    return {"value": value, "unit": unit}


def _spread(text: str, where: str) -> dict[str, Any]:
    unit = ""
    if behind := re.search(r"[a-z]+\s*$", text.strip(), re.IGNORECASE):
        unit = behind[0].strip()
    parts = re.split(r"[\s;/]+", text.strip().removesuffix(unit).strip())
    if len(parts) == 1:
        likely = parse(text.strip(), SPAN, "min", where)
        return {"low": likely * (1 - SPREAD), "likely": likely, "high": likely * (1 + SPREAD)}
    if len(parts) != 3:
        raise InputError(
            f"{text[:40]!r} is not one time or three", where=where, accepted=ACCEPTED["spread"]
        )
    low, likely, high = (parse(f"{part} {unit}".strip(), SPAN, "min", where) for part in parts)
    return {"low": low, "likely": likely, "high": high}


def written(sort: str, value: Mapping[str, Any]) -> str:
    """Return a value as it would be typed."""
    if sort == "spread":
        return " ".join(figure(value[part]) for part in ("low", "likely", "high")) + " min"
    shown = figure(value["value"])
    if sort == "pressure":
        return f"{shown} {value['unit']} {value['reference']}"
    unit = {"percent": "%", "sev_percent": "% SEV"}.get(value["unit"], value["unit"])
    return f"{shown} {unit}"
