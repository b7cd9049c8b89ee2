"""What was seen, told by voice: where it was, and how well that is known."""

from __future__ import annotations

from math import hypot, pi

from layers.datum.heard_fill import (
    BEARING_ABOUT_DEG,
    BEARING_SIGMA_DEG,
    WITHIN_SIGMAS,
    run_on_error,
    said_true,
)
from layers.earth.geodesy import going
from layers.earth.said.quantity import figure
from layers.earth.units import M_PER_NMI
from layers.journal.words.heard import ToldRecord

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
}


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
    about += [str(told.get("condition"))] if told.has("condition") else []
    told.put(note=", ".join(about) or None)
    told.put_as(persons="count")


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
