"""NMEA 0183 and AIS sentences in one reader, for logs in which both stand.

An AIS sentence has no time of its own: it is taken from its tag block, else from the last
dated sentence before it in the same log, else from the receiver; the record says which.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import datetime
from typing import Any

from layers.contract import Feed, Follower, Origin, Reading
from layers.earth.clock import to_us
from layers.earth.unswept import unswept
from layers.journal.record import Draft, Reject, file_identity, stream_identity
from layers.tracks.feeds import ais_parts
from layers.tracks.feeds.ais_positions import (
    PAYLOAD_CHARACTERS,
    AisPositions,
    checksums_hold,
    decode_positions,
)
from layers.tracks.feeds.gps_fix import OwnShip

_SENTENCE = re.compile(rb"^(\\[^\\]{1,120}\\)?[!$][A-Z]{2}[A-Z]{3},")
_ONE_BY_ONE = {"1": 1, "2": 2, "3": 3, "B": 18}
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
            self._log.close_fix()
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
        self.own = OwnShip(origin, bare=bare)
        self.received_us = to_us(origin.received_at)

    def take(self, data: bytes, origin: Origin) -> Reading:
        self.origin = self.own.origin = origin
        self.received_us = to_us(origin.received_at)
        self.reading = Reading()
        lines = [line.strip() for line in data.split(b"\n")]
        if lines and not lines[-1]:
            lines.pop()
        bare = [_without_tag(line) for line in lines]
        quick = _quick_lines(bare)
        rows = {line: row for row, line in enumerate(quick)}
        held = checksums_hold([bare[line] for line in quick])
        found = decode_positions([_payload(bare[line]) for line in quick])
        table = _rows(found)
        for index, line in enumerate(lines):
            place = rows.get(index)
            row = table[place] if place is not None and held[place] else None
            if row is not None:
                self._quick(index, line, bare[index], row)
            else:
                self._one(index, line, bare[index])
        return self.reading

    def give_up_old_parts(self) -> None:
        """Let go of the oldest messages that never became whole, so that few are kept."""
        while len(self.box.waiting) > MOST_WAITING:
            for part in self.box.waiting.pop(next(iter(self.box.waiting))).values():
                self._reject_part(part, "the other parts of this AIS message never came")

    def close_fix(self) -> None:
        """Complete the fix that waits for further sentences of its second."""
        self.own.close()
        self.reading.drafts.extend(self.own.finished())

    def _quick(self, index: int, line: bytes, bare: bytes, row: tuple[Any, ...]) -> None:
        at: datetime | None = None
        if len(bare) != len(line):
            try:
                at = ais_parts.read_tag_block(line[1 : line.index(b"\\", 1)]).at
            except ValueError as failure:
                self._reject(index, line, str(failure))
                return
        kind, mmsi, latitude, longitude, speed, course, heading = row
        if latitude is None:
            self._pass("AIS position report that says it has no position")
            return
        self._draft(
            "tracks.position",
            index,
            line,
            at,
            {
                "subject": f"mmsi:{mmsi:09d}",
                "latitude_deg": latitude,
                "longitude_deg": longitude,
                "speed_kn": speed,
                "course_true_deg": course,
                "heading_true_deg": heading,
                "said_by": f"AIS {kind}",
            },
        )

    def _one(self, index: int, line: bytes, bare: bytes) -> None:
        if not line:
            self._pass("empty line")
        elif line.startswith(b"#"):
            self._pass("comment")
        elif len(line) > LONGEST_LINE:
            self._reject(index, line, f"longer than {LONGEST_LINE} characters: not a sentence")
        elif bare[:1] == b"!":
            self._ais(index, line, bare)
        elif bare[:1] == b"$":
            self._own(index, line, bare)
        else:
            self._reject(index, line, "not an NMEA sentence, which begins with $ or !")

    def _own(self, index: int, line: bytes, bare: bytes) -> None:
        place = self.origin.first_line + index
        try:
            stamp = self._tag(line, bare)
            reason = self.own.take(bare.decode("ascii"), place, line, stamp.at if stamp else None)
        except ValueError as failure:
            self._reject(index, line, str(failure))
            return
        if reason:
            self._pass(reason)
        self.reading.drafts.extend(self.own.finished())

    def _ais(self, index: int, line: bytes, bare: bytes) -> None:
        try:
            if not checksums_hold([bare])[0]:
                raise ValueError("the checksum is wrong or missing")
            stamp = self._tag(line, bare)
            fields = bare.split(b",")
            if len(fields) != 7:
                raise ValueError("an AIS sentence has seven fields")
            total, number = int(fields[1]), int(fields[2])
            if not 1 <= number <= total <= 9:
                raise ValueError(f"part {number} of {total} cannot be")
        except ValueError as failure:
            self._reject(index, line, str(failure))
            return
        at = stamp.at if stamp else None
        part = ais_parts.Part(line=self.origin.first_line + index, text=line, number=number, at=at)
        if total == 1:
            self._message([part])
            return
        key = (
            ("group", stamp.group)
            if stamp and stamp.group
            else ("parts", str(total), fields[3].decode(), fields[4].decode())
        )
        whole, lost = self.box.add(key, total, part)
        for gone in lost:
            self._reject_part(gone, "the other parts of this AIS message never came")
        if whole:
            self._message(whole)

    def _message(self, parts: list[ais_parts.Part]) -> None:
        first = parts[0]
        try:
            message = ais_parts.decode_message([_without_tag(part.text) for part in parts])
        except ValueError as failure:
            for part in parts:
                self._reject_part(part, str(failure))
            return
        stamps = [part.at for part in parts if part.at is not None]
        kept = self._keep(message, first, stamps[0] if stamps else None)
        if not kept:
            self._pass(f"AIS message type {message['msg_type']}, which no layer uses")
        for _ in parts[1:]:
            self._pass("further part of an AIS message")

    def _keep(self, message: dict[str, Any], part: ais_parts.Part, at: datetime | None) -> bool:
        kind = int(message["msg_type"])
        index = part.line - self.origin.first_line
        subject = f"mmsi:{int(message['mmsi']):09d}"
        said_by = f"AIS {kind}"
        kept = False
        if kind in ais_parts.POSITION_TYPES:
            fields = ais_parts.fields_of_position(message)
            if fields is None:
                self._pass("AIS position report that says it has no position")
            else:
                payload = {"subject": subject, **fields, "said_by": said_by}
                self._draft("tracks.position", index, part.text, at, payload)
            kept = True
        if kind in ais_parts.STATIC_TYPES:
            payload = {"subject": subject, **ais_parts.fields_of_static(message)}
            place = "static" if kept else ""
            self._draft("tracks.static", index, part.text, at, payload, place)
            kept = True
        return kept

    def _draft(
        self,
        kind: str,
        index: int,
        line: bytes,
        at: datetime | None,
        payload: dict[str, Any],
        suffix: str = "",
    ) -> None:
        origin = self.origin
        valid_at, time_from = at, "tag block"
        if valid_at is None:
            valid_at = self.own.log_time()
            time_from = "log" if self.own.dated else "date from receiver"
        if valid_at is None:
            valid_at, time_from = origin.received_at, "receiver"
        if kind == "tracks.position":
            payload["time_from"] = time_from
        place = f"{origin.first_line + index}{suffix}"
        identity = (
            stream_identity(origin.source, self.received_us, line + suffix.encode())
            if origin.stream
            else file_identity(origin.digest, place)
        )
        self.reading.drafts.append(
            Draft(
                kind=kind,
                payload=payload,
                valid_at=valid_at,
                heard_at=origin.received_at,
                source=origin.source,
                identity=identity,
            )
        )

    def _tag(self, line: bytes, bare: bytes) -> ais_parts.TagBlock | None:
        if len(line) == len(bare):
            return None
        return ais_parts.read_tag_block(line[1 : line.index(b"\\", 1)])

    def finish(self) -> None:
        """Close what is open; what never became whole is a reject."""
        for part in self.box.left():
            self._reject_part(part, "the other parts of this AIS message never came")
        self.box.waiting.clear()
        self.close_fix()

    def _reject_part(self, part: ais_parts.Part, reason: str) -> None:
        self._reject(part.line - self.origin.first_line, part.text, reason)

    def _reject(self, index: int, line: bytes, reason: str) -> None:
        text = line.decode("ascii", "backslashreplace")[:LONGEST_LINE]
        place = self.origin.first_line + index
        self.reading.rejects.append(
            Reject(source=self.origin.source, line=place, text=text, reason=reason)
        )

    def _pass(self, reason: str) -> None:
        self.reading.passed_over[reason] = self.reading.passed_over.get(reason, 0) + 1


def _without_tag(line: bytes) -> bytes:
    if line[:1] != b"\\":
        return line
    end = line.find(b"\\", 1)
    return line if end < 0 else line[end + 1 :]


def _payload(sentence: bytes) -> bytes:
    return sentence.split(b",", 6)[5]


def _quick_lines(bare: Iterable[bytes]) -> list[int]:
    """Return the places of single sentences of 28 characters and types 1, 2, 3 and 18."""
    wanted = {letter.encode() for letter in _ONE_BY_ONE}
    chosen = []
    for index, line in enumerate(bare):
        if line[:1] != b"!" or line[6:11] != b",1,1," or len(line) > 82:
            continue
        fields = line.split(b",", 6)
        if len(fields) == 7 and len(fields[5]) == PAYLOAD_CHARACTERS and fields[5][:1] in wanted:
            chosen.append(index)
    return chosen


def _rows(found: AisPositions) -> list[tuple[Any, ...] | None]:
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
    return [
        row if good else None
        for good, row in zip(found.readable.tolist(), zip(*columns, strict=True), strict=True)
    ]
