"""The contract of a layer: what it reads, computes, draws and says.

Every layer package builds one `Layer` value named ``LAYER`` in its ``__init__.py``; the
catalogue lists them. The functions are pure: the time and what other layers know come in as
arguments, and randomness comes from a seed that is part of the result.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum
from typing import Any, Protocol

from layers.earth.chart.marks import AnyMark
from layers.earth.table import Table
from layers.earth.values import HandedOn
from layers.journal.kinds import Kind
from layers.journal.known import Known
from layers.journal.record import Draft, Reject


class View(StrEnum):
    """Which of the three times the screen shows; it always says so."""

    KNOWN = "as known then"  # at equals as_of
    HINDSIGHT = "hindsight"  # at before as_of
    EXPECTED = "expected"  # at after as_of


@dataclass(frozen=True, slots=True)
class Moment:
    """The two times of a picture, never mixed.

    ``as_of`` is what was known; ``at`` is when it is shown for. Both UTC.
    """

    as_of: datetime
    at: datetime

    @property
    def view(self) -> View:
        """Which of the three this is."""
        if self.at == self.as_of:
            return View.KNOWN
        return View.HINDSIGHT if self.at < self.as_of else View.EXPECTED


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
    """

    source: str
    received_at: datetime
    digest: str
    stream: bool = False
    first_line: int = 1


@dataclass(slots=True, kw_only=True)
class Reading:
    """What a reader made of some bytes; every line ends in one of the two lists.

    ``passed_over`` counts by reason the lines that are rightly not facts (headers, comments,
    message types that carry nothing a layer uses).
    """

    drafts: list[Draft] = field(default_factory=list)
    rejects: list[Reject] = field(default_factory=list)
    passed_over: dict[str, int] = field(default_factory=dict)
    blobs: dict[str, bytes] = field(default_factory=dict)


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


Others = Mapping[str, HandedOn | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """A layer: one subject from feed to chart, table and sentence.

    Parameters
    ----------
    key, title : str
        ``"weather"``, ``"Weather and sea state"``.
    kinds : tuple of Kind
        The records it owns.
    feeds : tuple of Feed
        What it reads.
    needs : tuple of str
        Keys of the layers whose value it uses.
    compute : callable
        ``compute(known, others, moment) -> result``; raises `InputError` when it has nothing to
        work on. The result is the layer's own frozen dataclass; it must have ``rests_on``, a
        tuple of record ids.
    hand : callable or None
        ``hand(result)``: the value other layers get.
    marks, table, sentence : callables of the result
        What is drawn, tabled and said; no arithmetic beyond formatting.
    tables : callable or None
        ``tables(result) -> dict[str, Table]``: further tables by title.
    also_reads : tuple of str
        Names of kinds owned elsewhere that it reads too.
    grain_s : float
        Two times closer than this give the same result.
    patient : tuple of str
        Those of ``needs`` whose new records need not count at once. A layer that has some is
        worked out as everything was known at the last whole step of its grain, or at the last
        record of its own kinds and of its other needs, whichever is later.
    version : int
        Raised when the code would give another result for the same records.
    caution : str
        Stands beside the numbers and in exports.
    slow : bool
        Takes seconds: viewers are shown its last result, with its time, until the new one is
        there. No other layer may need it.
    """

    key: str
    title: str
    kinds: tuple[Kind, ...]
    feeds: tuple[Feed, ...]
    needs: tuple[str, ...]
    compute: Callable[[Known, Others, Moment], Any]
    hand: Callable[[Any], HandedOn] | None
    marks: Callable[[Any], tuple[AnyMark, ...]]
    table: Callable[[Any], Table]
    sentence: Callable[[Any], str]
    tables: Callable[[Any], dict[str, Table]] | None = None
    also_reads: tuple[str, ...] = ()
    grain_s: float = 60.0
    version: int = 1
    caution: str = ""
    slow: bool = False
    patient: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """A layer's result, ready to be shown.

    ``closed`` says why pages may not work on the result itself, empty when they may: what is
    drawn and said has then been cut for an audience, and the result is gone.
    """

    result: Any
    marks: tuple[AnyMark, ...]
    table: Table
    sentence: str
    tables: dict[str, Table]
    closed: str = ""

    @property
    def reason(self) -> str:
        """Why there is no result to work on."""
        return self.closed


@dataclass(frozen=True, slots=True, kw_only=True)
class Unavailable:
    """Why a layer has nothing to show."""

    reason: str
