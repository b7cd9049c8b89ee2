"""Viewers are woken whose page has to be run for what is new, so that none has to keep asking.

What is a part of a page is swapped into it (`dashboard.live`) and wakes nobody: a wall, and a
plot that is only read, are run again for the journal's loss and return alone. For the others,
every half second one thread of the web server asks the journal once, for all viewers together,
and asks Streamlit to run the page again of those for whom something is due. A quiet
viewer costs nothing, however many there are. They are woken one after another, the longest
asleep first, and the next one's turn comes as soon as the one before is through: pages that run
beside each other take a third longer in all, since they wait for one interpreter. This is the
one place that uses what Streamlit does not promise; its version is pinned.
"""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta

import streamlit as st
from streamlit import runtime
from streamlit.proto.ClientState_pb2 import ClientState
from streamlit.runtime.scriptrunner import get_script_run_ctx

from dashboard import settings
from dashboard.away.link import LINK
from dashboard.cache import opened, pictures
from dashboard.faults import found_now
from dashboard.view import Seen
from layers.contract import Moment, Shown, Unavailable
from layers.earth.clock import EPOCH
from layers.earth.errors import JournalAway, MusterplotError

log = logging.getLogger(__name__)

TICK_S = 0.5
HURRY_S = 0.1  # while something is new and its picture is being worked out
MINUTE = timedelta(minutes=1)
TURN_S = 0.5  # that a viewer's turn lasts at most; a page that takes longer holds up no other
LOST_S = 10.0  # after which one who was woken and did not come back is woken again
GAP_S = 2.0  # the least between two wakings of one viewer
FIRST_LOOK_GAP_S = 0.3  # that one waits at least who is shown no first look of what is new
FIRST_LOOKS = 10  # viewers who can be woken so soon
A_SECOND = 30  # viewers who can be served; when there are more, each is woken less often
LONGEST_GAP_S = 4.0  # since what is new is to be seen within five seconds
PATIENCE_S = 2.0  # that a viewer waits for the computing process, once something is new


@dataclass(slots=True)
class Sleeper:
    """One viewer who waits: what is shown, and how to wake them."""

    session: str
    moment: Moment
    upto_seq: int
    revision: int
    follows_now: bool
    incomplete: bool  # a slow layer is still being worked out
    since: float  # monotonic: when it fell asleep
    rough: bool = False  # and its first look is shown already
    trouble: tuple[str, ...] = ()  # that its strip shows
    lost: bool = False  # it was told that the journal is away
    whole: bool = False  # all that changes is swapped into its page, which is run for a loss only
    woken: float | None = None


@dataclass(frozen=True, slots=True)
class News:
    """What one question to the journal said."""

    revision: int
    now: datetime
    ready: bool  # the picture of now can be shown at once
    lost: bool = False  # the journal does not answer


LOST = News(-1, EPOCH, ready=False, lost=True)


def is_due(sleeper: Sleeper, news: News) -> bool:
    """Return whether a viewer is shown less than there is, or is not told of a loss."""
    if news.lost != sleeper.lost:
        return True
    if not sleeper.follows_now or news.lost or sleeper.whole:
        return False
    return news.revision != sleeper.revision or news.now - sleeper.moment.at >= MINUTE


class Bell:
    """Who sleeps, and the thread that wakes them.

    Parameters
    ----------
    ring : callable
        ``ring(session) -> bool``: asks for the page to be run; False when the session is gone.
    hear : callable
        Gives the news.
    how_far : callable
        ``how_far(moment, upto_seq) -> int``: 1 when a first look of the slow layers is there, 2
        when they are.
    trouble : callable
        Gives what is wrong with this computer; who is shown other words is woken, whatever else.
    """

    def __init__(
        self,
        ring: Callable[[str], bool],
        hear: Callable[[], News],
        how_far: Callable[[Moment, int], int],
        trouble: Callable[[], tuple[str, ...]] = tuple,
    ) -> None:
        self._ring, self._hear, self._how_far = ring, hear, how_far
        self._trouble = trouble
        self._sleepers: dict[str, Sleeper] = {}
        self._lock = threading.Lock()
        self._new_since: float | None = None
        self._revision = -1
        self._news: tuple[float, News] | None = None
        self._turn = threading.Event()  # somebody who was woken is through
        self._tick_s = TICK_S

    def sleep(self, sleeper: Sleeper) -> None:
        """Let a viewer wait for news; who slept already sleeps on with what is shown now."""
        with self._lock:
            before = self._sleepers.get(sleeper.session)
            self._sleepers[sleeper.session] = sleeper
        if before is not None and before.woken is not None:
            self._turn.set()

    def tick(self, at: float) -> list[str]:
        """Wake the next for whom something is due; return their session in a list.

        Parameters
        ----------
        at : float
            Seconds of a clock that only goes forwards.
        """
        with self._lock:
            sleepers = sorted(self._sleepers.values(), key=lambda one: one.since)
        if not sleepers:
            return []
        trouble = self._trouble()
        try:
            news = self._latest(at)
        except MusterplotError:
            if self._news is None or all(one.whole or one.trouble == trouble for one in sleepers):
                raise
            news = self._news[1]  # the journal is lost, and that is to be shown
        woken = sum(not one.whole for one in sleepers)  # for what is new, each in turn
        gap_s = min(max(GAP_S, woken / A_SECOND), LONGEST_GAP_S)
        if news.revision != self._revision:
            self._revision, self._new_since = news.revision, at
        may_show = (
            news.ready
            or news.lost
            or (self._new_since is not None and at - self._new_since > PATIENCE_S)
        )
        if any(one.woken is not None and at - one.woken < TURN_S for one in sleepers):
            return []
        far: dict[tuple[Moment, int], int] = {}
        soon = woken <= FIRST_LOOKS
        self._tick_s = TICK_S if may_show else HURRY_S
        for one in sleepers:
            if one.woken is not None and at - one.woken < LOST_S:
                continue
            rested = at - one.since >= gap_s
            if not rested and not soon:
                break  # and so all after it
            first = soon and one.incomplete and not one.rough
            if not rested and not (first and at - one.since >= FIRST_LOOK_GAP_S):
                continue
            other = one.trouble != trouble and not one.whole
            due = rested and (other or (may_show and is_due(one, news)))
            if not due and one.incomplete and not news.lost:
                looks_at = (one.moment, one.upto_seq)
                if looks_at not in far:
                    far[looks_at] = self._how_far(*looks_at)
                due = far[looks_at] > one.rough
            if due:
                one.woken = at
                if self._ring(one.session):
                    return [one.session]
                self._forget(one)
        return []

    def _latest(self, at: float) -> News:
        """Return the news, asked for at most twice a tick however often turns are given."""
        if self._news is None or at - self._news[0] >= self._tick_s / 2:
            self._news = (at, self._hear())
        return self._news[1]

    def _forget(self, sleeper: Sleeper) -> None:
        with self._lock:
            if self._sleepers.get(sleeper.session) is sleeper:
                del self._sleepers[sleeper.session]

    def run(self) -> None:
        """Tick for as long as the server lives, and whenever somebody is through."""
        while True:
            self._turn.wait(self._tick_s)
            self._turn.clear()
            try:
                self.tick(time.monotonic())
            except MusterplotError as reason:  # locked or cut off: it may come back
                log.warning("%s", reason)
                time.sleep(2.0)
            except Exception:  # whatever it was, the viewers must not be forgotten
                log.exception("waking the viewers failed; trying again")
                time.sleep(2.0)


_WARM = {"revision": -1, "at": -1e9}
WARM_S = 5.0  # between two readings of what has news, however fast it comes


def _keep_warm(revision: int) -> None:
    now = time.monotonic()
    if revision != _WARM["revision"] and now - _WARM["at"] >= WARM_S:
        _WARM.update(revision=revision, at=now)
        opened.keep_warm(revision)


def hear() -> News:
    """Ask the journal what is new, or whether it is back."""
    if LINK.ask(opened.is_back) is not None:
        return LOST
    try:
        here = opened.present()
        LINK.answered(here.now)
        _keep_warm(here.revision)
        ready = pictures.is_ready(here.shown, here.shown, here.revision)
    except JournalAway as reason:
        LINK.failed(reason)
        return LOST
    return News(here.revision, here.now, ready)


def ring(session: str) -> bool:
    """Ask Streamlit to run a session's page again, with what its browser last said."""
    server = runtime.get_instance()
    held = server.get_app_session(session)
    if held is None or not server.is_active_session(session):
        return False

    def ask() -> None:
        if held._scriptrunner is not None:
            return  # a click was quicker: its run shows what is new, and must not be broken off
        state = ClientState()
        state.CopyFrom(held._client_state)
        state.fragment_id = ""
        state.is_auto_rerun = True
        # what the browser still holds is not known here: everything is sent
        del state.cached_message_hashes[:]
        held.request_rerun(state)

    server._get_async_objs().eventloop.call_soon_threadsafe(ask)
    return True


@st.cache_resource(show_spinner=False)
def bell() -> Bell:
    """Return the server's bell, its thread started."""
    made = Bell(ring, hear, pictures.how_far, found_now)
    threading.Thread(target=made.run, name="waking", daemon=True).start()
    return made


def _is_rough(shown: Shown | Unavailable) -> bool:
    return isinstance(shown, Shown) and bool(getattr(shown.result, "rough", False))


def wait_for_journal() -> None:
    """Let this session wait until the journal is back; nothing of it was ever seen here."""
    context = get_script_run_ctx()
    if context is not None and settings.has_worker():
        never = Moment(EPOCH, EPOCH)
        bell().sleep(
            Sleeper(context.session_id, never, 0, -1, True, False, time.monotonic(), lost=True)
        )


def fall_asleep(seen: Seen, *, incomplete: bool, own: bool = False, whole: bool = False) -> None:
    """Let this session wait; when there is something new its whole page is run again.

    With ``own`` it waits for what it has recorded itself, and is woken without the usual gap; a
    ``whole`` page is swapped as it stands (`dashboard.live`) and run for a loss alone.
    """
    context = get_script_run_ctx()
    if context is None or not settings.has_worker():
        return  # a page under test; a server started in another way has the browser's timer
    bell().sleep(
        Sleeper(
            session=context.session_id,
            moment=seen.moment,
            upto_seq=seen.picture.upto_seq,
            revision=seen.revision,
            follows_now=seen.follows_now,
            incomplete=incomplete,
            since=time.monotonic() - (GAP_S if own else 0.0),
            trouble=found_now(),
            rough=any(_is_rough(shown) for shown in seen.picture.layers.values()),
            lost=seen.lost is not None,
            whole=whole,
        )
    )
