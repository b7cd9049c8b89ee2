"""How the response is told by voice: what has begun or ended, and what was cleared."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from layers.earth.position import Position
from layers.journal.known import Known
from layers.journal.words.heard import HeardWords, Name, Role, Told

ACTIVITY = Role(key="activity", title="activity", sort="name", names=("activity",),
                preps=("", "of", "for"))  # fmt: skip
STATE = Role(key="went", title="started or finished", sort="choice", choices={
    "started": "started_at", "begun": "started_at", "began": "started_at", "starts": "started_at",
    "finished": "finished_at", "completed": "finished_at", "complete": "finished_at",
    "ended": "finished_at"})  # fmt: skip
CLEARED = Role(key="cleared", title="asked, given or refused", sort="choice", choices={
    "clearance given": "given", "clearance asked": "asked", "clearance refused": "refused",
    "cleared": "given"})  # fmt: skip


def fill_actual(told: Told) -> None:
    """Put when an activity did start or finish."""
    told.put_as(activity="activity")
    if told.has("went"):
        told.payload[told.get("went")] = told.at.isoformat()


def fill_clearance(told: Told) -> None:
    """Put where a clearance stands."""
    told.put_as(activity="activity", state="cleared")
    told.assume("", at=told.at.isoformat())


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
    "forward_port.activity": HeardWords(words=(), names=activities),
    "forward_port.port": HeardWords(words=(), names=ports),
}  # fmt: skip
