"""Replies of transponders in CSV: time, transponder, the ship's place and the two-way time."""

from __future__ import annotations

from layers.contract import Feed, Origin, Reading
from layers.contract.rows import Row, drafted, heads_of, read_rows, refuse
from layers.journal.record import Draft
from layers.transponders.model import KINDS
from layers.transponders.words import latitude, longitude

RANGE = next(kind for kind in KINDS if kind.name == "transponders.range")
WANTED = ("time", "transponder", "latitude", "longitude", "transducer_depth_m")
TIMES = {"two_way_s": 1.0, "two_way_ms": 1e-3}
ACCEPTED = f"columns {', '.join(WANTED)}, and two_way_s or two_way_ms; ship if known"
MAX_BYTES = 100_000_000


def recognise(head: bytes, name: str) -> float:
    """Return how surely these are replies of transponders: the head says so."""
    heads = heads_of(head)
    return 0.97 if "transponder" in heads and set(TIMES) & set(heads) else 0.0


def read(data: bytes, origin: Origin) -> Reading:
    """Return one draft per reply, one reject per line that cannot be used."""
    if len(data) > MAX_BYTES:
        reading = Reading()
        said = f"{len(data)} bytes; accepted: at most {MAX_BYTES} bytes"
        refuse(reading, origin, None, "", said)
        return reading
    units = [name for name in TIMES if name in heads_of(data)] or ["two_way_s"]
    if len(units) > 1:
        reading = Reading()
        refuse(reading, origin, 1, "", f"both {' and '.join(units)}; accepted: one of them")
        return reading
    (unit,) = units
    return read_rows(
        data,
        origin,
        lambda row: [_draft(row, unit, origin)],
        needed=(*WANTED, unit),
        accepted=ACCEPTED,
    )


def _draft(row: Row, unit: str, origin: Origin) -> Draft:
    payload = {
        "transponder": row.need("transponder"),
        "ship": row.get("ship"),
        "latitude_deg": latitude(row.need("latitude"), f"{row.where}, latitude"),
        "longitude_deg": longitude(row.need("longitude"), f"{row.where}, longitude"),
        "transducer_depth_m": row.number("transducer_depth_m", 0.0, 12_000.0, "m"),
        "two_way_s": row.number(unit, 0.0, 120.0 / TIMES[unit]) * TIMES[unit],
    }
    return drafted(row, origin, RANGE, payload, row.time("time"))


FEED = Feed(
    key="transponder_ranges",
    title="replies of transponders in CSV",
    recognise=recognise,
    read=read,
    stale_after_s=6 * 3600.0,
)
