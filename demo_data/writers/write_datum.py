"""What was reported about where she is: evidence of 12 to 14 March, good and bad.

The observers' places come from the ships' own tracks; every bearing and range is the true one
plus an error drawn with a fixed seed, except the one that is wrong by 8 degrees on purpose.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np

from demo_data import scenario as s
from demo_data.scenario import z
from demo_data.writers.datum_afloat import afloat
from demo_data.writers.datum_rows import off, place, record
from demo_data.writers.rows import stamp, write_rows
from demo_data.writers.write_tracks import at, ships
from layers.earth.geodesy import between, going
from layers.earth.position import Position
from layers.earth.variation import variation

WRONG_BY_DEG = 8.0
SOUND_M_S = 1_494.0  # near the mean of the exercise's profile


def alert() -> list[dict[str, Any]]:
    """Return the last report, the intended movement and what the chart shows."""
    lkp = off(s.LKP_BEARING_DEG, s.LKP_RANGE_NMI)
    return [
        record(
            "lkp",
            "lkp",
            s.LAST_REPORT,
            "submarine broadcast",
            {
                **place(lkp),
                "sigma_m": 900.0,
                "reported_by": s.DISSUB,
                "note": "position good to 1 nmi",
            },
            author="watch officer 1",
        ),
        record(
            "pim",
            "intended_movement",
            s.LAST_REPORT,
            "movement order",
            {
                "course_true_deg": s.PIM_COURSE_DEG,
                "length_nmi": s.PIM_LENGTH_NMI,
                "speed_min_kn": s.PIM_SPEED_KN - 0.8,
                "speed_max_kn": s.PIM_SPEED_KN + 0.8,
                "report_due": stamp(s.REPORT_MISSED),
                "navigation_sigma_nmi_per_h": 0.25,
            },
            author="watch officer 1",
        ),
        record(
            "wreck",
            "wreck",
            z(13, "1315"),
            "chart and wreck list",
            {
                **place(s.WRECK),
                "name": "charted wreck 3 nmi south-east",
                "length_m": 71.0,
                "depth_m": 139.0,
                "source": "wreck list of the exercise",
            },
        ),
        record(
            "limit",
            "localisation_limit",
            z(13, "1310"),
            "search and rescue authority",
            {"across_nmi": 6.0, "reason": "the inspection vehicle searches at 1 to 2 kn"},
        ),
    ]


# observer, time, what was heard, sense, standard deviation in degrees
BEARINGS = (
    ("SALTMARSH", z(13, "1412"), "hull tapping", "magnetic", 15.0),
    ("GREY HERON", z(13, "1446"), "pinger receiver", "true", 11.0),
    ("SALTMARSH", z(13, "1604"), "pinger receiver", "relative", 11.0),
    ("GREY HERON", z(13, "1721"), "pinger receiver", "true", 2.0),  # wrong by 8 degrees
    ("SALTMARSH", z(13, "1833"), "pinger receiver", "true", 11.0),
    ("GREY HERON", z(13, "1950"), "hull tapping", "true", 15.0),
)
RANGES = (
    ("SALTMARSH", z(13, "1917"), 4.5),
    ("GREY HERON", z(13, "2044"), 4.5),
)


def heard(rng: np.random.Generator) -> list[dict[str, Any]]:
    """Return bearings and ranges of her tapping, her pinger and her transponder."""
    found = []
    for number, (name, moment, by, sense, sigma) in enumerate(BEARINGS, start=1):
        observer = at(ships()[name], moment)
        _, bearing, _ = between(observer, s.TRUTH)
        wrong = by == "pinger receiver" and sigma < 5.0
        error = WRONG_BY_DEG if wrong else float(np.clip(rng.normal(), -0.8, 0.8)) * sigma
        payload = {
            **place(observer),
            "observer": name,
            "position_sigma_m": 50.0,
            "by": by,
            "sigma_deg": sigma,
            "chance_wrong": 0.1,
            **sensed(bearing + error, sense, observer, moment),
        }
        found.append(record(f"bearing-{number}", "bearing", moment, name, payload))
    for number, (name, moment, sigma_s) in enumerate(RANGES, start=1):
        observer = at(ships()[name], moment)
        metres = np.hypot(between(observer, s.TRUTH)[0], s.DEPTH_M - 6.0)
        turn_round_s = 1.2
        taken = (
            2.0 * metres / SOUND_M_S
            + turn_round_s
            + float(np.clip(rng.normal(), -0.6, 0.6)) * sigma_s
        )
        payload = {
            **place(observer),
            "observer": name,
            "position_sigma_m": 50.0,
            "by": "interrogation of her emergency transponder",
            "travel_time_s": round(float(taken), 3),
            "sigma_s": sigma_s,
            "way": "two-way",
            "turn_round_s": turn_round_s,
            "observer_depth_m": 6.0,
            "object_depth_m": s.DEPTH_M,
            "chance_wrong": 0.1,
            "note": "turn-round delay of this set not known to better than four seconds",
        }
        found.append(record(f"range-{number}", "range", moment, name, payload))
    return found


def sensed(
    true_deg: float, sense: str, observer: Position, moment: datetime
) -> dict[str, float | str]:
    """Return a bearing as it was read in its sense."""
    if sense == "magnetic":
        read = true_deg - variation(observer, moment).variation_deg
        return {"bearing_deg": round(read % 360.0, 1), "sense": "magnetic"}
    if sense == "relative":
        heading = 318.0
        read = true_deg - heading
        return {
            "bearing_deg": round(read % 360.0, 1),
            "sense": "relative",
            "heading_deg": heading,
            "heading_sense": "true",
        }
    return {"bearing_deg": round(true_deg % 360.0, 1), "sense": "true"}


def steered(name: str, start: datetime, end: datetime) -> list[Position]:
    """Return what a ship steered, every ten minutes, from her own track."""
    steps = int((end - start) / timedelta(minutes=10))
    return [at(ships()[name], start + step * timedelta(minutes=10)) for step in range(steps + 1)]


def unseen() -> list[dict[str, Any]]:
    """Return the three search legs that saw nothing: two flown, one steered and cut short."""
    ahead = [off(69.0, 2.1), off(66.0, 9.0)]  # up and down the intended track, and not over her
    astern = [off(241.0, 2.1), off(244.0, 9.0)]
    cut = steered("SALTMARSH", z(13, "1640"), z(13, "1810"))
    legs = (
        ("patrol aircraft", ahead, z(13, "1352"), z(13, "1357"), 1_800.0, "magnetic detector"),
        ("patrol aircraft", astern, z(13, "1402"), z(13, "1408"), 1_800.0, "magnetic detector"),
        ("SALTMARSH", cut, z(13, "1640"), z(13, "1810"), 1_800.0, "hull sonar"),
    )
    found = []
    for number, (name, places, start, end, sweep_m, sensor) in enumerate(legs, start=1):
        short = name == "SALTMARSH"
        payload = {
            "searcher": name,
            "waypoints": [place(position) for position in places],
            "sweep_width_m": sweep_m,
            "pod_curve": "inverse cube",
            "started_at": stamp(start),
            "cut_short": short,
            "sensor": sensor,
            "note": "broken off to listen for tapping" if short else "",
        }
        found.append(record(f"search-{number}", "negative_search", end, name, payload))
    return found


def fixed(rng: np.random.Generator) -> list[dict[str, Any]]:
    """Return the wreck ruled out, and the contact that the inspection vehicle finds to be her."""
    wreck = record(
        "wreck-ruled-out",
        "wreck",
        z(13, "2330"),
        "SALTMARSH",
        {
            **place(s.WRECK),
            "name": "charted wreck 3 nmi south-east",
            "length_m": 71.0,
            "depth_m": 139.0,
            "source": "wreck list of the exercise",
            "ruled_out": True,
            "ruled_out_radius_m": 400.0,
            "note": "side-scan shows a merchant hull, overgrown",
        },
    )
    first = going(s.TRUTH, 130.0, 260.0)
    seen = going(s.TRUTH, float(rng.uniform(0.0, 360.0)), 48.0)
    return [
        record(
            "contact-wreck",
            "contact",
            z(13, "2215"),
            "SALTMARSH",
            {
                **place(going(s.WRECK, 40.0, 120.0)),
                "observer": "SALTMARSH",
                "sigma_m": 150.0,
                "length_m": 70.0,
                "form": "hull",
                "by": "hull sonar",
            },
        ),
        record(
            "contact-dissub",
            "contact",
            z(14, "0120"),
            "GREY HERON",
            {
                **place(first),
                "observer": "GREY HERON",
                "sigma_m": 220.0,
                "length_m": 66.0,
                "form": "hull",
                "chance_dissub": 0.7,
                "depth_m": s.DEPTH_M,
                "by": "hull sonar",
            },
        ),
        wreck,
        record(
            "fix",
            "contact",
            z(14, "0910"),
            "inspection vehicle",
            {
                **place(seen),
                "observer": "inspection vehicle",
                "sigma_m": 60.0,
                "length_m": s.LENGTH_M,
                "form": "hull",
                "identified": "DISSUB",
                "depth_m": s.DEPTH_M,
                "by": "camera, pennant number read",
                "note": "vehicle position by its ship's ranges, good to 150 m",
            },
        ),
    ]


def searchers() -> list[dict[str, Any]]:
    """Return who can search next, as offered on the evening of the 13th."""
    offered = (
        ("SALTMARSH", "DISSUB", off(205.0, 4.0), 4.0, 14.0, 320.0, 8.0, "hull sonar"),
        ("GREY HERON", "DISSUB", off(50.0, 2.0), 3.5, 13.0, 260.0, 7.0, "towed sonar"),
        ("patrol aircraft", "two escapees", off(40.0, 90.0), 140.0, 220.0, 700.0, 5.0, "eye"),
    )
    return [
        record(
            f"searcher-{name.lower().replace(' ', '-')}",
            "searcher",
            z(13, "2055"),
            name,
            {
                "name": name,
                "object": sought,
                **place(where),
                "search_speed_kn": speed,
                "transit_speed_kn": transit,
                "sweep_width_m": sweep_m,
                "endurance_h": hours,
                "ready_at": stamp(z(13, "2130")),
                "sensor": sensor,
            },
            after_min=3.0,
        )
        for name, sought, where, speed, transit, sweep_m, hours, sensor in offered
    ]


def records() -> list[dict[str, Any]]:
    """Return all of it in order of time."""
    rng = np.random.default_rng(s.SEED)
    found = [*alert(), *afloat(), *heard(rng), *unseen(), *fixed(rng), *searchers()]
    return sorted(found, key=lambda item: (item["heard_at"], item["id"]))


def write(folder: Path) -> None:
    """Write the records."""
    write_rows(folder / "datum", records())
