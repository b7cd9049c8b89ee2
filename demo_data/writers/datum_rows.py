"""Records of the search as they lie in their file."""

from __future__ import annotations

from datetime import datetime, timedelta

from demo_data import scenario as s
from demo_data.writers.rows import Row, row
from layers.earth.geodesy import going
from layers.earth.position import Position
from layers.earth.units import M_PER_NMI


def record(
    name: str,
    kind: str,
    valid: datetime,
    source: str,
    payload: Row,
    after_min: float = 6.0,
    author: str = "watch officer 2",
) -> Row:
    """Return one record of the search, heard some minutes after it was true."""
    heard = valid + timedelta(minutes=after_min)
    return row(
        f"datum-{name}", f"datum.{kind}", valid, payload, source=source, heard=heard, author=author
    )


def place(position: Position) -> dict[str, float]:
    """Return a position as two fields, to about 2 m."""
    return {
        "latitude_deg": round(position.latitude_deg, 5),
        "longitude_deg": round(position.longitude_deg, 5),
    }


def off(bearing_true_deg: float, range_nmi: float) -> Position:
    """Return a place at a range and bearing from where she lies."""
    return going(s.TRUTH, bearing_true_deg, range_nmi * M_PER_NMI)
