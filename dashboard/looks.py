"""Who looked at the plot through which release, and when: for an inquiry, in few records.

Of each reader one record when they begin to look and one when they have gone; a page that is left
open, run again or lost for a minute adds none, another release is another look. How many begin in
an hour is bounded: those beyond that are told together, with their number. The watch sees
everything and is not noted here.
"""

from __future__ import annotations

import logging
import threading
import uuid
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

import streamlit as st

from dashboard import duty, settings
from dashboard.away.link import LINK
from dashboard.cache import opened
from dashboard.live.token import BROWSER, Eyes, browser_key
from dashboard.view import Seen
from layers import incidents
from layers.earth.clock import iso
from layers.earth.errors import MusterplotError
from layers.journal.actor import Actor, Role
from layers.journal.record import Draft, form_identity
from layers.journal.releases.rules import Release
from layers.watch.withheld import kept_back

log = logging.getLogger(__name__)

KIND = "watch.look"
STEP_S = 10.0
GONE_AFTER = timedelta(minutes=5)  # without a sign of the page
MOST_AN_HOUR = 30
MOST_COUNTED, MOST_KNOWN = 10_000, 2_000
FURTHER = "further readers"


@dataclass(frozen=True, slots=True)
class Eye:
    """A browser, by its cookie's hash, and what it looks through: a release's key, the wall."""

    browser: str
    release: str
    wall: bool


@dataclass(frozen=True, slots=True)
class Whose:
    """Who looks, as far as the server knows, and what they may see."""

    who: str
    release: Release


@dataclass(slots=True)
class OpenLook:
    """One look: whose, since when, and when there was a sign of it last."""

    whose: Whose
    browser: str
    began: datetime
    last: datetime
    noted: bool = False
    browsers: set[str] = field(default_factory=set)

    def payload(self, upto: int, *, ended: bool) -> dict[str, Any]:
        """Return it as it is recorded."""
        release = self.whose.release
        names = () if release.names else ("names of persons",)
        return {
            "who": self.whose.who[:200],
            "browser": self.browser,
            "through": release.audience,
            "withheld": [*kept_back(release), *names],
            "began": iso(self.began),
            **({"ended": iso(self.last)} if ended else {}),
            "upto": upto,
            "lookers": len(self.browsers),
        }


class Looks:
    """The looks that are open on this server.

    Parameters
    ----------
    record : callable
        ``record(payload, at)`` puts one into the journal, or raises.
    upto : callable
        ``upto(at)``: the journal's last record at a time.
    """

    def __init__(
        self, record: Callable[[dict[str, Any], datetime], None], upto: Callable[[datetime], int]
    ) -> None:
        self._record, self._upto = record, upto
        self._open: dict[Eye, OpenLook] = {}
        self._known: OrderedDict[Eye, Whose] = OrderedDict()
        self._begun: list[datetime] = []
        self._lock, self._recording = threading.Lock(), threading.Lock()

    def see(self, eye: Eye, whose: Whose, at: datetime) -> None:
        """Note that a page was made for somebody."""
        with self._lock:
            self._known[eye] = whose
            self._known.move_to_end(eye)
            while len(self._known) > MOST_KNOWN:
                self._known.popitem(last=False)
            self._sign(eye, whose, at)

    def knows(self, eye: Eye) -> bool:
        """Whether a page was made for somebody since this server was started."""
        with self._lock:
            return eye in self._known

    def touch(self, eye: Eye, at: datetime) -> None:
        """Note that a page that was made for somebody is still looked at."""
        with self._lock:
            if (whose := self._known.get(eye)) is not None:
                self._sign(eye, whose, at)

    def _sign(self, eye: Eye, whose: Whose, at: datetime) -> None:
        look = self._open.get(eye)
        if look is None:
            held, whose = self._counted(eye, whose, at)
            look = self._open.get(held) or OpenLook(whose, held.browser[:8], at, at)
            self._open[held] = look
        if len(look.browsers) < MOST_COUNTED:
            look.browsers.add(eye.browser)
        look.last = max(look.last, at)

    def _counted(self, eye: Eye, whose: Whose, at: datetime) -> tuple[Eye, Whose]:
        """Return a look of their own, or the one that all beyond the bound are counted in."""
        shared = Eye("", eye.release, eye.wall)
        among = self._open.get(shared)
        self._begun = [one for one in self._begun if at - one < timedelta(hours=1)]
        if len(self._begun) < MOST_AN_HOUR and not (among and eye.browser in among.browsers):
            self._begun.append(at)
            return eye, whose
        return shared, Whose(FURTHER, whose.release)

    def step(self, at: datetime, *, all_end: bool = False) -> None:
        """Record what has begun and what is over; what can not be recorded now is kept."""
        with self._recording:
            with self._lock:
                held = list(self._open.items())
            for eye, look in held:
                self._note(eye, look, over=all_end or at - look.last >= GONE_AFTER)

    def _note(self, eye: Eye, look: OpenLook, *, over: bool) -> None:
        if look.noted and not over:
            return
        when = look.last if over else look.began
        self._record(look.payload(self._upto(when), ended=over), when)
        look.noted = True
        if over:
            with self._lock:
                self._open.pop(eye, None)


def _put(payload: dict[str, Any], at: datetime) -> None:
    """Record a look: the server writes it, the reader can not choose what."""
    server = Actor(
        name="web server", role=Role.WATCH, via="server", room=duty.room(), server=duty.server()
    )
    draft = Draft(
        kind=KIND, payload=payload, valid_at=at, heard_at=at, source="web server",
        identity=form_identity(uuid.uuid4().hex),
    )  # fmt: skip
    opened.pen().append(server, [draft])


LOOKS = Looks(_put, lambda at: opened.book().seq_at(at))


def note_now(*, all_end: bool = False) -> None:
    """Record what is new; while the journal is away, and into a closed incident, nothing."""
    try:
        journal = opened.book()
        if LINK.loss is None and not incidents.is_closed(journal):
            LOOKS.step(journal.now(), all_end=all_end)
    except MusterplotError as reason:
        log.warning("who looks can not be recorded now: %s", reason)
    except Exception:  # the pages go on; it is tried again
        log.exception("who looks could not be recorded")


def see(seen: Seen, *, wall: bool) -> None:
    """Note that a page was made for a reader."""
    if not seen.writable and seen.lost is None:
        cookie = st.context.cookies.to_dict().get(BROWSER, "")
        _see(cookie, Whose(seen.actor.signature.name, seen.release), wall=wall)


def see_plain(cookie: str, release: Release) -> None:
    """Note that the plain page was asked for by a reader."""
    _see(cookie, Whose("reader, plain page", release), wall=False)


def _see(cookie: str, whose: Whose, *, wall: bool) -> None:
    if settings.has_worker():
        eye = Eye(browser_key(cookie), opened.key_of(whose.release), wall)
        LOOKS.see(eye, whose, opened.book().now())
        _going()


def touch(eyes: Eyes, browser: str) -> None:
    """Note that a page of a reader still asks what is new."""
    eye = Eye(browser, eyes.release, eyes.wall)
    if LOOKS.knows(eye):  # a page was made: the journal is open, and its clock asks nobody
        LOOKS.touch(eye, opened.book().now())


@st.cache_resource(show_spinner=False)
def _going() -> threading.Thread:
    thread = threading.Thread(target=_run, name="looks", daemon=True)
    thread.start()
    return thread


def _run() -> None:
    tick = threading.Event()
    while not tick.wait(STEP_S):
        note_now()
