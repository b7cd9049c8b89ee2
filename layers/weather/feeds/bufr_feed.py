"""Surface observations in BUFR, through eccodes, in a process of its own.

As with GRIB, eccodes is loaded only inside the decoding function; plain values come out.
"""

from __future__ import annotations

from collections import defaultdict
from datetime import UTC, datetime
from typing import Any

from layers.contract import Feed, Origin, Reading
from layers.earth.errors import InputError
from layers.earth.units import KELVIN_AT_0_C, M_PER_NMI, M_S_PER_KN
from layers.weather.feeds.bufr_reports import BufrReport, reports
from layers.weather.feeds.lines import add_observation, reject, whole_sea
from layers.weather.feeds.messages import messages

# Field -> BUFR elements that carry it, the first present one counts (WMO-No. 306 vol. I.2,
# BUFR table B; names of eccodes), and what makes its unit ours: value * scale + offset.
ELEMENTS: dict[str, tuple[tuple[str, ...], float, float]] = {
    "wind_from_true_deg": (("windDirectionAt10M", "windDirection"), 1.0, 0.0),
    "wind_kn": (("windSpeedAt10M", "windSpeed"), 1.0 / M_S_PER_KN, 0.0),
    "gust_kn": (("maximumWindGustSpeed", "maximumWindSpeed"), 1.0 / M_S_PER_KN, 0.0),
    "pressure_hpa": (("pressureReducedToMeanSeaLevel", "altimeterSettingQnh"), 0.01, 0.0),
    "air_c": (("airTemperatureAt2M", "airTemperature"), 1.0, -KELVIN_AT_0_C),
    "dew_c": (("dewpointTemperatureAt2M", "dewpointTemperature"), 1.0, -KELVIN_AT_0_C),
    "sea_c": (("seaSurfaceTemperature",), 1.0, -KELVIN_AT_0_C),
    "visibility_nmi": (("horizontalVisibility",), 1.0 / M_PER_NMI, 0.0),
    "hs_m": (("significantWaveHeight", "heightOfWaves"), 1.0, 0.0),
    "mean_period_s": (("averageWavePeriod", "periodOfWaves"), 1.0, 0.0),
    "tp_s": (("spectralPeakWavePeriod",), 1.0, 0.0),
    "wave_from_true_deg": (
        ("directionFromWhichDominantWavesAreComing", "directionFromWhichWavesAreComing",
         "wavesDirection"), 1.0, 0.0),
    "wind_wave_hs_m": (("heightOfWindWaves",), 1.0, 0.0),
    "wind_wave_tp_s": (("periodOfWindWaves",), 1.0, 0.0),
    "wind_wave_from_true_deg": (("windWavesDirection",), 1.0, 0.0),
    "swell_hs_m": (("heightOfSwellWaves",), 1.0, 0.0),
    "swell_tp_s": (("periodOfSwellWaves",), 1.0, 0.0),
    "swell_from_true_deg": (("swellWavesDirection",), 1.0, 0.0),
}  # fmt: skip
# Of these a report with several holds one a spectral band: the first is none of the whole sea's.
# Of two swells the first is the one that matters most (WMO-No. 306 vol. I.1, FM 13).
ONE_ONLY = frozenset({"directionFromWhichWavesAreComing", "wavesDirection"})
WATER, DEPTHS = "oceanographicWaterTemperature", ("depthBelowSeaSurface", "depthBelowWaterSurface")
# WMO-No. 306 vol. I.2, BUFR table A: what a message holds.
SURFACE = {0: "land", 1: "ship", 31: "buoy"}
OTHERWISE = {2: "soundings of the upper air", 3: "satellite soundings", 4: "reports of aircraft",
             5: "satellite winds or reports of aircraft", 6: "radar", 7: "synoptic features",
             8: "air chemistry", 12: "satellite surface data",
             21: "satellite radiances"}  # fmt: skip
NEAR_SURFACE_M = 10.0
# Table B, 0 07 032 and 0 07 033: the height that holds for what stands after it
ANEMOMETER = (
    "heightOfSensorAboveLocalGroundOrDeckOfMarinePlatform",
    "heightOfSensorAboveWaterSurface",
)
WIND_HEIGHT_M = 10.0  # of the wind that everything here works with (WMO-No. 8)
WHEN = ("year", "month", "day", "hour")


def recognise(head: bytes, name: str) -> float:
    """Return how surely these bytes are BUFR: they say so, at times behind a heading."""
    place = head[:200].find(b"BUFR")
    return 1.0 if place >= 0 and len(head) > place + 7 and head[place + 7] in (2, 3, 4) else 0.0


def read(data: bytes, origin: Origin) -> Reading:
    """Return one observation a subset, or the reason why there is none."""
    import eccodes

    reading = Reading()
    opened = eccodes.codes_bufr_new_from_file
    for title, message in messages(data, origin, reading, "BUFR", "message", opened):
        _message(eccodes, message, title, origin, reading)
    return reading


def _message(eccodes: Any, message: int, title: str, origin: Origin, reading: Reading) -> None:
    try:
        sort = int(eccodes.codes_get(message, "dataCategory", ktype=int))
        if sort not in SURFACE:
            what = OTHERWISE.get(sort, f"data of category {sort}")
            said = f"{title} holds {what}, not what is measured at the surface; it is not used"
            reading.rejects.append(reject(origin, None, title, said))
            return
        eccodes.codes_set(message, "unpack", 1)
        found = list(reports(eccodes, message))
    except eccodes.CodesInternalError:
        said = f"{title} cannot be unpacked: its tables are not known or it is damaged"
        reading.rejects.append(reject(origin, None, title, said))
        return
    faults: dict[str, list[int]] = defaultdict(list)
    for number, report in enumerate(found, start=1):
        part = f"{title} subset {number}" if len(found) > 1 else title
        try:
            at, fields = _observation(report, SURFACE[sort])
            add_observation(reading, origin, None, part, at, fields)
        except InputError as fault:
            faults[str(fault)].append(number)
    for why, numbers in faults.items():
        part = _part(title, numbers, len(found))
        reading.rejects.append(reject(origin, None, part, f"{part}: {why}"))


def _part(title: str, numbers: list[int], of: int) -> str:
    """Return which reports of a message are spoken of: one fault of many is one refusal."""
    if of == 1:
        return title
    if len(numbers) == 1:
        return f"{title} subset {numbers[0]}"
    if len(numbers) == of:
        return f"{title}, each of its {of} subsets"
    return f"{title}, {len(numbers)} of its {of} subsets, the first of them {numbers[0]}"


def _observation(report: BufrReport, sort: str) -> tuple[datetime, dict[str, Any]]:
    """Return time and fields of one report."""

    def value(*names: str) -> float | None:
        for name in names:
            found = _value(report, name)
            if found is not None:
                return found
        return None

    parts = [value(name) for name in WHEN]
    known_parts = [int(part) for part in parts if part is not None]
    if len(known_parts) != len(WHEN):
        raise InputError("it holds no time, so it is no surface observation")
    year, month, day, hour = known_parts
    try:
        at = datetime(year, month, day, hour, int(value("minute") or 0.0), tzinfo=UTC)
    except ValueError:
        raise InputError(f"{known_parts} is not a time") from None
    latitude, longitude = value("latitude"), value("longitude")
    if latitude is None or longitude is None:
        raise InputError("it holds no position, so it is no surface observation")
    station, sort = _station(report, sort)
    fields: dict[str, Any] = {
        "station": station,
        "sort": sort,
        "latitude_deg": round(latitude, 6),
        "longitude_deg": round((longitude + 180.0) % 360.0 - 180.0, 6),
    }
    for name, (elements, scale, offset) in ELEMENTS.items():
        found = value(*elements)
        if found is not None:
            fields[name] = round(found * scale + offset, 2) + 0.0
    fields |= _of_several_winds(report)
    if fields.get("wind_kn") == 0.0:
        fields.pop("wind_from_true_deg", None)
    if "sea_c" not in fields and (warm := _near_surface(report)) is not None:
        fields["sea_c"] = round(warm - KELVIN_AT_0_C, 2) + 0.0
    if told := whole_sea(fields, report.number("heightOfSwellWaves", 2)):
        fields["note"] = f"{fields['note']}; {told}" if "note" in fields else told
    if fields.get("tp_s") == 0.0 or fields.get("hs_m") == 0.0:  # no sea, so no period of it
        fields.pop("tp_s", None)
    return at, fields


def _of_several_winds(report: BufrReport) -> dict[str, Any]:
    """Return, of winds at several heights, the one nearest to 10 m; nothing where there is one."""
    if report.number("windSpeed", 2) is None:
        return {}
    heights: list[float | None] = []
    height = None
    for name, which in report.order:
        if name in ANEMOMETER:
            height = report.number(name, which)
        elif name == "windSpeed":
            heights.append(height)
    found = [
        (abs(high - WIND_HEIGHT_M), number, high, speed)
        for number, high in enumerate(heights, start=1)
        if high is not None and (speed := report.number("windSpeed", number)) is not None
    ]
    if not found:
        return {}
    _, number, high, speed = min(found)
    return {
        "wind_kn": round(speed / M_S_PER_KN, 2) + 0.0,
        "wind_from_true_deg": report.number("windDirection", number),
        "note": f"of winds at several heights the one at {high:g} m",
    }


def _near_surface(report: BufrReport) -> float | None:
    """Return the first temperature of the water with no depth before it, or hardly any; kelvin."""
    depth = 0.0
    for name, which in report.order:
        if name in DEPTHS:
            told = report.number(name, which)
            depth = depth if told is None else told
        elif name == WATER:
            found = report.number(name, which)
            if found is not None and depth <= NEAR_SURFACE_M:
                return found
    return None


def _value(report: BufrReport, name: str) -> float | None:
    """Return an element; None where it is missing, or is one of many that is none of the whole."""
    if name in ONE_ONLY and report.number(name, 2) is not None:
        return None
    return report.number(name)


def _station(report: BufrReport, sort: str) -> tuple[str, str]:
    """Return the station's name and sort, by whichever of the code's identifiers it carries."""

    def number(name: str) -> int | None:
        found = report.number(name)
        return None if found is None else int(found)

    block, station = number("blockNumber"), number("stationNumber")
    if block is not None and station is not None:
        return f"{block:02d}{station:03d}", "land"
    buoy = number("marineObservingPlatformIdentifier") or number("buoyOrPlatformIdentifier")
    if buoy is not None:
        region, area = number("regionNumber"), number("wmoRegionSubArea")
        whole = buoy < 1000 and region is not None and area is not None and region < 8
        return (f"{region}{area}{buoy:03d}" if whole else f"{buoy}"), "buoy"
    local = report.text("wigosLocalIdentifierCharacter")
    if local:
        series, issuer, issue = (
            number(name)
            for name in ("wigosIdentifierSeries", "wigosIssuerOfIdentifier", "wigosIssueNumber")
        )
        return f"{series or 0}-{issuer or 0}-{issue or 0}-{local}"[:60], sort
    for name, said in (
        ("icaoLocationIndicator", "airfield"),
        ("stationaryBuoyPlatformIdentifierEGCManBuoys", "buoy"),
        ("shipOrMobileLandStationIdentifier", "ship" if sort == "land" else sort),
        ("stationOrSiteName", sort),
        ("longStationName", sort),
        ("shortStationName", sort),
    ):
        if text := report.text(name):
            return text[:60], said
    raise InputError("it names no station, by number, sign or WIGOS identifier")


FEED = Feed(
    key="bufr",
    title="surface observations in BUFR",
    recognise=recognise,
    read=read,
    stale_after_s=14_400.0,
    isolated=True,
)
