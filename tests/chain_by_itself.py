"""The hash chain recomputed without the program's own code: only hashlib, json and SQL."""

from __future__ import annotations

import hashlib
import json
from typing import Any

ROWS = (
    "SELECT block, seq, id, kind, version, valid_at_us, heard_at_us, recorded_at_us, source, "
    "author, payload FROM records ORDER BY seq"
)


def chain_of(engine: Any) -> tuple[int, str, int | None]:
    """Return how many records there are, the head hash, and the first block that is wrong."""
    with engine.connect() as connection:
        rows = connection.exec_driver_sql(ROWS).fetchall()
        blocks = connection.exec_driver_sql("SELECT block, hash FROM blocks ORDER BY block").all()
    head = "0" * 64
    for number, told in blocks:
        digest = hashlib.sha256(bytes.fromhex(head))
        for row in (row for row in rows if row[0] == number):
            text = json.dumps(list(row[1:]), separators=(",", ":"), ensure_ascii=False).encode()
            digest.update(len(text).to_bytes(8, "big") + text)
        head = digest.hexdigest()
        if head != told:
            return len(rows), head, number
    return len(rows), head, None
