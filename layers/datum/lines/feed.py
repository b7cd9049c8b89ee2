"""Bearings, ranges and time differences from a CSV or JSON file, each line a record."""

from __future__ import annotations

from pathlib import PurePath

from layers.contract import Feed, Origin, Reading
from layers.contract.rows import bare_text, heads_of, refuse
from layers.datum.kinds import KINDS
from layers.datum.lines.lines_file import plain_name, read_row, rows_of
from layers.earth.errors import InputError
from layers.journal.known import check_payload
from layers.journal.record import file_identity, stream_identity

MODELS = {kind.name: kind for kind in KINDS}
MEASURED = {"bearing", "bearing_deg", "bearing_true", "travel_time_s", "earlier_by_s"}
STALE_AFTER_S = 12 * 3_600.0


def recognise(head: bytes, name: str) -> float:
    """Return how surely this is a file of lines of position: by its heads or its JSON keys."""
    text = head.decode("utf-8-sig", "replace")
    if text.lstrip()[:1] in ("[", "{"):
        start = text[:4_000]
        keyed = any(f'"{key}"' in start for key in (*MEASURED, "range", "range_m"))
        placed = '"position"' in start or '"latitude_deg"' in start
        lines = '"lines"' in start or '"sigma' in start
        return 0.8 if keyed and placed and lines and '"datum.' not in start else 0.0
    names = set(map(plain_name, heads_of(head)))
    placed = "position" in names or {"latitude_deg", "longitude_deg"} <= names
    measured = bool(names & MEASURED) or ("range" in names and "sigma" in names)
    sure = placed and measured and ("sigma" in names or "kind" in names or "observer" in names)
    return 0.9 if sure else 0.3 if placed and measured and PurePath(name).suffix == ".csv" else 0.0


def read(data: bytes, origin: Origin) -> Reading:
    """Return one draft a line; a line that cannot be used is rejected with its reason.

    A line without a time is rejected here: a record must say when it was true.
    """
    reading = Reading()
    try:
        rows = rows_of(data, origin.source)
    except InputError as reason:
        refuse(reading, origin, None, bare_text(data[:200]), str(reason))
        return reading
    for number, row in enumerate(rows, start=1):
        line = origin.first_line + number
        try:
            found = read_row(row, number, origin.source)
            if found.at is None:
                raise InputError("no time", where="time", accepted="a time with its zone")
            check_payload(MODELS[found.kind], found.payload, f"row {number}")
        except InputError as reason:
            text = ", ".join(f"{key}={value}" for key, value in row.items())
            refuse(reading, origin, line, text, str(reason))
            continue
        payload = found.payload | ({"note": found.assumed} if found.assumed else {})
        identity = (
            stream_identity(
                origin.source, int(origin.received_at.timestamp() * 1e6), found.text.encode()
            )
            if origin.stream
            else file_identity(origin.digest, number)
        )
        reading.drafts.append(origin.draft(found.kind, payload, found.at, identity=identity))
    return reading


FEED = Feed(
    key="lines",
    title="lines of position (CSV or JSON: bearings, ranges, time differences)",
    recognise=recognise,
    read=read,
    stale_after_s=STALE_AFTER_S,
)
