"""Lines for a fix from rows of a file or from records of the journal."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import numpy as np

from layers.datum.evidence.soundings import horizontal_ranges, mean_speed
from layers.datum.kinds import KINDS
from layers.datum.lines.directions import true_bearing
from layers.datum.lines.fix import renamed
from layers.datum.lines.line import LineOfPosition
from layers.datum.lines.lines_file import LineRow, read_row, rows_of
from layers.datum.model import Bearing, Range, TimeDifference
from layers.earth.clock import EPOCH, day_hhmm
from layers.earth.errors import InputError
from layers.earth.values import SoundSpeedProfile
from layers.journal.known import check_payload

MODELS = {kind.name: kind for kind in KINDS}


def lines_of_file(data: bytes, name: str) -> tuple[list[LineOfPosition], list[str]]:
    """Return the lines of a CSV or JSON file, and what had to be assumed.

    Raises
    ------
    InputError
        Names the row and field that cannot be used.
    """
    rows = [read_row(row, n, name) for n, row in enumerate(rows_of(data, name), start=1)]
    lines = [_line_of_row(row, name) for row in rows]
    return renamed(lines), [row.assumed for row in rows if row.assumed]


def _line_of_row(row: LineRow, name: str) -> LineOfPosition:
    where = f"{name} row {row.number}"
    value = check_payload(MODELS[row.kind], row.payload, where)
    if (
        row.at is None
        and isinstance(value, Bearing)
        and "magnetic"
        in (
            value.sense,
            value.heading_sense if value.sense == "relative" else "",
        )
    ):
        raise InputError(
            "a magnetic bearing needs its time, for the variation of that date",
            where=f"{where}, time",
            accepted="a time with its zone",
        )
    return line_of(value, row.at or EPOCH, None, value.observer)


def line_of(
    value: Any, at: datetime, profile: SoundSpeedProfile | None, name: str = ""
) -> LineOfPosition:
    """Return the line of position of a bearing, a range or a time difference.

    A range with several possible paths gives its first; the fix takes one path.
    """
    place = {"latitude_deg": value.latitude_deg, "longitude_deg": value.longitude_deg}
    label = name or f"{value.observer} {day_hhmm(at)}"
    if isinstance(value, Bearing):
        turned = true_bearing(value, at)
        return LineOfPosition(
            name=label,
            **place,
            sigma=float(np.hypot(value.sigma_deg, turned.sigma_deg)),
            position_sigma_m=value.position_sigma_m,
            bearing_true_deg=turned.bearing_true_deg,
        )
    if isinstance(value, Range):
        speed = mean_speed(profile, value.observer_depth_m, value.object_depth_m)
        found = horizontal_ranges(value, speed)
        return LineOfPosition(
            name=label,
            **place,
            sigma=found.sigma_m,
            position_sigma_m=value.position_sigma_m,
            range_m=found.metres[0],
        )
    if isinstance(value, TimeDifference):
        speed = mean_speed(profile, 5.0, None)
        metres = value.earlier_by_s * speed.speed_m_s
        return LineOfPosition(
            name=label,
            **place,
            sigma=float(np.hypot(value.sigma_s * speed.speed_m_s, metres * speed.sigma)),
            position_sigma_m=value.position_sigma_m,
            difference_m=metres,
            second=(value.second_latitude_deg, value.second_longitude_deg),
        )
    raise InputError(f"{type(value).__name__} is not a line of position", where="fix")
