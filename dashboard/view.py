"""What a page is given: the picture at the time this viewer asks for, and who is looking."""

from __future__ import annotations

import time
from contextvars import ContextVar
from dataclasses import dataclass, replace
from datetime import datetime

import streamlit as st

from dashboard import access, state
from dashboard.away.link import LINK, Loss
from dashboard.book import Book, ShutBook
from dashboard.cache import last_shown, opened, pictures
from layers.answers import Answers
from layers.catalogue import BY_KEY
from layers.contract import Moment, View
from layers.earth.block import Block, middle_of
from layers.earth.chart.frames import ChartFrame, FrameName, frame_for
from layers.earth.clock import dtg, to_us
from layers.earth.errors import JournalAway
from layers.earth.position import Position
from layers.earth.units import M_PER_NMI
from layers.earth.values import DatumValue
from layers.journal.actor import Actor, Role
from layers.journal.known import Known
from layers.journal.releases.rules import WATCH, Release
from layers.journal.store import Journal
from layers.picture import Picture, hand_on
from layers.scene.ink import INKS, Ink
from layers.watch.result import WatchState
from layers.watch.withheld import release_for

NOWHERE = Position(0.0, 0.0)  # the frame of an empty journal, until something is known
WIDE_FOR_HIGH = 1.5  # a chart is wider than high: what it must hold, it holds upwards too


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """One viewer's view of one run.

    Parameters
    ----------
    picture : Picture
        Every layer's result at `moment`, or why there is none.
    now : datetime
        The journal's time at this run, UTC.
    revision : int
        The journal's last record when this run began.
    follows_now : bool
        The viewer has not moved away from now.
    journal : Book
        For reading, of the same release. Writing goes through `pen`, which checks the
        actor on every append.
    writable : bool
        Whether forms are offered; the journal decides all the same.
    release : Release
        What this viewer may see; everything here was read by it.
    about : Position or None
        The place the chart is about: the datum, or the middle of the block that is told.
    lost : Loss or None
        The journal is away: this is what was seen last, and stands as of then.
    asked_ms : int
        When the journal was asked, by this computer's clock since 1970: of two views of one
        moment the one asked for later is the newer.
    catches_up : bool
        The server was just started: this is what it showed last, and stands as of then.
    """

    picture: Picture
    now: datetime
    revision: int
    follows_now: bool
    journal: Book
    actor: Actor
    ink: Ink
    release: Release
    about: Position | None
    lost: Loss | None = None
    asked_ms: int = 0
    catches_up: bool = False

    @property
    def version(self) -> tuple[int, int]:
        """What puts two views of now in order: the moment, and when it was asked for.

        No record's number is in it: a release does not tell how many there are.
        """
        return to_us(self.moment.at), self.asked_ms

    @property
    def pen(self) -> Journal:
        """The journal for writing."""
        return opened.pen()

    @property
    def writable(self) -> bool:
        """Whether this viewer is of the watch."""
        return self.actor.role is Role.WATCH

    @property
    def moment(self) -> Moment:
        """The two times that are shown."""
        return self.picture.moment

    @property
    def exercise(self) -> str:
        """The words of the banner: the exercise's name, or nothing."""
        return self.journal.name if self.journal.exercise else ""

    @property
    def known(self) -> Known:
        """What was known at this moment."""
        return opened.known(self.picture.upto_seq, self.moment.as_of, self.release)

    @property
    def watch(self) -> WatchState:
        """Where the watch stood at this moment."""
        return opened.watch(self.picture.upto_seq, self.moment, self.release)

    @property
    def answers(self) -> Answers:
        """The watch's questions, each answered once for every place that shows it."""
        now = None
        if self.moment.view is View.EXPECTED:  # the plan as known now is carried on to that time
            as_of = self.moment.as_of
            now = pictures.shared_picture(as_of, as_of, self.picture.upto_seq, self.release)
        return pictures.answers(self.picture, self.watch, now)

    def time_words(self) -> str:
        """Return which of the three times is shown, in words."""
        if self.lost is not None:
            return f"as it was known at {dtg(self.moment.at)}: the link to the journal is lost"
        at = dtg(self.moment.at)
        if self.catches_up:
            return f"as it was known at {at}: the newest is being worked out"
        if self.follows_now:
            return "as known now"
        if self.moment.view is View.KNOWN:
            return f"as it was known at {at}"
        if self.moment.view is View.HINDSIGHT:
            return f"hindsight: {at} as we know it now"
        return f"expected at {at}, not observed"


_FOUND: ContextVar[tuple[Seen, bool] | None] = ContextVar("found", default=None)


def current(*, wall: bool = False) -> Seen:
    """Return what this viewer asks for: as the frame found it in this run, or found now.

    Parameters
    ----------
    wall : bool
        The wall: always now, and only what may hang in the room.
    """
    found = _FOUND.get()
    _FOUND.set(None)
    return found[0] if found is not None and found[1] == wall else _look(wall=wall)


def look(*, wall: bool = False) -> Seen:
    """Find what this viewer asks for, for the line on top and the page below it."""
    seen = _look(wall=wall)
    _FOUND.set((seen, wall))
    return seen


def look_again(seen: Seen, *, wall: bool) -> Seen:
    """Let the page below see what this viewer was shown before."""
    _FOUND.set((seen, wall))
    return seen


def _look(*, wall: bool) -> Seen:
    """Find what is asked for; while the journal is away, what was seen last by the same eyes."""
    state.read_query()
    actor = access.actor()
    eyes = (actor.role is Role.WATCH, wall)
    loss = LINK.ask(opened.is_back)
    if loss is None:
        try:
            seen = _look_now(actor, wall=wall)
        except JournalAway as reason:
            loss = LINK.failed(reason)
        else:
            LINK.answered(seen.now)
            if seen.follows_now:
                _lasts()[eyes] = seen
            return seen
    if eyes not in _lasts():
        raise JournalAway(loss.reason)
    return replace(_lasts()[eyes], actor=actor, ink=INKS[state.get(state.Key.INK)], lost=loss)


@st.cache_resource(show_spinner=False)
def _lasts() -> dict[tuple[bool, bool], Seen]:
    """Return what was seen last, by whether the watch looks and whether through the wall."""
    return {}


def seen_now(
    actor: Actor, release: Release, here: opened.Present, ink: Ink, made: Picture | None = None
) -> Seen:
    """Return now as a release reads it, of nobody's own session; or a picture of it, so far."""
    asked_ms = _clock_ms()
    if made is None:
        made = pictures.shared_picture(here.shown, here.shown, here.revision, release)
        last_shown.note(release, here.shown, here.revision)
    return Seen(
        picture=made,
        now=here.now,
        revision=made.upto_seq,
        follows_now=True,
        journal=_book(release),
        actor=actor,
        ink=ink,
        release=release,
        about=_about(made),
        asked_ms=asked_ms,
    )


def _clock_ms() -> int:
    """Return this computer's clock; it never goes back while this process lives."""
    _LAST_MS[0] = max(_LAST_MS[0], time.time_ns() // 1_000_000)
    return _LAST_MS[0]


_LAST_MS = [0]


def _look_now(actor: Actor, *, wall: bool) -> Seen:
    asked_ms = _clock_ms()
    allowed = allowed_to(actor, wall=wall)
    here = opened.present(allowed)
    asked = state.AskedTimes(None, None) if wall else state.times()
    follows = asked.as_of is None and asked.at is None
    before = last_shown.stands(here, allowed) if follows else None
    if before is not None:
        as_of, upto_seq = before
    elif asked.as_of is None:
        # what is recorded within this minute counts at once; the time shown moves by minutes
        as_of, upto_seq = _now_shown(here, allowed, wall=wall) if asked.at is None else (
            here.shown, here.revision
        )  # fmt: skip
    else:
        as_of, upto_seq = min(asked.as_of, here.now), None
    made = pictures.shared_picture(as_of, asked.at or as_of, upto_seq, allowed)
    if follows and before is None and upto_seq is not None:
        last_shown.note(allowed, as_of, upto_seq)
    return Seen(
        picture=made,
        now=here.now,
        revision=here.revision if upto_seq is None else upto_seq,
        follows_now=follows,
        catches_up=before is not None,
        journal=_book(allowed),
        actor=actor,
        ink=INKS[state.get(state.Key.INK)],
        release=allowed,
        about=_about(made),
        asked_ms=asked_ms,
    )


def _now_shown(here: opened.Present, allowed: Release, *, wall: bool) -> tuple[datetime, int]:
    """Return the moment and the place in the order that are shown as now.

    Who has just recorded something sees it read back and marked at once, on the picture from
    before it: the page is woken as soon as that record has been worked into the picture.
    """
    if wall or not allowed.whole:
        return here.shown, here.revision
    own = int(state.get(state.Key.RECORDED))
    before: tuple[datetime, int] | None = state.get(state.Key.LAST_SHOWN)
    waits = own and before is not None and before[1] < own
    # an empty chart gives way to another with the first place: it marks that first
    first = not state.get(state.Key.HELD_CENTRE) and state.get(state.Key.MARKED) != own
    if waits and before and (first or not pictures.is_ready(here.shown, here.shown, here.revision)):
        state.put(state.Key.MARKED, own)
        return before
    state.put(state.Key.RECORDED, 0)
    state.put(state.Key.LAST_SHOWN, (here.shown, here.revision))
    return here.shown, here.revision


def _book(release: Release) -> Book:
    return ShutBook(opened.book()) if release.guarded else opened.book()


def seen_for(seen: Seen, release: Release) -> Seen:
    """Return what somebody of another release sees at the same moment, to make an export of."""
    moment = seen.moment
    made = pictures.shared_picture(moment.as_of, moment.at, seen.picture.upto_seq, release)
    return replace(seen, picture=made, journal=_book(release), release=release, about=_about(made))


def reference(picture: Picture) -> tuple[Position, str] | None:
    """Return the place that is measured from, the datum, with its name; None without one."""
    shown = picture.shown("datum")
    position = None if shown is None else getattr(shown.result, "position", None)
    return (position, "datum") if isinstance(position, Position) else None


def _where(made: Picture) -> Position | Block | None:
    """Return where she is, as it is known to who looks: a place, the block told, or nothing."""
    shown = made.layers.get("datum")
    value = None if shown is None else hand_on(BY_KEY["datum"], shown)
    return value.where if isinstance(value, DatumValue) else None


def _about(made: Picture) -> Position | None:
    """Return the place the chart is about, as it is known to who looks."""
    where = _where(made)
    return None if where is None else middle_of(where)


def released_to(audience: str) -> Release:
    """Return what an audience may see by the watch's newest word."""
    here = opened.present_or_last()
    return release_for(opened.known(here.revision, here.shown), audience)


def allowed_to(actor: Actor, *, wall: bool) -> Release:
    """Return what this viewer may see: the watch everything, others what the watch last said.

    It is always the newest word that counts, also for a reader who looks back in time. On the
    wall somebody who is not of the watch sees what both the wall and the readers may see.
    """
    if actor.role is Role.WATCH and not wall:
        return WATCH
    readers = released_to("readers")
    if not wall:
        return readers
    room = released_to("wall")
    return room if actor.role is Role.WATCH else room.lesser(readers)


def chart_frame(seen: Seen) -> ChartFrame:
    """Return the frame this viewer asks for, about the place the chart is about.

    The centre is held from when it was first known: a datum that moves must not move the chart
    under the viewer's hand. `recentre` takes the datum of the moment.
    """
    held, _, cuts = state.get(state.Key.HELD_CENTRE).partition(" read as ")
    if cuts != seen.release.cuts:  # held when more, or less, was seen
        held = ""
    text = state.get(state.Key.CENTRE) or held
    if not text:
        if seen.about is None:
            return frame_for(NOWHERE, None, reach_m(seen))
        text = f"{seen.about.latitude_deg} {seen.about.longitude_deg}"
        state.put(state.Key.HELD_CENTRE, f"{text} read as {seen.release.cuts}")
    latitude, longitude = (float(part) for part in text.split())
    name = FrameName(state.get(state.Key.FRAME))
    return frame_for(Position(latitude, longitude), name, reach_m(seen))


def reach_m(seen: Seen) -> float:
    """Return half the width of the chart: as chosen, else so wide that the block told is whole."""
    chosen = float(state.get(state.Key.HALF_WIDTH))
    where = _where(seen.picture)
    if not isinstance(where, Block) or chosen != state.DEFAULTS[state.Key.HALF_WIDTH]:
        return chosen
    _, most_nmi = where.distance_nmi(where.centre)
    return max(chosen, WIDE_FOR_HIGH * most_nmi * M_PER_NMI)


def recentre() -> None:
    """Centre the chart on the datum as it is shown now."""
    for key in (state.Key.CENTRE, state.Key.CENTRE_TEXT, state.Key.HELD_CENTRE):
        state.put(key, "")
    for name in [one for one in st.session_state if str(one).startswith(state.FRAME_OF)]:
        del st.session_state[name]
