"""Marks and tables as CSV, safe to open in a spreadsheet."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from datetime import datetime

from layers.earth.chart.marks import AnyMark, GridMark, PointMark
from layers.earth.clock import iso
from layers.earth.said.alike import visible
from layers.earth.table import Cell, Table
from layers.scene.geojson import runs
from layers.scene.release import Stamp

HEADS = (
    "layer", "key", "style", "label", "text", "at", "freshness", "disputed", "source",
    "part", "vertex", "latitude_deg", "longitude_deg", "value",
)  # fmt: skip


def rows_csv(marks: Iterable[tuple[str, AnyMark]], stamp: Stamp) -> str:
    """Return the marks as CSV with heads; the stamp stands above them as ``#`` lines."""
    out = _under(stamp)
    writer = csv.writer(out)
    writer.writerow(HEADS)
    for layer, mark in marks:
        about = [
            layer, mark.key, str(mark.style), mark.label, mark.tooltip,
            "" if mark.at is None else iso(mark.at),
            mark.freshness.value, str(mark.disputed).lower(), mark.source,
        ]  # fmt: skip
        about = [_safe(cell) for cell in about]
        for part, vertex, latitude, longitude, value in _vertices(mark):
            writer.writerow([*about, part, vertex, f"{latitude:.7f}", f"{longitude:.7f}", value])
    return out.getvalue()


def table_csv(table: Table, stamp: Stamp) -> str:
    """Return a layer's table as CSV under its heads: times in ISO 8601, not known in words."""
    out = _under(stamp)
    writer = csv.writer(out)
    writer.writerow([_safe(head) for head in table.heads])
    for row in table.rows:
        writer.writerow([_written(cell) for cell in row])
    return out.getvalue()


def _under(stamp: Stamp) -> io.StringIO:
    out = io.StringIO()
    for line in (*stamp.lines(), stamp.attribution):
        if line:
            out.write(f"# {line}\r\n")
    return out


def _written(cell: Cell) -> Cell:
    if cell is None:
        return "not known"
    if isinstance(cell, datetime):
        return iso(cell)
    return _safe(cell) if isinstance(cell, str) else cell


def _vertices(mark: AnyMark) -> Iterable[tuple[int, int, float, float, str]]:
    if isinstance(mark, PointMark):
        yield 0, 0, mark.position.latitude_deg, mark.position.longitude_deg, ""
    elif isinstance(mark, GridMark):
        rows, columns = mark.values.shape
        for row in range(rows):
            for column in range(columns):
                value = mark.values[row, column]
                if value == value:  # NaN is not drawn and not written
                    square = (slice(row, row + 2), slice(column, column + 2))
                    latitude = float(mark.latitudes_deg[square].mean())
                    longitude = float(mark.longitudes_deg[square].mean())
                    yield row, column, latitude, longitude, f"{float(value):.6g} {mark.unit}"
    else:
        for part, run in enumerate(runs(mark)):
            for vertex, (longitude, latitude) in enumerate(run.tolist()):
                yield part, vertex, latitude, longitude, ""


_FORMULA = tuple("=+-@\uff1d\uff0b\uff0d\uff20")  # also as full-width signs


def _safe(cell: str) -> str:
    """Return a cell that no spreadsheet takes for a formula, with what can not be seen in words."""
    told = visible(cell)
    if told[:1] in ("\t", "\r", "\n") or told.lstrip().startswith(_FORMULA):
        return "'" + told
    return told
