"""Positions as they are written out: each text reads back to the same place.

The tolerance of each is half its last figure.
"""

from __future__ import annotations

from enum import StrEnum

from layers.earth.chart.grids import mgrs_text, utm_text
from layers.earth.position import Position
from layers.earth.said.quantity import figure
from layers.earth.units import M_PER_NMI


class Notation(StrEnum):
    """The ways a position is shown."""

    DM = "degrees and minutes"
    DEGREES = "degrees"
    DMS = "degrees, minutes and seconds"
    MGRS = "MGRS"
    UTM = "UTM"


def distance_words(metres: float) -> str:
    """Return metres below 1,000 m, else nautical miles."""
    return f"{figure(metres, 0)} m" if metres < 1_000.0 else f"{metres / M_PER_NMI:.1f} nmi"


def dm_text(position: Position, decimals: int = 3) -> str:
    """Return ``49°50.000′N 008°30.000′W``; three decimals of a minute are 1.9 m."""
    return (
        f"{_dm(position.latitude_deg, 2, 'NS', decimals)} "
        f"{_dm(position.longitude_deg, 3, 'EW', decimals)}"
    )


def dms_text(position: Position, decimals: int = 1) -> str:
    """Return ``49°50′00.0″N 008°30′00.0″W``; a tenth of a second is 3 m."""
    return (
        f"{_dms(position.latitude_deg, 2, 'NS', decimals)} "
        f"{_dms(position.longitude_deg, 3, 'EW', decimals)}"
    )


def degrees_text(position: Position) -> str:
    """Return ``49.83333 -8.50000``; five decimals are 1.1 m."""
    # adding 0.0 turns -0.0, which would print with its sign, into 0.0
    lat, lon = round(position.latitude_deg, 5) + 0.0, round(position.longitude_deg, 5) + 0.0
    return f"{lat:.5f} {lon:.5f}"


def written(position: Position, notation: Notation = Notation.DM) -> str:
    """Return the position in one of the notations."""
    return {
        Notation.DM: dm_text,
        Notation.DEGREES: degrees_text,
        Notation.DMS: dms_text,
        Notation.MGRS: mgrs_text,
        Notation.UTM: utm_text,
    }[notation](position)


def _dm(angle_deg: float, width: int, letters: str, decimals: int) -> str:
    # whole units of the last figure, so that 60.000 minutes never shows
    scale = 10**decimals
    units = round(abs(angle_deg) * 60 * scale)
    degrees, rest = divmod(units, 60 * scale)
    room = 2 + (decimals + 1 if decimals else 0)
    return (
        f"{degrees:0{width}d}°{rest / scale:0{room}.{decimals}f}′"
        f"{letters[1] if angle_deg < 0 and units else letters[0]}"
    )


def _dms(angle_deg: float, width: int, letters: str, decimals: int) -> str:
    scale = 10**decimals
    units = round(abs(angle_deg) * 3600 * scale)
    minutes, rest = divmod(units, 60 * scale)
    degrees, minute = divmod(minutes, 60)
    room = 2 + (decimals + 1 if decimals else 0)
    return (
        f"{degrees:0{width}d}°{minute:02d}′{rest / scale:0{room}.{decimals}f}″"
        f"{letters[1] if angle_deg < 0 and units else letters[0]}"
    )
