"""A block of whole half degrees: the least that is told of a place that is withheld."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from layers.earth.errors import InputError
from layers.earth.position import Position
from layers.earth.units import M_PER_NMI

STEP_DEG = 0.5
RING_POINTS = 720
SIDE_POINTS = 17  # of each side, for the least and the most distance
ROUND_HER_M = 10.0 * M_PER_NMI  # beside the 95 %, common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """South, north, west and east edges in degrees; east may pass 180 when it crosses there."""

    south_deg: float
    north_deg: float
    west_deg: float
    east_deg: float

    def __post_init__(self) -> None:
        edges = (self.south_deg, self.north_deg, self.west_deg, self.east_deg)
        if any((edge / STEP_DEG) % 1.0 for edge in edges):
            raise InputError("a block has its edges on whole half degrees", accepted="49.5, -9")
        if not (-90.0 <= self.south_deg < self.north_deg <= 90.0):
            raise InputError("the block's north edge must lie north of its south edge")
        if not (self.west_deg < self.east_deg <= self.west_deg + 360.0):
            raise InputError("the block's east edge must lie east of its west edge")

    @property
    def centre(self) -> Position:
        """Its middle; nothing is known to be there."""
        middle = (self.west_deg + self.east_deg) / 2.0
        return Position((self.south_deg + self.north_deg) / 2.0, (middle + 180.0) % 360.0 - 180.0)

    def contains(self, place: Position) -> bool:
        """Whether a place lies in it or on its edge."""
        east = (place.longitude_deg - self.west_deg) % 360.0
        return (
            self.south_deg <= place.latitude_deg <= self.north_deg
            and east <= self.east_deg - self.west_deg
        )

    def outline(self) -> tuple[np.ndarray, np.ndarray]:
        """Return latitudes and longitudes along its edges, closed, shape (4 * 16 + 1,)."""
        up = np.linspace(self.south_deg, self.north_deg, SIDE_POINTS)
        along = np.linspace(self.west_deg, self.east_deg, SIDE_POINTS)
        latitudes = np.concatenate(
            [
                np.full(SIDE_POINTS - 1, self.south_deg),
                up[:-1],
                np.full(SIDE_POINTS - 1, self.north_deg),
                up[::-1],
            ]
        )
        longitudes = np.concatenate(
            [
                along[:-1],
                np.full(SIDE_POINTS - 1, self.east_deg),
                along[::-1][:-1],
                np.full(SIDE_POINTS, self.west_deg),
            ]
        )
        return latitudes, (longitudes + 180.0) % 360.0 - 180.0

    def distance_nmi(self, place: Position) -> tuple[float, float]:
        """Return the least and the most that a place can be from something in the block."""
        from layers.earth.geodesy import inverse  # here: a decoder's child never loads it

        latitudes, longitudes = self.outline()
        away = inverse(place.latitude_deg, place.longitude_deg, latitudes, longitudes).distance_m
        spacing = float(inverse(latitudes[:-1], longitudes[:-1], latitudes[1:],
                                longitudes[1:]).distance_m.max())  # fmt: skip
        # between two points of the edge it can come nearer by less than half their distance
        least = 0.0 if self.contains(place) else max(0.0, float(away.min()) - spacing / 2.0)
        return least / M_PER_NMI, (float(away.max()) + spacing / 2.0) / M_PER_NMI

    def __str__(self) -> str:
        south, north = _edge(self.south_deg, "NS", 2), _edge(self.north_deg, "NS", 2)
        west, east = _edge(self.west_deg, "EW", 3), _edge(self.east_deg, "EW", 3)
        return f"{south} to {north}, {west} to {east}"


def _edge(degrees: float, signs: str, digits: int) -> str:
    if signs == "EW":
        degrees = (degrees + 180.0) % 360.0 - 180.0
    whole, part = divmod(abs(degrees), 1.0)
    return f"{int(whole):0{digits}d}°{round(part * 60):02d}′{signs[degrees < 0]}"


def block_round(place: Position, radius_m: float) -> Block:
    """Return the least block of whole half degrees that holds a circle.

    Raises
    ------
    InputError
        The circle reaches a pole or is not finite.
    """
    from layers.earth.geodesy import ring  # as above

    reach_m = radius_m + ROUND_HER_M
    if not math.isfinite(reach_m):
        raise InputError("no block holds a circle without an end")
    if abs(place.latitude_deg) + math.degrees(reach_m / 6.3e6) >= 90.0:
        raise InputError("a block cannot hold a pole")
    latitudes, longitudes = ring(place, reach_m, RING_POINTS)
    across = (longitudes - place.longitude_deg + 180.0) % 360.0 - 180.0
    west, east = place.longitude_deg + across.min(), place.longitude_deg + across.max()
    return Block(
        south_deg=math.floor(latitudes.min() / STEP_DEG) * STEP_DEG,
        north_deg=math.ceil(latitudes.max() / STEP_DEG) * STEP_DEG,
        west_deg=math.floor(west / STEP_DEG) * STEP_DEG,
        east_deg=math.ceil(east / STEP_DEG) * STEP_DEG,
    )


def distances_nmi(where: Position | Block, place: Position) -> tuple[float, float]:
    """Return the least and the most distance from a place to a position or a block."""
    if isinstance(where, Block):
        return where.distance_nmi(place)
    from layers.earth.geodesy import inverse  # as above

    found = inverse(
        place.latitude_deg, place.longitude_deg, where.latitude_deg, where.longitude_deg
    )
    nmi = float(found.distance_m) / M_PER_NMI
    return nmi, nmi


def middle_of(where: Position | Block) -> Position:
    """Return a position, or the middle of a block; who uses it says which it is."""
    return where.centre if isinstance(where, Block) else where


def span_words(nmi: tuple[float, float]) -> str:
    """Return a distance in words: ``121 nmi``, or ``111 to 143 nmi`` from a block."""
    least, most = nmi
    if least == most:
        return f"{least:.0f} nmi"
    return f"{math.floor(least):.0f} to {math.ceil(most):.0f} nmi"
