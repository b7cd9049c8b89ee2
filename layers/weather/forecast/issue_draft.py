"""The record of one forecast issue, and the stored grid beside it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Literal

from layers.contract import Origin, Reading
from layers.earth.clock import from_us, iso
from layers.weather.forecast.fields import FieldGrid, digest_of, packed


def add_forecast(
    reading: Reading,
    origin: Origin,
    grid: FieldGrid,
    *,
    model: str,
    issued_at: datetime,
    form: Literal["GRIB", "NetCDF"],
    notes: Sequence[str] = (),
) -> None:
    """Add a grid to a reading: its bytes under their digest, and the record that names them."""
    data = packed(grid)
    digest = digest_of(data)
    reading.blobs[digest] = data
    payload = {
        "model": model[:120],
        "issued_at": iso(issued_at),
        "starts_at": iso(from_us(grid.times_us[0])),
        "ends_at": iso(from_us(grid.times_us[-1])),
        "steps": len(grid.times_us),
        "rows": len(grid.latitudes_deg),
        "columns": len(grid.longitudes_deg),
        "south_deg": float(grid.latitudes_deg[0]),
        "north_deg": float(grid.latitudes_deg[-1]),
        "west_deg": float(grid.longitudes_deg[0]),
        "east_deg": float(grid.longitudes_deg[-1]),
        "variables": list(grid.names),
        "digest": digest,
        "format": form,
        "note": "; ".join(notes)[:1_000] or None,
    }
    reading.drafts.append(
        origin.draft(
            "weather.forecast",
            payload,
            issued_at,
            identity=f"forecast:{model}:{iso(issued_at)}:{digest}",
        )
    )
