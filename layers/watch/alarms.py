"""Alarms that the watch sets, judged from the values of two pictures.

=========================== ============================================ ==================
sort                        raised when                                  limit is in
=========================== ============================================ ==================
feed stale                  a source was last heard longer ago            minutes
margin below                a refuge's margin is less                     hours
window closing              an open working window closes within          hours
ETA slipped                 an ETA is later than it was by more           minutes
ship stopped                a ship that made way has slowed below         knots
datum moved                 the datum has moved by more                   nautical miles
place negative              a place in the muster holds less than nobody  not used
not accounted for rising    more people are not accounted for than were   persons
=========================== ============================================ ==================
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from layers.earth.clock import clock_words, dtg, duration_words, relative_words
from layers.earth.geodesy import between
from layers.earth.position import Position
from layers.earth.values import ShipState, WorkingWindow
from layers.journal.known import Entry, Known
from layers.watch.model import AlarmRule


@dataclass(frozen=True, slots=True, kw_only=True)
class Watched:
    """The values of one picture that alarms are judged from.

    ``margins_h`` by refuge, None where not known; ``etas`` by ship; ``heard`` by source.
    """

    at: datetime
    heard: Mapping[str, datetime] = field(default_factory=dict)
    margins_h: Mapping[str, float | None] = field(default_factory=dict)
    windows: tuple[WorkingWindow, ...] = ()
    etas: Mapping[str, datetime] = field(default_factory=dict)
    ships: tuple[ShipState, ...] = ()
    datum: Position | None = None
    by_place: Mapping[str, int] = field(default_factory=dict)
    not_accounted_for: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Raised:
    """An alarm that a rule raises now; ``key`` is the same for as long as it lasts."""

    rule_id: str
    about: str
    said: str
    key: str
    when: datetime | None = None  # the clock time it is about, if it is about one


Found = Iterable[tuple[str, str, datetime | None]]


def _feed_stale(rule: AlarmRule, now: Watched, before: Watched | None) -> Found:
    for source, heard_at in now.heard.items():
        age = now.at - heard_at
        if age > timedelta(minutes=rule.limit):
            yield source, f"{source} was last heard", heard_at


def _margin_below(rule: AlarmRule, now: Watched, before: Watched | None) -> Found:
    for refuge, margin_h in now.margins_h.items():
        if margin_h is not None and margin_h < rule.limit:
            yield refuge, f"{refuge}: margin {margin_h:+.1f} h, below {rule.limit:+g} h", None


def _window_closing(rule: AlarmRule, now: Watched, before: Watched | None) -> Found:
    for window in now.windows:
        if window.closes is None or not window.opens <= now.at < window.closes:
            continue
        left = window.closes - now.at
        if left < timedelta(hours=rule.limit):
            yield window.operation, f"{window.operation}: the window closes", window.closes


def _eta_slipped(rule: AlarmRule, now: Watched, before: Watched | None) -> Found:
    for ship, eta in now.etas.items():
        was = None if before is None else before.etas.get(ship)
        if was is not None and eta - was > timedelta(minutes=rule.limit):
            late = duration_words(eta - was)
            yield ship, f"{ship}: ETA {dtg(eta)}, {late} later than it was", None


def _ship_stopped(rule: AlarmRule, now: Watched, before: Watched | None) -> Found:
    made_way = {s.name for s in (before.ships if before else ()) if (s.speed_kn or 0) > rule.limit}
    for ship in now.ships:
        if ship.speed_kn is not None and ship.speed_kn <= rule.limit and ship.name in made_way:
            said = f"{ship.name} makes {ship.speed_kn:.1f} kn, {rule.limit:g} kn or less"
            yield ship.name, said, None


def _datum_moved(rule: AlarmRule, now: Watched, before: Watched | None) -> Found:
    if before is None or before.datum is None or now.datum is None:
        return
    moved_nmi = between(before.datum, now.datum)[0] / 1852.0
    if moved_nmi > rule.limit:
        yield "datum", f"the datum has moved {moved_nmi:.1f} nmi, to {now.datum}", None


def _place_negative(rule: AlarmRule, now: Watched, before: Watched | None) -> Found:
    for place, persons in now.by_place.items():
        if persons < 0:
            said = f"{place} would hold {persons} persons: a move is wrong or missing"
            yield place, said, None


def _unaccounted_rising(rule: AlarmRule, now: Watched, before: Watched | None) -> Found:
    was = None if before is None else before.not_accounted_for
    if was is None or now.not_accounted_for is None:
        return
    if now.not_accounted_for - was > rule.limit:
        yield "muster", f"{now.not_accounted_for} persons not heard of, {was} before", None


JUDGES: dict[str, Callable[[AlarmRule, Watched, Watched | None], Found]] = {
    "feed stale": _feed_stale,
    "margin below": _margin_below,
    "window closing": _window_closing,
    "ETA slipped": _eta_slipped,
    "ship stopped": _ship_stopped,
    "datum moved": _datum_moved,
    "place negative": _place_negative,
    "not accounted for rising": _unaccounted_rising,
}


def rules_in_force(known: Known) -> list[Entry]:
    """Return the rules that are on and that no later rule replaces."""
    rules = known.entries("watch.alarm_rule")
    replaced = {entry.value.replaces for entry in rules}
    return [entry for entry in rules if entry.value.on and entry.id not in replaced]


def judge(rules: Iterable[Entry], now: Watched, before: Watched | None) -> list[Raised]:
    """Return the alarms that the rules raise on these values.

    Parameters
    ----------
    rules : iterable of Entry
        Of `rules_in_force`.
    now, before : Watched
        The values now, and those of the picture to compare with (an hour ago; None: no
        comparison, so that nothing that needs one is raised).
    """
    raised = []
    for entry in rules:
        rule: AlarmRule = entry.value
        for about, said, when in JUDGES[rule.sort](rule, now, before):
            if rule.about and rule.about.casefold() not in about.casefold():
                continue
            key = f"{entry.id}:{about}"
            raised.append(Raised(rule_id=entry.id, about=about, said=said, key=key, when=when))
    return raised


def told_of(about: str, called: str, said: str) -> str:
    """Return what an alarm says, of what it is about as people call that."""
    return said.replace(about, called, 1) if called and about else said


def alarm_words(said: str, when: datetime | None, now: datetime) -> str:
    """Return an alarm as it stands now: its clock time first, then how far that is.

    ``0820Z recovery: the window closes, in 1 h 40``
    """
    if when is None:
        return said
    return f"{clock_words(when, now)} {said}, {relative_words(when, now)}"
