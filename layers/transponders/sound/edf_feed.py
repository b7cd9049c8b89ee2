"""Probe export files (`.edf`): header lines, then a table under named fields."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from typing import Any

from layers.contract import Feed, Origin, Reading
from layers.contract.cells import plain_number
from layers.earth.errors import InputError
from layers.earth.units import ft_to_m
from layers.journal.record import Draft, Reject
from layers.transponders.sound.levels import Levels, downcast, number

_PAIR = re.compile(r"^\s*([^:]+?)\s*:\s*(.*?)\s*$")
_NAMES = {
    "depth": "depth_m",
    "temperature": "temperature_c",
    "salinity": "salinity",
    "sound velocity": "sound_speed_m_s",
    "sound speed": "sound_speed_m_s",
}


def recognise(head: bytes, name: str) -> float:
    """Return how surely this is a probe export: its own first lines say so."""
    text = head[:4096]
    if b"EXPORT DATA FILE" in text and b"(EDF)" in text:
        return 1.0
    sure = b"// Data Fields" in head and b"Field1" in head
    return 0.9 if sure else 0.0


def read(data: bytes, origin: Origin) -> Reading:
    """Return the profile of a probe export file, or the reason why there is none."""
    reading = Reading()
    try:
        reading.drafts.append(_draft(data, origin, reading))
    except InputError as reason:
        reading.rejects.append(
            Reject(source=origin.source, line=reason_line(reason), text="", reason=str(reason))
        )
    return reading


def reason_line(reason: InputError) -> int | None:
    """Return the line number that an error names, if it does."""
    found = re.search(r"line (\d+)", reason.where)
    return int(found[1]) if found else None


def _draft(data: bytes, origin: Origin, reading: Reading) -> Draft:
    lines = data.decode("latin-1").splitlines()  # the degree sign is one byte in these files
    header, fields, first = _header(lines)
    notes: list[str] = []
    names = _columns(fields, header, notes)
    columns = _table(lines, first, names, origin, reading)
    if names.get("feet"):
        columns["depth_m"] = [ft_to_m(depth) for depth in columns["depth_m"]]
        notes.append("depth was in feet; turned into metres")
    levels = downcast(columns, origin.source)
    valid_at = _launched(header, origin, notes)
    payload = _payload(levels, header, notes)
    for reason, count in levels.set_aside.items():
        reading.passed_over[reason] = reading.passed_over.get(reason, 0) + count
    reading.passed_over["header line"] = first
    return origin.draft("transponders.profile", payload, valid_at)


def _header(lines: list[str]) -> tuple[dict[str, str], list[str], int]:
    """Return the header's pairs, the field names in order, and the first line of data."""
    header: dict[str, str] = {}
    fields: dict[int, str] = {}
    data = next((n for n, line in enumerate(lines) if line.strip().lower() == "// data"), None)
    if data is None:
        raise InputError("no line '// Data'", where="header", accepted="a probe export file")
    for line in lines[:data]:
        pair = _PAIR.match(line)
        if pair is None:
            continue
        numbered = re.match(r"^Field(\d{1,3})$", pair[1])
        if numbered:
            fields[int(numbered[1])] = pair[2]
        else:
            header[pair[1]] = pair[2]
    return header, [fields[key] for key in sorted(fields)], data + 1


def _columns(fields: list[str], header: dict[str, str], notes: list[str]) -> dict[str, Any]:
    """Return the place of each wanted column, and whether depth is in feet."""
    found: dict[str, Any] = {}
    for place, text in enumerate(fields):
        bare = re.sub(r"\(.*", "", text).strip().lower()
        if bare in _NAMES:
            found[_NAMES[bare]] = place
        if bare == "depth":
            found["feet"] = "(ft" in text.lower() or "feet" in text.lower()
            if "(" not in text and header.get("Units", "").lower() != "metric":
                raise InputError(
                    "the depth field does not say metres or feet",
                    where="header, Field list",
                    accepted="'Depth (m)' or 'Depth (ft)'",
                )
        if bare == "temperature" and "f)" in text.lower():
            raise InputError(
                f"{text!r} is not in degrees C", where="header", accepted="'Temperature (°C)'"
            )
    if "depth_m" not in found or not ({"temperature_c", "sound_speed_m_s"} & found.keys()):
        raise InputError(
            f"fields {fields}",
            where="header",
            accepted="a Depth field, and Temperature or Sound Velocity",
        )
    if "salinity" in found:
        notes.append(
            "salinity in ppt taken as practical (PSS-78), as probes of this kind report it"
        )
    return found


def _table(
    lines: list[str], first: int, names: dict[str, Any], origin: Origin, reading: Reading
) -> dict[str, list[float]]:
    wanted = {name: place for name, place in names.items() if name != "feet"}
    columns: dict[str, list[float]] = {name: [] for name in wanted}
    for place, line in enumerate(lines[first:], start=first + 1):
        if not line.strip():
            continue
        cells = line.split("\t") if "\t" in line else line.split()
        try:
            row = {name: number(cells[at]) for name, at in wanted.items()}
        except (ValueError, IndexError):
            reading.rejects.append(
                Reject(
                    source=origin.source,
                    line=place,
                    text=line[:200],
                    reason=f"line {place}: not a row of {len(wanted)} numbers",
                )
            )
            continue
        for name, value in row.items():
            columns[name].append(value)
    return columns


def _launched(header: dict[str, str], origin: Origin, notes: list[str]) -> datetime:
    """Return the time of launch; the format states no zone, so the record says UTC was taken."""
    text = f"{header.get('Date of Launch', '')} {header.get('Time of Launch', '')}".strip()
    for form in ("%m/%d/%Y %H:%M:%S", "%Y/%m/%d %H:%M:%S", "%Y-%m-%d %H:%M:%S"):
        try:
            at = datetime.strptime(text, form).replace(tzinfo=UTC)
        except ValueError:
            continue
        notes.append("the file does not state the zone of its launch time; UTC taken")
        if form[1] == "m" and at.day <= 12 and at.day != at.month:
            notes.append(f"launched on {at:%d %b %Y}: the month is read first, as this form has it")
        return at
    raise InputError(
        f"{text!r} is not the date and time of launch",
        where="header",
        accepted="'Date of Launch : 03/13/2027' and 'Time of Launch : 14:05:00'",
    )


_DM = re.compile(r"^\s*(\d{1,3})[ °]+(\d{1,2}(?:\.\d+)?)['′]?\s*([NSEW])\s*$", re.IGNORECASE)


def _degrees(text: str) -> float | None:
    """Return decimal degrees of '49 50.00N' or '49.83', None when empty."""
    if not text.strip():
        return None
    pair = _DM.match(text)
    if pair:
        sign = -1.0 if pair[3].upper() in "SW" else 1.0
        return sign * (float(pair[1]) + float(pair[2]) / 60.0)
    try:
        return plain_number(text)
    except ValueError:
        raise InputError(
            f"{text!r} is not a latitude or longitude",
            where="header",
            accepted="49 50.00N or 49.8333",
        ) from None


def _payload(levels: Levels, header: dict[str, str], notes: list[str]) -> dict[str, Any]:
    lat, lon = _degrees(header.get("Latitude", "")), _degrees(header.get("Longitude", ""))
    if lat is None or lon is None:
        lat = lon = None
        notes.append("no position in the file")
    probe = header.get("Probe Type", "probe")
    serial = header.get("Serial Number", "")
    return {
        **levels.values,
        "salinity_kind": "practical" if "salinity" in levels.values else None,
        "latitude_deg": lat,
        "longitude_deg": lon,
        "instrument": f"{probe} {serial}".strip()[:200],
        "notes": [*notes, *levels.notes],
    }


FEED = Feed(
    key="edf",
    title="temperature probe export (.edf)",
    recognise=recognise,
    read=read,
    stale_after_s=12 * 3600.0,
)
