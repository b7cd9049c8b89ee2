"""How transponders are told by voice: dropped where, and how each answers."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from layers.contract.heard_roles import DEPTH, POSITION, SHIP
from layers.earth.position import Position
from layers.earth.said import quantity as q
from layers.journal.known import Known
from layers.journal.words.heard import HeardWords, Name, Slot, ToldRecord

WHICH = Slot(key="transponder", title="name of the transponder", sort="word", loose=True,
             names=("transponder",), pattern=r"[A-Za-z]{1,10}[-.]?\d{1,4}|[A-Z]\d?",
             cues=("transponder", "beacon number"))  # fmt: skip
DROPPED = Slot(
    key="dropped",
    title="dropped",
    sort="choice",
    choices={"dropped": True, "let go": True, "laid": True, "released": True, "in the water": True},
)
TURN = Slot(
    key="turn_round",
    title="turn-round",
    sort="quantity",
    measure=q.SPAN,
    unit="s",
    cues=("turn-round", "turn round", "turnround", "turn-round delay"),
    least=0.0,
    most=10.0,
)
STATE = Slot(key="state", title="how it answers", sort="choice", choices={
    "answers": "answers", "answering": "answers", "weak": "weak", "silent": "silent",
    "no answer": "silent", "not answering": "silent", "lost": "lost", "recovered": "recovered",
})  # fmt: skip


def fill_drop(told: ToldRecord) -> None:
    """Put a transponder let go at the surface."""
    told.put_as(transponder="transponder", water_depth_m="depth", turn_round_s="turn_round")
    told.place(told.get("position"))
    if told.has("ship"):
        told.put(ship=told.get("ship").text)


def fill_state(told: ToldRecord) -> None:
    """Put how a transponder answers."""
    told.put_as(transponder="transponder", state="state", battery_percent="battery")


def names(known: Known, at: datetime) -> Iterable[Name]:
    """Return the transponders that were dropped."""
    for entry in known.entries("transponders.drop"):
        value = entry.value
        yield Name(text=value.transponder, sort="transponder",
                   position=Position(value.latitude_deg, value.longitude_deg))  # fmt: skip


HEARD = {
    "transponders.drop": HeardWords(
        words=("transponder dropped",),
        needs=("dropped", "transponder", "position", "depth", "turn_round"), takes=("ship",),
        roles=(WHICH, DROPPED, POSITION, DEPTH, TURN, SHIP), cores=(("dropped", "transponder"),),
        example="transponder T1 dropped 4315N 00830E depth 142 m turn-round 0.2 s 1230Z",
        fill=fill_drop, names=names),
    "transponders.state": HeardWords(
        words=("state of transponder",), needs=("transponder", "state"), takes=("battery",),
        roles=(WHICH, STATE,
               Slot(key="battery", title="battery", sort="quantity", measure=q.SHARE,
                    unit="percent", cues=("battery",), loose=True, least=0.0, most=100.0)),
        cores=(("transponder", "state"),), example="transponder T1 silent 1210Z", fill=fill_state),
}  # fmt: skip
