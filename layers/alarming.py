"""Alarms put into the journal as their conditions come true, once for as long as they last."""

from __future__ import annotations

import logging
from collections import deque
from collections.abc import Callable, Mapping
from datetime import datetime, timedelta
from typing import Any

from layers.catalogue import BY_KEY, KINDS
from layers.earth.errors import InputError
from layers.earth.position import Position
from layers.earth.uncertain import ends
from layers.earth.values import DatumValue, HandedOn, TracksValue, WeatherValue
from layers.journal import naming
from layers.journal.actor import Actor, Role
from layers.journal.known import Entry, Known
from layers.journal.record import Draft, form_identity
from layers.journal.store import Journal
from layers.picture import Picture, hand_on
from layers.watch.alarms import Raised, Watched, judge, rules_in_force
from layers.watch.state import state as watch_state

log = logging.getLogger(__name__)

ALARMS = Actor(name="alarms", role=Role.FEED, via="worker", server=naming.server())
COMPARED_WITH = timedelta(hours=1)  # an alarm on change compares with the values an hour ago
REMEMBERED = timedelta(hours=12)  # an alarm of that age that is still true is raised again


def watched(picture: Picture, heard: Mapping[str, datetime]) -> Watched:
    """Return the values that alarms are judged from.

    Parameters
    ----------
    picture : Picture
        Where they are taken from; a layer that has nothing leaves its values out.
    heard : mapping of str to datetime
        When each feed was last heard.
    """
    datum, tracks = _handed(picture, "datum"), _handed(picture, "tracks")
    weather = _handed(picture, "weather")
    where = datum.where if isinstance(datum, DatumValue) else None
    by_place = _of_result(picture, "survivors", "by_place") or {}
    return Watched(
        at=picture.moment.at,
        heard=heard,
        margins_h=_margins_h(picture),
        windows=weather.windows if isinstance(weather, WeatherValue) else (),
        etas=_etas(picture),
        ships=tracks.ships if isinstance(tracks, TracksValue) else (),
        datum=where if isinstance(where, Position) else None,
        by_place=by_place,
        not_accounted_for=by_place.get("not accounted for"),
    )


def _handed(picture: Picture, key: str) -> HandedOn | None:
    shown = picture.shown(key)
    return None if shown is None else hand_on(BY_KEY[key], shown)


def _margins_h(picture: Picture) -> dict[str, float | None]:
    """Return the most that each refuge's margin can be, hours; None where nothing says."""
    shown = picture.shown("margin")
    refuges = () if shown is None else shown.result.outlook.refuges
    return {f"{one.refuge} refuge": ends(one.nobody)[1] for one in refuges}


def _of_result(picture: Picture, key: str, name: str) -> Mapping[str, int] | None:
    shown = picture.shown(key)
    return None if shown is None else getattr(shown.result, name, None)


def _etas(picture: Picture) -> dict[str, datetime]:
    """Return the ETA at the datum of each ship that takes part and makes way.

    That of a ship lying stopped rests on a speed she does not make: it slips with the clock.
    """
    shown = picture.shown("tracks")
    ships = () if shown is None else shown.result.ships
    return {
        ship.name: ship.arrival.by_great_circle
        for ship in ships
        if ship.arrival is not None
        and ship.role != "other"
        and ship.arrival.under_way
        and not ship.arrival.turns
    }


class Alarms:
    """Raises what is due into one journal.

    Parameters
    ----------
    journal : Journal
        Opened for writing.
    """

    def __init__(self, journal: Journal) -> None:
        self.journal = journal
        self._standing: set[str] | None = None
        self._past: deque[Watched] = deque()
        self._compared = False

    def raise_due(self, picture: Picture, compared: Callable[[], Picture | None]) -> list[Raised]:
        """Judge the picture, record the alarms that are new, and return them.

        Parameters
        ----------
        picture : Picture
            As known now.
        compared : callable
            Gives the picture of an hour ago, None as long as it is being worked out; asked until
            it is there, after that the values judged before are remembered.
        """
        upto = picture.upto_seq
        known = Known(self.journal, KINDS, upto, picture.moment.as_of)
        rules = rules_in_force(known)
        if watch_state(known, picture.moment).ended_at is not None:
            rules = []  # once the alert is ended its alarms rest; those that stand end
        if not rules and not known.entries("watch.alarm"):
            return []
        # what came once is a feed only where a rule names it: then its silence is told
        named = [r.value.about.casefold() for r in rules if r.value.about]
        heard = {
            source.source: source.observed_at
            for source in self.journal.followed(least=1)
            if source.records > 1 or any(name in source.source.casefold() for name in named)
        }
        now = watched(picture, heard)
        raised = judge(rules, now, self._an_hour_ago(now, compared))
        if self._standing is None:
            self._standing = self._recently(known, picture.moment.at)
        news = [alarm for alarm in raised if alarm.key not in self._standing]
        self._standing = {alarm.key for alarm in raised}
        over = self._over(known, picture.moment.at)
        self._record([*map(_alarm, news), *map(_end, over)], picture.moment.at)
        return news

    def _over(self, known: Known, at: datetime) -> list[Entry]:
        """Return the alarms of the journal that nothing raises any more."""
        ended = {entry.value.target for entry in known.entries("watch.alarm_ended")}
        standing = self._standing or set()
        return [
            entry
            for entry in known.entries("watch.alarm")
            if entry.id not in ended
            and entry.record.valid_at < at
            and f"{entry.value.rule}:{entry.value.about}" not in standing
        ]

    def _an_hour_ago(self, now: Watched, compared: Callable[[], Picture | None]) -> Watched:
        if not self._compared and (earlier := compared()) is not None:
            self._past.appendleft(watched(earlier, {}))
            self._compared = True
        while len(self._past) > 1 and self._past[1].at <= now.at - COMPARED_WITH:
            self._past.popleft()
        if not self._past or now.at - self._past[-1].at >= timedelta(minutes=5):
            self._past.append(now)  # as long as there is nothing earlier nothing has changed
        return self._past[0]

    def _recently(self, known: Known, at: datetime) -> set[str]:
        return {
            f"{entry.value.rule}:{entry.value.about}"
            for entry in known.entries("watch.alarm")
            if at - entry.record.valid_at < REMEMBERED
        }

    def _record(self, told: list[tuple[str, str, dict[str, Any]]], at: datetime) -> None:
        drafts = [
            Draft(
                kind=kind,
                payload=payload,
                valid_at=at,
                heard_at=at,
                source="alarms",
                # two computing processes on one journal tell the same once a minute at most
                identity=form_identity(f"{key}:{at:%Y%m%d%H%M}"),
            )
            for kind, key, payload in told
        ]
        if drafts:
            try:
                self.journal.append(ALARMS, drafts)
            except InputError as reason:
                log.warning("an alarm could not be recorded: %s", reason)


def _alarm(alarm: Raised) -> tuple[str, str, dict[str, Any]]:
    payload = {"rule": alarm.rule_id, "about": alarm.about, "said": alarm.said}
    if alarm.when is not None:
        payload["when"] = alarm.when.isoformat()
    return "watch.alarm", f"alarm:{alarm.key}", payload


def _end(alarm: Entry) -> tuple[str, str, dict[str, Any]]:
    return "watch.alarm_ended", f"end of alarm:{alarm.id}", {"target": alarm.id}
