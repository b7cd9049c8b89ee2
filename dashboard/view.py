"""What a page is given: the picture at the time this viewer asks for, and who is looking."""

from __future__ import annotations

from contextvars import ContextVar
from dataclasses import dataclass
from datetime import datetime

from dashboard import access, cache, state
from layers.answers import Answers
from layers.contract import Moment, View
from layers.earth.chart.frames import ChartFrame, FrameName, frame_for
from layers.earth.clock import dtg
from layers.earth.position import Position
from layers.journal.actor import Actor, Role
from layers.journal.known import Known
from layers.journal.store import Journal
from layers.picture import Picture
from layers.scene.ink import INKS, Ink
from layers.scene.release import Release
from layers.watch.state import WatchState

NOWHERE = Position(0.0, 0.0)  # the frame of an empty journal, until something is known


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
    journal : Journal
        For reading. Writing goes through `pen`, which checks the actor on every append.
    writable : bool
        Whether forms are offered; the journal decides all the same.
    release : Release
        What this viewer may see; the picture has been cut by it.
    about : Position or None
        The place the chart is about: the datum, to half a degree where it is withheld.
    """

    picture: Picture
    now: datetime
    revision: int
    follows_now: bool
    journal: Journal
    actor: Actor
    ink: Ink
    release: Release
    about: Position | None

    @property
    def pen(self) -> Journal:
        """The journal for writing."""
        return cache.pen()

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
        return cache.known(self.picture.upto_seq, self.moment.as_of)

    @property
    def watch(self) -> WatchState:
        """Where the watch stood at this moment."""
        return cache.watch(self.picture.upto_seq, self.moment)

    @property
    def answers(self) -> Answers:
        """The watch's questions, each answered once for every place that shows it."""
        return cache.answers(self.picture, self.watch)

    def time_words(self) -> str:
        """Return which of the three times is shown, in words."""
        if self.follows_now:
            return "as known now"
        at = dtg(self.moment.at)
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


def _look(*, wall: bool) -> Seen:
    state.read_query()
    here = cache.present()
    asked = state.Times(None, None) if wall else state.times()
    if asked.as_of is None:
        # what is recorded within this minute counts at once; the time shown moves by minutes
        as_of, upto_seq = here.shown, here.revision
    else:
        as_of, upto_seq = min(asked.as_of, here.now), None
    actor = access.actor()
    whole = cache.shared_picture(as_of, asked.at or as_of, upto_seq)
    allowed = release_for("wall" if wall else "readers", actor, here, wall=wall)
    return Seen(
        picture=cache.cut(whole, allowed),
        now=here.now,
        revision=here.revision,
        follows_now=asked.as_of is None and asked.at is None,
        journal=cache.book(),
        actor=actor,
        ink=INKS[state.get(state.Key.INK)],
        release=allowed,
        about=_about(whole, allowed),
    )


def _about(whole: Picture, allowed: Release) -> Position | None:
    found = reference(whole)
    if found is None or allowed.exact_position:
        return found[0] if found else None
    half = (round(found[0].latitude_deg * 2) / 2, round(found[0].longitude_deg * 2) / 2)
    return Position(*half)


def release_for(audience: str, actor: Actor, here: cache.Present, *, wall: bool) -> Release:
    """Return what this viewer may see: the watch everything, others what the watch last said.

    It is always the newest word that counts, also for a reader who looks back in time.
    """
    if actor.role is Role.WATCH and not wall:
        return Release(names=True, to="the watch")
    known = cache.known(here.revision, here.shown)
    said = [e.value for e in known.entries("watch.withholding") if e.value.audience == audience]
    if not said:
        return Release(to=audience)
    last = said[-1]
    return Release(
        names=last.names, medical=last.medical, exact_position=last.exact_position, to=audience
    )


def reference(picture: Picture) -> tuple[Position, str] | None:
    """Return the place that the chart is about: the datum, else the first ship, else None."""
    shown = picture.shown("datum")
    if shown is not None:
        position = getattr(shown.result, "position", None)
        if isinstance(position, Position):
            return position, "datum"
    return None


def chart_frame(seen: Seen) -> ChartFrame:
    """Return the frame this viewer asks for, about the place the chart is about.

    The centre is held from when it was first known: a datum that moves must not move the chart
    under the viewer's hand. `recentre` takes the datum of the moment.
    """
    text = state.get(state.Key.CENTRE) or state.get(state.Key.HELD_CENTRE)
    if not text:
        if seen.about is None:
            return frame_for(NOWHERE, None, state.get(state.Key.HALF_WIDTH))
        text = f"{seen.about.latitude_deg} {seen.about.longitude_deg}"
        state.put(state.Key.HELD_CENTRE, text)
    latitude, longitude = (float(part) for part in text.split())
    name = FrameName(state.get(state.Key.FRAME))
    return frame_for(Position(latitude, longitude), name, state.get(state.Key.HALF_WIDTH))


def recentre() -> None:
    """Centre the chart on the datum as it is shown now."""
    for key in (state.Key.CENTRE, state.Key.CENTRE_TEXT, state.Key.HELD_CENTRE):
        state.put(key, "")
