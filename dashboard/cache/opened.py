"""The journal as opened, once for all viewers; where it stands, and what is known of it.

What is kept is shared read-only by all viewers (`st.cache_resource`).
"""

from __future__ import annotations

import threading
from dataclasses import dataclass, replace
from datetime import datetime

import streamlit as st

from dashboard import settings
from dashboard.away.link import LINK, remember_name
from dashboard.away.standing import StandingJournal
from dashboard.away.waiting import Outbox, WaitingJournal
from dashboard.cache.lately import Lately
from layers.catalogue import KINDS
from layers.contract import Moment
from layers.earth.errors import JournalAway, NotAllowed
from layers.earth.shore.land import Land
from layers.journal.actor import Actor, Role
from layers.journal.known import Known, Shelf
from layers.journal.record import Draft
from layers.journal.releases.released import ReleaseShelf, read_as
from layers.journal.releases.rules import WATCH, Release, with_cuts
from layers.journal.store import Journal, SourceAge
from layers.journal.tables.news import NewRecords
from layers.results import minute_of
from layers.watch.result import WatchState
from layers.watch.state import state as watch_state

KEPT_RELEASES = 16
KEPT_MOMENTS = 12  # the last few seconds, and where viewers stand who look back


@st.cache_resource(show_spinner=False)
def pen() -> WaitingJournal:
    """Return the journal for writing; what people send while it is away waits in its outbox."""
    settings.READY.wait()  # its clock, too, was set going then
    with LINK.asking():
        opened = WaitingJournal.open(settings.journal_url(), KINDS)
    opened.outbox, opened.is_away = outbox(), lambda: LINK.loss is not None
    LINK.guard(opened.engine)
    if settings.has_worker():
        threading.Thread(target=opened.send_by_itself, name="waiting", daemon=True).start()
    return opened


@st.cache_resource(show_spinner=False)
def outbox() -> Outbox:
    """Return what was sent while the journal was away."""
    return Outbox(settings.incident_folder() / f"waiting-{settings.journal_key()}.json")


@st.cache_resource(show_spinner=False)
def book() -> Journal:
    """Return the journal for reading; its connection cannot write."""
    pen()  # a journal that is not there yet, or is older, is made and brought forwards first
    with LINK.asking():
        opened = StandingJournal.open(settings.journal_url(), KINDS, readonly=True)
    LINK.guard(opened.engine)
    key = settings.journal_key()
    remember_name(settings.data_folder(), key, opened.name, opened.exercise)
    return opened


@st.cache_resource(show_spinner=False)
def news() -> NewRecords:
    """Return what tells this server of new records."""
    return NewRecords(book())


def is_back() -> datetime:
    """Ask the journal something, and record what waits; raise `JournalAway` when it is away."""
    journal = book()
    journal.revision()
    pen().send_waiting()
    return journal.now()


@st.cache_resource(show_spinner=False)
def land() -> Land:
    """Return the coastline's cache."""
    return Land(settings.data_folder() / "land")


@dataclass(frozen=True, slots=True)
class Present:
    """Where the journal stands: its last record, its time, and the moment that is shown as now.

    The moment is the whole minute, or the last record's own time when that came since: between
    records it stands still for a minute, and all viewers look at the same one.
    """

    revision: int
    now: datetime
    shown: datetime
    told: int = 0  # the last record that they may see, by its number: for the server alone


def present(release: Release = WATCH) -> Present:
    """Ask the journal, with one cheap question, where it stands.

    For a release that withholds the moment follows from what it may see: the second in which a
    withheld record came is not told either.
    """
    journal, shelf = book(), read_by(release)
    revision = journal.revision()
    now, minute = journal.now(), minute_of(journal.now())
    told = shelf.last_told(revision) if isinstance(shelf, ReleaseShelf) else revision
    last = journal.recorded_at(told) if told else None
    shown = minute if last is None else min(max(minute, last), now)
    return Present(revision, now, shown, told)


def present_or_last() -> Present:
    """Return where the journal stands, or where it stood when it last answered."""
    try:
        found = present()
    except JournalAway:
        last: Present | None = _last_present().get("whole")
        if last is None:
            raise
        return last
    _last_present()["whole"] = found
    return found


@st.cache_resource(show_spinner=False)
def _last_present() -> dict[str, Present]:
    return {}


def keep_warm(revision: int) -> None:
    """Have at hand what every page would ask, should the journal go."""
    journal = book()
    if isinstance(journal, StandingJournal):
        bulk = tuple(name for name, kind in KINDS.items() if kind.columns)
        journal.keep_warm(revision, bulk)


@st.cache_resource(show_spinner=False)
def _shelves() -> Lately[str, Shelf]:
    return Lately(lambda key: read_as(book(), KINDS, _ruled(key)), KEPT_RELEASES)


def _ruled(key: str) -> Release:
    cuts, _, audience = key.partition(" ")
    return replace(with_cuts(cuts), audience=audience)


def key_of(release: Release) -> str:
    """Return the key of a release; what it is called on paper is not part of it."""
    return "" if release.whole else f"{release.cuts} {release.audience}"


def shelf_of(key: str) -> Shelf:
    """Return the journal as the release of a key reads it, with what was read of it already."""
    return _shelves()(key) if key else book()


def read_by(release: Release) -> Shelf:
    """Return the journal as a release reads it."""
    return shelf_of(key_of(release))


@st.cache_resource(show_spinner=False)
def _knowns() -> Lately[tuple[int, datetime, str], Known]:
    return Lately(lambda key: Known(shelf_of(key[2]), KINDS, key[0], key[1]), KEPT_MOMENTS)


def known_of(upto_seq: int, as_of: datetime, key: str) -> Known:
    """Return what was known to the release of a key, with what has been read of it already."""
    return _knowns()((upto_seq, as_of, key))


@st.cache_resource(show_spinner=False)
def _watches() -> Lately[tuple[int, Moment, str], WatchState]:
    return Lately(
        lambda key: watch_state(known_of(key[0], key[1].as_of, key[2]), key[1]), KEPT_MOMENTS
    )


@st.cache_resource(show_spinner=False)
def _followed() -> Lately[int, list[SourceAge]]:
    return Lately(lambda _revision: book().followed(), 4)


@st.cache_resource(show_spinner=False)
def _first() -> Lately[str, datetime]:
    return Lately(lambda _key: book().read(book().kinds, 1)[0].valid_at, 1)


def first_record_at(revision: int) -> datetime | None:
    """Return the time of the journal's first record; it stays the first for good."""
    return _first()(book().key) if revision else None


def known(upto_seq: int, as_of: datetime, release: Release = WATCH) -> Known:
    """Return what was known to a release."""
    return known_of(upto_seq, as_of, key_of(release))


def watch(upto_seq: int, moment: Moment, release: Release = WATCH) -> WatchState:
    """Return where the watch stood at a moment, as a release may see it."""
    return _watches()((upto_seq, moment, key_of(release)))


def followed(revision: int) -> list[SourceAge]:
    """Return the sources that the feed reader follows, as of the journal's last record."""
    return _followed()(revision)


def record_export(actor: Actor, draft: Draft) -> None:
    """Record an export, also a reader's: the server writes it, the reader cannot choose what.

    Only this one kind is taken here, so that what leaves the program is always in the journal.
    """
    if draft.kind != "watch.export":
        raise NotAllowed(f"{actor.name} may not record {draft.kind}")
    server = replace(actor, name=f"export by {actor.name}", role=Role.WATCH, via="server")
    # people choose their names themselves: what the provider vouches for stands with it
    pen().append(server, [replace(draft, source=server.author)])
