"""The feed reader: asks every feed, reads what came, appends it to the journal.

A thread for each feed, so that a slow server holds up no other; one bad file, feed or reader
stops nothing. What cannot be appended (the journal is locked, the disk is full) is held and
tried again, and meanwhile no more is taken in.
"""

from __future__ import annotations

import hashlib
import io
import logging
import random
import threading
from datetime import datetime
from functools import partial
from pathlib import Path
from urllib.parse import urlsplit

from layers.contract import Feed, Follower, Origin, Reading
from layers.earth.errors import InputError, JournalError, MusterplotError
from layers.earth.unswept import give_back
from layers.feeds.arrival import Incoming, Transport
from layers.feeds.folder import FolderTransport
from layers.feeds.settings import DROP_FOLDER, FeedSetting
from layers.feeds.sockets import TcpTransport, UdpTransport
from layers.feeds.state import FeedState
from layers.feeds.web import WebTransport
from layers.ingest import feed_by_key, read_content, read_path, recognise
from layers.ingest.pieces import pieces
from layers.ingest.reading import guarded
from layers.journal import naming
from layers.journal.actor import Actor, Role
from layers.journal.sources import FEED_READER
from layers.journal.store import Appended, Journal

log = logging.getLogger(__name__)

STUMBLED = "its reader stumbled, and goes on; the program's log says over what"
ACTOR = Actor(
    name=FEED_READER, role=Role.FEED, via="feed", room=naming.room(), server=naming.server()
)
STREAM_POLL_S = 1.0  # a block a second of a busy AIS feed, not one for each line
RETRY_S = 2.0
SILENT_S = 5.0
STREAM_FORMAT = "nmea"
SOURCES_SHOWN = 20
MUCH_BYTES = 2 * 1024 * 1024  # of files taken at once, after which memory is given back


def transport_for(setting: FeedSetting, folder: Path, jitter: float) -> Transport:
    """Return the way that a feed comes by."""
    if setting.way == "http":
        return WebTransport(setting.address, setting.every_s, jitter)
    if setting.way == "path":
        path = Path(setting.address)
        return FolderTransport(path, make=path == folder / DROP_FOLDER)
    parts = urlsplit(setting.address)
    host, port = parts.hostname or "", parts.port or 0
    if setting.way == "udp":
        return UdpTransport(host, port, setting.name)
    return TcpTransport(host, port, setting.name, jitter)


class FeedRunner:
    """One feed: its transport, what it is doing, and the readers that go on between pieces.

    Parameters
    ----------
    setting : FeedSetting
        As set up.
    transport : Transport
        How it comes.
    journal : Journal
        Opened for writing.
    stopping : Event
        Set when the reader is to end.
    """

    def __init__(
        self,
        setting: FeedSetting,
        transport: Transport,
        journal: Journal,
        stopping: threading.Event,
    ) -> None:
        self.setting = setting
        self.state = FeedState(
            name=setting.name,
            address=setting.address,
            formats=[],
            stale_after_s=setting.stale_after_s,
            sources=[],
        )
        self._transport = transport
        self._journal = journal
        self._stopping = stopping
        self._followers: dict[str, Follower] = {}
        self._origins: dict[str, Origin] = {}  # of the last lines of each source
        self._silent_since: datetime | None = None

    @property
    def poll_s(self) -> float:
        """Seconds between two looks."""
        return STREAM_POLL_S if self.setting.way != "path" else min(self.setting.every_s, 2.0)

    def step(self) -> None:
        """Ask once, and take in what came; what goes wrong stands in the state."""
        now = self._journal.now()
        self.state.asked_at = now
        try:
            arrivals = self._transport.poll(now)
        except InputError as fault:
            self._trouble(str(fault))
            return
        except Exception:  # a transport that stumbles must not end its thread
            log.exception("feed %s stumbled", self.setting.name)
            self._trouble(STUMBLED)
            return
        self.state.failures = getattr(self._transport, "failures", 0)
        self.state.left_out = getattr(self._transport, "left_out", "")
        self.state.next_at = getattr(self._transport, "next_at", None)
        if not self.state.failures:
            self.state.error = ""
        for arrival in arrivals:
            self._take(arrival)
        if sum(map(_bytes_of, arrivals)) > MUCH_BYTES:
            give_back()
        self._close_silent(now, bool(arrivals))

    def _take(self, arrival: Incoming) -> None:
        if arrival.first_line == 1 and not arrival.stream:  # a file begun anew
            self._give_up(arrival.source)
        self.state.files += 1
        self.state.heard_at = arrival.received_at
        self._note_source(arrival.source)
        if arrival.stream or arrival.digest:
            self._follow(arrival)
            return
        feed = feed_by_key(self.setting.format) if self.setting.format else None
        if arrival.path is not None:
            summary = read_path(arrival.path, arrival.received_at, self._append, feed=feed)
        else:
            content = arrival.content or b""
            summary = read_content(
                content, arrival.source, arrival.received_at, self._append, feed=feed
            )
        for outcome in summary.outcomes:
            if outcome.format:
                self._note_format(feed_by_key(outcome.format))
        self.state.sources = (self.state.sources or [])[-SOURCES_SHOWN:]

    def _follow(self, arrival: Incoming) -> None:
        """Read lines that go on from those before."""
        content = arrival.content or b""
        feed = self._feed_of(arrival, content)
        self._note_format(feed)
        follower = self._follower(arrival.source, feed)
        start = arrival.first_line
        for piece in pieces(io.BytesIO(content), arrival.source, 0):
            origin = Origin(
                source=arrival.source,
                received_at=arrival.received_at,
                digest=arrival.digest or hashlib.sha256(piece.data).hexdigest(),
                stream=arrival.stream,
                live=arrival.live,
                first_line=start + piece.first_line - 1,
            )
            self._origins[arrival.source] = origin
            reading = guarded(partial(follower.take, piece.data, origin), origin)
            reading.rejects.extend(piece.rejects)
            self._append(reading)

    def _give_up(self, source: str) -> None:
        """End the reader of a file that was replaced by another; what waited in it is told."""
        follower = self._followers.pop(source, None)
        if follower is not None:
            self._append(guarded(follower.end, self._origins[source]))

    def _feed_of(self, arrival: Incoming, content: bytes) -> Feed:
        if self.setting.format:
            return feed_by_key(self.setting.format)
        if arrival.stream:
            return feed_by_key(STREAM_FORMAT)
        try:
            return recognise(content[:65_536], arrival.source)
        except InputError:
            return feed_by_key(STREAM_FORMAT)  # a log that has gone bad: its lines are rejects

    def _follower(self, source: str, feed: Feed) -> Follower:
        if source not in self._followers:
            self._followers[source] = feed.follow() if feed.follow else _Plain(feed)
        return self._followers[source]

    def _close_silent(self, now: datetime, came: bool) -> None:
        """When a stream has been silent for some seconds, close what waits for more."""
        if came or not self._followers:
            self._silent_since = None
            return
        if self._silent_since is None:
            self._silent_since = now
        elif (now - self._silent_since).total_seconds() > SILENT_S:
            self._silent_since = None
            for source, follower in self._followers.items():
                origin = self._origins[source]
                reading = guarded(partial(follower.take, b"", origin), origin)
                if reading.drafts or reading.rejects:
                    self._append(reading)

    def _append(self, reading: Reading) -> None:
        """Append one piece; while the journal cannot be written, hold it and try again."""
        reading = reading.to_keep()
        while True:
            try:
                done = self._journal.append(
                    ACTOR, reading.drafts, rejects=reading.rejects, blobs=reading.blobs
                )
            except JournalError as fault:
                self._trouble(str(fault))
                if self._stopping.wait(RETRY_S):
                    raise
            else:
                break
        self.state.error = ""
        self._judge(done)
        self.state.records += done.count
        self.state.rejects += len(reading.rejects) + len(done.rejects)

    def _judge(self, done: Appended) -> None:
        """Note a feed that says again what it has said, or whose clock runs ahead."""
        if done.count:
            self.state.repeats = 0
        elif done.already_there:
            self.state.repeats += 1
        if done.count or done.rejects:
            self.state.ahead = sum("from the future" in r.reason for r in done.rejects)

    def _trouble(self, sentence: str) -> None:
        if sentence != self.state.error:
            log.warning("feed %s: %s", self.setting.name, sentence)
        self.state.error = sentence
        self.state.failures = max(self.state.failures, getattr(self._transport, "failures", 1))
        self.state.next_at = getattr(self._transport, "next_at", None)

    def _note_format(self, feed: Feed) -> None:
        if feed.key not in self.state.formats:
            self.state.formats.append(feed.key)
        if self.setting.stale_after_s is None and self.setting.way != "path":
            self.state.stale_after_s = feed.stale_after_s

    def _note_source(self, source: str) -> None:
        held = self.state.sources if self.state.sources is not None else []
        if source in held:
            held.remove(source)
        held.append(source)
        self.state.sources = held[-SOURCES_SHOWN:]

    def run(self) -> None:
        """Ask until told to end."""
        while not self._stopping.is_set():
            try:
                self.step()
            except MusterplotError as fault:
                self._trouble(str(fault))
            except Exception:  # nothing that a feed brings may end its thread
                log.exception("feed %s stumbled", self.setting.name)
                self._trouble(STUMBLED)
            self._stopping.wait(self.poll_s)
        self._end()

    def _end(self) -> None:
        self._transport.close()
        for follower in self._followers.values():
            try:
                self._append(follower.end())
            except MusterplotError as fault:
                log.warning("feed %s: the last lines were not kept: %s", self.setting.name, fault)


class _Plain:
    """A reader without state, for kinds that need none between pieces."""

    def __init__(self, feed: Feed) -> None:
        self._feed = feed

    def take(self, data: bytes, origin: Origin) -> Reading:
        return self._feed.read(data, origin) if data else Reading()

    def end(self) -> Reading:
        return Reading()


class FeedReader:
    """All feeds; started anew when the settings change.

    Parameters
    ----------
    journal : Journal
        Opened for writing.
    folder : Path
        The data folder.
    """

    def __init__(self, journal: Journal, folder: Path) -> None:
        self._journal = journal
        self._folder = folder
        self._running: dict[
            str, tuple[FeedSetting, FeedRunner, threading.Thread, threading.Event]
        ] = {}
        self._off: list[FeedState] = []

    def set_up(self, settings: tuple[FeedSetting, ...]) -> None:
        """Start what is new, end what is gone or changed, leave the rest alone."""
        wanted = {setting.name: setting for setting in settings if setting.on}
        for name in list(self._running):
            if self._running[name][0] != wanted.get(name):
                self._end(name)
        for name, setting in wanted.items():
            if name not in self._running:
                self._start(setting)
        self._off = [
            FeedState(name=s.name, address=s.address, formats=[], error="switched off")
            for s in settings
            if not s.on
        ]

    def _start(self, setting: FeedSetting) -> None:
        # a fixed spread for each name, so that two readers do not ask at the same second
        jitter = random.Random(setting.name).random()  # nosec B311  # spreads load, keeps no secret
        stopping = threading.Event()
        try:
            if setting.format:
                feed_by_key(setting.format)
            transport = transport_for(setting, self._folder, jitter)
        except (MusterplotError, OSError) as fault:
            runner = FeedRunner(setting, _Broken(str(fault)), self._journal, stopping)
        else:
            runner = FeedRunner(setting, transport, self._journal, stopping)
        thread = threading.Thread(target=runner.run, name=f"feed {setting.name}", daemon=True)
        self._running[setting.name] = (setting, runner, thread, stopping)
        thread.start()

    def _end(self, name: str) -> None:
        _, _, thread, stopping = self._running.pop(name)
        stopping.set()
        thread.join(10.0)

    def states(self) -> list[FeedState]:
        """Return what each feed is doing."""
        return [runner.state for _, runner, _, _ in self._running.values()] + self._off

    def close(self) -> None:
        """End every feed."""
        for _, _, _, stopping in self._running.values():
            stopping.set()
        for name in list(self._running):
            self._end(name)


class _Broken:
    """Stands in for a transport that cannot be made, and says why."""

    failures = 1

    def __init__(self, reason: str) -> None:
        self._reason = reason

    def poll(self, now: datetime) -> list[Incoming]:
        raise InputError(self._reason)

    def close(self) -> None:
        """Hold nothing."""


def _bytes_of(arrival: Incoming) -> int:
    if arrival.path is not None:
        return arrival.path.stat().st_size if arrival.path.exists() else 0
    return len(arrival.content or b"")
