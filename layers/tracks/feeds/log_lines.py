"""One line of a log: the sentence in it, and the time that was written beside it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime

from layers.tracks.feeds.ais_parts import TagBlock, read_tag_block

# What receivers and loggers put round a sentence: a time before it, or, in the form of coastal
# networks, signal, slot, station and the receiver's epoch after its checksum.
_BEFORE = re.compile(
    rb"^\[?(\d{4}-\d\d-\d\d[T ]\d\d:\d\d:\d\d(?:\.\d{1,6})?(?:Z|\+00:00)?|1\d{9}(?:\.\d{1,6})?)\]?"
    rb"[ ,;\t]+(?=[!$\\])"
)
_AFTER = re.compile(rb"^([!$][^*]{5,90}\*[0-9A-Fa-f]{2})[,;\t ](.*)$")
_EPOCH = re.compile(rb"(?:^|,)(1\d{9})(?:\.\d{1,6})?$")


@dataclass(slots=True)
class Split:
    """A line taken apart: the sentence alone, when it was stamped, by whom, and its tag block."""

    bare: bytes
    at: datetime | None = None
    time_from: str = ""
    tag: TagBlock | None = None


def split(line: bytes) -> Split:
    """Return a line taken apart.

    Raises
    ------
    ValueError
        A tag block that is damaged, or a time beside the sentence that is none.
    """
    if line[:1] in b"!$" and line[-3:-2] == b"*":
        return Split(line)
    at, time_from, tag = None, "", None
    before = _BEFORE.match(line)
    if before:
        at, time_from = _time(before[1]), "receiver's stamp"
        line = line[before.end() :]
    if line[:1] == b"\\":
        end = line.find(b"\\", 1)
        if end > 0:
            tag = read_tag_block(line[1:end])
            line = line[end + 1 :]
            if tag.at is not None:
                at, time_from = tag.at, "tag block"
    after = _AFTER.match(line)
    if after:
        line = after[1]
        epoch = _EPOCH.search(after[2])
        if epoch and at is None:
            at, time_from = _time(epoch[1]), "receiver's stamp"
    return Split(line, at, time_from, tag)


def _time(text: bytes) -> datetime:
    said = text.decode("ascii")
    if said[4:5] != "-":
        return datetime.fromtimestamp(float(said), UTC)
    at = datetime.fromisoformat(said.replace(" ", "T"))
    return at.replace(tzinfo=UTC) if at.tzinfo is None else at.astimezone(UTC)
