"""Replies of transponders in CSV: time, transponder, the ship's place and the two-way time."""

from __future__ import annotations

import csv
import io

from layers.contract import Feed, Origin, Reading
from layers.earth.clock import parse_time
from layers.earth.errors import InputError
from layers.journal.record import Draft, Reject, file_identity
from layers.transponders.model import RangeReply
from layers.transponders.words import bare_text, latitude, longitude

WANTED = ("time", "transponder", "latitude", "longitude", "transducer_depth_m")
TIMES = {"two_way_s": 1.0, "two_way_ms": 1e-3}
ACCEPTED = f"columns {', '.join(WANTED)}, and two_way_s or two_way_ms; ship if known"
MAX_BYTES = 100_000_000


def recognise(head: bytes, name: str) -> float:
    """Return how surely these are replies of transponders: the head says so."""
    first = bare_text(head[:4096]).lower().lstrip()
    line = next((row for row in first.splitlines() if not row.startswith("#")), "")
    return 0.97 if "transponder" in line and "two_way" in line else 0.0


def read(data: bytes, origin: Origin) -> Reading:
    """Return one draft per reply, one reject per line that cannot be read."""
    reading = Reading()
    try:
        rows, names, first = _rows(data, origin)
    except InputError as reason:
        reading.rejects.append(Reject(source=origin.source, line=None, text="", reason=str(reason)))
        return reading
    reading.passed_over["header line"] = first - 1
    for place, cells in enumerate(rows, start=first):
        if not any(cell.strip() for cell in cells):
            continue
        try:
            reading.drafts.append(_draft(cells, names, place, origin))
        except (InputError, ValueError, IndexError) as failure:
            said = str(failure) if isinstance(failure, InputError) else _plain(cells, names)
            reading.rejects.append(
                Reject(source=origin.source, line=place, text=",".join(cells)[:200],
                       reason=f"line {place}: {said}")
            )  # fmt: skip
    return reading


def _plain(cells: list[str], names: dict[str, int]) -> str:
    if len(cells) <= max(names.values()):
        return f"{len(cells)} cells under {max(names.values()) + 1} heads"
    return "a place, a depth or a time is not a number within its range"


def _rows(data: bytes, origin: Origin) -> tuple[list[list[str]], dict[str, int], int]:
    if len(data) > MAX_BYTES:
        raise InputError(f"{len(data)} bytes", where=origin.source,
                         accepted=f"at most {MAX_BYTES} bytes")  # fmt: skip
    lines = bare_text(data).splitlines()
    start = next((n for n, line in enumerate(lines) if line.strip() and line[0] != "#"), None)
    if start is None:
        raise InputError("no row of column names", where=origin.source, accepted=ACCEPTED)
    mark = max(",;\t", key=lines[start].count)
    table = list(csv.reader(io.StringIO("\n".join(lines[start:])), delimiter=mark))
    head = [cell.strip().lower() for cell in table[0]]
    names = {name: head.index(name) for name in (*WANTED, *TIMES, "ship") if name in head}
    missing = [name for name in WANTED if name not in names]
    if missing or not set(TIMES) & names.keys():
        raise InputError(f"no column {', '.join(missing) or 'two_way_s'}", where=origin.source,
                         accepted=ACCEPTED)  # fmt: skip
    return table[1:], names, start + 2


def _draft(cells: list[str], names: dict[str, int], place: int, origin: Origin) -> Draft:
    unit = next(name for name in TIMES if name in names)
    reply = RangeReply(
        transponder=cells[names["transponder"]].strip(),
        ship=cells[names["ship"]].strip() if "ship" in names else "",
        latitude_deg=latitude(cells[names["latitude"]], "latitude"),
        longitude_deg=longitude(cells[names["longitude"]], "longitude"),
        transducer_depth_m=float(cells[names["transducer_depth_m"]]),
        two_way_s=float(cells[names[unit]]) * TIMES[unit],
    )
    return Draft(
        kind="transponders.range",
        payload=reply.model_dump(mode="json"),
        valid_at=parse_time(cells[names["time"]], "time"),
        heard_at=origin.received_at,
        source=origin.source,
        identity=file_identity(origin.digest, place),
    )


FEED = Feed(
    key="transponder_ranges",
    title="replies of transponders in CSV",
    recognise=recognise,
    read=read,
    stale_after_s=6 * 3600.0,
)
