"""Records of the search as they lie in their file."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from demo_data import scenario as s
from layers.earth.geodesy import going
from layers.earth.position import Position
from layers.earth.units import M_PER_NMI


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
