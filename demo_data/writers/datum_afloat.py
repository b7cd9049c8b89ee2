"""What was seen adrift: where it was, by the exercise's wind and its own leeway."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import numpy as np

from demo_data import scenario as s, weather_truth as truth
from demo_data.scenario import z
from demo_data.writers.datum_rows import place, record
from demo_data.writers.rows import stamp
from layers.earth.geodesy import going
from layers.earth.position import Position
from layers.earth.units import M_PER_NMI, M_S_PER_KN


def drifted(start: datetime, end: datetime, slope: float, offset_kn: float) -> Position:
    """Return where something that left her at one time has drifted to at another, in truth."""
    here, step = s.TRUTH, timedelta(minutes=5)
    moment = start
    while moment < end:
        lon = np.array(here.longitude_deg)
        hour = np.array(truth.hours(moment))
        wind_kn = float(truth.wind_kn(hour, lon))
        towards = np.radians(float(truth.wind_from_deg(hour, lon)) + 180.0)
        leeway = (slope * wind_kn + offset_kn) * M_S_PER_KN
        east, north = truth.current_m_s("surface", moment)
        east, north = east + leeway * np.sin(towards), north + leeway * np.cos(towards)
        metres = float(np.hypot(east, north)) * step.total_seconds()
        here = going(here, float(np.degrees(np.arctan2(east, north))), metres)
        moment += step
    return here


def afloat() -> list[dict[str, Any]]:
    """Return what was seen on the surface, and the two people still sought."""
    slick = going(s.TRUTH, 120.0, 1.1 * M_PER_NMI)  # its up-drift end, where oil still rises
    buoy = going(drifted(s.BUOY_LEFT, s.BUOY_PARTED, 0.02, 0.0), 310.0, 700.0)
    people = going(drifted(s.LEFT_HER, s.ESCAPEES_SEEN, 0.042, 0.03), 20.0, 300.0)
    left_from, left_to = z(13, "0300"), z(13, "0600")
    return [
        record(
            "slick",
            "sighting",
            s.SLICK,
            "patrol aircraft",
            {
                **place(slick),
                "what": "oil slick, up-drift end",
                "object_type": "oil slick",
                "sigma_m": 4_000.0,
                "observer": "patrol aircraft",
                "leak": "up-drift end",
                "still_rising_chance": 0.5,
                "chance_wrong": 0.3,
                "note": "broken patches, the end hard to tell",
            },
            after_min=12.0,
        ),
        record(
            "buoy",
            "sighting",
            s.BUOY_PARTED,
            "patrol aircraft",
            {
                **place(buoy),
                "what": "indicator buoy, line parted",
                "object_type": "indicator buoy",
                "sigma_m": 1_000.0,
                "observer": "patrol aircraft",
                "leeway_percent": 2.0,
                "leeway_sigma_percent": 1.0,
                "leeway_source": "exercise figure for this buoy",
                "chance_wrong": 0.02,
            },
            after_min=10.0,
        ),
        record(
            "escapees",
            "sighting",
            s.ESCAPEES_SEEN,
            "SALTMARSH",
            {
                **place(people),
                "what": "five escapees with a raft",
                "object_type": "raft, no ballast",
                "sigma_m": 600.0,
                "observer": "SALTMARSH, her helicopter",
                "persons": 5,
                "released_from": stamp(left_from),
                "released_to": stamp(left_to),
                "chance_wrong": 0.02,
                "note": "those picked up say they left her before light, by the after hatch",
            },
        ),
        record(
            "two-escapees-last-seen",
            "sighting",
            z(13, "1540"),
            "SALTMARSH",
            {
                **place(going(people, 60.0, 500.0)),
                "what": "two of the five, drifting apart from the raft",
                "object_type": "person in water, survival suit",
                "sigma_m": 400.0,
                "observer": "SALTMARSH, her helicopter",
                "object": "two escapees",
                "leak": "not of her",
                "persons": 2,
            },
        ),
        record(
            "two-escapees",
            "object",
            z(13, "1625"),
            "SALTMARSH",
            {
                "name": "two escapees",
                "object_type": "person in water, survival suit",
                "persons": 2,
                "left_dissub_from": stamp(left_from),
                "left_dissub_to": stamp(left_to),
                "note": "five were seen, three are picked up, two were lost from sight",
            },
        ),
    ]
