"""Ice: where bergs were reported, where they drift, and which is nearest to the datum.

The small layer to copy: `tests/contract/test_new_layer.py` adds it to a copy of the program.
"""

from __future__ import annotations

from dataclasses import dataclass

from pydantic import Field

from layers.contract import Feed, Layer, Moment, Origin, Others, OwnStyle, Reading
from layers.contract.rows import Row, drafted, heads_of, read_rows
from layers.earth import geodesy
from layers.earth.block import distances_nmi
from layers.earth.chart.marks import PointMark, Symbol
from layers.earth.clock import dtg
from layers.earth.errors import InputError
from layers.earth.position import Position
from layers.earth.table import Column, Table
from layers.earth.units import M_PER_NMI
from layers.earth.values import DatumValue
from layers.journal.kinds import Kind, Payload
from layers.journal.known import Known
from layers.journal.record import Draft, Record
from layers.journal.releases.rules import PUBLISHED
from layers.journal.words.heard import HeardWords, Slot


class IceReport(Payload):
    """One berg as somebody saw it, and where it drifts."""

    name: str = Field(min_length=1, max_length=40)
    latitude_deg: float = Field(ge=-90.0, le=90.0)
    longitude_deg: float = Field(ge=-180.0, le=180.0)
    drift_set_true_deg: float | None = Field(default=None, ge=0.0, lt=360.0)
    drift_kn: float | None = Field(default=None, ge=0.0, le=10.0)


HEADS = {"name": ("berg",), "latitude_deg": ("lat",), "longitude_deg": ("lon",)}
NAME = Slot(key="name", title="name of the berg", sort="word", cues=("named", "berg"))
HEARD = HeardWords(words=("ice", "ice report"), needs=("name", "position"), roles=(NAME,),
                   example="ice named B-3 at 49 40N 008 20W")  # fmt: skip
REPORT = Kind(name="ice.report", title="ice", model=IceReport, release=PUBLISHED, heard=HEARD)


@dataclass(frozen=True, slots=True)
class Berg:
    """One berg, run on to the time shown; the least and the most range from the datum."""

    name: str
    record: Record
    position: Position
    age_h: float
    range_nmi: tuple[float, float] | None  # None: no datum is known, or told


@dataclass(frozen=True, slots=True, kw_only=True)
class Ice:
    """The bergs, nearest to the datum first."""

    bergs: tuple[Berg, ...]
    rests_on: tuple[str, ...]  # ids of the records


def compute(known: Known, others: Others, moment: Moment) -> Ice:
    """Return every berg where it has drifted to."""
    datum = others.get("datum")
    where = datum.where if isinstance(datum, DatumValue) else None
    bergs = []
    for name, entry in {e.value.name: e for e in known.entries(REPORT.name)}.items():
        told = entry.value
        age_h = (moment.at - entry.record.valid_at).total_seconds() / 3600.0
        place = Position(told.latitude_deg, told.longitude_deg)
        if told.drift_kn and told.drift_set_true_deg is not None:
            run_m = told.drift_kn * age_h * M_PER_NMI
            place = geodesy.going(place, told.drift_set_true_deg, run_m)
        away = distances_nmi(where, place) if where else None
        bergs.append(Berg(name, entry.record, place, age_h, away))
    if not bergs:
        raise InputError("no ice has been reported", accepted="an ice report")
    bergs.sort(key=lambda berg: (berg.range_nmi or (0.0, 0.0), berg.name))
    return Ice(bergs=tuple(bergs), rests_on=tuple(berg.record.id for berg in bergs))


def marks(ice: Ice) -> tuple[PointMark, ...]:
    """Return a mark a berg."""
    return tuple(
        PointMark(key=f"berg {b.name}", style="ice", position=b.position, symbol=Symbol.TRIANGLE,
                  label=b.name, tooltip=f"{b.name}, reported {dtg(b.record.valid_at)}",
                  source=b.record.id, at=b.record.valid_at)
        for b in ice.bergs
    )  # fmt: skip


def table(ice: Ice) -> Table:
    """Return the bergs, nearest to the datum first."""
    return Table.of(
        ice.bergs,
        Column("Berg", lambda b: b.name),
        Column("Age (h)", lambda b: round(b.age_h, 1)),
        Column("Range from the datum (nmi)", lambda b: _range_words(b) or None),
        source=lambda b: b.record.id,
    )


def _range_words(berg: Berg) -> str:
    if berg.range_nmi is None:
        return ""
    least, most = berg.range_nmi
    return f"{least:.1f}" if least == most else f"{least:.0f} to {most:.0f}"


def sentence(ice: Ice) -> str:
    """Return which berg is nearest."""
    words = _range_words(ice.bergs[0])
    away = f", {words} nmi from the datum" if words else ""
    return f"Nearest ice is {ice.bergs[0].name}{away}."


def read(data: bytes, origin: Origin) -> Reading:
    """Return one report a row of a CSV with the columns time, berg, lat, lon and the drift's."""

    def drafts(row: Row) -> list[Draft]:
        return [drafted(row, origin, REPORT, row.values(IceReport), row.time("time"))]

    return read_rows(data, origin, drafts, names=HEADS, needed=("time", *HEADS))


LAYER = Layer(
    key="ice",
    title="Ice",
    kinds=(REPORT,),
    feeds=(
        Feed(key="ice_csv", title="ice reports in CSV", read=read, stale_after_s=86_400.0,
             recognise=lambda head, name: 0.97 if "berg" in heads_of(head) else 0.0),
    ),
    needs=("datum",),
    compute=compute,
    hand=None,
    marks=marks,
    table=table,
    sentence=sentence,
    wall_line=sentence,
    styles=(
        OwnStyle(name="ice", word="ice reported", symbol=Symbol.TRIANGLE,
                 night="#a8d8e8", day="#2d5f73"),
    ),
    caution="Ice as reported, not as it is: growlers are not seen by radar.",
)  # fmt: skip
