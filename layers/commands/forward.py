"""``forward A BEARING RANGE``: where a range and bearing lead, by geodesic and by rhumb line."""

from __future__ import annotations

import argparse
import math
from datetime import UTC, datetime
from typing import Any

from layers.earth import rhumb
from layers.earth.chart.frames import ChartFrame, FrameName
from layers.earth.clock import parse_time
from layers.earth.geodesy import forward
from layers.earth.position import Position
from layers.earth.said.bearings import Sense, parse_bearing, parse_range_m, true_bearing_deg
from layers.earth.said.parse import parse_position
from layers.earth.said.written import dm_text
from layers.earth.variation import variation


def add(parsers: Any) -> None:
    """Declare the verb and its words."""
    parser: argparse.ArgumentParser = parsers.add_parser(
        "forward", help="where a range and bearing lead"
    )
    parser.add_argument("start", metavar="POSITION")
    parser.add_argument("bearing", metavar="BEARING", help="065T, 068M, 070G or R045")
    parser.add_argument("range", metavar="RANGE", help="12nmi, 800m, 3.5km")
    parser.add_argument("--heading", metavar="BEARING", help="the observer's, for R045")
    parser.add_argument(
        "--frame", choices=[name.value for name in FrameName], help="whose grid, for 070G"
    )
    parser.add_argument("--centre", metavar="POSITION", help="of that frame; else the start")
    parser.add_argument("--at", metavar="TIME", help="date of the magnetic variation")


def run(arguments: argparse.Namespace) -> dict[str, Any]:
    """Return the place under the keys of the answer."""
    start = parse_position(arguments.start)
    bearing = parse_bearing(arguments.bearing)
    range_m = parse_range_m(arguments.range)
    at = parse_time(arguments.at, "--at") if arguments.at else datetime.now(UTC)
    field = variation(start, at)
    heading = None
    if arguments.heading:
        heading = true_bearing_deg(
            parse_bearing(arguments.heading, "heading"),
            variation_deg=field.variation_deg,
            where="heading",
        )
    true = true_bearing_deg(
        bearing,
        variation_deg=field.variation_deg,
        convergence_deg=_convergence(arguments, start),
        heading_true_deg=heading,
    )
    there = forward(start.latitude_deg, start.longitude_deg, true, range_m)
    end = Position(float(there.latitude_deg), float(there.longitude_deg))
    lat, lon = rhumb.forward(start.latitude_deg, start.longitude_deg, true, range_m)
    ends = math.isnan(float(lat))
    return {
        "latitude_deg": end.latitude_deg,
        "longitude_deg": end.longitude_deg,
        "dm": dm_text(end),
        "bearing_true_deg": true,
        "distance_m": range_m,
        "back_bearing_true_deg": float(there.back_bearing_true_deg),
        "rhumb": {
            "latitude_deg": None if ends else float(lat),
            "longitude_deg": None if ends else float(lon),
            "dm": None if ends else dm_text(Position(float(lat), float(lon))),
            "note": "the rhumb line ends at the pole before that range" if ends else "",
        },
        "variation_deg": field.variation_deg,
        "variation_date": at,
        "warning": field.warning if Sense.MAGNETIC in (bearing.sense, _sense(arguments)) else "",
    }


def _sense(arguments: argparse.Namespace) -> Sense | None:
    return parse_bearing(arguments.heading).sense if arguments.heading else None


def _convergence(arguments: argparse.Namespace, start: Position) -> float | None:
    if not arguments.frame:
        return None
    centre = parse_position(arguments.centre, "--centre") if arguments.centre else start
    return ChartFrame(FrameName(arguments.frame), centre).convergence_deg(start)


def say(answer: dict[str, Any]) -> str:
    """Return the answer as lines to read."""
    beside = answer["rhumb"]["dm"] or answer["rhumb"]["note"]
    lines = [
        f"{answer['dm']}, on {answer['bearing_true_deg']:05.1f}°T, {answer['distance_m']:.0f} m",
        f"by rhumb line: {beside}",
    ]
    return "\n".join([*lines, *filter(None, [answer["warning"]])])
