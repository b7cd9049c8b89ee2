"""Profiles in CSV: a head that names columns with their units, and a few lines before it.

``depth_m``, ``Depth (m)`` and ``Depth [meter]`` are one column. The lines before it begin with
``#``, or, as hand-held instruments write them, with ``%``.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

import gsw
import numpy as np

from layers.contract import Feed, Origin, Reading
from layers.contract.heads import parted
from layers.contract.rows import TextTable, bare_text, refuse, sheet
from layers.earth.clock import parse_time
from layers.earth.errors import InputError
from layers.earth.units import ft_to_m
from layers.journal.record import Draft, Reject
from layers.transponders.sound.levels import downcast, number
from layers.transponders.words import latitude, longitude

MAX_BYTES = 20_000_000
ACCEPTED = (
    "columns depth_m (or depth_ft, pressure_dbar), temperature_c, and practical_salinity or "
    "absolute_salinity_g_kg or sound_speed_m_s; before them lines such as "
    "'# time: 2027-03-15T20:40Z', '# latitude: 49.83', '# longitude: -8.50'"
)
_DEPTHS = ("depth_m", "depth_ft", "pressure_dbar")
_SALT = {
    "practical_salinity": "practical",
    "salinity_psu": "practical",
    "absolute_salinity_g_kg": "absolute",
}
_VALUES = ("temperature_c", "sound_speed_m_s", *_SALT)
# A head's name and unit as `heads.parted` gives them -> the column.
_HEADS: dict[tuple[str, str], str] = {
    **{("depth", u): "depth_m" for u in ("m", "meter", "meters", "metre", "metres")},
    **{("depth", u): "depth_ft" for u in ("ft", "foot", "feet")},
    **{("pressure", u): "pressure_dbar" for u in ("dbar", "db", "decibar", "decibars")},
    **{
        (name, u): "temperature_c"
        for name in ("temperature", "temp")
        for u in ("c", "°c", "degc", "celsius", "degreec", "degreesc", "its-90,degc")
    },
    **{
        ("salinity", u): "practical_salinity"
        for u in ("psu", "pss", "pss-78", "practicalsalinityscale")
    },
    ("salinity", "g/kg"): "absolute_salinity_g_kg",
    **{
        (name, u): "sound_speed_m_s"
        for name in ("soundspeed", "soundvelocity", "speedofsound")
        for u in ("m/s", "ms", "meterspersecond", "metrespersecond")
    },
}
_CASTS = ("cast", "castid", "castno", "castnumber", "profile", "profileid", "station", "stationid",
          "stn", "stationno")  # fmt: skip
# What instruments call, in the lines before the heads, what is looked for there.
_ABOUT = {"cast time (utc)": "time", "start latitude": "latitude", "start longitude": "longitude"}


def recognise(head: bytes, name: str) -> float:
    """Return how surely this is a profile in CSV: the head names a depth and what goes with it."""
    text = bare_text(head[:8192]).lower()
    if text.lstrip().startswith(("{", "[")):  # records as JSON, whatever words they hold
        return 0.0
    for line in text.splitlines()[:40]:
        if line.startswith(("#", "%")):
            continue
        parts = re.split(r"[,;\t]", line)
        cells = {re.sub(r"[^a-z_]", "", cell) for cell in parts}
        cells |= {_HEADS.get(parted(cell), "") for cell in parts}
        deep = any(cell.startswith(("depth", "pressure")) for cell in cells)
        wet = any(
            cell.startswith(
                ("temperature", "salinity", "sound_speed", "practical_sal", "absolute_sal")
            )
            for cell in cells
        )
        return 0.95 if deep and wet else 0.0
    return 0.0


def read(data: bytes, origin: Origin) -> Reading:
    """Return the profile of a CSV file, or the reason why there is none."""
    reading = Reading()
    try:
        reading.drafts.append(_draft(data, origin, reading))
    except InputError as reason:
        reading.rejects.append(Reject(source=origin.source, line=None, text="", reason=str(reason)))
    return reading


def _draft(data: bytes, origin: Origin, reading: Reading) -> Draft:
    if len(data) > MAX_BYTES:
        raise InputError(
            f"{len(data)} bytes is no profile",
            where=origin.source,
            accepted=f"at most {MAX_BYTES} bytes",
        )
    plain = re.sub(rb"(?m)^%[ ]*([^,\r\n]*),?", rb"# \1: ", data.replace(b"\x00", b""))
    found = sheet(plain, origin, accepted=ACCEPTED)
    about = dict(found.about)
    for said, name in _ABOUT.items():
        if said in about and name not in about:
            about[name] = about[said] + ("Z" if name == "time" else "")
    for name in ("time", "latitude", "longitude"):  # or a column that says the same in every row
        if name in found.heads and name not in about:
            held = {row.get(name) for row in found.rows(Reading())}
            if len(held) == 1 and (said := held.pop()):
                about[name] = said.replace(",", ".")
    names = _named(found, origin)
    columns = _columns(names, found, reading)
    unused = [head for head in found.heads if head and head not in names.values()]
    notes: list[str] = [f"columns not used: {', '.join(unused)[:200]}"] if unused else []
    lat = latitude(about["latitude"], origin.source) if "latitude" in about else None
    lon = longitude(about["longitude"], origin.source) if "longitude" in about else None
    columns["depth_m"] = _depth(columns, lat, notes)
    kind = _salinity(columns, about, origin)
    levels = downcast({k: v for k, v in columns.items() if k not in _DEPTHS[1:]}, origin.source)
    for reason, count in levels.set_aside.items():
        reading.passed_over[reason] = count
    reading.passed_over["header line"] = found.first_line - origin.first_line
    if "time" not in about:
        raise InputError(
            "the file does not say when it was measured", where=origin.source, accepted=ACCEPTED
        )
    payload: dict[str, Any] = {
        **levels.values,
        "salinity_kind": kind,
        "latitude_deg": lat,
        "longitude_deg": lon,
        "instrument": about.get("instrument", "")[:200],
        "notes": [*notes, *levels.notes],
    }
    valid_at = parse_time(about["time"], f"{origin.source}, time")
    return origin.draft("transponders.profile", payload, valid_at)


def _named(found: TextTable, origin: Origin) -> dict[str, str]:
    """Return the columns that are used, each with its head in the file."""
    head = found.heads
    called = {_HEADS.get(parted(one), one): one for one in reversed(head)}
    names = {name: called[name] for name in (*_DEPTHS, *_VALUES) if name in called}
    if "depth" in head and not any(d in names for d in _DEPTHS):
        raise InputError(
            "column 'depth' does not say metres or feet",
            where=origin.source,
            accepted="depth_m or depth_ft",
        )
    if "salinity" in head:
        raise InputError(
            "column 'salinity' does not say practical or absolute",
            where=origin.source,
            accepted="practical_salinity (PSS-78) or absolute_salinity_g_kg (TEOS-10)",
        )
    if not any(d in names for d in _DEPTHS) or not (
        {"temperature_c", "sound_speed_m_s"} & set(names)
    ):
        raise InputError(
            f"columns {', '.join(head)[:200]!r}", where=origin.source, accepted=ACCEPTED
        )
    return names


def _columns(names: dict[str, str], found: TextTable, reading: Reading) -> dict[str, list[float]]:
    columns: dict[str, list[float]] = {name: [] for name in names}
    told = [head for head in found.heads if parted(head)[0] in _CASTS]
    cast = ""
    for row in found.rows(reading):
        this = " ".join(row.get(head) for head in told)
        if this != (cast := cast or this):
            raise InputError(f"several casts in one table ({cast[:40]}; {this[:40]})",
                             where=found.origin.source, accepted="one cast a file")  # fmt: skip
        try:
            values = [number(row.get(head).replace(",", ".")) for head in names.values()]
        except ValueError:
            said = f"line {row.line}: not {len(names)} numbers under {', '.join(names)}"
            refuse(reading, found.origin, row.line, row.text, said)
            continue
        for name, value in zip(names, values, strict=True):
            columns[name].append(value)
    return columns


def _depth(columns: dict[str, list[float]], lat: float | None, notes: list[str]) -> list[float]:
    if "depth_m" in columns:
        return columns["depth_m"]
    if "depth_ft" in columns:
        notes.append("depth was in feet; turned into metres")
        return [ft_to_m(depth) for depth in columns["depth_ft"]]
    if lat is None:
        notes.append("no latitude: depth from pressure at 45° (0.3 % at most)")
    pressure = np.asarray(columns["pressure_dbar"])
    notes.append("depth worked out from sea pressure (gauge, dbar) by TEOS-10")
    return [float(-z) for z in np.atleast_1d(gsw.z_from_p(pressure, 45.0 if lat is None else lat))]


def _salinity(
    columns: dict[str, list[float]], about: Mapping[str, str], origin: Origin
) -> str | None:
    """Move salinity under one name and return its kind; refuse a kind that contradicts itself."""
    found = [name for name in _SALT if name in columns]
    if len(found) > 1:
        raise InputError(
            f"both {' and '.join(found)}", where=origin.source, accepted="one salinity column"
        )
    if not found:
        return None
    kind = _SALT[found[0]]
    unit = about.get("salinity unit", "").lower()
    if kind == "absolute" and ("psu" in unit or "pss" in unit or unit == "1"):
        raise InputError(
            f"absolute salinity with the unit {unit!r} of practical salinity",
            where=origin.source,
            accepted="g/kg for absolute, PSS-78 for practical salinity",
        )
    columns["salinity"] = columns.pop(found[0])
    return kind


FEED = Feed(
    key="profile_csv",
    title="sound-speed or CTD profile in CSV",
    recognise=recognise,
    read=read,
    stale_after_s=12 * 3600.0,
)
