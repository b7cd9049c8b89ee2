"""``position TEXT``: one place in every notation, with the magnetic variation there."""

from __future__ import annotations

import argparse
from datetime import UTC, datetime
from typing import Any

from layers.earth.chart.grids import mgrs_text, utm_text
from layers.earth.clock import parse_time
from layers.earth.said.parse import parse_position
from layers.earth.said.written import degrees_text, dm_text, dms_text
from layers.earth.variation import variation


def add(parsers: Any) -> None:
    """Declare the verb and its words."""
    parser: argparse.ArgumentParser = parsers.add_parser(
        "position", help="a position in every notation, and the variation there"
    )
    parser.add_argument("text", nargs="+", metavar="TEXT")
    parser.add_argument("--at", metavar="TIME", help="date of the magnetic variation")


def run(arguments: argparse.Namespace) -> dict[str, Any]:
    """Return the position under the keys of the answer."""
    place = parse_position(" ".join(arguments.text))
    at = parse_time(arguments.at, "--at") if arguments.at else datetime.now(UTC)
    field = variation(place, at)
    return {
        "latitude_deg": place.latitude_deg,
        "longitude_deg": place.longitude_deg,
        "dm": dm_text(place),
        "dms": dms_text(place),
        "degrees": degrees_text(place),
        "utm": utm_text(place),
        "mgrs": mgrs_text(place),
        "variation_deg": field.variation_deg,
        "variation_date": at,
        "variation_uncertainty_deg": field.uncertainty_deg,
        "variation_model": field.model,
        "warning": field.warning,
    }


def say(answer: dict[str, Any]) -> str:
    """Return the answer as lines to read."""
    angle = answer["variation_deg"]
    lines = [
        answer["dm"],
        answer["dms"],
        answer["degrees"],
        f"UTM {answer['utm']}",
        f"MGRS {answer['mgrs']}",
        f"variation {abs(angle):.1f}° {'E' if angle >= 0 else 'W'} "
        f"(± {answer['variation_uncertainty_deg']:.1f}°) on {answer['variation_date']:%d %b %Y}, "
        f"{answer['variation_model']}",
    ]
    return "\n".join([*lines, *filter(None, [answer["warning"]])])
