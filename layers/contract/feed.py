"""What a layer reads: where bytes came from, what a reader makes of them, one kind of feed."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Protocol

from layers.journal.record import Draft, Reject, content_identity

# What a map file may be meant as; its shapes alone do not say it.
MEANT = ("route", "area", "evidence")
ASKS_WHAT = "what is it"  # how a question begins that `Origin.meant` answers


@dataclass(frozen=True, slots=True, kw_only=True)
class Origin:
    """Where bytes came from, for the reader that turns them into drafts.

    Parameters
    ----------
    source : str
        As it will stand in the records: ``"buoy.txt"``, ``"udp:10110"``.
    received_at : datetime
        When they were received, UTC; gives the date that NMEA lines lack.
    digest : str
        SHA-256 of the whole file, hex; for a stream, of this piece.
    stream : bool
        A line of a stream rather than of a file.
    first_line : int
        Number of the first line of these bytes in its file.
    live : bool
        Lines of a file that came while it was watched: what bears no date was heard now.
    recorded_at : datetime or None
        When the file was recorded, as a person has said it; for what bears no date.
    meant : str
        What a person has said that the file is, where its kind asks: ``"route"``.
    """

    source: str
    received_at: datetime
    digest: str
    stream: bool = False
    first_line: int = 1
    live: bool = False
    recorded_at: datetime | None = None
    meant: str = ""

    def draft(
        self,
        kind: str,
        payload: Mapping[str, Any],
        valid_at: datetime | None = None,
        *,
        identity: str = "",
        version: int = 1,
    ) -> Draft:
        """Return a record that these bytes tell, heard when they were received.

        Without ``valid_at`` it was true when they were received; without ``identity`` it is
        the same fact in whatever file says the same of the same time.
        """
        at = self.received_at if valid_at is None else valid_at
        return Draft(
            kind=kind,
            payload=payload,
            valid_at=at,
            heard_at=self.received_at,
            source=self.source,
            identity=identity or content_identity(kind, at, payload),
            version=version,
        )


@dataclass(slots=True, kw_only=True)
class Reading:
    """What a reader made of some bytes; every line ends in one of the two lists.

    ``passed_over`` counts by reason the lines that are rightly not facts (headers, comments,
    message types that carry nothing a layer uses). ``doubts`` counts by reason what is doubtful
    in a record and was set aside there. ``asks`` is what a person has to answer before the drafts
    may be recorded; `to_keep` then gives none of them. ``ended`` says that what follows in the
    file is of another file and must not be read by the heads of this one.
    """

    drafts: list[Draft] = field(default_factory=list)
    rejects: list[Reject] = field(default_factory=list)
    passed_over: dict[str, int] = field(default_factory=dict)
    blobs: dict[str, bytes] = field(default_factory=dict)
    doubts: dict[str, int] = field(default_factory=dict)
    asks: str = ""
    ended: bool = False

    def to_keep(self) -> Reading:
        """Return what may be recorded: while something is asked, the question in their place."""
        if not self.asks:
            return self
        source = self.drafts[0].source if self.drafts else ""
        held = Reject(source=source, line=None, text="", reason=self.asks)
        return Reading(rejects=[*self.rejects, held], passed_over=self.passed_over)


class Follower(Protocol):
    """A reader that goes on from one piece of lines to the next: a long log, a stream."""

    def take(self, data: bytes, origin: Origin) -> Reading:
        """Return what these whole lines give; ``origin.first_line`` counts on.

        No lines at all means that a stream has fallen silent: what waits for more is closed.
        """
        ...

    def end(self) -> Reading:
        """Return what was still waiting."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Feed:
    """One kind of file or stream that a layer reads.

    Parameters
    ----------
    key : str
        ``"ndbc"``; the ``format`` of ``python -m layers read``.
    title : str
        ``"buoy text (standard, spectral, ocean)"``.
    recognise : callable
        ``recognise(head, name) -> float``: 0 not mine, 1 certain, from the first 64 KiB. The
        content decides; the name only breaks ties.
    read : callable
        ``read(data, origin) -> Reading``. Never raises for bad content: it rejects.
    stale_after_s : float
        Age at which what came by this feed is marked stale.
    isolated : bool
        Decoded by C code that can crash: runs in a process of its own.
    streams : bool
        May arrive line by line over UDP or TCP.
    heading_lines : int or None
        A long file may be read in pieces cut between lines, each with this many of its first
        lines put before it (``first_line`` then counts back by as many). None: read whole.
    follow : callable or None
        ``follow()`` begins a reader that keeps its state from piece to piece.
    archives : bool
        Reads a zip archive as a whole; of any other each file inside is read by itself, and what
        its packed bytes look like says nothing.
    """

    key: str
    title: str
    recognise: Callable[[bytes, str], float]
    read: Callable[[bytes, Origin], Reading]
    stale_after_s: float
    isolated: bool = False
    streams: bool = False
    heading_lines: int | None = None
    follow: Callable[[], Follower] | None = None
    archives: bool = False
