"""What a release sees of the people: how many are where; of the boat's inside nothing.

Where anything but names is withheld, the air, the stores, the vehicle and its sorties are not
read: a phase tells a depth by its length, a margin worked from what is left would be a false
statement. The watch tells margin, first out and counts by a record of its own (`watch.told`).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from layers.earth.tells import Tells
from layers.journal.record import Record
from layers.journal.releases.rules import GUARDED, PLACE, Let, Rule, only, withheld
from layers.survivors.muster.model import PLACES
from layers.survivors.muster.muster import FROM_THE_PLAN, book, place_sorts, told
from layers.survivors.muster.on_board import persons_on_board

COUNTED_BY = ("survivors.complement", "survivors.place", *FROM_THE_PLAN)


def _without_names(payload: Mapping[str, Any], let: Let, record: Record) -> Mapping[str, Any]:
    """Return a move that counts persons and names none."""
    bare = [{k: v for k, v in group.items() if k != "names"} for group in payload["groups"]]
    return {**payload, "groups": bare}


def _counted(payload: Mapping[str, Any], let: Let, record: Record) -> Mapping[str, Any] | None:
    """Return a move of so many persons, whose state is nobody's business here."""
    stood: frozenset[str] = let.kept("moves that stood", lambda: _stood(let))
    if record.id not in stood:
        return None  # by fitness it could not be; by count alone it would seem to
    places = {end: _place_of(payload[end], let) for end in ("from_place", "to_place")}
    if not let.release.withholds(Tells.MEDICAL):
        return {**payload, **places}
    dead = [dict(g) for g in payload["groups"] if "dead" in (g.get("fitness"), g.get("was"))]
    if payload["from_place"] == payload["to_place"] and not dead:
        return None  # a change of state alone: the same people stay where they are
    alive = sum(int(g["persons"]) for g in payload["groups"]) - sum(int(g["persons"]) for g in dead)
    # who is dead is counted by everybody; of the living only how many they are
    groups = [{"persons": int(g["persons"]), "fitness": _dead_or_not(g), **_was(g)} for g in dead]
    if alive and payload["from_place"] != payload["to_place"]:
        groups.append({"persons": alive, "fitness": "unknown"})
    return {**payload, **places, "groups": groups}


def _place_of(name: str, let: Let) -> str:
    """Return what a place is called here: one that the plan of lifts alone names has no name."""

    def planned() -> dict[str, str]:
        told = {entry.value.name for entry in let.whole.entries("survivors.place")}
        found: dict[str, str] = {}
        for kind, sort in FROM_THE_PLAN.items():
            ready_made = next(place for place, of in PLACES.items() if of is sort)
            for entry in let.whole.entries(kind):
                if entry.value.name not in told and entry.value.name not in PLACES:
                    found[entry.value.name] = ready_made
        return found

    names: dict[str, str] = let.kept("places of the plan", planned)
    return names.get(name, name)


def _dead_or_not(group: Mapping[str, Any]) -> str:
    return "dead" if group.get("fitness") == "dead" else "unknown"


def _was(group: Mapping[str, Any]) -> dict[str, str]:
    was = group.get("was")
    if was is None:
        return {}
    return {"was": "dead" if was == "dead" else "unknown"}


def _stood(let: Let) -> frozenset[str]:
    """Return the ids of the moves that stand in the watch's own ledger."""
    pob = persons_on_board(let.whole, None).pob
    return frozenset(e.id for e in book(pob, place_sorts(let.whole), told(let.whole)).stood)


def _headcount(payload: Mapping[str, Any], let: Let, record: Record) -> Mapping[str, Any] | None:
    """Return a headcount without the state of those counted."""
    if _place_of(payload["place"], let) != payload["place"]:
        return None  # several may be counted as one place here
    if not let.release.withholds(Tells.MEDICAL):
        return payload
    medical = ("walking", "injured", "stretcher", "pressure")
    return {k: v for k, v in payload.items() if k not in medical}


RULES: dict[str, Rule] = {
    "survivors.complement": only("part", "persons"),
    "survivors.place": only("name", "sort"),
    "survivors.report": only(
        "place", "persons", "walking", "injured", "stretcher", "dead", "pressure",
        change=_headcount, looks=COUNTED_BY,
    ),
    "survivors.move": only(
        "from_place", "to_place", "groups", "nobody_counted_before", change=_counted,
        names=_without_names, looks=COUNTED_BY,
    ),
    "survivors.hospital": only(
        "hospital", "latitude_deg", "longitude_deg", "stretcher_places", "other_places",
        "recompression_places", "told",
    ),
    "survivors.craft": PLACE,
    "survivors.flight_limit": withheld(Tells.MEDICAL),
    **dict.fromkeys(
        (
            "survivors.seat", "survivors.compartment", "survivors.air", "survivors.stores",
            "survivors.stores_used", "survivors.pod", "survivors.level", "survivors.breathing",
            "survivors.inflow", "survivors.in_water", "survivors.vehicle", "survivors.ship",
            "survivors.chamber", "survivors.schedule", "survivors.lift_limits", "survivors.lift",
            "survivors.priority", "survivors.sortie_phase", "survivors.sortie_report",
            "survivors.sortie_case", "survivors.drill", "survivors.decision",
            "survivors.plan_choice",
            "survivors.boat",
            "survivors.lies",
            "survivors.water",
            "survivors.activity",
            "survivors.own_air",
            "survivors.ready",
        ),
        GUARDED,
    ),
}  # fmt: skip
