"""Write the exercise's water, seabed and net: profiles, replies, drops, fixes and depths.

The replies run through the exercise's own water by bent rays, with noise, a few wild ones and a
sound speed that differs a little from the measured profile.
"""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
from netCDF4 import Dataset

from demo_data import scenario as s
from demo_data.scenario import z
from demo_data.weather_truth import current_m_s
from demo_data.writers.rows import row, write_rows
from layers.earth.arrays import Floats
from layers.earth.geodesy import between, going, inverse
from layers.earth.position import Position
from layers.earth.units import M_PER_NMI
from layers.transponders.model import Profile
from layers.transponders.sound.travel import direct_rays
from layers.transponders.sound.water import water

RELEASED = {"TP1": 45.0, "TP2": 135.0, "TP3": 225.0, "TP4": 315.0}  # bearings from the DISSUB
RELEASE_M, SINK_M_S, TURN_ROUND_S, BATTERY_H = 350.0, 1.5, 0.125, 720.0
TRANSDUCER_M, EVERY_S = 6.0, 12.0
SPEED_TRUTH = 1.0004  # the water at the box-in against the profile of 20 minutes before
INVENTED = "exercise order, invented"
WEST, EAST, SOUTH, NORTH, STEP_DEG = -10.5, -7.0, 49.0, 50.5, 0.0125


def write(folder: Path) -> None:
    """Write every file of this part, the same each time."""
    here = folder / "transponders"
    here.mkdir(exist_ok=True)
    rng = np.random.default_rng(s.SEED)
    _write_ctd(here / "ctd_lantern.csv", rng)
    _write_probe(here / "probe_saltmarsh.edf", rng)
    _write_depths(here / "depths.nc")
    _write_replies(here / "box_in.csv", rng)
    write_rows(here, [*_typed(), *_fixes(rng)])
    manifest = [
        {"file": "probe_saltmarsh.edf", "feed": "edf", "source": "probe from SALTMARSH",
         "delay_s": 1500},
        {"file": "ctd_lantern.csv", "feed": "profile_csv", "source": "CTD from NORTHERN LANTERN",
         "delay_s": 420},
        {"file": "box_in.csv", "feed": "transponder_ranges",
         "source": "box-in from NORTHERN LANTERN", "delay_s": 60, "author": "watch officer 1"},
        {"file": "depths.nc", "feed": "depth_netcdf", "source": "depths.nc",
         "received_at": "2027-03-12T15:00Z", "delay_s": 0},
    ]  # fmt: skip
    (here / "manifest.json").write_text(json.dumps(manifest, indent=1) + "\n", encoding="utf-8")


def temperature_c(depth_m: Floats) -> Floats:
    """Return the water of March: mixed, a little colder below 85 m."""
    return np.asarray(10.62 + 0.004 * np.tanh((30 - depth_m) / 8) - 0.42 / (
        1.0 + np.exp((85.0 - depth_m) / 5.0)
    ))  # fmt: skip


def salinity(depth_m: Floats) -> Floats:
    """Return practical salinity."""
    return np.asarray(35.31 + 0.05 / (1.0 + np.exp((85.0 - depth_m) / 5.0)))


def _write_ctd(path: Path, rng: np.random.Generator) -> None:
    down = np.arange(1.0, 138.5, 1.0)
    depth = np.concatenate((down, np.arange(136.0, 120.0, -2.0)))  # and a little of the way up
    warm = temperature_c(depth) + rng.normal(0.0, 0.002, len(depth))
    salt = salinity(depth) + rng.normal(0.0, 0.002, len(depth))
    lines = [
        "# Exercise SABLE TIDE, invented",
        "# instrument: CTD over the side of NORTHERN LANTERN",
        "# time: 2027-03-15T22:48Z",
        "# latitude: 49 50.4N",
        "# longitude: 008 29.7W",
        "# salinity unit: PSS-78",
        "depth_m,temperature_c,practical_salinity",
    ]
    rows = zip(depth, warm, salt, strict=True)
    lines += [f"{d:.1f},{t:.3f},{sal:.3f}" for d, t, sal in rows]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def _write_probe(path: Path, rng: np.random.Generator) -> None:
    """Write a falling probe's export: temperature alone, the first metres settling."""
    time_s = np.arange(0.0, 21.4, 0.1)
    depth = 6.691 * time_s - 0.00225 * time_s**2  # a common fall-rate law of such probes
    warm = temperature_c(depth) + 0.8 * np.exp(-depth / 1.2) + rng.normal(0.0, 0.01, len(depth))
    head = [
        "// EXPORT DATA FILE  (EDF)", "// File Information",
        "Raw Data Filename:  SABLE_TIDE_004.RDF", "// System Information",
        "Units            :  Metric", "// Probe Information", "Probe Type       :  XBT",
        "Terminal Depth   :  460 m", "// Launch Information", "Date of Launch   :  03/13/2027",
        "Time of Launch   :  14:20:00", "Sequence Number  :  4", "Latitude         :  49 44.70N",
        "Longitude        :  008 35.80W", "Serial Number    :  00000004", "// Memo",
        "Exercise SABLE TIDE, invented", "// Data Fields", "Num Data Fields   :  3",
        "Field1            :  Time (sec)", "Field2            :  Depth (m)",
        "Field3            :  Temperature (°C)", "// Data",
    ]  # fmt: skip
    rows = [f"{t:.3f}\t{d:.4f}\t{c:.2f}" for t, d, c in zip(time_s, depth, warm, strict=True)]
    path.write_bytes(("\r\n".join([*head, *rows]) + "\r\n").encode("latin-1"))


def depth_of(latitude_deg: Floats, longitude_deg: Floats) -> Floats:
    """Return the invented seabed: deeper to the south-west, with banks of sand across it."""
    north = (latitude_deg - s.TRUTH.latitude_deg) * 60.0
    east = (longitude_deg - s.TRUTH.longitude_deg) * 60.0 * np.cos(np.radians(49.83))
    out = -(0.64 * north + 0.77 * east)  # nautical miles towards 230°
    across = 0.77 * north - 0.64 * east
    banks = 3.5 * np.sin(2.0 * np.pi * across / 7.0) * np.exp(-((out - 12.0) ** 2) / 400.0)
    return np.asarray(s.DEPTH_M + 0.34 * out + 0.0012 * out * np.abs(out) + banks)


def _write_depths(path: Path) -> None:
    lat = np.arange(SOUTH, NORTH + 1e-9, STEP_DEG)
    lon = np.arange(WEST, EAST + 1e-9, STEP_DEG)
    with Dataset(path, "w", format="NETCDF3_CLASSIC") as file:
        file.title = "Depths, SABLE TIDE (invented)"
        file.comment = "not for navigation"
        file.createDimension("lat", len(lat))
        file.createDimension("lon", len(lon))
        for name, values, unit in (("lat", lat, "degrees_north"), ("lon", lon, "degrees_east")):
            axis = file.createVariable(name, "f8", (name,))
            axis.units, axis.standard_name = unit, {"lat": "latitude", "lon": "longitude"}[name]
            axis[:] = values
        held = file.createVariable("elevation", "i2", ("lat", "lon"))
        held.units, held.standard_name = "m", "height_above_mean_sea_level"
        held.scale_factor = 0.1
        held[:] = np.round(-depth_of(lat[:, None], lon[None, :]), 1)


def _truth() -> dict[str, Position]:
    """Return where each transponder came to rest."""
    found = {}
    for number, name in enumerate(s.TRANSPONDERS):
        east, north = (7.0 / 8.0 * v * s.DEPTH_M / SINK_M_S
                       for v in current_m_s("surface", _dropped(number)))  # fmt: skip
        carried = going(_released(name), float(np.degrees(np.arctan2(east, north))),
                        float(np.hypot(east, north)))  # fmt: skip
        found[name] = going(carried, 70.0 * number, 3.0)
        if name == s.ASTRAY:
            found[name] = going(carried, s.ASTRAY_BEARING_DEG, s.ASTRAY_M)
    return found


def _released(name: str) -> Position:
    return going(s.TRUTH, RELEASED[name], RELEASE_M)


def _dropped(number: int) -> datetime:
    return z(15, "2241") + timedelta(minutes=3 * number)


def box_in_track() -> tuple[Position, ...]:
    """Return the ship's way during the box-in: from her place, once round, and back."""
    home = going(s.TRUTH, 20.0, 0.4 * M_PER_NMI)
    turn = [going(s.TRUTH, 20.0 + 15.0 * k, s.BOX_IN_RADIUS_NMI * M_PER_NMI) for k in range(25)]
    return (home, *turn, home)


def _on_track(moment: datetime) -> Position:
    via = box_in_track()
    legs = [between(a, b) for a, b in pairwise(via)]
    share = (moment - s.BOX_IN_FROM) / (s.BOX_IN_TO - s.BOX_IN_FROM)
    wanted = share * sum(leg[0] for leg in legs)
    for start, leg in zip(via, legs, strict=False):
        if wanted <= leg[0]:
            return going(start, leg[1], wanted)
        wanted -= leg[0]
    return via[-1]


def _column() -> tuple[Floats, Floats]:
    depth = np.arange(0.5, 143.0, 1.0)
    profile = Profile(
        depth_m=[float(d) for d in depth],
        temperature_c=[float(t) for t in temperature_c(depth)],
        salinity=[float(v) for v in salinity(depth)],
        salinity_kind="practical",
        latitude_deg=s.TRUTH.latitude_deg,
        longitude_deg=s.TRUTH.longitude_deg,
    )
    made = water(profile, taken_at=z(15, "2248"), source="", record_id="", bottom_m=s.DEPTH_M + 4)
    return made.depth_m, made.speed_m_s * SPEED_TRUTH


def _write_replies(path: Path, rng: np.random.Generator) -> None:
    z_m, c = _column()
    truth = _truth()
    lines = ["# Exercise SABLE TIDE, invented",
             "time,ship,transponder,latitude,longitude,transducer_depth_m,two_way_ms"]  # fmt: skip
    count = int((s.BOX_IN_TO - s.BOX_IN_FROM).total_seconds() / EVERY_S)
    for name, place in truth.items():
        lie = float(depth_of(np.array(place.latitude_deg), np.array(place.longitude_deg)))
        rays = direct_rays(z_m, c, TRANSDUCER_M, lie, 1500)
        for k in range(count):
            moment = s.BOX_IN_FROM + timedelta(
                seconds=EVERY_S * k + 3.0 * s.TRANSPONDERS.index(name)
            )
            ship = _on_track(moment)
            level = between(ship, place)[0]
            one_way = np.sqrt(np.interp(level**2, rays.range_m**2, rays.time_s**2))
            two_way = 2.0 * one_way + TURN_ROUND_S + rng.normal(0.0, 0.0008)
            if rng.random() < 0.02:
                two_way += rng.uniform(0.03, 0.3)  # heard by way of the surface
            shown = going(ship, rng.uniform(0.0, 360.0), abs(rng.normal(0.0, 1.0)))
            lines.append(
                f"{_stamp(moment)},{s.SUPPORT_SHIP},{name},{shown.latitude_deg:.7f},"
                f"{shown.longitude_deg:.7f},{TRANSDUCER_M:.1f},{two_way * 1000:.2f}"
            )
    body = sorted(lines[2:])
    # One reply that cannot be, and one line torn on the way
    body.insert(300, body[300].rsplit(",", 1)[0] + ",90.00")
    body.insert(700, body[700][:38])
    path.write_text("\n".join([*lines[:2], *body]) + "\n", encoding="utf-8")


def _stamp(at: datetime) -> str:
    return at.strftime("%Y-%m-%dT%H:%M:%SZ")


def _record(
    form: str, kind: str, at: datetime, payload: dict[str, Any], *, source: str, late_min: int = 4
) -> dict[str, Any]:
    return row(
        f"transponders-{form}", f"transponders.{kind}", at, payload, source=source,
        heard=at + timedelta(minutes=late_min), author="watch officer 1",
    )  # fmt: skip


def _typed() -> list[dict[str, Any]]:
    """Return drops, states, sources of sound and the listener."""
    rows = []
    for number, name in enumerate(s.TRANSPONDERS):
        place = _released(name)
        rows.append(
            _record(f"drop-{name}", "drop", _dropped(number), {
                "transponder": name, "ship": s.SUPPORT_SHIP,
                "latitude_deg": round(place.latitude_deg, 6),
                "longitude_deg": round(place.longitude_deg, 6), "release_sigma_m": 4.0,
                "water_depth_m": s.DEPTH_M, "water_depth_sigma_m": 3.0,
                "sink_rate_m_s": SINK_M_S, "turn_round_s": TURN_ROUND_S, "battery_h": BATTERY_H,
            }, source=s.SUPPORT_SHIP)
        )  # fmt: skip
    for at, left in ((z(16, "0340"), 98.0), (z(16, "0600"), 97.0), (z(17, "0610"), 93.0)):
        rows += [
            _record(f"state-{name}-{at:%d%H}", "state", at,
                    {"transponder": name, "state": "answers", "battery_percent": left},
                    source=s.SUPPORT_SHIP)
            for name in s.TRANSPONDERS
        ]  # fmt: skip
    rows.append(
        _record("state-TP2-171500", "state", z(17, "1500"),
                {"transponder": "TP2", "state": "weak", "battery_percent": 88.0,
                 "note": "one reply in three; mud stirred up by the third lift"},
                source=s.SUPPORT_SHIP)
    )  # fmt: skip
    return [*rows, *_sounds()]


def _sounds() -> list[dict[str, Any]]:
    """Return what she can be heard by, and who listens."""
    sources = (
        ("pinger", "GREYWETHER's pinger", 162.0, 10.0, 100.0),
        ("telephone", "underwater telephone", 170.0, 8.1, 3000.0),
        ("tapping", "hull tapping", 166.0, 1.5, 300.0),
    )
    rows = [
        _record(f"source-{form}", "sound_source", z(13, "1405"), {
            "name": name, "source_level_db": level, "frequency_khz": khz, "band_hz": band,
            "depth_m": s.DEPTH_M - 5.0, "provenance": INVENTED,
        }, source="exercise order")
        for form, name, level, khz, band in sources
    ]  # fmt: skip
    rows.append(
        _record("listener", "listener", z(13, "1405"), {
            "name": "search ship's sonar", "depth_m": 10.0, "array_gain_db": 15.0,
            "detection_threshold_db": 6.0, "provenance": INVENTED,
        }, source="exercise order")
    )  # fmt: skip
    return rows


def _fixes(rng: np.random.Generator) -> list[dict[str, Any]]:
    """Return fixes of the DISSUB by a transponder set on her, and of the vehicle on its way."""
    seat = s.DEPTH_M - 8.0
    rows = [
        _fix("dissub-0052", s.DISSUB, z(16, "0052"), s.TRUTH, seat, rng, dissub=True),
    ]
    limpet = (("0228", 20.0, 120.0, 96.0), ("0236", 5.0, 22.0, seat - 4.0),
              ("0325", 5.0, 21.0, seat), ("0415", 350.0, 90.0, 74.0))  # fmt: skip
    for hhmm, bearing, out_m, depth in limpet:
        place = going(s.TRUTH, bearing, out_m)
        rows.append(_fix(f"limpet-{hhmm}", s.VEHICLE, z(16, hhmm), place, depth, rng))
    for hhmm, bearing, out_m in (("0120", 200.0, 24.0), ("0628", 8.0, 26.0)):
        place = going(s.TRUTH, bearing, out_m)
        rows.append(
            _fix(f"inspection-{hhmm}", "inspection vehicle", z(16, hhmm), place, seat - 2.0, rng)
        )
    return rows


def _fix(
    form: str, subject: str, at: datetime, place: Position, depth_m: float,
    rng: np.random.Generator, *, dissub: bool = False,
) -> dict[str, Any]:  # fmt: skip
    ranges = []
    for name, lies in _truth().items():
        level = float(inverse(place.latitude_deg, place.longitude_deg, lies.latitude_deg,
                              lies.longitude_deg).distance_m)  # fmt: skip
        deep = float(depth_of(np.array(lies.latitude_deg), np.array(lies.longitude_deg)))
        slant = float(np.hypot(level, deep - depth_m)) + rng.normal(0.0, 2.0)
        ranges.append({"transponder": name, "slant_m": round(slant, 1)})
    payload = {
        "subject": subject, "is_dissub": dissub, "ranges": ranges, "range_sigma_m": 3.0,
        "depth_m": round(depth_m + float(rng.normal(0.0, 0.5)), 1), "depth_sigma_m": 1.0,
    }  # fmt: skip
    return _record(f"fix-{form}", "typed_fix", at, payload, source=subject if not dissub
                   else "inspection vehicle", late_min=2)  # fmt: skip
