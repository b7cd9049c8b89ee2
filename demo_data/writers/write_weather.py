"""Write the weather of the exercise: two buoys, one airfield, a forecast, and what is typed."""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np

from demo_data import weather_truth as truth
from demo_data.scenario import (
    BOW_DOWN_DEG,
    DEMO_END,
    DEPTH_M,
    LAUNCH_HS_M,
    LIST_DEG,
    MATING_KN,
    RECOVERY_HS_M,
    SEED,
    THROUGH_WATER_KN,
    VEHICLE,
    z,
)
from demo_data.writers.rows import row, write_rows
from layers.earth.arrays import Floats
from layers.earth.position import Position

START = z(12, "1800")
# Invented stations: no administration gives out an X in these places (from memory).
BUOYS = {
    "62X07": ("Tressick Bank buoy", Position(49.9167, -8.6000), 4.0),
    "62X12": ("Western Deep buoy", Position(49.6667, -9.5000), 4.0),
}
AIRFIELD = ("XPTK", "Port Tressick airfield", Position(50.1900, -5.1200))
SILENT = ("62X07", z(16, "0430"), z(16, "0630"))  # its reports of 0450Z and 0550Z never come
MODEL = "south-western approaches forecast (exercise)"
DELAY_BUOY_S, DELAY_AIRFIELD_S, DELAY_FORECAST_S = 600, 300, 1_800
# How late each issue has the front, in hours: the earlier ones are wrong, mostly late.
FRONT_LATE_H = {
    z(14, "0000"): 5.0, z(14, "0600"): 4.5, z(14, "1200"): 4.0, z(14, "1800"): 3.5,
    z(15, "0000"): -2.5, z(15, "0600"): 2.5, z(15, "1200"): 2.0, z(15, "1800"): 1.5,
    z(16, "0000"): 0.9, z(16, "0600"): 0.0,
}  # fmt: skip
LATITUDES = np.linspace(48.5, 51.5, 4)
LONGITUDES = np.linspace(-10.5, -4.5, 7)
LEADS_H = np.arange(0.0, 73.0, 3.0)


def write(folder: Path) -> None:
    """Write every file of the weather under ``folder``/weather, the same at each run."""
    here = folder / "weather"
    here.mkdir(parents=True, exist_ok=True)
    manifest: list[dict[str, Any]] = []
    for index, station in enumerate(BUOYS):
        name = f"{station}.txt"
        (here / name).write_text(_buoy(station, index), encoding="ascii")
        manifest.append(_entry(name, "ndbc", f"buoy {station}", DELAY_BUOY_S))
    (here / "62X12.spec").write_text(_spectral("62X12"), encoding="ascii")
    manifest.append(_entry("62X12.spec", "ndbc", "buoy 62X12", DELAY_BUOY_S))
    (here / "airfield.csv").write_text(_airfield(), encoding="ascii")
    manifest.append(_entry("airfield.csv", "metar", f"airfield {AIRFIELD[0]}", DELAY_AIRFIELD_S))
    issue, number = START, 0
    while issue <= DEMO_END:
        name = f"forecast_{issue:%Y%m%d%H}.nc"
        _forecast(here / name, issue, number)
        manifest.append(_entry(name, "netcdf-forecast", MODEL, DELAY_FORECAST_S))
        issue, number = issue + timedelta(hours=6), number + 1
    (here / "manifest.json").write_text(json.dumps(manifest, indent=1) + "\n", encoding="utf-8")
    write_rows(here, _records())


def _entry(file: str, feed: str, source: str, delay_s: int) -> dict[str, Any]:
    return {"file": file, "feed": feed, "source": source, "delay_s": delay_s}


def _times(first: datetime, step: timedelta) -> list[datetime]:
    return [first + n * step for n in range(int((DEMO_END - first) / step) + 1)]


def _true(at: datetime, longitude_deg: float) -> tuple[float, float, float, float, float]:
    """Return Hs, Tp, wind kn, wind from and waves from at one time and longitude."""
    hour, east = np.array([truth.hours(at)]), np.array([longitude_deg])
    found = (truth.hs_m, truth.tp_s, truth.wind_kn, truth.wind_from_deg, truth.wave_from_deg)
    hs, tp, kn, from_deg, wave_deg = (float(each(hour, east)[0]) for each in found)
    return hs, tp, kn, from_deg, wave_deg


def _buoy(station: str, index: int) -> str:
    """Return one buoy's text: hourly at ten to the hour, newest first, some lines damaged."""
    rng = np.random.default_rng([SEED, 1, index])
    _, position, anemometer_m = BUOYS[station]
    rows = []
    for at in _times(START + timedelta(minutes=50), timedelta(hours=1)):
        hs, tp, kn, from_deg, wave_deg = _true(at, position.longitude_deg)
        noise = rng.normal(size=6)
        wind = max(0.0, kn + 1.2 * noise[0]) * truth.M_S_PER_KN * (anemometer_m / 10.0) ** 0.11
        height = max(0.1, hs * (1.0 + 0.03 * noise[1]))
        pressure = 1012.0 - 0.45 * (kn - 12.0) + 0.3 * noise[2]
        silent = station == SILENT[0] and SILENT[1] <= at <= SILENT[2]
        if not silent:
            rows.append(
                f"{at:%Y %m %d %H %M} {round(from_deg + 4 * noise[3]) % 360:3d} {wind:4.1f} "
                f"{wind * 1.28:4.1f} {height:5.1f} {tp:5.0f} {tp * 0.78:5.1f} "
                f"{round(wave_deg + 3 * noise[4]) % 360:3d} {pressure:6.1f} {10.4:5.1f} "
                f"{10.8 + 0.1 * noise[5]:5.1f}    MM   MM   MM    MM"
            )
    _damage(rows, station)
    head = (
        "#YY  MM DD hh mm WDIR WSPD GST  WVHT   DPD   APD MWD   PRES  ATMP  WTMP  DEWP  VIS "
        "PTDY  TIDE\n"
        "#yr  mo dy hr mn degT m/s  m/s     m   sec   sec degT   hPa  degC  degC  degC  nmi  "
        "hPa    ft\n"
    )
    return head + "\n".join(reversed(rows)) + "\n"


def _damage(rows: list[str], station: str) -> None:
    """Damage a few lines as a bad link does: cut short, a letter in a number, nonsense."""
    if station == "62X07":
        rows[20] = rows[20][:37]
        rows[45] = rows[45].replace(" 1012", " 1Q12").replace(" 1011", " 1Q11")
        rows[60] = "}}~~ 03 1? 0\x7f"
    else:
        rows[33] = rows[33].replace("   MM", "  M")
        words = rows[52].split()
        words[8] = "81.3"  # a wave height that no sea has
        rows[52] = " ".join(words)


def _spectral(station: str) -> str:
    """Return the spectral summary of one buoy, every three hours, newest first."""
    _, position, _ = BUOYS[station]
    rows = []
    for at in _times(START + timedelta(minutes=50), timedelta(hours=3)):
        hs, tp, kn, from_deg, wave_deg = _true(at, position.longitude_deg)
        share = min(0.9, kn / 45.0)
        wind_sea, swell = hs * np.sqrt(share), hs * np.sqrt(1.0 - share)
        rows.append(
            f"{at:%Y %m %d %H %M} {hs:4.1f} {swell:4.1f} {tp + 2.0:4.1f} {wind_sea:4.1f} "
            f"{tp * 0.8:4.1f} {_point(255.0):>3s} {_point(from_deg):>3s}        N/A "
            f"{tp * 0.78:4.1f} {round(wave_deg) % 360:3d}"
        )
    head = (
        "#YY  MM DD hh mm WVHT  SwH  SwP  WWH  WWP SwD WWD  STEEPNESS  APD MWD\n"
        "#yr  mo dy hr mn    m    m  sec    m  sec  -  degT     -      sec degT\n"
    )
    return head + "\n".join(reversed(rows)) + "\n"


def _point(from_deg: float) -> str:
    points = "N NNE NE ENE E ESE SE SSE S SSW SW WSW W WNW NW NNW"
    return points.split()[round(from_deg / 22.5) % 16]


def _airfield() -> str:
    """Return the airfield's half-hourly reports with their exact times; two are damaged."""
    rng = np.random.default_rng([SEED, 2])
    code, _, position = AIRFIELD
    lines = ["raw_text,station_id,observation_time,latitude,longitude"]
    for number, at in enumerate(_times(START + timedelta(minutes=20), timedelta(minutes=60))):
        _, _, kn, from_deg, _ = _true(at, position.longitude_deg)
        noise = rng.normal(size=2)
        speed = max(2, round(kn * 0.8 + noise[0]))
        gust = f"G{round(speed * 1.4)}" if speed > 18 else ""
        seen = "4000 -RA BKN008" if kn > 28 else "9999 SCT022"
        direction = round((from_deg + 5 * noise[1]) / 10) * 10 % 360 or 360
        wind = f"{direction:03d}{speed:02d}{gust}KT"
        if number == 40:
            wind = wind.replace("KT", "K")
        if number == 81:
            wind = wind[:3] + "//X" + wind[5:]
        pressure = round(1013.0 - 0.45 * (kn - 12.0))
        report = f"{code} {at:%d%H%M}Z {wind} {seen} 11/08 Q{pressure:04d}"
        lines.append(
            f"{report},{code},{at:%Y-%m-%dT%H:%M:%SZ},"
            f"{position.latitude_deg:.2f},{position.longitude_deg:.2f}"
        )
    return "\n".join(lines) + "\n"


def _forecast(path: Path, issue: datetime, number: int) -> None:
    """Write one issue as CF-NetCDF: packed to 16 bits, the front as late as this issue has it."""
    import netCDF4

    rng = np.random.default_rng([SEED, 3, number])
    wrong = 0.0 if issue == z(16, "0600") else 1.0
    late_h = FRONT_LATE_H.get(issue, 0.3 * wrong * float(rng.normal()))
    start, growth = wrong * 0.02 * float(rng.normal()), wrong * 0.05 * float(rng.normal())
    hour = (truth.hours(issue) + LEADS_H)[:, None, None] + np.zeros((1, 4, 7))
    east = LONGITUDES[None, None, :] + np.zeros_like(hour)
    factor = 1.0 + start + growth * LEADS_H[:, None, None] / 24.0
    past = hour - late_h * np.minimum(LEADS_H / 12.0, 1.0)[:, None, None]
    wind = truth.wind_kn(past, east) * truth.M_S_PER_KN * factor
    going = np.radians(truth.wind_from_deg(past, east) + 180.0)
    tide = [truth.current_m_s("surface", issue + timedelta(hours=float(lead))) for lead in LEADS_H]
    tides = np.array(tide)[:, :, None, None] * np.ones((1, 1, 4, 7))
    fields: dict[str, tuple[str, str, float, Floats]] = {
        "hs": ("sea_surface_wave_significant_height", "m", 0.01, truth.hs_m(past, east) * factor),
        "tp": ("sea_surface_wave_period_at_variance_spectral_density_maximum", "s", 0.01,
               truth.tp_s(past, east)),
        "wave_from": ("sea_surface_wave_from_direction", "degree", 0.1,
                      truth.wave_from_deg(past, east)),
        "wind_u": ("eastward_wind", "m s-1", 0.01, wind * np.sin(going)),
        "wind_v": ("northward_wind", "m s-1", 0.01, wind * np.cos(going)),
        "current_u": ("eastward_sea_water_velocity", "m s-1", 0.001, tides[:, 0]),
        "current_v": ("northward_sea_water_velocity", "m s-1", 0.001, tides[:, 1]),
        "vis": ("visibility_in_air", "m", 10.0, np.clip(26_000.0 - 1_600.0 * wind, 3_000, 20_000)),
    }  # fmt: skip
    with netCDF4.Dataset(path, "w", format="NETCDF3_64BIT_OFFSET") as out:
        out.Conventions = "CF-1.8"
        out.source = MODEL
        out.forecast_reference_time = f"{issue:%Y-%m-%dT%H:%M:%SZ}"
        out.comment = "EXERCISE SABLE TIDE: invented, not weather"
        axes = (
            ("time", LEADS_H, f"hours since {issue:%Y-%m-%dT%H:%M:%SZ}"),
            ("latitude", LATITUDES, "degrees_north"),
            ("longitude", LONGITUDES, "degrees_east"),
        )
        for name, values, units in axes:
            out.createDimension(name, len(values))
            axis = out.createVariable(name, "f4", (name,))
            axis.units = units
            axis[:] = values
        for name, (standard, units, scale, values) in fields.items():
            variable = out.createVariable(name, "i2", ("time", "latitude", "longitude"))
            variable.standard_name, variable.units, variable.scale_factor = standard, units, scale
            variable[:] = values


def _records() -> list[dict[str, Any]]:
    """Return what people typed: stations, place, tidal stream, limits, seats, vehicle."""
    records = [
        *_station_records(),
        _record(
            "weather-place-1", "weather.place_of_work", z(13, "2200"),
            {
                "latitude_deg": 49.8350, "longitude_deg": -8.5050, "water_depth_m": DEPTH_M,
                "reason": "centre of the search, from the bearings and ranges",
            },
        ),
        *_tide_records(),
        *_limit_records(),
        *_seat_records(),
    ]  # fmt: skip
    return sorted(records, key=lambda record: str(record["heard_at"]))


def _record(
    form: str, kind: str, at: datetime, payload: dict[str, Any], author: str = "watch officer 1"
) -> dict[str, Any]:
    return row(form, kind, at, payload, source="typed by the watch", author=author)


def _station_records() -> list[dict[str, Any]]:
    described = [(code, "buoy", *BUOYS[code]) for code in BUOYS]
    described.append((AIRFIELD[0], "airfield", AIRFIELD[1], AIRFIELD[2], 10.0))
    return [
        _record(
            f"weather-station-{code}", "weather.station", z(12, "1500"),
            {
                "station": code, "name": name, "sort": sort,
                "latitude_deg": position.latitude_deg, "longitude_deg": position.longitude_deg,
                "anemometer_m": height,
            },
        )
        for code, sort, name, position, height in described
    ]  # fmt: skip


def _tide_records() -> list[dict[str, Any]]:
    waters = [
        {"at": at.isoformat().replace("+00:00", "Z"), "range_m": range_m}
        for at, range_m in truth.high_waters()
    ]
    records = []
    for level, (spring_kn, neap_kn, _, _) in truth.STREAM.items():
        table = []
        for hour in range(-6, 7):
            set_deg, share = truth.stream_hour(level, float(hour))
            table.append({
                "hour": hour, "set_true_deg": round(set_deg, 1),
                "spring_kn": round(spring_kn * share, 2), "neap_kn": round(neap_kn * share, 2),
            })  # fmt: skip
        payload = {
            "place": "south-western approaches", "level": level, "latitude_deg": 49.8333,
            "longitude_deg": -8.5, "radius_nmi": 60.0, "hours": table, "high_waters": waters,
            "spring_range_m": truth.SPRING_RANGE_M, "neap_range_m": truth.NEAP_RANGE_M,
            "reported_by": "stream table of the exercise, Port Tressick high water",
        }  # fmt: skip
        records.append(
            _record(f"weather-stream-{level}", "weather.tidal_stream", z(12, "1500"), payload)
        )
    return records


def _limit_records() -> list[dict[str, Any]]:
    limits: list[dict[str, Any]] = [
        {"operation": "launch", "duration_h": 1.0, "notice_h": 2.0, "hs_max_m": LAUNCH_HS_M,
         "wind_max_kn": 35.0, "current_surface_max_kn": THROUGH_WATER_KN},
        {"operation": "recovery", "duration_h": 1.5, "notice_h": 1.0, "hs_max_m": RECOVERY_HS_M,
         "wind_max_kn": 35.0, "current_surface_max_kn": THROUGH_WATER_KN},
        {"operation": "deck transfer", "duration_h": 2.0, "notice_h": 1.0, "hs_max_m": 3.5,
         "wind_max_kn": 40.0},
        {"operation": "helicopter", "duration_h": 2.0, "notice_h": 2.0, "wind_max_kn": 45.0,
         "visibility_min_nmi": 1.0, "daylight_only": True},
        {"operation": "dive", "duration_h": 6.0, "notice_h": 2.0,
         "current_surface_max_kn": THROUGH_WATER_KN, "current_seat_max_kn": THROUGH_WATER_KN},
        {"operation": "mating", "duration_h": 2.0, "notice_h": 1.0,
         "current_seat_max_kn": MATING_KN},
    ]  # fmt: skip
    return [
        _record(
            f"weather-limit-{limit['operation'].replace(' ', '-')}", "weather.limit",
            z(13, "1000"), {**limit, "set_by": "rescue force order of the exercise"},
        )
        for limit in limits
    ]  # fmt: skip


def _seat_records() -> list[dict[str, Any]]:
    records = [
        _record(
            f"weather-seat-{seat}", "weather.seat", z(14, "2130"),
            {
                "seat": seat, "depth_m": depth_m, "water_depth_m": DEPTH_M, "list_deg": LIST_DEG,
                "bow_down_deg": BOW_DOWN_DEG, "reported_by": "inspection vehicle, first dive",
            },
        )
        for seat, depth_m in (("forward", 133.5), ("after", 132.0))
    ]  # fmt: skip
    limits = {
        "vehicle": VEHICLE, "list_max_deg": 30.0, "bow_down_max_deg": 20.0, "tilt_max_deg": 30.0,
        "closing_m_s": 0.15, "touchdown_max_m_s": 0.26,
        "set_by": "vehicle's operator in the exercise; bare hull",
    }  # fmt: skip
    records.append(_record("weather-vehicle", "weather.vehicle_limit", z(13, "1000"), limits))
    return records
