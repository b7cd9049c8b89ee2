"""Reading a file: recognised, unpacked, in pieces, decoded where it can do no harm."""

from __future__ import annotations

import hashlib
import io
import logging
import re
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import IO

from layers.contract import Feed, Origin, Reading
from layers.earth.errors import InputError, MusterplotError
from layers.earth.plausible import doubts_of
from layers.ingest.isolated import read_isolated
from layers.ingest.pieces import (
    ACCEPTED_SIZE,
    LARGEST_FILE,
    LARGEST_WHOLE_TEXT,
    pieces,
)
from layers.ingest.recognition import HEAD_BYTES, recognise, recognise_archive
from layers.ingest.unpack import check_archive, packing, unpacked
from layers.journal.record import Reject

log = logging.getLogger(__name__)

Take = Callable[[Reading], None]
_BLOCK = 1024 * 1024
_SAYS_UTF16 = re.compile(r"""\A(\s*<\?xml[^>]{0,80}encoding=["'])UTF-16""", re.IGNORECASE)
_UTF16 = (b"\xff\xfe", b"\xfe\xff")
_UTF8_MARK = b"\xef\xbb\xbf"


@dataclass(slots=True, kw_only=True)
class FileOutcome:
    """What became of one file: counts only, so that a long file costs no memory.

    ``format`` is the feed's key, ``""`` when nothing knew the file. ``asks`` is what a person
    has to say before the records may be kept: they are counted, and not recorded.
    """

    path: str
    format: str = ""
    records: Counter[str] = field(default_factory=Counter)
    reasons: Counter[str] = field(default_factory=Counter)
    passed_over: Counter[str] = field(default_factory=Counter)
    doubts: Counter[str] = field(default_factory=Counter)
    asks: str = ""

    @property
    def rejects(self) -> int:
        """How many lines or files were rejected."""
        return self.reasons.total()

    def count(self, reading: Reading) -> None:
        """Count one piece."""
        self.records.update(draft.kind for draft in reading.drafts)
        self.reasons.update(reject.reason for reject in reading.rejects)
        self.passed_over.update(reading.passed_over)
        self.asks = self.asks or reading.asks
        self.doubts.update(reading.doubts)
        for draft in reading.drafts:
            self.doubts.update(doubts_of(draft.kind, draft.payload).values())


@dataclass(frozen=True, slots=True, kw_only=True)
class FileTold:
    """What a person has said of a file: when it was recorded, what it is meant as."""

    recorded_at: datetime | None = None
    meant: str = ""


NOTHING_TOLD = FileTold()


@dataclass(slots=True, kw_only=True)
class Summary:
    """What became of a file as it was given: more than one outcome when it was an archive."""

    outcomes: list[FileOutcome] = field(default_factory=list)

    def sentence(self) -> str:
        """Return what was read, as it is said."""
        records: Counter[str] = Counter()
        rejects = 0
        for outcome in self.outcomes:
            records.update(outcome.records)
            rejects += outcome.rejects
        said = ", ".join(f"{count} {kind}" for kind, count in sorted(records.items()))
        return f"{said or 'no records'}; {rejects} rejected"


def read_path(
    path: Path,
    received_at: datetime,
    take: Take,
    *,
    source: str | None = None,
    feed: Feed | None = None,
    told: FileTold = NOTHING_TOLD,
) -> Summary:
    """Read a file, handing over each piece as it is read.

    Parameters
    ----------
    path : Path
        The file.
    received_at : datetime
        When it was received, UTC.
    take : callable
        Given each piece's `Reading`; what it raises stops the reading.
    source : str, optional
        As it will stand in the records; the file's name if left out.
    feed : Feed, optional
        What it is, when a person has said so; else it is told from the content.
    told : FileTold
        What a person has said of it, where it asks.
    """
    name = source or path.name
    try:
        size = path.stat().st_size
        if not path.is_file():  # a pipe would be waited for, without end
            return _refused(name, "not a file", take)
        with path.open("rb") as stream:
            return _read(stream, size, name, received_at, take, feed, told)
    except OSError as fault:
        return _refused(name, f"the file cannot be read ({fault.strerror})", take)


def read_content(
    content: bytes,
    name: str,
    received_at: datetime,
    take: Take,
    *,
    feed: Feed | None = None,
    told: FileTold = NOTHING_TOLD,
) -> Summary:
    """Read a file held in memory (an upload, an answer over HTTP); as `read_path`."""
    return _read(io.BytesIO(content), len(content), name, received_at, take, feed, told)


def _read(
    stream: IO[bytes],
    size: int,
    name: str,
    received_at: datetime,
    take: Take,
    feed: Feed | None,
    told: FileTold,
) -> Summary:
    if size > LARGEST_FILE:
        said = f"{size / 1024**2:.0f} MB is too large; accepted: {ACCEPTED_SIZE}, cut the file"
        return _refused(name, said, take)
    summary = Summary()
    try:
        head = stream.read(HEAD_BYTES)
        packed = packing(head, name)
        whole = recognise_archive(head, name) if packed == "zip" else None
        if whole is not None:
            check_archive(stream, name)
        if whole is not None or not packed:
            summary.outcomes.append(_read_one(stream, name, received_at, take, whole or feed, told))
            return summary
        for inner, unpacked_stream in unpacked(stream, size, name):
            outcome = _read_one(unpacked_stream, inner, received_at, take, feed, told)
            summary.outcomes.append(outcome)
    except InputError as fault:
        summary.outcomes.extend(_refused(name, str(fault), take).outcomes)
    return summary


def _refused(name: str, reason: str, take: Take) -> Summary:
    outcome = FileOutcome(path=name)
    reading = Reading(rejects=[Reject(source=name, line=None, text="", reason=reason)])
    outcome.count(reading)
    take(reading)
    return Summary(outcomes=[outcome])


def _read_one(
    stream: IO[bytes],
    name: str,
    received_at: datetime,
    take: Take,
    feed: Feed | None,
    told: FileTold,
) -> FileOutcome:
    """Read one file that is not packed."""
    outcome = FileOutcome(path=name)

    def keep(reading: Reading) -> None:
        outcome.count(reading)
        take(reading)

    stream.seek(0)
    digest, size = _digest(stream)
    stream, head = _as_utf8(stream, size)
    try:
        feed = feed or recognise(head, name)
    except InputError as fault:
        shown = head[:80].decode("utf-8", "backslashreplace")
        keep(Reading(rejects=[Reject(source=name, line=None, text=shown, reason=str(fault))]))
        return outcome
    outcome.format = feed.key
    origin = Origin(
        source=name,
        received_at=received_at,
        digest=digest,
        recorded_at=told.recorded_at,
        meant=told.meant,
    )
    if feed.heading_lines is not None:
        _in_pieces(feed, stream, origin, keep)
    else:
        _whole(feed, stream, size, origin, keep)
    if not outcome.records and not outcome.rejects and not outcome.passed_over:
        keep(_one_reject(origin, f"read as {feed.title}, and nothing was found in it"))
    return outcome


def _digest(stream: IO[bytes]) -> tuple[str, int]:
    digest, size = hashlib.sha256(), 0
    while block := stream.read(_BLOCK):
        digest.update(block)
        size += len(block)
    stream.seek(0)
    return digest.hexdigest(), size


def _as_utf8(stream: IO[bytes], size: int) -> tuple[IO[bytes], bytes]:
    """Return the stream without a byte-order mark, UTF-16 turned into UTF-8, and its head."""
    head = stream.read(HEAD_BYTES)
    stream.seek(0)
    if head.startswith(_UTF16) and size <= LARGEST_WHOLE_TEXT:
        try:
            text = stream.read().decode("utf-16")
            stream = io.BytesIO(_SAYS_UTF16.sub(r"\1UTF-8", text, count=1).encode())
        except UnicodeError:
            stream.seek(0)
            return stream, head
        head = stream.read(HEAD_BYTES)
        stream.seek(0)
    if b"\r" in head and b"\n" not in head and b"\x00" not in head and size <= LARGEST_WHOLE_TEXT:
        stream = io.BytesIO(stream.read().replace(b"\r", b"\n"))  # lines ended by returns alone
        head = head.replace(b"\r", b"\n")
    if head.startswith(_UTF8_MARK):
        stream.seek(len(_UTF8_MARK))
        head = head[len(_UTF8_MARK) :]
    return stream, head


def _in_pieces(feed: Feed, stream: IO[bytes], origin: Origin, keep: Take) -> None:
    follower = feed.follow() if feed.follow is not None else None
    assert feed.heading_lines is not None
    for piece in pieces(stream, origin.source, feed.heading_lines):
        if piece.rejects:
            keep(Reading(rejects=list(piece.rejects)))
        if not piece.data:
            continue
        here = replace(origin, first_line=piece.first_line)
        read = follower.take if follower is not None else feed.read
        found = guarded(partial(read, piece.data, here), origin)
        keep(found)
        if found.ended:
            break
    if follower is not None:
        keep(guarded(follower.end, origin))


def _whole(feed: Feed, stream: IO[bytes], size: int, origin: Origin, keep: Take) -> None:
    if feed.isolated:
        data = stream.read()
        keep(read_isolated(feed, data, origin))
        return
    if size > LARGEST_WHOLE_TEXT:
        keep(
            _one_reject(
                origin,
                f"{size / 1024**2:.0f} MB of {feed.title} is too large to be read whole; "
                f"accepted: up to {LARGEST_WHOLE_TEXT // 1024**2} MB, cut the file",
            )
        )
        return
    held = []
    for piece in pieces(stream, origin.source, 0):  # takes out lines that are no text
        if piece.rejects:
            keep(Reading(rejects=list(piece.rejects)))
        held.append(piece.data)
    keep(guarded(partial(feed.read, b"".join(held), origin), origin))


def guarded(read: Callable[[], Reading], origin: Origin) -> Reading:
    """Return what a reader gives; one that stumbles costs this piece, with a sentence."""
    try:
        return read()
    except MusterplotError as fault:
        return _one_reject(origin, str(fault))
    except Exception:  # one bad file never stops a feed
        log.exception("a reader stumbled over %s", origin.source)
        return _one_reject(origin, "the reader could not make sense of the file; ask for it again")


def _one_reject(origin: Origin, reason: str) -> Reading:
    return Reading(rejects=[Reject(source=origin.source, line=None, text="", reason=reason)])
