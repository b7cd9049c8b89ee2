"""Ports, airfields, cranes and roads of the exercise: each port fails something."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from demo_data import scenario as s
from demo_data.scenario import z
from demo_data.writers.response_rows import (
    RECORDS,
    row,
)
from demo_data.writers.rows import stamp


def places() -> RECORDS:
    """Return ports, airfields, berths and tides."""
    found = []
    for name, position in s.PORTS.items():
        payload = {
            "name": name,
            "latitude_deg": position.latitude_deg,
            "longitude_deg": position.longitude_deg,
            "basis": "surveyed" if name == "Aldermouth" else "reported",
        }
        found.append(row(f"port-{name}", "port", payload, z(13, "0915"), "port directory"))
    runways = {
        "Aldermouth field": (2133.0, 45.0),
        "Tressick field": (2744.0, 45.0),
        "Skerry strip": (1524.0, 45.0),
    }
    for name, position in s.AIRFIELDS.items():
        length, width = runways[name]
        payload = {
            "name": name,
            "latitude_deg": position.latitude_deg,
            "longitude_deg": position.longitude_deg,
            "runway_length_m": length,
            "runway_width_m": width,
            "surface": "asphalt",
            "bearing_t": 180.0,
            "elevation_m": 60.0,
            "hottest_c": 14.0,
        }
        found.append(row(f"airfield-{name}", "airfield", payload, z(13, "0920"), "runway table"))
    berths = {
        "Port Tressick": ("Western arm", 160.0, 8.5, 6.0),
        "Skerry Haven": ("Pier 2", 210.0, 11.0, 5.0),
        "Aldermouth": ("Ring quay", 140.0, 5.9, 5.0),
    }
    for name, (berth, length, depth, strength) in berths.items():
        payload = {
            "port": name,
            "name": berth,
            "length_m": length,
            "depth_m": depth,
            "strength_t_m2": strength,
        }
        found.append(row(f"berth-{name}", "berth", payload, z(13, "0940"), f"{name} harbour"))
    return [*found, row("tide-aldermouth", "tide", tide(), z(13, "0945"), "tide table")]


def tide() -> dict[str, Any]:
    """Return Aldermouth's high and low waters: near neaps on 16 March."""
    first_high, between = z(13, "0640"), timedelta(hours=6, minutes=15)
    turns = []
    for number in range(32):
        day = number * between.total_seconds() / 86_400.0
        swing = 0.85 + 0.10 * abs(day - 3.0)  # metres either side of the mean
        high = number % 2 == 0
        turns.append(
            {
                "at": stamp(first_high + number * between),
                "height_m": round(2.1 + (swing if high else -swing), 2),
            }
        )
    return {"port": "Aldermouth", "turns": turns}


def cranes() -> RECORDS:
    """Return the cranes, as they became known."""
    tressick = {"port": "Port Tressick", "name": "quay crane", "largest_t": 60.0, "reach": []}
    hooked = {"rigging_t": 1.2, "dynamic_factor": 1.05}  # sheltered water, told by the riggers
    told = tressick | {
        **hooked,
        "reach": [
            {"outreach_m": 12.0, "capacity_t": 60.0},
            {"outreach_m": 16.0, "capacity_t": 28.0},
            {"outreach_m": 20.0, "capacity_t": 19.0},
        ],
    }
    skerry = {
        "port": "Skerry Haven",
        "name": "mobile crane",
        "largest_t": 120.0,
        "rigging_t": 1.2,
        "dynamic_factor": 1.05,
        "reach": [
            {"outreach_m": 14.0, "capacity_t": 52.0},
            {"outreach_m": 20.0, "capacity_t": 34.0},
        ],
    }
    aldermouth = {"port": "Aldermouth", "name": "ring crane", "largest_t": 80.0, "reach": []}
    answer = aldermouth | {
        **hooked,
        "reach": [
            {"outreach_m": 14.0, "capacity_t": 45.0},
            {"outreach_m": 18.0, "capacity_t": 33.0},
            {"outreach_m": 22.0, "capacity_t": 26.0},
        ],
    }
    return [
        row("crane-tressick", "crane", tressick, z(13, "0950"), "Port Tressick harbour"),
        row("crane-skerry", "crane", skerry, z(13, "0955"), "Skerry Haven harbour"),
        row("crane-aldermouth", "crane", aldermouth, z(13, "1000"), "Aldermouth harbour"),
        row("crane-tressick-2", "crane", told, z(13, "1640"), "Port Tressick harbour"),
        row("crane-aldermouth-2", "crane", answer, z(13, "1815"), "Aldermouth harbour"),
    ]


def roads() -> RECORDS:
    """Return the road legs; Port Tressick's direct road goes under a bridge 4.1 m high."""
    base = {"width_m": 5.5, "bridge_t": 80.0, "corner_radius_m": 14.0, "corner_width_m": 9.0}
    legs = [
        ("Ring road", "Aldermouth field", "Aldermouth", 31.0, 25.0, 5.1, {}),
        ("Coast road", "Tressick field", "Port Tressick", 44.0, 25.0, 4.1, {}),
        ("Haven road", "Skerry strip", "Skerry Haven", 26.0, 25.0, 4.9, {"bridge_t": 60.0}),
    ]
    found = []
    for name, field, port, length, speed, overhead, more in legs:
        start, goal = s.AIRFIELDS[field], s.PORTS[port]
        payload = {
            "name": name,
            "airfield": field,
            "port": port,
            "length_km": length,
            "speed_km_h": speed,
            "overhead_m": overhead,
            "points": [
                [start.latitude_deg, start.longitude_deg],
                [goal.latitude_deg, goal.longitude_deg],
            ],
            **base,
            **more,
        }
        found.append(row(f"road-{name}", "road", payload, z(13, "1005"), "roads office"))
    return found
