"""Where a searcher is by her own track, newer than what was told of her: taken by one press.

The plan rests on a told place; a ship has moved since. Her track is not read by the plan itself:
a position every few seconds would make every plan anew under the officer's hands.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import streamlit as st

from dashboard.panels.text import panel, words
from dashboard.tools.forms import refusal
from dashboard.tools.send import draft_now, pressed
from dashboard.view import Seen
from layers.datum.search.model import Searcher
from layers.earth.clock import clock_words, iso
from layers.earth.geodesy import between
from layers.earth.position import Position
from layers.earth.said.alike import plain_name
from layers.earth.units import M_PER_NMI
from layers.earth.values import ShipState
from layers.journal.known import Entry
from layers.tracks.handed_on import hand

MOVED_M = 0.5 * M_PER_NMI  # less is no other plan; common practice, no source
KEY = "datum.plan.track"


@dataclass(frozen=True, slots=True, kw_only=True)
class MovedOn:
    """A searcher, and where her track has her since she was told."""

    entry: Entry
    ship: ShipState
    metres: float


def moved(searchers: list[Entry], ships: tuple[ShipState, ...], at: datetime) -> list[MovedOn]:
    """Return the searchers whose track is newer than what was told, and elsewhere.

    A track that has gone stale, or whose positions may not be hers, is not taken.
    """
    by_name = {plain_name(ship.name): ship for ship in ships}
    newest = {(e.value.name, e.value.object): e for e in searchers if e.record.valid_at <= at}
    found = []
    for entry in newest.values():
        ship = by_name.get(plain_name(entry.value.name))
        if ship is None or ship.stale or ship.doubt or ship.fixed_at <= entry.record.valid_at:
            continue
        told = Position(entry.value.latitude_deg, entry.value.longitude_deg)
        metres = between(told, ship.position)[0]
        if metres > MOVED_M:
            found.append(MovedOn(entry=entry, ship=ship, metres=metres))
    return found


def payload(one: MovedOn, now: datetime) -> dict[str, Any] | None:
    """Return the searcher told anew from her track, None when the hours told are over.

    She must leave when she was told to: the hours that have gone are taken off.
    """
    value: Searcher = one.entry.value
    until = value.ready_at + timedelta(hours=value.endurance_h)
    ready = max(value.ready_at, now)
    if until <= ready:
        return None
    return value.model_dump(mode="json") | {
        "latitude_deg": round(one.ship.position.latitude_deg, 6),
        "longitude_deg": round(one.ship.position.longitude_deg, 6),
        "ready_at": iso(ready),
        "endurance_h": (until - ready).total_seconds() / 3_600.0,
        "note": f"place by her track of {one.ship.fixed_at:%d%H%M}Z",
    }


def show(seen: Seen) -> None:
    """Show who has moved since she was told, each with a button that plans from there."""
    tracks = seen.picture.shown("tracks")
    ships = () if tracks is None else hand(tracks.result).ships
    now = seen.moment.at
    for one in moved(list(seen.known.entries("datum.searcher")), ships, now):
        name = one.entry.value.name
        told = clock_words(one.entry.record.valid_at, now)
        anew = payload(one, now)
        hours = "" if anew else "; the hours told are over: ask how long she can stay"
        panel(
            words(
                f"{name} was {one.ship.position} at {clock_words(one.ship.fixed_at, now)} by her "
                f"track, {one.metres / M_PER_NMI:.1f} nmi from where she was told to be {told}"
                f"{hours}."
            )
        )
        key = f"{KEY}.{one.entry.id}"
        if anew and seen.writable and st.button(f"Plan {name} from her track", key=key):
            pressed(seen, draft_now(seen, "datum.searcher", anew), key=KEY)
    refusal.show(KEY)
