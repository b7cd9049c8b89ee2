"""How the watch's own work is told: stages, tasks, decisions, questions, promises, notes."""

from __future__ import annotations

from collections.abc import Callable

from layers.contract.heard_roles import SHIP
from layers.journal.words.heard import HeardWords, Name, Slot, ToldRecord
from layers.watch.heard_desk import HEARD_DESK

STAGE = Slot(key="stage", title="stage", sort="choice", choices={
    "SUBLOOK": "SUBLOOK", "SUBMISS": "SUBMISS", "SUBSUNK": "SUBSUNK",
    "alert ended": "ended", "alert is over": "ended", "alert over": "ended"})  # fmt: skip
DUE = Slot(
    key="due",
    title="when it is due",
    sort="time",
    ahead=True,
    preps=("", "at", "by", "from"),
    cues=("report due", "next report due", "next report", "due", "reports next"),
)
WHAT = Slot(key="what", title="what", sort="text")
ARRIVES = Slot(key="arrives", title="when she is on scene", sort="time", ahead=True,
               preps=("", "at", "by"), cues=(
    "eta", "eta on scene", "eta datum", "eta at the datum",
    "will be on scene", "expected on scene", "due on scene", "arrives",
    "arriving", "will arrive", "expected to arrive"))  # fmt: skip
BY = Slot(
    key="by_when", title="by when", sort="time", ahead=True, cues=("not later than",), preps=("by",)
)
AT = Slot(key="listen_at", title="when", sort="time", ahead=True, cues=("listening at", "listen at",
          "next listening time", "listening time", "next talk", "next call",
          "next talk with the boat", "next call with the boat", "next sked", "next uwt sked",
          "next schedule"), preps=("", "at"))  # fmt: skip


def fill_stage(told: ToldRecord) -> None:
    """Put the stage that was declared."""
    told.put_as(stage="stage")
    told.assume("as heard", basis="as heard")


def fill_task(told: ToldRecord) -> None:
    """Put who does what by when."""
    ship = told.get("ship")
    if ship is not None:
        told.put(who=ship.text if isinstance(ship, Name) else str(ship))
    told.put_as(what="what")
    if told.has("due"):
        told.put(due=told.get("due").isoformat())
    if told.has("arrives"):
        told.put(due=told.get("arrives").isoformat())
        told.assume("task: be on scene", what="be on scene")
    if not told.has("what"):
        told.assume("task: report", what="report")


def fill_text(*fields: str, **assumed: str) -> Callable[[ToldRecord], None]:
    """Return a fill that puts the free text in the first field, and assumes the others."""

    def fill(told: ToldRecord) -> None:
        told.put(**{fields[0]: told.get("what")})
        ship = told.get("ship")
        if len(fields) > 1 and ship is not None:
            told.put(**{fields[1]: ship.text if isinstance(ship, Name) else str(ship)})
        for field, value in assumed.items():
            told.assume(f"{field.replace('_', ' ')}: {value}", **{field: value})
        if told.has("by_when"):
            told.put(wanted_by=told.get("by_when").isoformat())

    return fill


def fill_listening(told: ToldRecord) -> None:
    """Put a time agreed with her."""
    if told.has("listen_at"):
        told.put(at=told.get("listen_at").isoformat())
    told.assume("with her", with_whom="DISSUB")


HEARD = {
    "watch.stage": HeardWords(
        words=("stage", "declared stage", "declare"), needs=("stage",), roles=(STAGE,),
        cores=(("stage",),),
        perhaps={"sunk declared": "SUBSUNK", "declared sunk": "SUBSUNK"},
        example="sublook", fill=fill_stage, fields=("basis",)),
    "watch.task": HeardWords(
        words=("task", "tasked"), needs=("ship", "due|what|arrives"),
        takes=("due",), roles=(SHIP, DUE, WHAT, ARRIVES),
        cores=(("ship", "due"), ("ship", "arrives")), text="what", timed=False,
        example="TENACE report due 1400", fill=fill_task, fields=("who", "what")),
    "watch.decision": HeardWords(
        words=("decided", "decision"), needs=("what",), roles=(WHAT,), text="what",
        example="decided: launch at first light",
        fill=fill_text("what", reasons="as heard", decided_by="the watch"),
        fields=("reasons", "decided_by")),
    "watch.assumption": HeardWords(
        words=("assume", "assumption", "assumed"), needs=("what",), roles=(WHAT,), text="what",
        example="assume: the buoy is hers", fill=fill_text("what")),
    "watch.question": HeardWords(
        words=("ask", "asked"), needs=("ship", "what"), takes=("by_when",), roles=(SHIP, WHAT, BY),
        text="what", example="ask TENACE: when can you sail by 1500",
        fill=fill_text("what", "asked_of"), fields=("asked_of",)),
    "watch.listening": HeardWords(
        words=("listening", "listen"), needs=("listen_at",), roles=(AT,), cores=(("listen_at",),),
        example="listening at 1400", fill=fill_listening, fields=("at", "with_whom"), timed=False),
    "watch.note": HeardWords(
        words=("note",), needs=("what",), roles=(WHAT,), text="what",
        example="note: the coordinator does not answer", fill=fill_text("text")),
    **HEARD_DESK,
}  # fmt: skip
