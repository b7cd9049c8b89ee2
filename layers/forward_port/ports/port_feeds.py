"""Readers of the two published tables: one record a port, one a runway."""

from __future__ import annotations

from typing import Any

import numpy as np

from layers.contract import Feed, Origin, Reading
from layers.earth.errors import InputError
from layers.forward_port.ports.port_tables import (
    PortTable,
    RunwayTable,
    head_text,
    plain_texts,
    read_ports,
    read_runways,
    runway_names,
)
from layers.forward_port.ports.table_model import LONGEST_RUNWAY_M, LONGEST_WATER_M
from layers.journal.record import Draft, Reject, file_identity

YEAR_S = 366 * 86_400.0  # the tables are published once a year or so


def recognise_ports(head: bytes, name: str) -> float:
    """Return how surely these bytes are the World Port Index in CSV."""
    first = head_text(head)
    return 0.99 if "World Port Index Number" in first and "Main Port Name" in first else 0.0


def recognise_runways(head: bytes, name: str) -> float:
    """Return how surely these bytes are a table of runways in CSV."""
    first = head_text(head)
    return 0.99 if "airport_ident" in first and "le_ident" in first else 0.0


def read_port_file(data: bytes, origin: Origin) -> Reading:
    """Return one record a port; a row without a position is a reject that names it."""
    try:
        table = read_ports(data, origin.source)
    except InputError as reason:
        return _refused(origin, reason)
    reading = Reading(passed_over={"column heads": 1})
    rows = _port_rows(table)
    for line, row in enumerate(rows, start=2):
        if row["latitude_deg"] is None or row["longitude_deg"] is None or not row["name"]:
            _reject(reading, origin, line, row, "a port with no position or no name")
        else:
            reading.drafts.append(_draft("forward_port.wpi", row, line, origin))
    return reading


def read_runway_file(data: bytes, origin: Origin) -> Reading:
    """Return one record a runway; a length in metres that only feet can be is a reject."""
    try:
        table = read_runways(data, origin.source)
    except InputError as reason:
        return _refused(origin, reason)
    reading = Reading(passed_over={"column heads": 1})
    for line, row in enumerate(_runway_rows(table), start=2):
        length = row["length_m"]
        if table.unit == "m" and length is not None and length > LONGEST_RUNWAY_M:
            _reject(
                reading,
                origin,
                line,
                row,
                f"runway {row['name']} of {row['airport']}: {length:g} m is longer than any "
                f"runway; is it in feet? accepted: up to {LONGEST_RUNWAY_M:g} m",
            )
        elif not row["airport"] or (length or 0.0) > LONGEST_WATER_M:
            _reject(reading, origin, line, row, "a runway without an airport, or impossibly long")
        else:
            reading.drafts.append(_draft("forward_port.runway", row, line, origin))
    return reading


PORT_FEED = Feed(
    key="wpi",
    title="World Port Index (Pub. 150) in CSV",
    recognise=recognise_ports,
    read=read_port_file,
    stale_after_s=YEAR_S,
)
RUNWAY_FEED = Feed(
    key="runways",
    title="OurAirports runways in CSV",
    recognise=recognise_runways,
    read=read_runway_file,
    stale_after_s=YEAR_S,
)


def _port_rows(table: PortTable) -> list[dict[str, Any]]:
    columns: dict[str, list[Any]] = {"index_number": table.index_number.tolist()}
    for name, values in table.texts.items():
        columns[name] = [str(value).strip() for value in values.tolist()]
    columns["lifts"] = [words or None for words in columns["lifts"]]
    for name, numbers in table.numbers.items():
        columns[name] = _or_none(numbers)
    return _as_rows(columns)


def _runway_rows(table: RunwayTable) -> list[dict[str, Any]]:
    return _as_rows(
        {
            "airport": plain_texts(table.airport),
            "name": runway_names(table),
            "surface": plain_texts(table.surface),
            "closed": table.closed.astype(int).tolist(),
            "length_m": _or_none(table.length_m.round(1)),
            "width_m": _or_none(table.width_m.round(1)),
            "latitude_deg": _or_none(table.latitude_deg),
            "longitude_deg": _or_none(table.longitude_deg),
        }
    )


def _as_rows(columns: dict[str, list[Any]]) -> list[dict[str, Any]]:
    names = list(columns)
    return [dict(zip(names, row, strict=True)) for row in zip(*columns.values(), strict=True)]


def _or_none(values: np.ndarray[Any, Any]) -> list[float | None]:
    return [None if value != value else value for value in values.tolist()]


def _draft(kind: str, row: dict[str, Any], line: int, origin: Origin) -> Draft:
    return origin.draft(kind, row, identity=file_identity(origin.digest, line))


def _reject(reading: Reading, origin: Origin, line: int, row: dict[str, Any], reason: str) -> None:
    text = ", ".join(f"{key} {value}" for key, value in row.items() if value not in (None, ""))
    reading.rejects.append(Reject(source=origin.source, line=line, text=text[:400], reason=reason))


def _refused(origin: Origin, reason: InputError) -> Reading:
    return Reading(rejects=[Reject(source=origin.source, line=None, text="", reason=str(reason))])
