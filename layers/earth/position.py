"""A place on the WGS 84 ellipsoid."""

from __future__ import annotations

import math
from dataclasses import dataclass

from layers.earth.errors import InputError


@dataclass(frozen=True, slots=True)
class Position:
    """A place on the WGS 84 ellipsoid, latitude first.

    Parameters
    ----------
    latitude_deg : float
        -90 to 90, north positive.
    longitude_deg : float
        -180 to 180, east positive; 0 to 360 is turned into it.
    """

    latitude_deg: float
    longitude_deg: float

    def __post_init__(self) -> None:
        if not (math.isfinite(self.latitude_deg) and -90.0 <= self.latitude_deg <= 90.0):
            raise InputError(
                f"{self.latitude_deg!r} is not a latitude",
                where="latitude_deg",
                accepted="-90 to 90 degrees, north positive",
            )
        if not (math.isfinite(self.longitude_deg) and -180.0 <= self.longitude_deg <= 360.0):
            raise InputError(
                f"{self.longitude_deg!r} is not a longitude",
                where="longitude_deg",
                accepted="-180 to 180 or 0 to 360 degrees, east positive",
            )
        if self.longitude_deg > 180.0:
            object.__setattr__(self, "longitude_deg", self.longitude_deg - 360.0)

    def __str__(self) -> str:
        return f"{_dm(self.latitude_deg, 2, 'NS')} {_dm(self.longitude_deg, 3, 'EW')}"


def _dm(angle_deg: float, width: int, letters: str) -> str:
    """Return degrees and decimal minutes, rounded so that 60.0 minutes never shows."""
    tenths = round(abs(angle_deg) * 600.0)
    degrees, rest = divmod(tenths, 600)
    letter = letters[0] if angle_deg >= 0 else letters[1]
    return f"{degrees:0{width}d}°{rest / 10.0:04.1f}′{letter}"
