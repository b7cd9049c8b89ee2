"""``fix FILE``: a position from bearings, ranges and time differences."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from layers.datum.lines.fix import FixSolution, fix
from layers.datum.lines.fix_lines import lines_of_file
from layers.datum.report import CAUTION
from layers.earth.errors import InputError
from layers.earth.said.quantity import figure
from layers.earth.said.written import dm_text


def add(parsers: Any) -> None:
    """Declare the verb and its words."""
    parser: argparse.ArgumentParser = parsers.add_parser(
        "fix", help="a position from a file of bearings, ranges and time differences"
    )
    parser.add_argument("file", metavar="FILE", help="CSV or JSON, one line of position a row")


def run(arguments: argparse.Namespace) -> dict[str, Any]:
    """Return the solutions under the keys of the answer."""
    path = Path(arguments.file)
    try:
        data = path.read_bytes()
    except OSError as reason:
        raise InputError(
            reason.strerror or "cannot be read", where=str(path), accepted="a readable file"
        ) from None
    lines, assumed = lines_of_file(data, path.name)
    found = fix(lines)
    return {
        "lines": len(lines),
        "solutions": [_solution(solution) for solution in found],
        "assumed": assumed,
        "caution": CAUTION,
    }


def _solution(found: FixSolution) -> dict[str, Any]:
    ellipse = found.ellipse_95
    return {
        "latitude_deg": found.position.latitude_deg,
        "longitude_deg": found.position.longitude_deg,
        "dm": dm_text(found.position),
        "ellipse_95": {
            "semi_major_m": ellipse.semi_major_m,
            "semi_minor_m": ellipse.semi_minor_m,
            "bearing_true_deg": ellipse.bearing_true_deg,
        },
        "cep_m": found.cep_m,
        "residuals": [
            {
                "line": item.name,
                "residual": item.residual,
                "unit": item.unit,
                "standardised": item.standardised,
                "standardised_without_it": item.without_z,
            }
            for item in found.residuals
        ],
        "suspect": found.suspect,
        "chi_square": found.chi_square,
        "degrees_of_freedom": found.degrees_of_freedom,
        "chance_of_such_a_misfit": found.chance,
        "cut_deg": found.cut_deg,
        "dop": found.dop,
        "remark": found.remark,
    }


def say(answer: dict[str, Any]) -> str:
    """Return the answer as lines to read."""
    said = []
    many = len(answer["solutions"]) > 1
    for number, found in enumerate(answer["solutions"], start=1):
        ellipse = found["ellipse_95"]
        said.append(
            (f"solution {number}: " if many else "")
            + f"{found['dm']}, 95 % ellipse {figure(ellipse['semi_major_m'], 0)} m by "
            f"{figure(ellipse['semi_minor_m'], 0)} m (semi-axes, the longer towards "
            f"{ellipse['bearing_true_deg']:03.0f}°T), CEP {figure(found['cep_m'], 0)} m; "
            f"{found['remark']}"
        )
        said += [
            f"  {item['line']}: {item['residual']:+.2f} {item['unit']} "
            f"({item['standardised']:+.1f} sigma)"
            for item in found["residuals"]
        ]
        if found["suspect"]:
            said.append(f"  suspect: {found['suspect']}")
    if many:
        said.append("The lines allow two places; another line must tell which.")
    return "\n".join([*said, *answer["assumed"], answer["caution"]])
