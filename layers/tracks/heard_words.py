"""How ships are told by voice: where one is, and that a new one takes part."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime

import numpy as np

from layers.contract.heard_roles import COURSE, HEADING, MARK, RANGE, SHIP, SPEED
from layers.earth.clock import from_us
from layers.earth.geodesy import going
from layers.earth.position import Position
from layers.earth.said.quantity import figure
from layers.journal.known import Known
from layers.journal.words.heard import HeardWords, Name, Slot, ToldRecord

BEARS = Slot(key="bears", title="bearing from the mark", sort="direction", loose=True,
             only_with="mark", cues=("bears", "bearing", "brg"))  # fmt: skip
TRACK_SPEED = replace(SPEED, most=1_000.0, usual=(0.0, 60.0))
ON_SCENE = Slot(key="on_scene", title="on scene", sort="choice",
                choices={"on scene": True, "on station": True, "on task": True})  # fmt: skip
STILL = Slot(key="still", title="stopped", sort="choice", choices={
    "stopped": 0.0, "anchored": 0.0, "hove to": 0.0, "lying to": 0.0,
    "at anchor": 0.0, "lying stopped": 0.0})  # fmt: skip
SORTS = {
    "support ship": "support ship", "ship of opportunity": "ship of opportunity",
    "search ship": "search ship", "searcher ship": "search ship", "aircraft": "aircraft",
    "helicopter": "aircraft", "rescue vehicle": "rescue vehicle", "rescue ship": "support ship",
    "mother ship": "support ship", "support vessel": "support ship",
    "diving support ship": "support ship", "diving support vessel": "support ship",
    "diver support vessel": "support ship", "frigate": "search ship", "destroyer": "search ship",
    "corvette": "search ship", "warship": "search ship", "minehunter": "search ship",
    "patrol vessel": "search ship", "patrol boat": "search ship",
    "survey ship": "ship of opportunity", "research vessel": "ship of opportunity",
    "tug": "ship of opportunity", "tanker": "ship of opportunity",
    "merchant ship": "ship of opportunity", "merchant vessel": "ship of opportunity",
    "fishing vessel": "ship of opportunity", "fishing boat": "ship of opportunity",
    "fv": "ship of opportunity", "mv": "ship of opportunity", "trawler": "ship of opportunity",
    "container ship": "ship of opportunity", "bulk carrier": "ship of opportunity",
    "freighter": "ship of opportunity", "ferry": "ship of opportunity",
    "yacht": "ship of opportunity", "lifeboat": "search ship", "cutter": "search ship",
    "patrol aircraft": "aircraft", "plane": "aircraft",
    "maritime patrol aircraft": "aircraft", "helo": "aircraft",
}  # fmt: skip
ROLES = SORTS | {f"new {sort}": role for sort, role in SORTS.items()}


def fill_position(told: ToldRecord) -> None:
    """Put a ship's position, told as it is or by a mark, and how she moves."""
    ship = told.get("ship")
    if ship is not None:
        told.put(subject=ship.key or ship.text)
    if told.has("position"):
        told.place(told.get("position"))
    elif told.has("mark"):
        _by_mark(told)
    if told.was and not told.has("time"):
        told.lack("time")  # GREYFIN was at …: not now
    if told.has("course"):
        told.put(course_true_deg=told.get("course")[0])
    if told.has("heading"):
        told.put(heading_true_deg=told.get("heading")[0])
    told.put_as(speed_kn="still")
    told.put_as(speed_kn="speed")
    if told.has("up_to"):
        middle = 0.5 * (told.get("speed") + told.get("up_to"))
        told.put(speed_kn=middle)
        told.assumed.append(f"{figure(middle)} kn, the middle")
    told.assume("", said_by="voice")


def _by_mark(told: ToldRecord) -> None:
    mark: Name = told.get("mark")
    if not told.has("bears") or not told.has("range"):
        told.lack("bearing from the mark" if not told.has("bears") else "range")
        return
    if mark.position is None:
        told.lack(f"where {mark.text} is")
        return
    degrees, sense = told.get("bears")
    if sense not in ("true", ""):
        told.lack("bearing from the mark, true")
        return
    told.place(going(mark.position, degrees, told.get("range")))


def fill_vessel(told: ToldRecord) -> None:
    """Put a ship that takes part from now on; what she is for can be said later."""
    name = told.get("ship")
    text = name.text if isinstance(name, Name) else str(name or "")
    if text:
        told.put(subject=(name.key if isinstance(name, Name) else "") or text, name=text)
    if isinstance(name, Name) and name.said in ROLES:
        told.assume(f"as {ROLES[name.said]}", role=ROLES[name.said])
    told.put_as(role="ship_role", length_m="length", max_speed_kn="speed")
    told.assume("as a search ship", role="search ship")


def names(known: Known, at: datetime) -> Iterable[Name]:
    """Return the ships taking part: entered by the watch, or told of in a record by voice.

    What a transmitter calls itself is no known name: thousands of those would make every slip of
    the pen a ship.
    """
    last = known.latest("tracks.position", at)
    rows = {subject: row for row, subject in enumerate(last["subject"].tolist())}
    found: dict[str, str] = {s: s for s in rows if ":" not in s}
    flying: set[str] = set()
    for entry in known.entries("tracks.vessel"):
        found[entry.value.subject] = entry.value.name
        if entry.value.role == "rescue vehicle":  # told of as what dives, too
            yield Name(text=entry.value.name, sort="rescue vehicle", key=entry.value.name)
        if entry.value.role == "aircraft":
            flying.add(entry.value.subject)
    for subject, text in found.items():
        row = rows.get(subject)
        if row is None:
            yield Name(text=text, sort="ship", key=subject, fast=subject in flying)
            continue
        course, speed = float(last["course_true_deg"][row]), float(last["speed_kn"][row])
        yield Name(
            text=text,
            sort="ship",
            key=subject,
            position=Position(float(last["latitude_deg"][row]), float(last["longitude_deg"][row])),
            at=from_us(int(last["valid_at_us"][row])),
            course_true_deg=None if np.isnan(course) else course,
            speed_kn=None if np.isnan(speed) else speed,
            fast=subject in flying,
        )


# who, before what she is said to do: no position stands in it, no plan and no denial
WHO = r"((?:(?!\d[\d.]*\s*[NSEW]\b|\b(?:will|not|no|never|eta|box|search\w*)\b|,).)+?) "
NOWHERE = rf"(?!.*\d[\d.]*\s*[NSEW]\b){WHO}"
GOING = (r"(?:(?:diverting|diverted|proceeding|heads|heading|on passage|bound|en ?route|sent|"
         r"making|steaming) )")  # fmt: skip
HEARD = {
    "tracks.position": HeardWords(
        words=(), needs=("ship", "position|mark"),
        takes=("mark", "bears", "range", "course", "speed", "up_to",
               "heading", "still", "on_scene"),
        roles=(ON_SCENE, BEARS, SHIP, STILL, MARK, RANGE, COURSE, TRACK_SPEED, HEADING),
        cores=(("ship", "position"), ("ship", "mark"), ("ship", "course"), ("ship", "speed")),
        example="TENACE 4310N 00820E 240/12", fill=fill_position, fields=("subject",),
        names=names, anywhere=True,
        perhaps={r"(?:is |now )*divert(?:ing|ed|s) from": "at"},
        instead={
            rf"{NOWHERE}((?:is |now )*(?:on (?:task|scene|station)|divert(?:ing|ed|s))\b.*)":
            ("where is she (a position), or when is she there (eta)?", r"task \1: \2"),
            rf"{NOWHERE}((?:is |now )*(?:delayed|airborne|under ?way|(?:off|leaving) task)\b.*)":
            ("where is she now (a position), and when is she there (eta)?",),
            rf"{WHO}((?:is |now )*{GOING}?(?:to|for) .*\d[\d.]*\s*[NS]\b.*)":
            ("where a ship goes is not where she is; where is she?", r"task \1: \2"),
        }),
    "tracks.vessel": HeardWords(
        words=("new ship", "takes part", "taking part", "joins", "new vessel",
               *(f"new {sort}" for sort in SORTS)),
        needs=("ship",), takes=("ship_role", "length", "speed"),
        roles=(Slot(key="ship_role", title="what for", sort="choice", choices=ROLES),),
        example="new ship ORION support ship", fill=fill_vessel, introduces="ship",
        fields=("subject", "name", "role")),
}  # fmt: skip
