"""NMEA 0183 and AIS sentences in one reader, for logs in which both stand.

An AIS sentence has no time of its own: it is taken from its tag block or the time the receiver
wrote beside it, else from the last dated sentence in the same log (RMC, ZDA, a base station's
message 4); the record says which. Lines before the first dated one are dated by that. A stream
without dates is heard now. A file without any date was recorded at some other time: the reader
asks when, and nothing of it is recorded before somebody has said it.
"""

from __future__ import annotations

import re
from datetime import datetime
from typing import Any

from layers.contract import Feed, Follower, Origin, Reading
from layers.earth.clock import dtg
from layers.earth.unswept import unswept
from layers.journal.record import Reject
from layers.tracks.feeds import ais_drafts, ais_parts
from layers.tracks.feeds.ais_positions import checksums_hold, decode_positions
from layers.tracks.feeds.ais_quick import quick_lines, rows_of
from layers.tracks.feeds.gps_fix import OwnShip
from layers.tracks.feeds.log_dates import Dates, LogFact
from layers.tracks.feeds.log_lines import Split, StampOrder, split

_SENTENCE = re.compile(
    rb"^(\[?[0-9T:Z+./ -]{10,35}\]?[ ,;\t]*)?(\\[^\\]{1,120}\\ ?)*[!$][A-Z]{2}[A-Z]{3},"
)
_BARE = Split(b"")  # stands for a line that is the sentence alone
MOST_WAITING = 200  # messages in parts that may be open at once
LONGEST_LINE = 400  # tag block and sentence; the standard allows 82 for the sentence alone


def recognise(head: bytes, name: str) -> float:
    """Return how surely these bytes are an NMEA or AIS log."""
    lines = [line for line in head.split(b"\n")[:80] if line.strip()]
    if not lines:
        return 0.0
    good = sum(1 for line in lines if _SENTENCE.match(line.strip()))
    share = good / len(lines)
    if share >= 0.3:
        return 0.95
    return 0.5 if good and name.lower().endswith((".nmea", ".log", ".ais")) else 0.3 * (good > 0)


def read(data: bytes, origin: Origin) -> Reading:
    """Return the positions and static reports of a log; every line ends somewhere."""
    log = _Log(origin)
    with unswept():
        reading = log.take(data, origin)
    log.finish()
    return reading


def follow() -> Follower:
    """Begin a reader for a log in pieces or a stream; parts and dates are kept between them."""
    return _Follower()


def read_bare(data: bytes, origin: Origin) -> Reading:
    """Return what `read` does, and take a ship's own sentences that carry no checksum."""
    log = _Log(origin, bare=True)
    reading = log.take(data, origin)
    log.finish()
    return reading


def follow_bare() -> Follower:
    """Begin a reader as `follow` does, for gear that sends no checksum."""
    return _Follower(bare=True)


def _never(head: bytes, name: str) -> float:
    """Return 0: that a feed has no checksums is said by the person who sets it up."""
    return 0.0


FEED = Feed(
    key="nmea",
    title="NMEA 0183 and AIS sentences",
    recognise=recognise,
    read=read,
    stale_after_s=1800.0,
    streams=True,
    heading_lines=0,
    follow=follow,
)
# Version 2 of the standard left the checksum to the maker; later ones ask for it (from memory).
FEED_BARE = Feed(
    key="nmea-bare",
    title="NMEA 0183 without checksums (older gear; AIS lines still need theirs)",
    recognise=_never,
    read=read_bare,
    stale_after_s=1800.0,
    streams=True,
    heading_lines=0,
    follow=follow_bare,
)


class _Follower:
    """A log that goes on."""

    def __init__(self, *, bare: bool = False) -> None:
        self._log: _Log | None = None
        self._bare = bare

    def take(self, data: bytes, origin: Origin) -> Reading:
        if self._log is None:
            self._log = _Log(origin, bare=self._bare)
        reading = self._log.take(data, origin)
        self._log.give_up_old_parts()
        if not data:
            self._log.fall_silent()
        self._log.reading = Reading()  # what is handed over is not kept till the next lines come
        return reading

    def end(self) -> Reading:
        if self._log is None:
            return Reading()
        self._log.reading = Reading()
        self._log.finish()
        return self._log.reading


class _Log:
    """One pass over one log, whole or piece by piece."""

    def __init__(self, origin: Origin, *, bare: bool = False) -> None:
        self.origin = origin
        self.reading = Reading()
        self.box = ais_parts.PartBox()
        self.dates = Dates(origin)
        self.own = OwnShip(self.dates, bare=bare)
        self.order = StampOrder()

    def take(self, data: bytes, origin: Origin) -> Reading:
        self.origin = origin
        self.dates.go_on(origin)
        self.reading = Reading()
        lines = [line.strip() for line in data.split(b"\n")]
        if lines and not lines[-1]:
            lines.pop()
        self.order.look(line for line in lines if line[:1].isdigit() or line[:1] == b"[")
        bare = list(lines)
        beside: dict[int, Split | None] = {}  # only of lines with more than the sentence on them
        for index, line in enumerate(lines):
            if not line:
                self._pass("empty line")
                beside[index] = None
            elif line[:1] not in b"!$" or line[-3:-2] != b"*" or len(line) > LONGEST_LINE:
                part = beside[index] = self._split(index, line)
                bare[index] = b"" if part is None else part.bare
        quick, payloads = quick_lines(bare)
        rows: list[tuple[Any, ...] | None] = [None] * len(lines)
        held = checksums_hold([bare[line] for line in quick]).tolist()
        table = rows_of(decode_positions(payloads))
        for place, good, found in zip(quick, held, table, strict=True):
            rows[place] = found if good else None
        for index, (line, row) in enumerate(zip(lines, rows, strict=True)):
            part = beside.get(index, _BARE) if beside else _BARE
            if part is None:
                continue
            if row is not None:
                self._quick(index, line, None if part is _BARE else part, row)
            else:
                self._one(index, line, Split(line) if part is _BARE else part)
        return self._given()

    def _split(self, index: int, line: bytes) -> Split | None:
        if len(line) > LONGEST_LINE:
            self._reject(index, line, f"longer than {LONGEST_LINE} characters: not a sentence")
            return None
        origin = self.origin
        near = origin.recorded_at or (origin.received_at if origin.stream or origin.live else None)
        try:
            part = split(line, self.order.of(), near)
        except (ValueError, OverflowError) as failure:
            self._reject(index, line, str(failure))
            return None
        self.dates.two_days = self.dates.two_days or part.two_days
        if part.damaged:
            self._doubt(f"{part.damaged}; the sentence behind it is dated as one without it")
        return part

    def _given(self) -> Reading:
        """Return the reading with what is dated by now, and what will never be."""
        self.reading.drafts.extend(self.dates.ready())
        self.reading.asks = self.dates.asks()
        return self.reading

    def give_up_old_parts(self) -> None:
        """Let go of the oldest messages that never became whole, so that few are kept."""
        while len(self.box.waiting) > MOST_WAITING:
            for part in self.box.waiting.pop(next(iter(self.box.waiting))).values():
                self._reject_part(part, "the other parts of this AIS message never came")

    def fall_silent(self) -> None:
        """Complete what waits for further lines, which do not come."""
        self.own.close()
        self.dates.end()
        self._given()

    def _quick(self, index: int, line: bytes, part: Split | None, row: tuple[Any, ...]) -> None:
        kind, mmsi, latitude, longitude, speed, course, heading, status, second = row
        subject = f"mmsi:{mmsi:09d}"
        at, time_from = (None, "") if part is None else (part.at, part.time_from)
        if status == ais_drafts.SART_ACTIVE:
            text = {"subject": subject, "text": ais_drafts.SART_WORDS}
            self._draft("tracks.safety_text", index, line, at, time_from, text)
        if latitude is None or not mmsi:
            self._pass(ais_drafts.NO_POSITION if mmsi else ais_drafts.NO_NUMBER)
            return
        payload = {
            "subject": subject,
            "latitude_deg": latitude,
            "longitude_deg": longitude,
            "speed_kn": speed,
            "course_true_deg": course,
            "heading_true_deg": heading,
            "said_by": f"AIS {kind}{ais_parts.HOW.get(second, '')}",
        }
        if status != 15:
            payload["nav_status"] = status
        if at is None and self.dates.add_fix(subject, payload):
            return
        self._draft("tracks.position", index, line, at, time_from, payload)

    def _one(self, index: int, line: bytes, part: Split) -> None:
        if line.startswith(b"#"):
            self._pass("comment")
            return
        try:
            if part.bare[:1] == b"!":
                self._ais(index, line, part)
            elif part.bare[:1] == b"$":
                self._own(index, line, part)
            elif part.tag is not None and not part.bare:
                self._pass("tag block without a sentence")
            else:
                self._reject(index, line, "not an NMEA sentence, which begins with $ or !")
        except (ArithmeticError, *ais_parts.UNREADABLE):  # one sentence never costs the log
            self._reject(index, line, "a sentence whose fields do not fit together")

    def _own(self, index: int, line: bytes, part: Split) -> None:
        place = self.origin.first_line + index
        try:
            reason = self.own.take(part.bare.decode("ascii"), place, line, part.at)
        except UnicodeDecodeError:
            self._reject(index, line, "letters that no NMEA sentence has")
            return
        except ValueError as failure:
            self._reject(index, line, str(failure))
            return
        while self.own.told:
            self._doubt(self.own.told.pop())
        if reason:
            self._pass(reason)

    def _ais(self, index: int, line: bytes, part: Split) -> None:
        bare = part.bare
        try:
            if not checksums_hold([bare])[0]:
                raise ValueError("the checksum is wrong or missing")
            fields = bare.split(b",")
            if len(fields) != 7:
                raise ValueError("an AIS sentence has seven fields")
            if not (fields[1].isdigit() and fields[2].isdigit()):
                raise ValueError("an AIS sentence that does not say which part of how many it is")
            total, number = int(fields[1]), int(fields[2])
            if not 1 <= number <= total <= 9:
                raise ValueError(f"part {number} of {total} cannot be")
        except ValueError as failure:
            self._reject(index, line, str(failure))
            return
        piece = ais_parts.SentencePart(
            line=self.origin.first_line + index,
            text=bare,
            number=number,
            at=part.at,
            time_from=part.time_from,
        )
        if total == 1:
            self._message([piece])
            return
        same = (str(total), fields[3].decode("latin-1"), fields[4].decode("latin-1"))
        key = self.box.key(part.tag.group if part.tag else None, same, number)
        whole, lost = self.box.add(key, total, piece)
        for gone in lost:
            self._reject_part(gone, "the other parts of this AIS message never came")
        if whole:
            self._message(whole)

    def _message(self, parts: list[ais_parts.SentencePart]) -> None:
        first = parts[0]
        try:
            message = ais_parts.decode_message([part.text for part in parts])
        except ValueError as failure:
            for part in parts:
                self._reject_part(part, str(failure))
            return
        stamped = next((part for part in parts if part.at is not None), first)
        self._keep(message, first, stamped)
        for _ in parts[1:]:
            self._pass("further part of an AIS message")

    def _keep(
        self, message: dict[str, Any], part: ais_parts.SentencePart, stamped: ais_parts.SentencePart
    ) -> None:
        kind = int(message["msg_type"])
        index = part.line - self.origin.first_line
        base = ais_drafts.base_time(message)
        if base is not None:
            if self.dates.by_other(base):
                self._pass("AIS time of a base station, used for the lines around it")
            elif self.dates.by_sentence:
                self._pass("AIS time of a base station; the log is dated by its own sentences")
            else:
                when = dtg(base)
                self._doubt(f"a base station says {when}, far from the rest of the log: not used")
            return
        if not message["mmsi"]:
            self._pass(ais_drafts.NO_NUMBER)
            return
        facts = list(ais_drafts.said(message))
        seen = ais_drafts.weather(message, self.origin.received_at)
        if seen is not None:
            # its day bears no month: that is told by when the log heard it
            self.dates.add(
                LogFact(
                    kind="weather.observation",
                    payload=seen[1],
                    place=part.line,
                    raw=part.text,
                    at=stamped.at,
                    time_from=stamped.time_from,
                    remade=lambda heard: ais_drafts.weather(message, heard),
                )
            )
            return
        if not facts:
            self._pass(
                ais_drafts.NO_POSITION
                if kind in ais_parts.POSITION_TYPES
                else f"AIS message type {kind}, which no layer uses"
            )
        for place, (name, payload) in enumerate(facts):
            suffix = name.rpartition(".")[2] if place else ""
            self._draft(name, index, part.text, stamped.at, stamped.time_from, payload, suffix)

    def _draft(
        self,
        kind: str,
        index: int,
        line: bytes,
        at: datetime | None,
        time_from: str,
        payload: dict[str, Any],
        suffix: str = "",
    ) -> None:
        self.dates.add(
            LogFact(
                kind=kind,
                payload=payload,
                place=self.origin.first_line + index,
                raw=line,
                at=at,
                time_from=time_from,
                suffix=suffix,
            )
        )

    def finish(self) -> None:
        """Close what is open; what never became whole is a reject."""
        for part in self.box.left():
            self._reject_part(part, "the other parts of this AIS message never came")
        self.box.waiting.clear()
        self.own.close()
        self.dates.end()
        self._given()

    def _reject_part(self, part: ais_parts.SentencePart, reason: str) -> None:
        self._reject(part.line - self.origin.first_line, part.text, reason)

    def _reject(self, index: int, line: bytes, reason: str) -> None:
        text = line.decode("ascii", "backslashreplace")[:LONGEST_LINE]
        place = self.origin.first_line + index
        self.reading.rejects.append(
            Reject(source=self.origin.source, line=place, text=text, reason=reason)
        )

    def _doubt(self, reason: str) -> None:
        self.reading.doubts[reason] = self.reading.doubts.get(reason, 0) + 1

    def _pass(self, reason: str) -> None:
        self.reading.passed_over[reason] = self.reading.passed_over.get(reason, 0) + 1
