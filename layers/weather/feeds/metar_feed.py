"""METAR and SPECI: reports of airfields, one a line, or the CSV form with exact times.

The groups are told apart first, by their forms (`metar_groups`); wind, visibility, temperature
and pressure are decoded by the ``metar`` package. A group that is none of the code costs itself,
not the report, and stands among the rejects. Wind is the mean at 10 m (WMO-No. 306, FM 15).
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from datetime import datetime
from typing import Any

from layers.contract import Feed, Origin, Reading
from layers.contract.rows import bare_text
from layers.earth.clock import parse_time
from layers.earth.errors import InputError
from layers.earth.units import M_PER_NMI
from layers.weather.feeds.lines import add_observation, reject
from layers.weather.feeds.metar_groups import parted_groups
from layers.weather.feeds.month import Months

_REPORT = re.compile(
    r"^(?:(?:METAR|SPECI)\s+)?(?:COR\s+)?(?P<station>[A-Z][A-Z0-9]{3})\s+"
    r"(?P<day>\d{2})(?P<hour>\d{2})(?P<minute>\d{2})Z\b(?P<nil>\s+(?:AUTO\s+)?NIL\b)?"
)
# WMO-No. 386: the abbreviated heading of a bulletin, and the words round it.
# ICAO Annex 3, appendix 5: a forecast says from when to when it holds; in a bulletin of them
# each stands without its word, and looks like a report
_FORECAST = re.compile(r"TAF\b|(AMD |COR )?[A-Z]{4} \d{6}Z (\d{4}/\d{4}|\d{6})\b")
_HEADING = re.compile(
    r"^([A-Z]{4}\d{2} [A-Z]{4} \d{6}( [A-Z]{3})?|METAR|SPECI|ZCZC.*|NNNN|\d{3,5})$"
)
_CSV_HEAD = "raw_text,station_id,observation_time,"
ACCEPTED = "METAR XXXX 151250Z 24015KT 9999 …, or the CSV form whose heading begins raw_text"


def recognise(head: bytes, name: str) -> float:
    """Return how surely these bytes are airfield reports."""
    text = head.decode("latin-1")
    if _CSV_HEAD in text[:2_000]:
        return 1.0
    lines = [line.strip() for line in text.splitlines()[:40] if line.strip()]
    if not lines:
        return 0.0
    found = sum(bool(_REPORT.match(line)) for line in lines)
    return min(1.0, found / len(lines) + 0.3) if found else 0.0


def read(data: bytes, origin: Origin) -> Reading:
    """Return one observation a report, or the reason why there is none."""
    reading = Reading()
    text = bare_text(data)
    if _CSV_HEAD in text[:2_000]:
        _read_csv(text, origin, reading)
    else:
        _read_lines(text, origin, reading)
    return reading


def _read_lines(text: str, origin: Origin, reading: Reading) -> None:
    months = Months(origin)
    for number, line in _reports(text):
        trimmed = line.strip().rstrip("=")
        if not trimmed or trimmed.startswith("#"):
            _pass(reading, "empty line" if not trimmed else "comment")
            continue
        if _HEADING.match(trimmed):
            _pass(reading, "bulletin heading")
            continue
        try:
            if _FORECAST.match(trimmed):
                raise InputError("a forecast for an airfield (TAF), not what was measured there")
            found = _REPORT.match(trimmed)
            if not found:
                raise InputError("not an airfield report", accepted=ACCEPTED)
            day, hour, minute = (int(found[name]) for name in ("day", "hour", "minute"))
            at = months.dated(day, hour, minute)
            if found["nil"]:
                _pass(reading, "report that says NIL")
                continue
            fields = _fields(trimmed, at, origin, number, reading)
            fields["note"] = "; ".join(said for said in (months.words, fields["note"]) if said)
            add_observation(reading, origin, number, trimmed, at, fields)
        except InputError as fault:
            reading.rejects.append(reject(origin, number, line, str(fault)))
    reading.asks = months.asks()


def _reports(text: str) -> Iterator[tuple[int, str]]:
    """Yield the lines, each with its number; a report that goes on below is made one line.

    Where reports end with ``=``, as in bulletins (WMO-No. 386), what stands between belongs to
    the one above it.
    """
    ended = re.search(r"=\s*$", text, re.MULTILINE) is not None
    held: tuple[int, str] | None = None
    for number, line in enumerate(text.splitlines(), start=1):
        trimmed = line.strip()
        begins = _begins(trimmed) or _HEADING.match(trimmed) or trimmed[:1] in ("", "#")
        if held is not None and not begins:
            held = held[0], f"{held[1]} {trimmed}"
        else:
            if held is not None:
                yield held
            held = number, line
        if not ended or not _begins(held[1].strip()) or held[1].rstrip().endswith("="):
            yield held
            held = None
    if held is not None:
        yield held


def _begins(line: str) -> bool:
    return bool(_REPORT.match(line) or _FORECAST.match(line))


def _read_csv(text: str, origin: Origin, reading: Reading) -> None:
    start = text.index(_CSV_HEAD)
    before = text[:start].count("\n")
    reading.passed_over["heading line"] = before + 1
    rows = csv.reader(io.StringIO(text[start:]))
    heads = next(rows)
    try:
        for row in rows:
            _csv_row(row, heads, before + rows.line_num, origin, reading)
    except csv.Error as fault:
        reading.rejects.append(reject(origin, before + rows.line_num, "", f"not CSV: {fault}"))


def _csv_row(
    row: list[str], heads: list[str], number: int, origin: Origin, reading: Reading
) -> None:
    whole = ",".join(row)
    try:
        if len(row) != len(heads):
            raise InputError(f"{len(row)} columns under {len(heads)} headings")
        cells = dict(zip(heads, row, strict=True))
        at = parse_time(cells["observation_time"], "observation_time")
        fields = _fields(cells["raw_text"], at, origin, number, reading)
        if cells.get("latitude") and cells.get("longitude"):
            fields["latitude_deg"] = _number(cells["latitude"], "latitude")
            fields["longitude_deg"] = _number(cells["longitude"], "longitude")
        add_observation(reading, origin, number, cells["raw_text"], at, fields)
    except InputError as fault:
        reading.rejects.append(reject(origin, number, whole, str(fault)))


def _pass(reading: Reading, what: str) -> None:
    reading.passed_over[what] = reading.passed_over.get(what, 0) + 1


def _number(text: str, name: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise InputError(f"{text!r} is not a number of degrees", where=name) from None


def _fields(
    report: str, at: datetime, origin: Origin, number: int, reading: Reading
) -> dict[str, Any]:
    """Return the fields of one report; a group that cannot be read becomes a reject of its own.

    Raises
    ------
    InputError
        No station, another time than the line's, or nothing of it can be read.
    """
    from metar import Metar

    parted = parted_groups(report)
    try:
        found = Metar.Metar(parted.report(), month=at.month, year=at.year)
    except Exception:  # the package raises many sorts on damaged text
        raise InputError("the report cannot be read", accepted=ACCEPTED) from None
    if found.time is None or (found.time.day, found.time.hour) != (at.day, at.hour):
        raise InputError(f"the report's own time is not {at:%d%H}Z")
    if not found.station_id:
        raise InputError("no station", accepted=ACCEPTED)
    if parted.odd:
        groups = ", ".join(repr(group[:40]) for group in parted.odd[:5])
        said = f"{groups}: no group of the code, so that it is left out; the rest is kept"
        reading.rejects.append(reject(origin, number, report, said))
    speed_kn = _as(found.wind_speed, "KT")
    from_deg = None if found.wind_dir is None or not speed_kn else float(found.wind_dir.value())
    told = [parted.sea.pop(name, None) for name in ("wind_note", "sea_note")]
    note = "; ".join(said for said in told if said) or None
    fields = {
        "station": found.station_id,
        "sort": "airfield",
        "wind_from_true_deg": from_deg,
        "wind_kn": speed_kn,
        "gust_kn": _as(found.wind_gust, "KT"),
        # the package makes ten kilometres of a visibility that was not reported
        "visibility_nmi": _visibility_nmi(found.vis) if parted.visibility else None,
        "pressure_hpa": _as(found.press, "HPA"),
        "air_c": _as(found.temp, "C"),
        "dew_c": _as(found.dewpt, "C"),
        "note": note,
        "corrected": 1 if parted.corrected else None,
    }
    return fields | parted.sea


def _as(quantity: Any, unit: str) -> float | None:
    return None if quantity is None else round(float(quantity.value(unit)), 2) + 0.0


def _visibility_nmi(quantity: Any) -> float | None:
    return None if quantity is None else round(float(quantity.value("M")) / M_PER_NMI, 2)


FEED = Feed(
    key="metar",
    title="airfield reports (METAR, SPECI)",
    recognise=recognise,
    read=read,
    stale_after_s=5_400.0,
)
