"""What was seen, and what was listened for in vain, told by voice: where, and how surely."""

from __future__ import annotations

from dataclasses import replace
from math import hypot, pi

from layers.contract.heard_roles import COUNT, SHIP
from layers.datum.heard_fill import (
    BEARING_ABOUT_DEG,
    BEARING_SIGMA_DEG,
    EARSHOT_M,
    SOUNDS,
    WITHIN_SIGMAS,
    observer,
    run_on_error,
    said_true,
)
from layers.earth.errors import InputError
from layers.earth.geodesy import going
from layers.earth.said.quantity import figure
from layers.earth.units import M_PER_NMI
from layers.journal.words.heard import HeardWords, Slot, ToldRecord

RANGE_BY_EYE = 0.1  # of the distance of what was seen
SIGHTED_SIGMA_M = 926.0 / WITHIN_SIGMAS  # seen to 0.5 nmi, 95 %
SIGHTED_ABOUT_M = 3704.0 / WITHIN_SIGMAS  # said to be about there: to 2 nmi
OBJECTS = {  # as said -> as recorded, and the row of the leeway table
    "oil slick": ("oil slick", "oil slick"),
    "debris": ("debris", "drifts with the water alone"),
    "raft": ("raft", "raft, no ballast"),
    "indicator buoy": ("indicator buoy", "indicator buoy"),
    "buoy": ("buoy", "indicator buoy"),
    "smoke": ("smoke", "smoke"),
    "lifejacket": ("lifejacket", "drifts with the water alone"),
    "flare": ("flare", "flare"),
    "survivor in the water": ("survivor in the water", "person in water, state unknown"),
    "body": ("body", "person in water, deceased"),
}
SEEN = {
    "oil slick": "oil slick",
    "oil": "oil slick",
    "slick": "oil slick",
    "oil patch": "oil slick",
    "oil film": "oil slick",
    "oil sheen": "oil slick",
    "sheen": "oil slick",
    "fuel slick": "oil slick",
    "oil on the surface": "oil slick",
    "debris": "debris",
    "wreckage": "debris",
    "floating debris": "debris",
    "flotsam": "debris",
    "raft": "raft",
    "life raft": "raft",
    "liferaft": "raft",
    "rafts": "raft",
    "indicator buoy": "indicator buoy",
    "marker buoy": "buoy",
    "buoy": "buoy",
    "emergency buoy": "indicator buoy",
    "submarine indicator buoy": "indicator buoy",
    "sub indicator buoy": "indicator buoy",
    "smoke": "smoke",
    "smoke candle": "smoke",
    "smoke float": "smoke",
    "lifejacket": "lifejacket",
    "life jacket": "lifejacket",
    "lifejackets": "lifejacket",
    "life jackets": "lifejacket",
    "orange smoke": "smoke",
    "survivor in the water": "survivor in the water",
    "swimmer": "survivor in the water",
    "swimmers": "survivor in the water",
    "flare": "flare",
    "red flare": "flare",
    "flares": "flare",
    "man in the water": "survivor in the water",
    "survivors in the water": "survivor in the water",
    "person in the water": "survivor in the water",
    "body": "body",
    "bodies": "body",
    "dead body": "body",
    "dead bodies": "body",
}
# of people, who are counted and not their pieces: 3 in the water, 5 in a raft
OF_PEOPLE = {
    **{f"{people} in {water}": "survivor in the water"
       for people in ("people", "persons", "men", "survivors", "crew")
       for water in ("the water", "water")},
    "in the water": "survivor in the water", "in water": "survivor in the water",
    **{f"in {the}{raft}": "raft" for the in ("", "a ", "the ")
       for raft in ("raft", "life raft", "liferaft")},
}  # fmt: skip
SEEN_MARK = Slot(key="seen", title="seen", sort="choice", choices={
    "seen": True, "sighted": True, "sights": True, "sees": True, "spotted": True, "found": True,
    "sighting": True, "sighting of": True})  # fmt: skip
WHAT = Slot(key="what", title="what was seen", sort="choice", choices=SEEN | OF_PEOPLE)
PIECES = Slot(
    key="pieces",
    title="how many",
    sort="number",
    cues=tuple(SEEN),
    least=1.0,
    most=99.0,
    counts=True,
)
STATES = ("empty", "broken", "inflated", "capsized")
CONDITION = Slot(
    key="condition", title="condition", sort="choice", choices={state: state for state in STATES}
)
PEOPLE = replace(COUNT, cues=(*COUNT.cues, *OF_PEOPLE))
AFLOAT = Slot(key="afloat", title="afloat", sort="choice", choices={
    "in the water": True, "in water": True, "floating": True, "adrift": True,
    "afloat": True})  # fmt: skip
WEARING = Slot(key="wearing", title="what they wear", sort="choice", choices={
    "in lifejackets": "in lifejackets", "lifejackets": "in lifejackets",
    "life jackets": "in lifejackets", "in survival suits": "in survival suits",
    "survival suits": "in survival suits", "immersion suits": "in survival suits",
    "in suits": "in survival suits"})  # fmt: skip
UNNAMED = Slot(key="unnamed", title="by whom", sort="choice", preps=("", "by", "from"), choices={
    "fishing vessel": "fishing vessel", "fishing boat": "fishing vessel",
    "fisherman": "fishing vessel", "fishermen": "fishing vessel", "trawler": "trawler",
    "airliner": "airliner", "merchant ship": "merchant ship", "merchant vessel": "merchant ship",
    "tanker": "tanker", "ferry": "ferry", "yacht": "yacht", "coastguard": "coastguard",
    "coast guard": "coastguard", "lighthouse": "lighthouse", "passing ship": "passing ship",
    "passing aircraft": "passing aircraft"})  # fmt: skip
# what floats and may be hers, as it may be anybody's: asked
PERHAPS_DEBRIS = dict.fromkeys(
    ("oil drums?", "fuel drums?", "drums?", "barrels?", "crates?", "pallets?", "planks?", "logs?",
     "timber", "driftwood", "containers?", "rubbish", "garbage", "mattress(?:es)?"), "debris",
)  # fmt: skip
OF_THE_SEA = (
    "seal", "seals", "whale", "whales", "dolphin", "dolphins", "porpoise", "porpoises", "orca",
    "orcas", "turtle", "turtles", "shark", "sharks", "walrus", "shrimp", "fish", "birds", "gulls",
    "jellyfish", "weed", "seaweed", "kelp", "ice", "iceberg", "icebergs", "berg", "growler",
    "growlers", "floe", "floes", "net", "nets", "trap", "traps", "pots",
)  # fmt: skip


def fill_sighting(told: ToldRecord) -> None:
    """Put what was seen, where and by whom; its place is good to half a mile if nobody says."""
    if told.has("what"):
        what, row = OBJECTS[told.get("what")]
        told.put(what=what, object_type=row)
    told.place(told.get("position"))
    told.put_as(observer="unnamed")
    if told.has("ship"):
        told.put(observer=told.get("ship").text)
    if told.has("bearing") and not told.has("position"):
        _seen_from(told)
    if told.has("within"):
        told.put(sigma_m=told.get("within") / WITHIN_SIGMAS)
    sigma = SIGHTED_ABOUT_M if told.about else SIGHTED_SIGMA_M
    told.assume(f"its place to {figure(sigma * WITHIN_SIGMAS / M_PER_NMI, 1)} nmi", sigma_m=sigma)
    about = [f"{told.get('pieces'):g}"] if told.has("pieces") else []
    about += [str(told.get(role)) for role in ("condition", "wearing") if told.has(role)]
    told.put(note=", ".join(about) or None)
    told.put_as(persons="count")
    if told.get("what") == "lifejacket" and told.has("count"):
        told.lack("what was seen, the people or lifejackets without any")


def _seen_from(told: ToldRecord) -> None:
    """Place what was seen by its bearing and distance from the ship that saw it."""
    ship = told.get("ship")
    if not told.has("range"):
        told.lack("range")
        return
    place = told.whereabouts(ship) if ship is not None else None
    if place is None:
        told.lack(f"where {ship.text} was" if ship is not None else "ship")
        return
    degrees, sense = told.get("bearing")
    if sense == "relative" and not told.has("heading"):
        told.lack("heading")
        return
    turn = degrees if sense == "true" else said_true(told, degrees, sense, place)
    if turn is None:
        told.lack("bearing, true or magnetic")
        return
    if sense != "true":
        told.also["bearing"] = f"= {turn:05.1f}°T"
    told.place(going(place, turn, told.get("range")))
    if told.has("within"):
        return
    own, how = run_on_error(told, ship, place)
    by_eye = (BEARING_ABOUT_DEG if told.about else BEARING_SIGMA_DEG) * pi / 180.0
    away = hypot(by_eye, RANGE_BY_EYE) * told.get("range")
    sigma = hypot(own, away, SIGHTED_SIGMA_M)
    if how:
        told.assumed.append(how)
    within = figure(round(sigma * WITHIN_SIGMAS / M_PER_NMI, 1), 1)
    told.assume(f"its place to {within} nmi", sigma_m=sigma)


def fill_not_heard(told: ToldRecord) -> None:
    """Put who listened in vain, from when to when, and for what: for tapping unless it is said.

    The least earshot of all is taken where nobody says for what: so little is ruled out.
    """
    start, end = told.get("start"), told.get("end")
    if start is not None and end is not None:
        if end <= start:
            raise InputError("the listening ends before it begins")
        told.at = end
        told.put(started_at=start.isoformat())
    observer(told)
    sound = told.get("sound") or told.get("silent") or told.get("unanswered")
    if sound in EARSHOT_M:
        told.put(by=sound)
    else:
        told.assume("for tapping", by="tapping")
    earshot = EARSHOT_M.get(sound, min(EARSHOT_M.values()))
    told.put_as(within_m="within")
    told.assume(f"would be heard within {figure(earshot / M_PER_NMI, 1)} nmi", within_m=earshot)
    told.assume("that she sounded then, 1 in 2", sounding_chance=0.5)


# on what she was heard: kept with it, and never the name of a ship
MEANS = Slot(key="means", title="on what", sort="choice", choices={
    f"{on} {way}": way for way in ("radio", "UHF", "VHF", "HF", "satellite", "telephone", "signal")
    for on in ("by", "on", "over", "via")})  # fmt: skip
SILENT = Slot(key="silent", title="nothing heard", sort="choice", choices={
    "heard nothing": "", "hears nothing": "", "nothing heard": "", "nil heard": "",
    "hearing nothing": "", "listened nothing heard": "", "no sound heard": "",
    "heard no sound": "", "heard no tapping": "tapping", "no tapping heard": "tapping",
    "hears no tapping": "tapping", "no pinger heard": "pinger",
    "heard no pinger": "pinger"})  # fmt: skip
# she was called, so that somebody listened for her: who, and from when to when, is asked
UNANSWERED = Slot(key="unanswered", title="no answer", sort="choice", choices={
    f"{none} on {the}{means}": "underwater telephone"
    for none in (*(f"{no} {answer}" for no in ("no", "nil")
                   for answer in ("answer", "reply", "contact", "joy")),
                 "nothing heard", "nil heard", "heard nothing")
    for the in ("", "the ") for means in ("underwater telephone", "uwt")})  # fmt: skip
LISTENED = Slot(key="listened", title="listened", sort="choice", choices={
    "listened": True, "having listened": True, "listening watch": True,
    **{f"{way} {the}{what}": "on hydrophone" for way in ("on", "by") for the in ("", "the ")
       for what in ("hydrophone", "hydrophones", "passive sonar")}})  # fmt: skip
HEARD_SILENT = {
    "datum.not_heard": HeardWords(
        words=("listened in vain",),
        needs=("silent|unanswered", "ship", "start", "end"),
        takes=("sound", "listened", "position", "within"),
        # nothing heard, by nobody: of her
        cores=(("silent", "ship"), ("unanswered",)),
        roles=(
            SILENT,
            UNANSWERED,
            replace(SHIP, preps=("by", "", "from", "at", "of", "aboard", "on")),
            Slot(key="start", title="from when", sort="time", preps=("from", "")),
            Slot(key="end", title="until when", sort="time", preps=("until", "to", "till")),
            Slot(key="sound", title="for what", sort="choice", choices=SOUNDS),
            LISTENED,
        ),
        example="TENACE heard nothing 1200 to 1240",
        fill=fill_not_heard,
        timed=False,
        fields=("started_at", "observer", "latitude_deg", "longitude_deg"),
    ),
}
