"""CTD casts in the text forms of the trade: the cast itself (`.cnv`) and its bottles (`.btl`).

Both begin with header lines marked ``*`` and ``#``. A cast names its columns one a line
(``# name 4 = t090C: Temperature [ITS-90, deg C]``) and ends its header with ``*END*``; a bottle
file has two lines of heads and, for each bottle, a line of means marked ``(avg)`` among others.
A column is known by what stands after the colon, with its unit, not by its short name alone.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime
from typing import Any

import gsw
import numpy as np

from layers.contract import Feed, Origin, Reading
from layers.contract.cells import plain_number
from layers.contract.rows import refuse
from layers.earth.errors import InputError
from layers.journal.record import Draft
from layers.transponders.sound.levels import downcast

ACCEPTED = "a cast with pressure or depth and temperature, its time and its columns named"
MOST_ROWS = 500_000
CELL = 11  # letters of a figure: two long ones stand without a space between
MOST_LEVELS = 4_000  # above this a cast is averaged by the metre
_NAME = re.compile(r"^#\s*name\s+(\d+)\s*=\s*([^:]+):?\s*(.*)$", re.IGNORECASE)
_PLACE = re.compile(r"(Latitude|Longitude)\s*[:=]\s*(.+)$", re.IGNORECASE)
_DM = re.compile(
    r"^(?P<whole>\d{1,3})[ °]+(?P<minutes>\d{1,2}(?:\.\d+)?)['′]?\s*(?P<half>[NSEW])\b",
    re.IGNORECASE,
)
_MD = re.compile(
    r"^(?P<half>[NSEW])\s*(?P<whole>\d{1,3})[ °]+(?P<minutes>\d{1,2}(?:\.\d+)?)['′]?$",
    re.IGNORECASE,
)
_TIMES = (
    (re.compile(r"NMEA UTC \(Time\)\s*[:=]\s*(.+)$", re.IGNORECASE), True),
    (re.compile(r"^#\s*start_time\s*=\s*([^\[]+?)\s*(?:\[(.*)\])?$", re.IGNORECASE), False),
)
# What a column may be, by the short names of the form; a letter's case tells the sensor.
_PRESSURE = ("prdm", "prm", "prsm", "pr", "prde", "pre", "prse")
_DEPTH = ("depsm", "depfm", "depth", "depsf", "depff")
_TEMPERATURE = ("t090c", "t190c", "tv290c", "t068c", "t168c", "t090", "potemp",
                "t090f", "t190f", "tv290f", "t068f", "t168f")  # fmt: skip
_SALINITY = ("sal00", "sal11", "sal")
# to mS/cm, which TEOS-10's routine takes; the longer first, for all end alike
_CONDUCTIVITY = {"us/cm": 0.001, "ms/cm": 1.0, "s/m": 10.0}
# What stands in brackets after a column's name, or the last letter of its short name where
# nothing does: how its figures become dbar, metres and °C.
_DBAR, _METRES = {"db": 1.0, "dbar": 1.0, "psi": 0.689_475_729}, {"m": 1.0, "ft": 0.3048}
_ENDS = {"prde": "psi", "pre": "psi", "prse": "psi", "depsf": "ft", "depff": "ft"}
_SOUND = ("svcm", "svdm", "svwm")
IPTS_68 = 1.00024  # t90 = t68 / 1.00024 (Saunders 1990; TEOS-10 manual)


def recognise(head: bytes, name: str) -> float:
    """Return how surely this is a cast or its bottles, from its header's own marks."""
    text = head[:65_536].decode("latin-1")
    if not text.startswith("*"):
        return 0.0
    if re.search(r"^# name \d+ =", text, re.MULTILINE) and "# nquan" in text:
        return 0.97
    return 0.95 if re.search(r"^\s+Bottle\s+(Bottle\s+)?Date\b", text, re.MULTILINE) else 0.0


def read(data: bytes, origin: Origin) -> Reading:
    """Return the profile of a cast, or the reason why there is none."""
    reading = Reading()
    lines = data.decode("latin-1").splitlines()  # headers carry people's own letters
    try:
        reading.drafts.append(_draft(lines, origin, reading))
    except InputError as reason:
        refuse(reading, origin, None, "", str(reason))
    return reading


def _draft(lines: list[str], origin: Origin, reading: Reading) -> Draft:
    bottles = next((n for n, line in enumerate(lines) if line.split()[:1] == ["Bottle"]), None)
    notes: list[str] = []
    if bottles is not None:
        header = lines[:bottles]
        names, rows = _bottles(lines, bottles, origin, reading)
        notes.append("means at the bottles, not the whole cast")
    else:
        header, names, rows = _cast(lines, origin, reading)
    lat, lon = _place(header)
    if lat is None:
        notes.append("it states no place in a form that can be read")
    valid_at = _time(header, origin, notes)
    with np.errstate(all="ignore"):  # what has no meaning there is NaN, and set aside below
        columns = _columns(names, rows, lat, header, notes, origin)
    order = np.argsort(columns["depth_m"], kind="stable") if bottles is not None else None
    if order is not None:  # bottles are shut on the way up
        columns = {name: values[order] for name, values in columns.items()}
    levels = downcast({k: list(v) for k, v in columns.items()}, origin.source)
    for reason, count in levels.set_aside.items():
        reading.passed_over[reason] = reading.passed_over.get(reason, 0) + count
    if len(levels.values["depth_m"]) > MOST_LEVELS:
        levels.values = _by_metre(levels.values)
        notes.append("averaged over each metre of depth")
    reading.passed_over["header line"] = len(header)
    payload: dict[str, Any] = {
        **levels.values,
        "salinity_kind": "practical" if "salinity" in levels.values else None,
        "latitude_deg": lat if lon is not None else None,
        "longitude_deg": lon if lat is not None else None,
        "instrument": "CTD",
        "notes": [*notes, *levels.notes],
    }
    return origin.draft("transponders.profile", payload, valid_at)


def _by_metre(values: dict[str, list[float]]) -> dict[str, list[float]]:
    """Return the means over each whole metre of depth."""
    metre = np.floor(np.asarray(values["depth_m"]) + 0.5).astype(np.int64)
    _, which = np.unique(metre, return_inverse=True)
    count = np.bincount(which)
    return {
        name: [float(mean) for mean in np.bincount(which, weights=np.asarray(held)) / count]
        for name, held in values.items()
    }


def _cast(
    lines: list[str], origin: Origin, reading: Reading
) -> tuple[list[str], list[str], list[list[float]]]:
    end = next((n for n, line in enumerate(lines) if line.startswith("*END*")), None)
    if end is None:
        raise InputError("its header does not end (no line *END*): cut short?",
                         where=origin.source, accepted=ACCEPTED)  # fmt: skip
    header = lines[:end]
    found = {int(m[1]): f"{m[2].strip()}|{m[3]}" for m in map(_NAME.match, header) if m}
    names = [found[place] for place in sorted(found)]
    rows: list[list[float]] = []
    if len(lines) - end > MOST_ROWS:
        raise InputError(f"{len(lines) - end} rows", where=origin.source,
                         accepted=f"at most {MOST_ROWS}: average the cast first")  # fmt: skip
    # where a computer writes decimals with a comma no figure has a point
    comma = not any("." in line for line in lines[end + 1 :])
    for number, line in enumerate(lines[end + 1 :], start=end + 2):
        if not line.strip():
            continue
        cells = line.split()
        if len(cells) != len(names) and len(line.rstrip()) == CELL * len(names):
            cells = [line[at : at + CELL] for at in range(0, CELL * len(names), CELL)]
        try:
            row = [plain_number(cell.replace(",", ".") if comma else cell) for cell in cells]
        except ValueError:
            row = []
        if len(row) != len(names):
            said = f"not {len(names)} figures, as the header names: left out"
            refuse(reading, origin, number, line, said)
            continue
        rows.append(row)
    return header, names, rows


def _bottles(
    lines: list[str], heads: int, origin: Origin, reading: Reading
) -> tuple[list[str], list[list[float]]]:
    """Return the heads and, a row a bottle, the means below them.

    Before the date stands the bottle's place on the rosette, and in some files its number. Long
    heads run together (``Sbeox0PSSbeox0Mm/Kg``): they are then parted by the width of a figure.
    """
    head = lines[heads]
    before = head.split().index("Date") if "Date" in head.split() else 1
    rows = []
    for number, line in enumerate(lines[heads + 1 :], start=heads + 2):
        words = line.replace("(avg)", " (avg)").split()
        if words[-1:] != ["(avg)"]:
            continue
        try:  # the date is month, day and year
            rows.append((number, line, [plain_number(word) for word in words[before + 3 : -1]]))
        except ValueError:
            refuse(reading, origin, number, line, "a bottle whose means are not all figures")
    width = max((len(row) for _, _, row in rows), default=0)
    names = head.split()[before + 1 :]
    if len(names) != width:
        tail = head.partition("Date")[2].rstrip().encode("latin-1").decode("utf-8", "replace")
        names = [tail[at : at + CELL].strip() for at in range(0, len(tail), CELL)]
    if len(names) != width or not all(names):
        raise InputError(f"{len(names)} heads stand over {width} figures", where=origin.source,
                         accepted=ACCEPTED)  # fmt: skip
    for number, line, row in rows:
        if len(row) != width:
            refuse(reading, origin, number, line, f"{len(row)} figures under {width} heads")
    return [f"{name}|" for name in names], [row for _, _, row in rows if len(row) == width]


def _columns(
    names: list[str],
    rows: list[list[float]],
    lat: float | None,
    header: list[str],
    notes: list[str],
    origin: Origin,
) -> dict[str, Any]:
    if not rows:
        raise InputError("no level in it", where=origin.source, accepted=ACCEPTED)
    table = np.array(rows)[:, : len(names)]
    table = np.where(np.isfinite(table), table, np.nan)
    for line in header:
        flag = re.search(r"bad_flag\s*=\s*([-+.\deE]+)\s*$", line)
        try:
            table = np.where(table == float(flag[1]), np.nan, table) if flag else table
        except ValueError:
            continue
    short = [name.split("|")[0].strip().lower() for name in names][: table.shape[1]]
    whole = [name.lower() for name in names][: table.shape[1]]
    if "flag" in short:  # a scan that was marked bad, when the ship rolled, holds the mark there
        good = np.isfinite(table[:, short.index("flag")])
        if not good.all():
            notes.append(f"{np.sum(~good)} scans marked bad in the file set aside")
            table = table[good]

    def column(wanted: tuple[str, ...]) -> Any:
        place = next((short.index(w) for w in wanted if w in short), None)
        return None if place is None else (table[:, place], whole[place])

    pressure, depth = column(_PRESSURE), column(_DEPTH)
    temperature, salinity, sound = column(_TEMPERATURE), column(_SALINITY), column(_SOUND)
    made: dict[str, Any] = {}
    latitude = 45.0 if lat is None else lat
    dbar = None if pressure is None else pressure[0] * _scale(pressure[1], _DBAR, "db", origin)
    if pressure is not None:
        made["depth_m"] = -np.asarray(gsw.z_from_p(dbar, latitude))
        notes.append("depth worked out from sea pressure (gauge, dbar) by TEOS-10")
    elif depth is not None and "fresh" not in depth[1]:
        made["depth_m"] = depth[0] * _scale(depth[1], _METRES, "m", origin)
    if temperature is not None:
        if temperature[1].startswith("potemp"):
            raise InputError("its temperature is potential, not as measured", where=origin.source,
                             accepted=ACCEPTED)  # fmt: skip
        old = "its-68" in temperature[1] or "68" in temperature[1].split("|")[0]
        short_name = temperature[1].split("|")[0].strip()
        celsius = temperature[0]
        if "deg f" in temperature[1] or short_name.endswith("f"):
            celsius = (celsius - 32.0) / 1.8
        made["temperature_c"] = celsius / (IPTS_68 if old else 1.0)
    if salinity is not None:
        made["salinity"] = salinity[0]
    elif pressure is not None and "temperature_c" in made:
        made |= _from_conductivity(short, table, made["temperature_c"], dbar, notes)
    if sound is not None:
        made["sound_speed_m_s"] = sound[0]
    if "depth_m" not in made or not {"temperature_c", "sound_speed_m_s"} & made.keys():
        raise InputError(
            f"columns {', '.join(short)[:200]}", where=origin.source, accepted=ACCEPTED
        )
    return made


def _scale(whole: str, units: dict[str, float], usual: str, origin: Origin) -> float:
    """Return what a column is to be multiplied with, by the unit that it states."""
    name, _, words = whole.partition("|")
    said = re.search(r"\[([^\]]*)\]", words)
    told = [part.strip() for part in said[1].split(",")] if said else []
    unit = next((part for part in told if part in units), None)
    if unit is None and said and not any("water" in part for part in told):
        raise InputError(f"column {name.strip()} is in {said[1][:40]!r}", where=origin.source,
                         accepted=", ".join(units))  # fmt: skip
    return units[unit or _ENDS.get(name.strip(), usual)]


def _from_conductivity(
    short: list[str],
    table: Any,
    temperature: Any,
    pressure: Any,
    notes: list[str],
) -> dict[str, Any]:
    """Return salinity from conductivity, temperature and pressure (PSS-78), where it can be."""
    for place, name in enumerate(short):
        unit = next((u for u in _CONDUCTIVITY if name.endswith(u)), None)
        if name.startswith("c") and unit is not None:
            notes.append("salinity worked out from conductivity (PSS-78)")
            practical = gsw.SP_from_C(table[:, place] * _CONDUCTIVITY[unit], temperature, pressure)
            return {"salinity": np.asarray(practical)}
    return {}


def _place(header: list[str]) -> tuple[float | None, float | None]:
    found: dict[str, float] = {}
    for line in header:
        said = _PLACE.search(line)
        if said is None or said[1].lower() in found:
            continue
        text = said[2].strip()
        pair = _DM.match(text) or _MD.match(text)
        if pair:
            half, whole, minutes = pair["half"], pair["whole"], pair["minutes"]
            sign = -1.0 if half.upper() in "SW" else 1.0
            found[said[1].lower()] = sign * (float(whole) + float(minutes) / 60.0)
        elif re.fullmatch(r"[-+]?\d{1,3}\.\d+", said[2].strip()):
            found[said[1].lower()] = float(said[2])
    lat, lon = found.get("latitude"), found.get("longitude")
    if lat is None or lon is None or abs(lat) > 90.0 or abs(lon) > 180.0:
        return None, None
    return round(lat, 6), round(lon, 6)


def _time(header: list[str], origin: Origin, notes: list[str]) -> datetime:
    """Return when the cast began; a time of the deck's own clock states no zone, and it is said."""
    for form, is_utc in _TIMES:
        for line in header:
            said = form.search(line)
            if said is None:
                continue
            for pattern in ("%b %d %Y %H:%M:%S", "%b %d %Y  %H:%M:%S", "%d %b %Y %H:%M:%S"):
                try:
                    at = datetime.strptime(" ".join(said[1].split()), pattern).replace(tzinfo=UTC)
                except ValueError:
                    continue
                if not is_utc and "NMEA" not in (said[2] or ""):
                    notes.append("the file does not state the zone of its start time; UTC taken")
                return at
    raise InputError(
        "it does not say when the cast began", where=origin.source,
        accepted="a header line NMEA UTC (Time), or start_time",
    )  # fmt: skip


FEED = Feed(
    key="ctd",
    title="CTD cast or bottles (.cnv, .btl)",
    recognise=recognise,
    read=read,
    stale_after_s=12 * 3600.0,
)
