"""Ship tracks of the exercise as AIS with tag-block times, and who the ships are.

A fix every 20 minutes (10 while searching) for the four ships, and ships passing by. Two
things are wrong on purpose: GREY HERON says nothing for three hours, and CAPE ARDIS sends one
position 35 nmi away from where she is.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import reduce
from itertools import pairwise
from operator import xor
from pathlib import Path
from typing import Any

import numpy as np
from pyais.encode import encode_dict

from demo_data import scenario as s
from demo_data.scenario import z
from demo_data.writers.rows import row, write_rows
from demo_data.writers.write_transponders import box_in_track
from layers.earth.clock import to_us
from layers.earth.geodesy import between, going
from layers.earth.position import Position
from layers.earth.units import M_PER_NMI, M_S_PER_KN

EVERY = timedelta(minutes=20)
SEARCHING_EVERY = timedelta(minutes=10)
SEARCHING = (z(13, "1340"), z(13, "2120"))
SILENT = (z(14, "0305"), z(14, "0615"))  # GREY HERON
FALSE_FIX = z(15, "1840")  # CAPE ARDIS
SCATTER_M = 12.0
TO_TRESSICK = (Position(49.75, -6.4), Position(49.85, -5.2), Position(50.08, -5.02))


@dataclass(frozen=True, slots=True)
class TrackRun:
    """A piece of a track at one speed: left, by way of these places, arrived."""

    left: datetime
    via: Sequence[Position]
    arrived: datetime


def off(bearing_true_deg: float, range_nmi: float) -> Position:
    """Return a place at a range and bearing from where the DISSUB lies."""
    return going(s.TRUTH, bearing_true_deg, range_nmi * M_PER_NMI)


def ships() -> dict[str, tuple[TrackRun, ...]]:
    """Return the four ships' tracks; between two runs a ship stays where she is."""
    home = s.PORTS["Aldermouth"]
    return {
        "NORTHERN LANTERN": (
            TrackRun(z(13, "0000"), (Position(61.6, -15.4), s.LANTERN_CALLED_AT), s.LANTERN_CALLED),
            TrackRun(
                s.LANTERN_CALLED, (s.LANTERN_CALLED_AT, *s.LANTERN_TO_PORT), s.LANTERN_ALONGSIDE
            ),
            TrackRun(s.LANTERN_SAILED, (*s.PORT_TO_SCENE, off(45, 0.2)), s.LANTERN_ON_SCENE),
            TrackRun(s.BOX_IN_FROM, box_in_track(), s.BOX_IN_TO),
            TrackRun(
                z(15, "2241"),
                (off(45, 0.2), off(135, 0.2), off(225, 0.2), off(315, 0.2)),
                z(15, "2250"),
            ),
            TrackRun(z(16, "0030"), (off(315, 0.2), off(350, 0.2)), z(16, "0050")),
            TrackRun(z(16, "1030"), (off(350, 0.2), off(270, 2.0)), z(16, "1200")),
            TrackRun(z(17, "0340"), (off(270, 2.0), off(350, 0.2)), z(17, "0430")),
            TrackRun(z(19, "1600"), (off(350, 0.2), *s.PORT_TO_SCENE[::-1]), z(20, "0100")),
            TrackRun(z(20, "1100"), (home, home), z(20, "1200")),
        ),
        "CAPE ARDIS": (
            TrackRun(z(13, "0000"), (Position(47.2, -5.65), Position(48.3, -6.05)), z(13, "1100")),
            TrackRun(z(13, "1100"), (Position(48.3, -6.05), off(150, 1.2)), z(13, "2210")),
            # sent for the third chamber: to Port Tressick and back, round the Lizard
            TrackRun(z(14, "0010"), (off(150, 1.2), *TO_TRESSICK), z(14, "1215")),
            TrackRun(z(16, "0130"), (*reversed(TO_TRESSICK), off(115, 6.0)), z(16, "1210")),
            TrackRun(z(17, "0230"), (off(115, 6.0), off(115, 0.8)), z(17, "0345")),
            TrackRun(z(19, "1500"), (off(115, 0.8), off(85, 130)), z(20, "1200")),
        ),
        "SALTMARSH": (
            TrackRun(z(13, "0000"), (Position(50.05, -6.6), Position(50.0, -6.3)), z(13, "0710")),
            TrackRun(
                z(13, "0710"), (Position(50.0, -6.3), off(95, 30), off(200, 7)), z(13, "1350")
            ),
            TrackRun(z(13, "1350"), (off(200, 7), off(225, 6), off(205, 4)), z(13, "2110")),
            TrackRun(z(13, "2110"), (off(205, 4), off(330, 3)), z(14, "0000")),
            TrackRun(z(18, "0900"), (off(330, 3), Position(50.1, -5.3)), z(18, "2100")),
            TrackRun(z(20, "1100"), (Position(50.1, -5.3), Position(50.1, -5.3)), z(20, "1200")),
        ),
        "GREY HERON": (
            TrackRun(z(13, "0000"), (Position(50.7, -7.6), Position(50.9, -7.3)), z(13, "0720")),
            TrackRun(
                z(13, "0720"), (Position(50.9, -7.3), off(20, 9), off(25, 5.5)), z(13, "1350")
            ),
            TrackRun(z(13, "1350"), (off(25, 5.5), off(40, 4), off(50, 2)), z(13, "2110")),
            TrackRun(z(13, "2110"), (off(50, 2), off(80, 3)), z(14, "0900")),
            TrackRun(z(17, "1900"), (off(80, 3), off(60, 5)), z(17, "2000")),
            TrackRun(z(20, "1100"), (off(60, 5), off(60, 5)), z(20, "1200")),
        ),
    }


PASSING = (
    # MMSI, left, from, to, speed in knots: invented ships on their way past
    (299000201, z(13, "0600"), Position(48.6, -6.2), Position(51.2, -12.5), 13.5),
    (299000202, z(13, "1000"), Position(51.4, -11.8), Position(49.0, -5.9), 11.0),
    (299000203, z(14, "0200"), Position(49.1, -5.6), Position(49.9, -13.0), 15.0),
    (299000204, z(14, "1500"), Position(50.6, -12.4), Position(49.3, -5.4), 17.5),
    (299000205, z(15, "0400"), Position(48.4, -7.9), Position(51.6, -8.0), 9.5),
    (299000206, z(15, "1800"), Position(49.4, -5.5), Position(50.4, -12.6), 12.0),
    (299000207, z(16, "0100"), Position(50.0, -5.9), Position(49.6, -11.5), 10.5),
    (299000208, z(16, "0300"), Position(51.1, -10.9), Position(49.2, -6.0), 14.0),
)


def at(runs: Sequence[TrackRun], moment: datetime) -> Position:
    """Return where a ship is, between her runs where the last one ended."""
    place = runs[0].via[0]
    for run in runs:
        if moment < run.left:
            return place
        if moment <= run.arrived:
            share = (moment - run.left) / (run.arrived - run.left)
            return _along(run.via, share)
        place = run.via[-1]
    return place


def _along(via: Sequence[Position], share: float) -> Position:
    lengths = [between(a, b)[0] for a, b in pairwise(via)]
    wanted = share * sum(lengths)
    for start, goal, length in zip(via, via[1:], lengths, strict=False):
        if wanted <= length and length > 0:
            return going(start, between(start, goal)[1], wanted)
        wanted -= length
    return via[-1]


def sentence(
    mmsi: int, moment: datetime, place: Position, speed_kn: float, course: float | None
) -> str:
    """Return one AIS position report with its tag block."""
    message: dict[str, Any] = {
        "msg_type": 1,
        "mmsi": str(mmsi),
        "lat": place.latitude_deg,
        "lon": place.longitude_deg,
        "speed": round(speed_kn, 1),
        "course": 360.0 if course is None else round(course, 1),
        "heading": 511 if course is None else round(course) % 360,
        "second": moment.second,
    }
    return tagged(encode_dict(message, radio_channel="A", sentence_type="VDM"), moment)


def tagged(sentences: Sequence[str], moment: datetime) -> str:
    """Return the sentences of one message, each behind the receiver's time."""
    body = f"c:{to_us(moment) // 1_000_000}"
    tag = f"\\{body}*{reduce(xor, body.encode()):02X}\\"
    return "\n".join(tag + text for text in sentences)


def fixes(
    name: str, runs: Sequence[TrackRun], rng: np.random.Generator
) -> Iterator[tuple[datetime, str]]:
    """Return one ship's reports: scattered as a satellite fix is, and silent where she was."""
    mmsi = s.MMSI[name]
    moment = z(13, "0000") + timedelta(seconds=int(rng.integers(0, 300)))
    while moment <= s.DEMO_END:
        searching = name in s.SEARCH_SHIPS and SEARCHING[0] <= moment <= SEARCHING[1]
        silent = name == "GREY HERON" and SILENT[0] < moment < SILENT[1]
        if not silent:
            yield moment, _fix(mmsi, runs, moment, rng)
        moment += SEARCHING_EVERY if searching else EVERY


def _fix(mmsi: int, runs: Sequence[TrackRun], moment: datetime, rng: np.random.Generator) -> str:
    place, later = at(runs, moment), at(runs, moment + timedelta(seconds=60))
    run_m, course, _ = between(place, later)
    speed = run_m / 60.0 / M_S_PER_KN
    seen = going(place, float(rng.uniform(0, 360)), float(abs(rng.normal(0, SCATTER_M))))
    return sentence(mmsi, moment, seen, speed, course if speed > 0.3 else None)


def passing(rng: np.random.Generator) -> Iterator[tuple[datetime, str]]:
    """Return the reports of ships that have nothing to do with it."""
    for mmsi, left, start, goal, speed_kn in PASSING:
        hours = between(start, goal)[0] / M_PER_NMI / speed_kn
        run = TrackRun(left, (start, goal), left + timedelta(hours=hours))
        moment = left
        while moment < run.arrived:
            yield moment, _fix(mmsi, (run,), moment, rng)
            moment += EVERY
        name = {"msg_type": 5, "mmsi": str(mmsi), "shipname": f"PASSING {mmsi % 100}"}
        name |= {"ship_type": 70, "to_bow": 120, "to_stern": 30, "to_port": 12, "to_starboard": 12}
        yield left, tagged(encode_dict(name, radio_channel="A", sentence_type="VDM"), left)


def log() -> str:
    """Return the whole log in order of time."""
    rng = np.random.default_rng(s.SEED)
    lines: list[tuple[datetime, str]] = []
    for name, runs in ships().items():
        lines += fixes(name, runs, rng)
    ardis = ships()["CAPE ARDIS"]
    false = going(at(ardis, FALSE_FIX), 285.0, 35.0 * M_PER_NMI)
    lines.append((FALSE_FIX, sentence(s.MMSI["CAPE ARDIS"], FALSE_FIX, false, 12.2, 332.0)))
    lines += passing(rng)
    lines.sort(key=lambda pair: pair[0])
    damaged = lines[400][1].replace("AIVDM,1,1", "AIVDM,1,?", 1)  # one arrives damaged
    lines.insert(401, (lines[400][0], damaged))
    return "".join(text + "\n" for _, text in lines)


def records() -> list[dict[str, Any]]:
    """Return who the ships are, as the watch entered it."""
    roles = {
        "NORTHERN LANTERN": ("support ship", 98.0, 17.0),
        "CAPE ARDIS": ("ship of opportunity", 84.0, 12.5),
        "SALTMARSH": ("search ship", 72.0, 16.0),
        "GREY HERON": ("search ship", 66.0, 15.0),
    }
    return [
        row(
            f"tracks-vessel-{s.MMSI[name]}",
            "tracks.vessel",
            s.z(13, "0705"),
            {
                "subject": f"mmsi:{s.MMSI[name]}",
                "name": name,
                "role": role,
                "mmsi": s.MMSI[name],
                "length_m": length,
                "max_speed_kn": speed,
            },
            source="ship's card",
            author="watch officer 1",
        )
        for name, (role, length, speed) in roles.items()
    ]


def write(folder: Path) -> None:
    """Write the log, the ships' cards and the list of feeds."""
    place = folder / "tracks"
    place.mkdir(parents=True, exist_ok=True)
    (place / "ais.nmea").write_text(log(), encoding="ascii")
    manifest = [{"file": "ais.nmea", "feed": "nmea", "source": "AIS receiver", "delay_s": 20}]
    (place / "manifest.json").write_text(json.dumps(manifest, indent=1) + "\n", encoding="utf-8")
    write_rows(place, records())
