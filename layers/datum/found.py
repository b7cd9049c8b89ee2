"""What was found on the bottom: contacts against wrecks, and whether one is she."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from layers.datum.before.base import upto
from layers.datum.evidence.contacts import contact_chance, wreck_beside
from layers.datum.evidence.setting import Built
from layers.datum.result import RankedContact
from layers.earth.clock import clock_words
from layers.earth.geodesy import WGS84
from layers.earth.position import Position
from layers.earth.values import FoundFix
from layers.journal.known import Known


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """She was seen on the bottom, fixed by the net, or both."""

    words: str
    depth_m: float | None


def found_on_bottom(
    known: Known, built: Sequence[Built], fixes: Sequence[FoundFix], at: datetime
) -> Found | None:
    """Return what she was found by, of what counts; None while she is not found."""
    counting = {item.evidence.key for item in built if item.term is not None}
    seen = [
        entry
        for entry in upto(known, "datum.contact", at)
        if entry.value.identified == "DISSUB" and entry.id in counting
    ]
    fixed = [fix for fix in fixes if fix.records[0] in counting]
    if not seen and not fixed:
        return None
    said = [f"net fix {clock_words(fix.at, at)}" for fix in fixed]
    said += [
        f"seen by {entry.value.observer} {clock_words(entry.record.valid_at, at)}"
        for entry in seen[-1:]
    ]
    depths = [fix.depth_m for fix in fixed] + [entry.value.depth_m for entry in seen[-1:]]
    return Found(words=", ".join(said), depth_m=next((d for d in depths if d is not None), None))


def contacts(known: Known, datum: Position, at: datetime) -> tuple[RankedContact, ...]:
    """Return the contacts on the bottom, the likeliest first."""
    wrecks = tuple(upto(known, "datum.wreck", at))
    found = []
    for entry in upto(known, "datum.contact", at):
        value = entry.value
        beside = wreck_beside(value, wrecks)
        chance = 0.0 if value.identified == "not the DISSUB" else contact_chance(value, wrecks)
        away = WGS84.inv(
            datum.longitude_deg, datum.latitude_deg, value.longitude_deg, value.latitude_deg
        )[2]
        found.append(
            RankedContact(
                key=entry.id,
                says=f"{value.form} contact by {value.observer}",
                position=Position(value.latitude_deg, value.longitude_deg),
                from_datum_m=float(away),
                length_m=value.length_m,
                nearest_wreck=beside[0] if beside else "none charted",
                wreck_m=beside[1] if beside else None,
                chance_dissub=chance,
                identified=value.identified,
            )
        )
    return tuple(sorted(found, key=lambda c: (-c.chance_dissub, c.from_datum_m)))
