"""How far the wind drives what floats: the reference table, with source and mark.

Leeway speed is ``slope * U10 + offset``, with the object going off to one side of down-wind by
the divergence angle, and now and then jibing to the other side. Only three rows were seen in
the publication; the others are remembered and say so wherever they are shown.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from layers.earth.errors import InputError
from layers.earth.table import Table

ALLEN_1999 = (
    "Allen and Plourde, Review of Leeway: Field Experiments and Implementation, USCG CG-D-08-99, "
    "1999"
)
ALLEN_1997 = (
    "Allen and Fitzgerald, The Leeway of an Open Boat and Three Life Rafts in Heavy Weather, "
    "USCG R&D Center, 1997, DTIC ADA338829"
)
MEMORY = "from memory, not checked against the page"
VERIFIED = "VERIFIED: abstract seen"
PRACTICE = "common practice, no source"
# The spread of one object about the row's line, as a part of its leeway; and the chance of a
# jibe in an hour. Both common practice, no source.
SPREAD = 0.2
JIBES_PER_H = 0.04


@dataclass(frozen=True, slots=True, kw_only=True)
class Leeway:
    """One row: leeway of an object type.

    Parameters
    ----------
    slope : float
        Part of the wind speed at 10 m.
    offset_kn : float
        Added to it, knots.
    divergence_deg : float
        Largest angle off down-wind, either side.
    source, mark : str
        Publication, and how far it was checked.
    """

    key: str
    slope: float
    offset_kn: float
    divergence_deg: float
    source: str
    mark: str
    spread: float = SPREAD

    def speed_kn(self, wind_kn: float) -> float:
        """Return the leeway speed in knots for a 10 m wind in knots, never negative."""
        return max(self.slope * wind_kn + self.offset_kn, 0.0)


def _memory(key: str, slope: float, offset_kn: float, divergence_deg: float) -> Leeway:
    return Leeway(
        key=key,
        slope=slope,
        offset_kn=offset_kn,
        divergence_deg=divergence_deg,
        source=ALLEN_1999,
        mark=MEMORY,
    )


def _verified(key: str, percent: float) -> Leeway:
    # The abstract gives the rate alone; the divergence is not in it and is taken as none.
    return Leeway(
        key=key,
        slope=percent / 100.0,
        offset_kn=0.0,
        divergence_deg=0.0,
        source=ALLEN_1997,
        mark=VERIFIED,
    )


ROWS: tuple[Leeway, ...] = (
    _memory("person in water, state unknown", 0.011, 0.07, 30.0),
    _memory("person in water, vertical", 0.005, 0.07, 18.0),
    _memory("person in water, sitting", 0.012, 0.0, 18.0),
    _memory("person in water, survival suit", 0.014, 0.10, 30.0),
    _memory("person in water, wet suit", 0.007, 0.08, 30.0),
    _memory("person in water, deceased", 0.015, 0.08, 30.0),
    _memory("raft, no ballast", 0.042, 0.03, 28.0),
    _memory("raft, no ballast, no canopy, no drogue", 0.057, 0.21, 24.0),
    _memory("raft, no ballast, no canopy, drogue", 0.044, -0.20, 28.0),
    _memory("raft, no ballast, canopy, no drogue", 0.037, 0.11, 24.0),
    _memory("raft, no ballast, canopy, drogue", 0.030, 0.0, 28.0),
    _memory("raft, shallow ballast, canopy", 0.029, 0.0, 22.0),
    _memory("raft, shallow ballast, canopy, no drogue", 0.032, -0.02, 22.0),
    _memory("raft, shallow ballast, canopy, drogue", 0.025, 0.01, 22.0),
    _memory("raft, shallow ballast, capsized", 0.017, -0.10, 8.0),
    _memory("raft, deep ballast", 0.030, 0.02, 13.0),
    _memory("raft, deep ballast, 4-6 persons, drogue", 0.018, 0.03, 16.0),
    _memory("raft, deep ballast, 4-6 persons", 0.029, 0.04, 15.0),
    _memory("raft, deep ballast, 15-25 persons", 0.036, -0.09, 14.0),
    _memory("raft, deep ballast, 15-25 persons, no drogue, light load", 0.039, -0.06, 12.0),
    _memory("raft, deep ballast, 15-25 persons, drogue, heavy load", 0.031, -0.07, 12.0),
    _memory("raft, deep ballast, swamped", 0.010, -0.04, 10.0),
    _verified("open boat 5.5 m, upright", 3.65),
    _verified("open boat 5.5 m, swamped", 1.73),
    _verified("raft for 6, full ballast bag and drogue, upright", 1.95),
    _verified("raft for 6, full ballast bag and drogue, swamped", 0.79),
    _verified("raft for 6, four small bags and drogue, upright", 2.82),
    _verified("raft for 6, four small bags and drogue, capsized", 1.13),
    Leeway(
        key="oil slick",
        slope=0.03,
        offset_kn=0.0,
        divergence_deg=0.0,
        source="3 % of the wind, in its direction",
        mark=PRACTICE,
    ),
    Leeway(
        key="drifts with the water alone",
        slope=0.0,
        offset_kn=0.0,
        divergence_deg=0.0,
        source="no leeway assumed",
        mark=PRACTICE,
    ),
)
BY_KEY: Mapping[str, Leeway] = MappingProxyType({row.key: row for row in ROWS})


def leeway_of(object_type: str, percent: float | None, sigma_percent: float, source: str) -> Leeway:
    """Return the row of an object type, or the one that a report gives itself.

    Raises
    ------
    InputError
        The type is not in the table and no leeway was given.
    """
    if percent is not None:
        return Leeway(
            key=object_type,
            slope=percent / 100.0,
            offset_kn=0.0,
            divergence_deg=0.0,
            source=source,
            mark="entered with the report",
            spread=sigma_percent / percent if percent > 0.0 else 0.0,
        )
    if object_type in BY_KEY:
        return BY_KEY[object_type]
    raise InputError(
        f"no leeway is known for {object_type!r}",
        where="object_type",
        accepted="a type of the leeway table, or leeway_percent with leeway_source",
    )


def leeway_table() -> Table:
    """Return the reference table as it stands on the screen."""
    return Table(
        heads=("Object", "Slope (% of wind)", "Offset (kn)", "Divergence (°)", "Mark", "Source"),
        rows=tuple(
            (
                row.key,
                round(row.slope * 100.0, 2),
                row.offset_kn,
                row.divergence_deg,
                row.mark,
                row.source,
            )
            for row in ROWS
        ),
    )
