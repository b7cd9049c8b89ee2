"""When the lines of a log were true: by themselves, by the log around them, or asked."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

from layers.contract import Origin
from layers.earth.clock import to_us
from layers.earth.said import figure_dates
from layers.journal.record import Draft, content_identity, file_identity, stream_identity
from layers.tracks.feeds.same_fix import fix_identity, live_identity, said_identity

MOST_HELD = 50_000  # undated facts of one log that wait for its first date
# GPS was declared to work in full that day (US, from memory) and AIS is younger: a time before it
# is that of a clock which is not set (1970 and 1980 are where such clocks begin)
FIRST = datetime(1995, 4, 27, tzinfo=UTC)
HALF_DAY = timedelta(hours=12)
AHEAD = timedelta(days=1)  # a base station further ahead of the receiver is wrong
SAID_AGAIN = ("tracks.static", "tracks.safety_text", "tracks.aid")
Fact = tuple[datetime, dict[str, Any]]


@dataclass(slots=True, kw_only=True)
class LogFact:
    """One fact of a line, before it has a time.

    ``at`` where the line itself is stamped, ``clock`` the time of day that it bears or that the
    log last bore. ``remade`` gives time and payload of a fact that bears a day without a month.
    """

    kind: str
    payload: dict[str, Any]
    place: int
    raw: bytes
    at: datetime | None = None
    time_from: str = ""
    clock: time | None = None
    suffix: str = ""
    remade: Callable[[datetime], Fact | None] | None = None


class Dates:
    """The dates of one log, and what waits for the first of them.

    Parameters
    ----------
    origin : Origin
        Where the lines come from. Of a stream, or of lines that came while a file was watched,
        what bears no date was heard now; of a file as it was found it was not.
    """

    def __init__(self, origin: Origin) -> None:
        self.origin = origin
        self.received_us = to_us(origin.received_at)
        self.day: date | None = None
        self.last: datetime | None = None  # the log's time as far as it has been read
        self.by_sentence = False  # else by a base station or a stamp, where ``day`` is set
        self.clock: time | None = None
        self._held: list[LogFact] = []
        self._too_many = 0
        self._ready: list[Draft] = []
        self._asks = ""
        self.two_days = ""  # a time beside a line that can be read as two days
        self._last_told: datetime | None = None
        self._last_us = 0

    def go_on(self, origin: Origin) -> None:
        """Take the origin of the next lines."""
        self.origin = origin
        self.received_us = to_us(origin.received_at)

    def tell(self, at: datetime) -> None:
        """Take a date and time that a sentence of the log bears."""
        self.by_sentence = True
        self._goes_on(at)

    def by_other(self, at: datetime) -> bool:
        """Take the time of a base station or of a stamped line; say whether it was used."""
        if self.by_sentence or at > self.origin.received_at + AHEAD:
            return False
        if self.day is not None and self.last is not None and abs(at - self.last) > HALF_DAY:
            return False  # one of two is wrong; the log goes on by the first
        self._goes_on(at)
        return True

    def _goes_on(self, at: datetime) -> None:
        self.day, self.last = at.date(), at
        held, self._held = self._held, []
        for line in held:
            self._ready.append(self._draft(line, *self._dated_back(line, at)))

    def _dated_back(self, line: LogFact, first: datetime) -> tuple[datetime, str]:
        """Return the time of a line that stood before the first dated one."""
        if line.clock is None:
            return first, "log"
        at = datetime.combine(first.date(), line.clock, tzinfo=UTC)
        return (at - timedelta(days=1) if at - first > HALF_DAY else at), "log"

    def combined(self, clock: time) -> datetime | None:
        """Return a time of day with the log's date, None where no sentence has dated it."""
        self.clock = clock
        if self.day is None:
            return None
        at = datetime.combine(self.day, clock, tzinfo=UTC)
        # a GGA just after midnight still has the RMC of the day before it
        if self.last is not None and self.last - at > HALF_DAY:
            at += timedelta(days=1)
        self.last = at
        return at

    def nearest(self, clock: time, stamp: datetime | None = None) -> datetime:
        """Return a time of day on the day that brings it nearest to when it was received."""
        near = stamp or self.origin.recorded_at or self.origin.received_at
        at = datetime.combine(near.date(), clock, tzinfo=UTC)
        if at - near > HALF_DAY:
            at -= timedelta(days=1)
        elif near - at > HALF_DAY:
            at += timedelta(days=1)
        return at

    def add(self, line: LogFact) -> None:
        """Take one fact: ready where it has a time, else held until the log gives one."""
        if line.at is not None:
            self.by_other(line.at)
            self._ready.append(self._draft(line, line.at, line.time_from))
        elif self.day is not None and self.last is not None:
            self._ready.append(self._draft(line, self.last, "log"))
        elif self._waits():
            line.clock = line.clock or self.clock
            if len(self._held) < MOST_HELD:
                self._held.append(line)
            else:
                self._too_many += 1
        else:
            self._ready.append(self._draft(line, *self._now(line)))

    def add_fix(self, subject: str, payload: dict[str, Any]) -> bool:
        """Take a fix in a log that is dated: the short way of nine lines in ten.

        Returns
        -------
        bool
            False where the log has no date yet: the fix is then taken by `add`.
        """
        at = self.last
        if self.day is None or at is None:
            return False
        if at is not self._last_told:
            self._last_told, self._last_us = at, to_us(at)
        payload["time_from"] = "log"
        origin = self.origin
        self._ready.append(
            origin.draft(
                "tracks.position",
                payload,
                at,
                identity=fix_identity(subject, self._last_us, payload),
            )
        )
        return True

    def _waits(self) -> bool:
        here = self.origin
        return not (here.stream or here.live or here.recorded_at)

    def _now(self, line: LogFact) -> tuple[datetime, str]:
        """Return when a line without a date is taken to be true, and from what."""
        told = self.origin.recorded_at
        clock = line.clock or self.clock
        if clock is not None:
            return self.nearest(clock), "told" if told else "date from receiver"
        return (told, "told") if told else (self.origin.received_at, "receiver")

    def _draft(self, line: LogFact, at: datetime, time_from: str) -> Draft:
        origin, payload = self.origin, line.payload
        if line.remade is not None:
            at, payload = line.remade(at) or (at, payload)
        if line.kind != "tracks.static" and line.remade is None:
            payload["time_from"] = time_from
        return origin.draft(
            line.kind, payload, at, identity=self._identity(line, payload, at, time_from)
        )

    def _identity(
        self, line: LogFact, payload: Mapping[str, Any], at: datetime, time_from: str
    ) -> str:
        """Return what makes it the same fact elsewhere; without a time of its own, its place."""
        if line.remade is not None:
            return content_identity(line.kind, at, payload)
        if time_from in ("receiver", "told", "date from receiver"):
            if self.origin.stream:
                if line.kind == "tracks.position" and (
                    alike := live_identity(
                        line.raw, self.received_us, str(payload["subject"]), payload
                    )
                ):
                    return alike
                raw = line.raw + line.suffix.encode()
                return stream_identity(self.origin.source, self.received_us, raw)
            return file_identity(self.origin.digest, f"{line.place}{line.suffix}")
        subject = str(payload["subject"])
        if line.kind in SAID_AGAIN:
            return said_identity(line.kind, subject, to_us(at), payload)
        return fix_identity(subject, to_us(at), payload)

    def ready(self) -> list[Draft]:
        """Return what has its time by now, once."""
        done, self._ready = self._ready, []
        return done

    def asks(self) -> str:
        """Return the question about what never got a date, once; empty where there is none."""
        said, self._asks = self._asks, ""
        return said

    def end(self) -> None:
        """Give out what still waits, with the question that has to be answered first."""
        count = len(self._held) + self._too_many
        if not count:
            return
        held, self._held, self._too_many = self._held, [], 0
        self._ready += [self._draft(line, *self._now(line)) for line in held]
        why = (
            figure_dates.ASKED.format(text=self.two_days)
            if self.two_days
            else f"{count} facts bear no date, and nothing else in the file does; say the time and "
            "read it again"
        )
        self._asks = f"when was this recorded? {why}"
