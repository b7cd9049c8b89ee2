"""The sentences of a log that are decoded together: single ones of the common position types."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from layers.tracks.feeds.ais_positions import PAYLOAD_CHARACTERS, AisPositions

_ONE_BY_ONE = {"1": 1, "2": 2, "3": 3, "B": 18}


def quick_lines(bare: Iterable[bytes]) -> tuple[list[int], list[bytes]]:
    """Return places and the 28 six-bit letters of single sentences of types 1, 2, 3 and 18."""
    wanted = frozenset(letter.encode() for letter in _ONE_BY_ONE)
    chosen, payloads = [], []
    for index, line in enumerate(bare):
        if line[:1] != b"!" or line[6:11] != b",1,1," or len(line) > 82:
            continue
        fields = line.split(b",", 6)
        if len(fields) == 7 and len(fields[5]) == PAYLOAD_CHARACTERS and fields[5][:1] in wanted:
            chosen.append(index)
            payloads.append(fields[5])
    return chosen, payloads


def rows_of(found: AisPositions) -> list[tuple[Any, ...] | None]:
    """Return one tuple of plain values a report, None where it could not be read."""
    columns = [found.message_type.tolist(), found.mmsi.tolist()]
    columns += [
        [None if value != value else value for value in array.round(6).tolist()]
        for array in (
            found.latitude_deg,
            found.longitude_deg,
            found.speed_kn,
            found.course_true_deg,
            found.heading_true_deg,
        )
    ]
    columns += [found.nav_status.tolist(), found.second.tolist()]
    return [
        row if good else None
        for good, row in zip(found.readable.tolist(), zip(*columns, strict=True), strict=True)
    ]
