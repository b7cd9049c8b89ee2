"""``measure A B [C …]``: range and bearing, magnetic and back, rhumb beside, totals."""

from __future__ import annotations

import argparse
from dataclasses import asdict
from datetime import UTC, datetime
from typing import Any

from layers.earth.clock import duration_words, parse_time
from layers.earth.measure import CAUTION, SOURCE, MeasuredLeg, bearing_words, measure, range_words
from layers.earth.said.parse import parse_position


def add(parsers: Any) -> None:
    """Declare the verb and its words."""
    parser: argparse.ArgumentParser = parsers.add_parser(
        "measure", help="range and bearing over two or more positions"
    )
    parser.add_argument("positions", nargs="+", metavar="POSITION")
    parser.add_argument("--speed", type=float, metavar="KN", help="for the time each leg takes")
    parser.add_argument("--at", metavar="TIME", help="date of the magnetic variation")
    parser.add_argument("--closed", action="store_true", help="add the leg home")


def run(arguments: argparse.Namespace) -> dict[str, Any]:
    """Return the legs and totals under the keys of the answer."""
    points = [
        parse_position(text, f"position {number}")
        for number, text in enumerate(arguments.positions, start=1)
    ]
    at = parse_time(arguments.at, "--at") if arguments.at else datetime.now(UTC)
    found = measure(points, at, speed_kn=arguments.speed, closed=arguments.closed)
    return {
        "legs": [_leg(leg) for leg in found.legs],
        "total_nmi": found.total_nmi,
        "total_m": found.total_m,
        "total_rhumb_m": found.total_rhumb_m,
        "total_time_s": found.total_time_s,
        "area_m2": found.area_m2,
        "variation_date": found.variation_at,
        "warning": found.warning,
        "source": SOURCE,
        "caution": CAUTION,
    }


def _leg(leg: MeasuredLeg) -> dict[str, Any]:
    plain = asdict(leg)
    plain["start"] = [leg.start.latitude_deg, leg.start.longitude_deg]
    plain["end"] = [leg.end.latitude_deg, leg.end.longitude_deg]
    return plain | {
        "distance_nmi": leg.distance_nmi,
        "distance_km": leg.distance_km,
        "total_nmi": leg.total_m / 1852.0,
    }


def say(answer: dict[str, Any]) -> str:
    """Return the answer as lines to read."""
    lines = []
    for number, leg in enumerate(answer["legs"], start=1):
        text = (
            f"leg {number}: {range_words(leg['distance_m'])}, "
            f"{bearing_words(leg['bearing_true_deg'])}, "
            f"{bearing_words(leg['bearing_magnetic_deg'], 'M')}, "
            f"back {bearing_words(leg['back_bearing_true_deg'])}; "
            f"rhumb line {range_words(leg['rhumb_distance_m'])}, "
            f"{bearing_words(leg['rhumb_bearing_true_deg'])}"
        )
        if leg["time_s"] is not None:
            text += f"; {_spell(leg['time_s'])}"
        lines.append(text)
    total = f"total {answer['total_nmi']:.2f} nmi"
    if answer["total_time_s"] is not None:
        total += f", {_spell(answer['total_time_s'])}"
    if answer["area_m2"] is not None:
        total += f", area {answer['area_m2'] / 1852.0**2:.3g} nmi²"
    return "\n".join([*lines, total, *filter(None, [answer["warning"]]), answer["caution"]])


def _spell(seconds: float) -> str:
    from datetime import timedelta

    return duration_words(timedelta(seconds=seconds))
