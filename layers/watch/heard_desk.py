"""How the watch's desk is told by voice: offices, circuits, promises, help, what was told outside.

Each line is opened by its word; what stands before the colon says who, what stands behind it is
kept as it was said.
"""

from __future__ import annotations

import re
from dataclasses import replace

from layers.contract.heard_roles import SHIP
from layers.journal.words.heard import HeardWords, Name, Slot, ToldRecord

WHAT = Slot(key="what", title="what", sort="text")
WHOM = Slot(key="whom", title="who", sort="text", loose=True)
_OUTSIDE = {"families": "families' office", "next of kin": "families' office",
            "relatives": "families' office", "press": "press", "media": "press"}  # fmt: skip
TELLING = {
    said: office for whom, office in _OUTSIDE.items() for verb in ("told", "informed")
    for said in (f"{verb} the {whom}", f"{verb} {whom}", f"{whom} {verb}",
                 *(f"{whom} {been} {verb}" for been in ("have been", "has been", "were", "was")))
}  # fmt: skip
OUTSIDE = Slot(key="whom", title="who outside was told", sort="text", loose=True, choices=TELLING)
OFFICE = Slot(key="office", title="which office", sort="choice", choices={
    "OSC": "on-scene coordinator", "on-scene coordinator": "on-scene coordinator",
    "SSRA": "SSRA", "rescue coordinator": "rescue coordinator",
    "coordinator ashore": "rescue coordinator", "RCC": "rescue coordinator",
    "SAR coordinator": "rescue coordinator",
    "SMC": "search and rescue mission coordinator",
    "mission coordinator": "search and rescue mission coordinator",
    "search coordinator": "search coordinator", "rescue commander": "rescue commander",
    "medical officer": "medical officer"})  # fmt: skip
# each office opens a line with who holds it, in whatever words that is; "coordinator" without a
# word more is one of them only there, for elsewhere it may be anybody
HELD = {f"{office} {verb}".lower(): held
        for office, held in {**OFFICE.choices, "coordinator": "rescue coordinator"}.items()
        for verb in ("is", "is now", "now")}  # fmt: skip
OFFICE = replace(OFFICE, choices={**OFFICE.choices, **HELD})
WHO = Slot(key="who", title="who holds it", sort="name", names=("ship",),
           preps=("", "by", "aboard", "on"))  # fmt: skip
UNTIL = Slot(key="helps_until", title="latest hour at which it helps", sort="time", ahead=True,
             cues=("helps until", "at the latest", "not later than", "needed"),
             preps=("by", "until"))  # fmt: skip
EXPECTS = Slot(key="expects_at", title="when she expects it", sort="time", ahead=True,
               cues=("she expects it", "expect it", "expect"), preps=("at",))  # fmt: skip
THERE = Slot(key="there_at", title="when it is there", sort="time", ahead=True,
             cues=("there", "arrives", "on scene"), preps=("at",))  # fmt: skip
ANSWERS = ("in part", "not yet", "yes", "no")
_NOTHING = re.compile(
    r"\s*(?:nothing|none|not|no word)(?:\s+(?:so far|yet|told|at all))*\s*[.!]?\s*$", re.IGNORECASE
)


_UNSURE = re.compile(
    r"\b(?:not|or|nor|either|neither|unknown|nobody|none|no one|perhaps|maybe|possibly|asked|"
    r"to be|will|should|would|longer)\b|\?",
    re.IGNORECASE,
)


_SAID_THERE = re.compile(
    r"\b(?:alive|dead|died|hurt|injured|people|persons|men|souls|survivors|flood\w*|air|pressure|"
    r"o2|co2|oxygen|bar|per\s*cent|percent|candles?|canisters?|curtains?|list|trim|hatch|hull)\b|%",
    re.IGNORECASE,
)


def fill_in_charge(told: ToldRecord) -> None:
    """Put who holds an office from now on."""
    told.put_as(office="office")
    who = told.get("who")
    text = who.text if isinstance(who, Name) else str(told.get("what") or "").strip()
    text = re.sub(r"^(?:is|held by|now)\s+", "", text)
    told.put(who=text or None)
    if _UNSURE.search(text):  # not TENACE, TENACE or GREYFIN, nobody yet
        told.lack("who holds it, said plainly")
    if not text:
        told.lack(WHO.title)


def fill_circuit(told: ToldRecord) -> None:
    """Put who is called on what; what was said there is no channel."""
    told.put(who=_whom(told), how=told.get("what"))
    if _SAID_THERE.search(str(told.get("what") or "")):
        told.lack("the channel, frequency or number; what was said on it is a line of its own")


def fill_help(told: ToldRecord) -> None:
    """Put who was asked for what, and until when it still helps."""
    told.put(asked_of=_whom(told), what=told.get("what"))
    if told.has("helps_until"):
        told.put(helps_until=told.get("helps_until").isoformat())


def fill_answer(told: ToldRecord) -> None:
    """Put what was answered to the last open request to somebody."""
    whom, said = _whom(told), str(told.get("what") or "").strip()
    answer = next((a for a in ANSWERS if re.match(rf"{a}\b", said, re.IGNORECASE)), None)
    told.put(by=whom, answer=answer, said=said[len(answer) :].strip(" ,:;") if answer else None)
    if told.has("there_at"):
        told.put(there_at=told.get("there_at").isoformat())
    if told.amending:
        return
    if answer is None:
        told.lack("yes, no, in part, or not yet")
    asked = list(told.known.entries("watch.help_asked")) if told.known is not None else []
    mine = [one for one in asked if whom and one.value.asked_of.casefold() == whom.casefold()]
    if not mine and len(asked) == 1:
        mine = asked
    if not mine:
        told.lack("what was asked of them; nothing is recorded as asked")
        return
    told.assume(f"to: {mine[-1].value.what}", target=mine[-1].id)


def fill_promised(told: ToldRecord) -> None:
    """Put what the boat was told, and when she expects it."""
    told.put(told=told.get("what"))
    _told_something(told)
    if told.has("expects_at"):
        told.put(expects_at=told.get("expects_at").isoformat())


def fill_outside(told: ToldRecord) -> None:
    """Put what was told to people outside."""
    told.put(told=told.get("what"), whom=_whom(told))
    _told_something(told)
    if isinstance(told.get("ship"), Name):
        told.lack("who outside; a ship that takes part is given a task, or a note")


def _told_something(told: ToldRecord) -> None:
    """Ask where what was told is nothing: nobody is then listed as told."""
    if _NOTHING.match(str(told.get("what") or "")):
        told.lack("what they were told; that they were told nothing is a note")


def _whom(told: ToldRecord) -> str | None:
    ship = told.get("ship")
    if isinstance(ship, Name):
        return ship.text
    text = re.sub(r"^(?:of|from|by|to|the|at)\s+", "", str(told.get("whom") or "").strip())
    return text or None


HEARD_DESK = {
    "watch.in_charge": HeardWords(
        words=("in charge", "who is in charge", *HELD),
        whom="office", needs=("office",), takes=("who",), roles=(OFFICE, WHO, WHAT),
        cores=(("office", "who"),), text="what", example="OSC is TENACE", fill=fill_in_charge,
        fields=("who",)),
    "watch.circuit": HeardWords(
        words=("circuit", "telephone", "call", "called on"), needs=("ship|whom", "what"),
        roles=(SHIP, WHOM, WHAT), text="what", whom="whom", fill=fill_circuit,
        fields=("who", "how"), example="circuit TENACE: channel 16, listens every hour"),
    "watch.promised": HeardWords(
        words=("told the boat", "told her", "told boat", "told the submarine", "boat told",
               "the boat was told", "boat was told"), needs=("what",), takes=("expects_at",),
        roles=(WHAT, EXPECTS), text="what", fill=fill_promised,
        example="told the boat: vehicle dives at first light"),
    "watch.help_asked": HeardWords(
        words=("help asked", "help wanted", "asked for help"), needs=("ship|whom", "what"),
        takes=("helps_until",), roles=(SHIP, WHOM, WHAT, UNTIL), text="what", whom="whom",
        fill=fill_help, fields=("asked_of",), between="for",
        asking=("asked", "have asked", "ask", "requested", "called on", "rang", "phoned"),
        example="help asked of Naval Staff: two chambers helps until 1800"),
    "watch.help_answered": HeardWords(
        words=("help answered", "answer to help"), needs=("ship|whom", "what"), takes=("there_at",),
        roles=(SHIP, WHOM, WHAT, THERE), text="what", whom="whom", fill=fill_answer,
        fields=("target", "answer", "by"),
        example="help answered by Naval Staff: yes, one chamber there 1600"),
    "watch.told_outside": HeardWords(
        words=("told outside", *TELLING),
        needs=("ship|whom", "what"), roles=(SHIP, OUTSIDE, WHAT), text="what", whom="whom",
        fill=fill_outside, fields=("whom", "told"),
        example="told outside the families' office: 52 on board, no news yet"),
}  # fmt: skip
