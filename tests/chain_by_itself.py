"""The hash chain recomputed without the program's own code: only hashlib, json and SQL."""

from __future__ import annotations

import hashlib
import json
from typing import Any

ABOUT = "SELECT name, exercise, created_us FROM journal"
ROWS = (
    "SELECT block, seq, id, kind, version, valid_at_us, heard_at_us, recorded_at_us, source, "
    "author, payload FROM records ORDER BY seq"
)


def chain_of(engine: Any) -> tuple[int, str, int | None]:
    """Return how many records there are, the head hash, and the first block that is wrong."""
    with engine.connect() as connection:
        rows = connection.exec_driver_sql(ROWS).fetchall()
        blocks = connection.exec_driver_sql("SELECT block, hash FROM blocks ORDER BY block").all()
        name, exercise, made = connection.exec_driver_sql(ABOUT).one()
    about = json.dumps([name, bool(exercise), made], separators=(",", ":"), ensure_ascii=False)
    head, place = hashlib.sha256(about.encode()).hexdigest(), 0
    for number, told in blocks:
        digest = hashlib.sha256(bytes.fromhex(head))
        while place < len(rows) and rows[place][0] == number:
            row = list(rows[place][1:])
            text = json.dumps(row, separators=(",", ":"), ensure_ascii=False).encode()
            digest.update(len(text).to_bytes(8, "big") + text)
            place += 1
        head = digest.hexdigest()
        if head != told:
            return len(rows), head, number
    # a record that no block holds is as wrong as one that was changed
    return len(rows), head, None if place == len(rows) else rows[place][0]
