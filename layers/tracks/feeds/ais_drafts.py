"""What one decoded AIS message says: positions, names, calls for help, marks, weather.

References
----------
ITU-R M.1371-5, annex 8: message types and their fields. IMO SN.1/Circ.289, table 1.1: the
meteorological and hydrological message (8, DAC 1, FI 31) and its values for "not available"
(from memory; pyais decodes the bits).
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

from layers.tracks.feeds import ais_parts

SART_ACTIVE = 14
SART_WORDS = "navigation status 14: search and rescue transmitter active"
NO_POSITION = "AIS position report that says it has no position"
NO_NUMBER = "AIS report of a transponder without a number (MMSI 0): whose it is, nobody knows"
Said = tuple[str, dict[str, Any]]  # kind, payload


def said(message: dict[str, Any]) -> Iterator[Said]:
    """Yield the kind and payload of each fact in a message; none where nothing is of use."""
    kind = int(message["msg_type"])
    subject = f"mmsi:{int(message['mmsi']):09d}"
    if kind in ais_parts.POSITION_TYPES:
        fields = ais_parts.fields_of_position(message)
        if fields is not None:
            how = ais_parts.HOW.get(int(message.get("second") or 0), "")
            yield "tracks.position", {"subject": subject, **fields, "said_by": f"AIS {kind}{how}"}
        if _status(message) == SART_ACTIVE:  # said even before it has a position
            yield "tracks.safety_text", {"subject": subject, "text": SART_WORDS}
    whole = kind != 19 or message.get("bits", ais_parts.WHOLE_19) >= ais_parts.WHOLE_19
    if kind in ais_parts.STATIC_TYPES and whole:
        yield "tracks.static", {"subject": subject, **ais_parts.fields_of_static(message)}
    if kind == 14 and (text := ais_parts.text_of(message.get("text"))):
        yield "tracks.safety_text", {"subject": subject, "text": text[:200]}
    if kind == 21:
        yield from _aid(subject, message)


def _status(message: dict[str, Any]) -> int | None:
    value = message.get("status")
    return None if value is None else int(value)


def _aid(subject: str, message: dict[str, Any]) -> Iterator[Said]:
    latitude, longitude = float(message["lat"]), float(message["lon"])
    if abs(latitude) > 90.0 or abs(longitude) > 180.0:
        return
    name = (ais_parts.text_of(message.get("name")) or "") + (
        ais_parts.text_of(message.get("name_ext")) or ""
    )
    second = int(message.get("second") or 0)
    yield (
        "tracks.aid",
        {
            "subject": subject,
            "name": name[:60],
            "aid_type": int(message.get("aid_type") or 0),
            "latitude_deg": round(latitude, 6),
            "longitude_deg": round(longitude, 6),
            "virtual": bool(message.get("virtual_aid")),
            # only a floating aid with a working clock knows whether it has dragged (second <= 59)
            "off_position": bool(message.get("off_position")) if second <= 59 else None,
        },
    )


def base_time(message: dict[str, Any]) -> datetime | None:
    """Return the time that a base station or a mobile asked for it sends (types 4 and 11)."""
    if int(message["msg_type"]) not in (4, 11):
        return None
    year, month, day, hour, minute, second = (
        int(message.get(n) or 0) for n in ("year", "month", "day", "hour", "minute", "second")
    )
    try:
        at = datetime(year, month, day, hour, minute, second, tzinfo=UTC)
        return at if year >= 2000 else None
    except ValueError:  # 0, 24 or 60 stand for "not available"
        return None


def weather(message: dict[str, Any], heard: datetime) -> tuple[datetime, dict[str, Any]] | None:
    """Return time and payload of an observation in a message 8 of DAC 1, FI 31; else None."""
    if int(message["msg_type"]) != 8 or (message.get("dac"), message.get("fid")) != (1, 31):
        return None
    latitude, longitude = float(message["lat"]), float(message["lon"])
    if abs(latitude) > 90.0 or abs(longitude) > 180.0:
        return None
    at = _measured_at(message, heard)
    fields: dict[str, Any] = {
        "wind_kn": _below(message, "wspeed", 126.5),
        "gust_kn": _below(message, "wgust", 126.5),
        "wind_from_true_deg": _below(message, "wdir", 359.5),
        "air_c": _between(message, "airtemp", -60.0, 60.0),
        "dew_c": _between(message, "dewpoint", -20.0, 50.0),
        "pressure_hpa": _between(message, "pressure", 800.0, 1200.0),
        "hs_m": _below(message, "waveheight", 25.1),
        "mean_period_s": _between(message, "waveperiod", 1.0, 60.0),
        "wave_from_true_deg": _below(message, "wavedir", 359.5),
        "swell_hs_m": _below(message, "swellheight", 25.1),
        "swell_tp_s": _between(message, "swellperiod", 1.0, 60.0),
        "swell_from_true_deg": _below(message, "swelldir", 359.5),
        "current_kn": _below(message, "cspeed", 25.1),
        "current_set_true_deg": _below(message, "cdir", 359.5),
        "sea_c": _between(message, "watertemp", -10.0, 50.0),
        "salinity_psu": _below(message, "salinity", 50.05),
        "visibility_nmi": None
        if message.get("visgreater")
        else _below(message, "visibility", 12.65),
    }
    measured = {name: value for name, value in fields.items() if value is not None}
    if not measured:
        return None
    return at, {
        "station": f"MMSI {int(message['mmsi']):09d}",
        "sort": "report",
        "latitude_deg": round(latitude, 5),
        "longitude_deg": round(longitude, 5),
        **measured,
        "note": "AIS message 8, DAC 1 FI 31",
    }


def _measured_at(message: dict[str, Any], heard: datetime) -> datetime:
    """Return the last such day, hour and minute that is not after it was heard."""
    day, hour, minute = (int(message.get(name) or 0) for name in ("day", "hour", "minute"))
    if not 1 <= day <= 31 or hour > 23 or minute > 59:
        return heard
    for back in range(32):
        date = (heard - timedelta(days=back)).date()
        if date.day == day:
            at = datetime(date.year, date.month, day, hour, minute, tzinfo=heard.tzinfo)
            return at if at <= heard + timedelta(minutes=10) else heard
    return heard


def _between(message: dict[str, Any], name: str, least: float, most: float) -> float | None:
    value = message.get(name)
    number = None if value is None else float(value)
    return number if number is not None and least <= number <= most else None


def _below(message: dict[str, Any], name: str, most: float) -> float | None:
    return _between(message, name, 0.0, most)
