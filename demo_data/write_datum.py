"""What was reported about where she is: evidence of 12 to 14 March, good and bad.

The observers' places come from the ships' own tracks; every bearing and range is the true one
plus an error drawn with a fixed seed, except the one that is wrong by 8 degrees on purpose.
"""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np

from demo_data import scenario as s
from demo_data.scenario import z
from demo_data.write_tracks import at, ships
from layers.earth.geodesy import between, going
from layers.earth.position import Position
from layers.earth.units import M_PER_NMI
from layers.earth.variation import variation

WRONG_BY_DEG = 8.0
SOUND_M_S = 1_494.0  # near the mean of the exercise's profile


def text(moment: datetime) -> str:
    """Return a time as the records carry it."""
    return moment.strftime("%Y-%m-%dT%H:%M:%SZ")


def record(
    name: str,
    kind: str,
    valid: datetime,
    source: str,
    payload: dict[str, Any],
    after_min: float = 6.0,
    author: str = "watch officer 2",
) -> dict[str, Any]:
    """Return one record as the files of the exercise hold it."""
    return {
        "id": f"datum-{name}",
        "kind": f"datum.{kind}",
        "valid_at": text(valid),
        "heard_at": text(valid + timedelta(minutes=after_min)),
        "source": source,
        "author": author,
        "payload": payload,
    }


def place(position: Position) -> dict[str, float]:
    """Return a position as two fields, to about 2 m."""
    return {
        "latitude_deg": round(position.latitude_deg, 5),
        "longitude_deg": round(position.longitude_deg, 5),
    }


def off(bearing_true_deg: float, range_nmi: float) -> Position:
    """Return a place at a range and bearing from where she lies."""
    return going(s.TRUTH, bearing_true_deg, range_nmi * M_PER_NMI)


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
                "report_due": text(s.REPORT_MISSED),
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


def afloat() -> list[dict[str, Any]]:
    """Return what was seen on the surface, and the two people still sought."""
    slick, buoy, people = s.SLICK_SEEN, s.BUOY_SEEN, s.ESCAPEES_PLACE
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
                "sigma_m": 1_500.0,
                "observer": "patrol aircraft",
                "leak": "up-drift end",
                "still_rising_chance": 0.5,
                "chance_wrong": 0.2,
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
                "sigma_m": 500.0,
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
                "object_type": "person in water, survival suit",
                "sigma_m": 400.0,
                "observer": "SALTMARSH",
                "object": "two escapees",
                "persons": 5,
                "released_from": text(s.LEFT_HER - timedelta(minutes=30)),
                "released_to": text(s.LEFT_HER + timedelta(minutes=30)),
                "chance_wrong": 0.02,
                "note": "those picked up say they left her about 0930Z by the after hatch",
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
                "left_dissub_from": text(s.LEFT_HER - timedelta(minutes=30)),
                "left_dissub_to": text(s.LEFT_HER + timedelta(minutes=30)),
                "note": "five were seen, three are picked up, two drifted out of sight",
            },
        ),
    ]


# observer, time, what was heard, sense, standard deviation in degrees
BEARINGS = (
    ("SALTMARSH", z(13, "1412"), "hull tapping", "magnetic", 8.0),
    ("GREY HERON", z(13, "1446"), "pinger receiver", "true", 6.0),
    ("SALTMARSH", z(13, "1604"), "pinger receiver", "relative", 6.0),
    ("GREY HERON", z(13, "1721"), "pinger receiver", "true", 2.5),  # wrong by 8 degrees
    ("SALTMARSH", z(13, "1833"), "pinger receiver", "true", 6.0),
    ("GREY HERON", z(13, "1950"), "hull tapping", "true", 8.0),
)
RANGES = (
    ("SALTMARSH", z(13, "1917"), 2.4),
    ("GREY HERON", z(13, "2044"), 2.4),
)


def heard(rng: np.random.Generator) -> list[dict[str, Any]]:
    """Return bearings and ranges of her tapping, her pinger and her transponder."""
    found = []
    for number, (name, moment, by, sense, sigma) in enumerate(BEARINGS, start=1):
        observer = at(ships()[name], moment)
        _, bearing, _ = between(observer, s.TRUTH)
        wrong = by == "pinger receiver" and sigma < 5.0
        error = WRONG_BY_DEG if wrong else float(np.clip(rng.normal(), -1.2, 1.2)) * sigma
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
        taken = 2.0 * metres / SOUND_M_S + turn_round_s + rng.normal() * sigma_s * 0.4
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
            "note": "turn-round delay of this set known only to about a second and a half",
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


# searcher, from, to, sweep width in metres, cut short
LEGS = (
    ("SALTMARSH", z(13, "1130"), z(13, "1340"), 2_800.0, False),
    ("GREY HERON", z(13, "1215"), z(13, "1345"), 2_200.0, False),
    ("SALTMARSH", z(13, "1640"), z(13, "1810"), 1_800.0, True),
)


def unseen() -> list[dict[str, Any]]:
    """Return the three search legs that saw nothing, as they were steered."""
    found = []
    for number, (name, start, end, sweep_m, cut) in enumerate(LEGS, start=1):
        steps = int((end - start) / timedelta(minutes=10))
        steered = [at(ships()[name], start + step * timedelta(minutes=10)) for step in
                   range(steps + 1)]  # fmt: skip
        payload = {
            "searcher": name,
            "waypoints": [place(position) for position in steered],
            "sweep_width_m": sweep_m,
            "pod_curve": "inverse cube",
            "started_at": text(start),
            "cut_short": cut,
            "sensor": "hull sonar",
            "note": "broken off to listen for tapping" if cut else "",
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


def records() -> list[dict[str, Any]]:
    """Return all of it in order of time."""
    rng = np.random.default_rng(s.SEED)
    found = [*alert(), *afloat(), *heard(rng), *unseen(), *fixed(rng)]
    return sorted(found, key=lambda item: (item["heard_at"], item["id"]))


def write(folder: Path) -> None:
    """Write the records."""
    target = folder / "datum"
    target.mkdir(parents=True, exist_ok=True)
    body = "".join(json.dumps(item, ensure_ascii=False) + "\n" for item in records())
    (target / "records.jsonl").write_text(body, encoding="utf-8")
