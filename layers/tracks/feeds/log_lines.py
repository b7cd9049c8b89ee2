"""One line of a log: the sentence in it, and the time that was written beside it."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime

from layers.earth.errors import InputError
from layers.earth.said import figure_dates
from layers.tracks.feeds.ais_parts import TagBlock, read_tag_block
from layers.tracks.feeds.log_dates import FIRST

# What receivers and loggers put round a sentence: a time before it, or, in the form of coastal
# networks, signal, slot, station and the receiver's epoch after its checksum.
_BEFORE = re.compile(
    rb"^\[?(\d{4}-\d\d-\d\d[T ]\d\d:\d\d:\d\d(?:\.\d{1,6})?(?:Z|[+-]\d\d:\d\d)?|"
    rb"1\d{9}(?:\.\d{1,6})?|"
    + figure_dates.PATTERN.encode()
    + rb")\]?(?:[ ,;\t]+(?=[!$\\])|(?=\\))"
)
_AFTER = re.compile(rb"^([!$][^*]{5,90}\*[0-9A-Fa-f]{2})[,;\t ](.*)$")
# the sentence after a tag block that is damaged
_BEHIND = re.compile(rb"[!$][^!$*\\]{5,90}\*[0-9A-Fa-f]{2}.*$")
_EPOCH = re.compile(rb"(?:^|,)(1\d{9})(?:\.\d{1,6})?$")


@dataclass(slots=True)
class Split:
    """A line taken apart: the sentence alone, when it was stamped, by whom, and its tag block.

    ``two_days`` is the time beside it where nothing tells which of its figures is the day,
    ``damaged`` what is wrong with the tag block, which then says nothing.
    """

    bare: bytes
    at: datetime | None = None
    time_from: str = ""
    tag: TagBlock | None = None
    two_days: str = ""
    damaged: str = ""


class StampOrder:
    """Which figure is the day in the dates that a logger wrote before its lines."""

    def __init__(self) -> None:
        self.found: figure_dates.Order = ""
        self.clash = ""

    def look(self, lines: Iterable[bytes]) -> None:
        """Learn it from lines that can be read one way only; once learnt it stays."""
        stamps = (found[1].decode("ascii") for line in lines if (found := _BEFORE.match(line)))
        try:
            self.found = self.found or figure_dates.order_of(stamps)
        except InputError as fault:
            self.clash = str(fault)

    def of(self) -> figure_dates.Order:
        """Return it; ``""`` where nothing has told it.

        Raises
        ------
        InputError
            Some lines have the day first, others the month.
        """
        if self.clash:
            raise InputError(self.clash)
        return self.found


def split(line: bytes, order: figure_dates.Order = "", near: datetime | None = None) -> Split:
    """Return a line taken apart; ``near`` is about when it was, where a date asks for it.

    Raises
    ------
    ValueError
        A time beside the sentence that is none.
    """
    if line[:1] in b"!$" and line[-3:-2] == b"*":
        return Split(line)
    at, time_from, tag, two_days, damaged = None, "", None, "", ""
    before = _BEFORE.match(line)
    if before:
        said = before[1].decode("ascii")
        if not figure_dates.in_figures(said):
            at, time_from = _time(before[1]), "receiver's stamp"
        elif not order and near is None and figure_dates.two_ways(said):
            two_days = said
        else:
            at, zone = figure_dates.read_figures(said, order, near)
            time_from = "receiver's stamp" if zone else "receiver's stamp, taken as UTC"
        line = line[before.end() :]
    more = b"\\" in line
    while more:  # several may stand one after the other (NMEA 0183 4.10, from memory)
        found, rest, wrong = _tag_of(line)
        damaged = damaged or wrong
        if found is not None:
            tag = found if tag is None else TagBlock(found.at or tag.at, found.group or tag.group)
            if found.at is not None and found.at >= FIRST:
                at, time_from = found.at, "tag block"
        more, line = rest[:1] == b"\\" and rest != line, rest
    after = _AFTER.match(line)
    if after:
        line = after[1]
        epoch = _EPOCH.search(after[2])
        if epoch and at is None:
            at, time_from = _time(epoch[1]), "receiver's stamp"
    return Split(line, at, time_from, tag, two_days if at is None else "", damaged)


def _tag_of(line: bytes) -> tuple[TagBlock | None, bytes, str]:
    """Return the tag block, the sentence behind it, and what is wrong with the block."""
    end = line.find(b"\\", 1)
    if line[:1] == b"\\" and end > 0:
        sentence = line[end + 1 :].lstrip()
        try:
            return read_tag_block(line[1:end]), sentence, ""
        except ValueError as failure:
            return None, sentence, str(failure)
    behind = _BEHIND.search(line)
    if behind is None:
        return None, line, ""
    return None, behind[0], "a tag block without its beginning or end"


def _time(text: bytes) -> datetime:
    said = text.decode("ascii")
    if said[4:5] != "-":
        return datetime.fromtimestamp(float(said), UTC)
    at = datetime.fromisoformat(said.replace(" ", "T"))
    return at.replace(tzinfo=UTC) if at.tzinfo is None else at.astimezone(UTC)
