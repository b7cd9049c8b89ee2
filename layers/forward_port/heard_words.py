"""How the response is told by voice: what has begun or ended, and what was cleared."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from layers.contract.heard_roles import POSITION, SHIP, SPEED
from layers.earth.position import Position
from layers.journal.known import Known
from layers.journal.words.heard import HeardWords, Name, Slot, ToldRecord

ACTIVITY = Slot(key="activity", title="activity", sort="name", names=("activity",),
                preps=("", "of", "for"))  # fmt: skip
STATE = Slot(key="went", title="started or finished", sort="choice", choices={
    "started": "started_at", "begun": "started_at", "began": "started_at", "starts": "started_at",
    "finished": "finished_at", "completed": "finished_at", "complete": "finished_at",
    "ended": "finished_at"})  # fmt: skip
CLEARED = Slot(key="cleared", title="asked, given or refused", sort="choice", choices={
    "clearance given": "given", "clearance asked": "asked", "clearance refused": "refused",
    "cleared": "given"})  # fmt: skip
START = Slot(key="start", title="from which port", sort="name", names=("port", "mark"),
             preps=("", "from"))  # fmt: skip
TO_DATUM = Slot(key="to_datum", title="to the datum", sort="choice", choices={
    "to the datum": True, "to datum": True, "for the datum": True})  # fmt: skip
LEAVES = Slot(key="leaves", title="leaves the port", sort="choice", choices={
    "sails from": True, "leaves": True, "sailing from": True, "left": True, "sailed from": True,
    "leaving": True, "departs": True, "sailed": True})  # fmt: skip
AT_SEA = Slot(key="at_sea", title="when she sails", sort="time", ahead=True,
              preps=("", "at"), only_with="leaves")  # fmt: skip
SAILS = Slot(key="sails", title="when she sails", sort="time", ahead=True,
             cues=("sails", "sailing"))  # fmt: skip
PORT_NAME = Slot(key="port_name", title="name of the port", sort="word", loose=True,
                 names=("port",), pattern=r"[A-Za-z][A-Za-z0-9.'-]*")  # fmt: skip


def fill_actual(told: ToldRecord) -> None:
    """Put when an activity did start or finish."""
    told.put_as(activity="activity")
    if told.has("went"):
        told.payload[told.get("went")] = told.at.isoformat()


def fill_clearance(told: ToldRecord) -> None:
    """Put where a clearance stands."""
    told.put_as(activity="activity", state="cleared")
    told.assume("", at=told.at.isoformat())


def fill_leg(told: ToldRecord) -> None:
    """Put the way by sea from a port, or from where a ship is, to the datum."""
    start = told.get("start")
    ship = told.get("ship")
    where = start if isinstance(start, Name) else ship
    if isinstance(where, Name):
        place = where.position if where is start else told.whereabouts(where)
        if place is None:
            told.lack(f"where {where.text} is")
        else:
            told.put(points=[{"latitude_deg": place.latitude_deg, "name": where.text,
                              "longitude_deg": place.longitude_deg}])  # fmt: skip
        told.put(key=f"{where.text} to the datum")
    elif told.has("position"):
        lat, lon = told.get("position").latitude_deg, told.get("position").longitude_deg
        told.put(key="to the datum", points=[{"latitude_deg": lat, "longitude_deg": lon}])
    if isinstance(ship, Name):
        told.put(ship=ship.text)
    told.put_as(speed_kn="speed")
    told.assume("", mode="sea", network=True, to_datum=True)
    sails = told.get("sails") or told.get("at_sea")
    if told.has("leaves") and not told.has("to_datum"):
        told.assume("bound for the datum", mode="sea")
    if sails is None and told.has("leaves"):
        told.lack("when she sails")
    elif sails is not None:
        told.put(sails_at=sails.isoformat())
    else:
        told.assume("sails now, round land by the shortest way", sails_at=told.at.isoformat())


def fill_port(told: ToldRecord) -> None:
    """Put a candidate port."""
    told.put_as(name="port_name")
    told.place(told.get("position"))


def activities(known: Known, at: datetime) -> Iterable[Name]:
    """Return the activities of the chain by title and by key."""
    for entry in known.entries("forward_port.activity"):
        yield Name(text=entry.value.title, sort="activity", key=entry.value.key)


def ports(known: Known, at: datetime) -> Iterable[Name]:
    """Return the candidate ports as marks."""
    for entry in known.entries("forward_port.port"):
        value = entry.value
        yield Name(text=value.name, sort="port",
                   position=Position(value.latitude_deg, value.longitude_deg))  # fmt: skip


HEARD = {
    "forward_port.actual": HeardWords(
        words=("activity",), needs=("activity", "went"), roles=(ACTIVITY, STATE),
        cores=(("activity", "went"),), example="Load-out started 0410Z", fill=fill_actual),
    "forward_port.clearance": HeardWords(
        words=("clearance",), needs=("activity", "cleared"), roles=(ACTIVITY, CLEARED),
        cores=(("activity", "cleared"),), example="Load-out clearance given 0410Z",
        fill=fill_clearance, fields=("at",)),
    "forward_port.leg": HeardWords(
        words=("way by sea",), needs=("start|ship|position", "to_datum|leaves", "speed"),
        takes=("sails", "ship", "at_sea"),
        roles=(START, SHIP, POSITION, TO_DATUM, LEAVES, SPEED, SAILS, AT_SEA),
        cores=(("start", "to_datum"), ("ship", "to_datum"), ("position", "to_datum"),
               ("start", "leaves")),
        example="Savona to the datum at 14 kn", fill=fill_leg, timed=False,
        fields=("key", "mode", "points")),
    "forward_port.activity": HeardWords(words=(), names=activities),
    "forward_port.port": HeardWords(
        words=("port", "candidate port"), needs=("port_name", "position"),
        roles=(PORT_NAME, POSITION), example="port SAVONA 4418N 00829E", fill=fill_port,
        names=ports, timed=False, fields=("name",), anywhere=True, introduces="port"),
}  # fmt: skip
