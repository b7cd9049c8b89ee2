"""What fills a record that was told by voice: what was said, and figures that nobody says.

These (a bearing's error, how far a tapping carries) are ours and are read back; common practice,
no source, unless said.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from math import sqrt

import numpy as np

from layers.earth.errors import InputError
from layers.earth.geodesy import between
from layers.earth.position import Position
from layers.earth.said.bearings import SaidBearing, Sense, true_bearing_deg
from layers.earth.said.quantity import figure, printed
from layers.earth.units import M_PER_NMI, M_S_PER_KN
from layers.earth.variation import variation
from layers.journal.known import Known
from layers.journal.words.heard import Name, ToldRecord

# a circle that holds 95 % of a round normal error has this many times its one sigma: the square
# root of the 95 % point of chi-square with two degrees of freedom, 5.9915
WITHIN_SIGMAS = sqrt(5.991_464_547)
BEARING_SIGMA_DEG = 2.0
BEARING_ABOUT_DEG = 5.0  # of a bearing said to be about so
RANGE_SIGMA = 0.05  # of the range
SHIP_SIGMA_M = 100.0
RUN_SIGMA = 0.1  # of the way run on since the fix
# a ship that told no course and speed may have made up to ten knots since, 95 %; an aircraft 150
UNTOLD_M_S = 10.0 * M_S_PER_KN / WITHIN_SIGMAS
UNTOLD_FAST_M_S = 150.0 * M_S_PER_KN / WITHIN_SIGMAS
LOSS_WRONG = 0.3  # a bang that somebody heard was not hers
_BANGS = ("explosion", "implosion", "underwater explosion", "bang", "loud bang", "detonation")
BANGS = (*_BANGS, *(f"{one}s" for one in _BANGS))
EARSHOT_M = {"tapping": 5_000.0, "underwater telephone": 10_000.0, "pinger": 5_000.0}
SOUNDS = {
    "tapping": "tapping", "hull tapping": "tapping",
    **{f"{blow} {where}": "tapping" for blow in ("tapping", "hammering", "banging", "knocking")
       for where in ("on hull", "on the hull", "from the hull", "from inside the hull")},
    "knocking": "tapping", "knocks": "tapping", "blows": "tapping", "taps": "tapping",
    "hammering": "tapping", "banging": "tapping", "hull blows": "tapping",
    "underwater telephone": "underwater telephone", "uwt": "underwater telephone",
    "voice on uwt": "underwater telephone", "underwater telephone call": "underwater telephone",
    "pinger": "pinger", "pinger signal": "pinger", "pinging": "pinger",
}  # fmt: skip


def fill_lkp(told: ToldRecord) -> None:
    """Return nothing; the radius that holds 95 % becomes one standard deviation."""
    told.place(told.get("position"))
    if told.has("within"):
        told.put(sigma_m=told.get("within") / WITHIN_SIGMAS)
        told.also["within"] = "(95 %)"
    told.put_as(reported_by="reporter")
    told.put_as(reported_by="unnamed")
    told.put(note=f"heard by {told.get('means')}" if told.has("means") else None)
    told.assume("reported to the watch", reported_by="the watch")


def fill_movement(told: ToldRecord) -> None:
    """Put each part that was told; the rest stays open."""
    if told.has("course"):
        told.put(course_true_deg=told.get("course")[0])
    if told.has("speed"):
        most = told.get("up_to") if told.has("up_to") else told.get("speed")
        told.put(speed_min_kn=told.get("speed"), speed_max_kn=most)
    told.put_as(length_nmi="way")
    if told.has("due"):
        told.put(report_due=told.get("due").isoformat())
    if told.has("overdue"):  # what is overdue was due then
        told.put(report_due=told.get("overdue").isoformat())
        told.also["overdue"] = "= her report was due then"


def observer(told: ToldRecord) -> Position | None:
    """Put who observed, from where, and how well that is known."""
    ship = told.get("ship")
    told.put_as(observer="unnamed")
    if ship is not None:
        told.put(observer=ship.text)
    place: Position | None = told.get("position")
    sigma = SHIP_SIGMA_M
    if place is None and ship is not None:
        place = told.whereabouts(ship)
        if place is None:
            told.lack(f"where {ship.text} was")
            return None
        sigma, how = run_on_error(told, ship, place)
        if how and not told.amending:
            told.assumed.append(how)
    if place is not None and not told.amending:
        told.place(place)
        told.payload["position_sigma_m"] = min(round(sigma, 1), 50_000.0)
    elif told.has("position"):
        told.place(told.get("position"))
    return place


def run_on_error(told: ToldRecord, ship: Name, place: Position) -> tuple[float, str]:
    """Return the error of a ship's place some time from her fix, 1 sigma in m, and how in words."""
    if ship.position is None or ship.at is None:
        return SHIP_SIGMA_M, ""
    run = between(ship.position, place)[0]
    gap_s = abs((told.at - ship.at).total_seconds())
    sigma = SHIP_SIGMA_M + RUN_SIGMA * run
    if gap_s < 60.0:
        return sigma, ""
    if run > 1.0 or ship.speed_kn == 0.0:
        moved = "run on from" if run > 1.0 else "taken at"
        return sigma, f"{ship.text} {moved} her fix {gap_s / 60.0:.0f} min apart"
    sigma += (UNTOLD_FAST_M_S if ship.fast else UNTOLD_M_S) * gap_s
    within = figure(round(sigma * WITHIN_SIGMAS / M_PER_NMI, 1), 1)
    return sigma, (
        f"{ship.text} taken at her fix {gap_s / 60.0:.0f} min apart, her way since not told: "
        f"within {within} nmi"
    )


def fill_bearing(told: ToldRecord) -> None:
    """Put a bearing with its sense; true by the date's variation or the ship's heading."""
    place = observer(told)
    if told.has("bearing"):
        degrees, sense = told.get("bearing")
        told.put(bearing_deg=degrees, sense=sense)
        if sense == "relative" and not told.has("heading"):
            told.lack("heading")
        true = said_true(told, degrees, sense, place)
        if true is not None:
            told.also["bearing"] = f"= {true:05.1f}°T"
    if told.has("heading"):
        heading, sense = told.get("heading")
        told.put(heading_deg=heading)
        if sense == "magnetic":
            told.put(heading_sense="magnetic")
    if told.has("bearing_error"):
        told.put(sigma_deg=told.get("bearing_error"))
    sigma = BEARING_ABOUT_DEG if told.about else BEARING_SIGMA_DEG
    told.assume(f"± {sigma:g}°", sigma_deg=sigma)
    if told.has("range"):
        told.put(range_m=told.get("range"))
        if not told.amending:
            told.put(range_sigma_m=RANGE_SIGMA * told.get("range"))
            told.assumed.append("range ± 5 %")
    told.put_as(by="sound")
    if told.has("bang"):
        told.put(by=told.get("bang"))
        told.assume(f"another's with {LOSS_WRONG:.0%}", chance_wrong=LOSS_WRONG)


def said_true(told: ToldRecord, degrees: float, sense: str, place: Position | None) -> float | None:
    """Return a bearing as true, None where its heading or its variation is not known."""
    if sense == "magnetic" and place is not None:
        turn = variation(place, told.at).variation_deg
        return true_bearing_deg(SaidBearing(degrees, Sense.MAGNETIC), variation_deg=turn)
    if sense == "relative" and told.has("heading"):
        heading, heading_sense = told.get("heading")
        if heading_sense == "magnetic":
            if place is None:
                return None
            heading += variation(place, told.at).variation_deg
        return true_bearing_deg(
            SaidBearing(degrees, Sense.RELATIVE), heading_true_deg=heading % 360.0
        )
    return None


def fill_range(told: ToldRecord) -> None:
    """Put a range with its error."""
    observer(told)
    told.put_as(slant_range_m="range")
    if told.has("range"):
        told.also["range"] = f"= {printed(round(told.get('range'), 1), 'm')}"
        sigma = told.get("range_error") or RANGE_SIGMA * told.get("range")
        if told.has("range_error") or not told.amending:
            told.put(sigma_m=sigma)
        if not told.has("range_error") and not told.amending:
            told.assumed.append("± 5 %")


def fill_loss(told: ToldRecord) -> None:
    """Put when a bang was heard: that she was lost then is believed with a large doubt."""
    told.put_as(what="bang")
    told.put_as(observer="unnamed")
    if told.has("ship"):
        told.put(observer=told.get("ship").text)
    if not told.amending:
        told.put(earliest=told.at.isoformat(), latest=told.at.isoformat())
    sigma = 600.0 if told.about else 60.0
    told.assume(f"her loss, to {sigma / 60.0:g} min; another's with {LOSS_WRONG:.0%}",
                sigma_s=sigma, chance_wrong=LOSS_WRONG)  # fmt: skip


def fill_heard(told: ToldRecord) -> None:
    """Put what was heard by whom; how far it carries is taken by what it is."""
    observer(told)
    if told.has("sound"):
        told.put(by=told.get("sound"))
        earshot = EARSHOT_M[told.get("sound")]
        told.put_as(within_m="within")
        told.assume(f"within earshot, {figure(earshot / 1852.0, 1)} nmi", within_m=earshot)
    elif told.has("within"):
        told.put_as(within_m="within")


def fill_negative_search(told: ToldRecord) -> None:
    """Put the legs of a box searched along its longer side, and the searcher's sweep width."""
    ship = told.get("ship")
    if ship is not None:
        told.put(searcher=ship.text)
    start, end = told.get("start"), told.get("end")
    if start is not None and end is not None:
        if end <= start:
            raise InputError("the search ends before it begins")
        told.at = end
        told.put(started_at=start.isoformat())
    if told.has("corner_1") and told.has("corner_2") and told.has("spacing"):
        legs = box_legs(told.get("corner_1"), told.get("corner_2"), told.get("spacing"))
        told.put(waypoints=[
            {"latitude_deg": p.latitude_deg, "longitude_deg": p.longitude_deg} for p in legs
        ])  # fmt: skip
        told.assumed.append(f"{len(legs) // 2} legs along its longer side")
    if told.has("sweep"):
        told.put(sweep_width_m=told.get("sweep"))
    elif ship is not None and not told.amending:
        width = _sweep_width(told, ship)
        if width is None and told.has("spacing"):
            # nobody says it: half the spacing leaves 61 of 100 unseen, so that little is believed
            half = 0.5 * told.get("spacing")
            told.assume(f"sweep width {printed(round(half), 'm')}, half the track spacing",
                        sweep_width_m=half)  # fmt: skip
        elif width is None:
            told.lack("sweep width")
        else:
            told.put(sweep_width_m=width)
            told.assumed.append(f"sweep width {printed(round(width), 'm')}, as recorded for her")


def _sweep_width(told: ToldRecord, ship: Name) -> float | None:
    if told.known is None:
        return None
    named = [
        entry.value.sweep_width_m
        for entry in told.known.entries("datum.searcher")
        if entry.value.name.casefold() == ship.text.casefold()
    ]
    return named[-1] if named else None


def box_legs(one: Position, other: Position, spacing_m: float) -> list[Position]:
    """Return the turns of parallel tracks in a box between two corners, along its longer side.

    Raises
    ------
    InputError
        The corners lie on one line, or the tracks would be too many.
    """
    south, north = sorted((one.latitude_deg, other.latitude_deg))
    west, east = sorted((one.longitude_deg, other.longitude_deg))
    if east - west > 180.0:
        raise InputError("the box goes round more than half the earth", where="box")
    middle = (south + north) / 2.0
    height = between(Position(south, west), Position(north, west))[0]
    width = between(Position(middle, west), Position(middle, east))[0]
    if min(height, width) <= 0.0:
        raise InputError("the corners of the box lie on one line", where="box")
    across = min(height, width)
    legs = max(1, round(across / spacing_m))
    if legs > 2_000:
        raise InputError(f"{legs} tracks are more than anybody steers", where="box",
                         accepted="a wider spacing")  # fmt: skip
    shares = (np.arange(legs) + 0.5) / legs
    turns: list[Position] = []
    for number, share in enumerate(shares.tolist()):
        if height <= width:
            lat = south + share * (north - south)
            ends = [Position(lat, west), Position(lat, east)]
        else:
            lon = west + share * (east - west)
            ends = [Position(south, lon), Position(north, lon)]
        turns += ends if number % 2 == 0 else ends[::-1]
    return turns


def fill_contact(told: ToldRecord) -> None:
    """Put a contact on the bottom with its place's error."""
    told.place(told.get("position"))
    if told.has("ship"):
        told.put(observer=told.get("ship").text)
    told.put_as(observer="told_by", identified="identified")
    if told.has("bottom") and not told.has("identified"):
        told.lack("is it she")
    if told.get("identified") == "DISSUB":
        told.assumed.append("identified as the boat")
    if told.has("within"):
        told.put(sigma_m=told.get("within") / WITHIN_SIGMAS)
    told.assume("its place to 100 m", sigma_m=100.0 / WITHIN_SIGMAS)
    told.put_as(length_m="length", depth_m="depth", form="form")


def fill_wreck(told: ToldRecord) -> None:
    """Put a charted wreck."""
    told.place(told.get("position"))
    told.put_as(name="wreck_name", length_m="length", depth_m="depth")
    told.assume("name: charted wreck", name="charted wreck")
    told.assume("as heard", source="as heard")


def fill_searcher(told: ToldRecord) -> None:
    """Put who can search; her place is her last fix run on."""
    ship = told.get("ship")
    if ship is not None:
        told.put(name=ship.text)
    place = told.get("position") or (told.whereabouts(ship) if ship is not None else None)
    if place is None:
        told.lack(f"where {ship.text} is" if ship is not None else "position")
    told.place(place)
    told.put_as(search_speed_kn="search_speed", transit_speed_kn="transit_speed",
                sweep_width_m="sweep", endurance_h="endurance", crew_hours_h="crew",
                turn_radius_m="turning")  # fmt: skip
    if told.has("search_speed") and not told.has("transit_speed"):
        told.assume("transit at her search speed", transit_speed_kn=told.get("search_speed"))
    told.assume("ready now", ready_at=told.at.isoformat())


def fill_depths(told: ToldRecord) -> None:
    """Put the depths between which she can lie."""
    told.put_as(shallowest_m="shallowest", deepest_m="deepest")


def names_of_wrecks(known: Known, at: datetime) -> Iterable[Name]:
    """Return the charted wrecks as marks."""
    for entry in known.entries("datum.wreck"):
        value = entry.value
        yield Name(text=value.name, sort="mark",
                   position=Position(value.latitude_deg, value.longitude_deg))  # fmt: skip


def her_places(known: Known, at: datetime) -> Iterable[Name]:
    """Return her last known position: it has no name, but all that is told lies near it."""
    for entry in known.entries("datum.lkp")[-3:]:
        value = entry.value
        yield Name(text="last known position of her", sort="place of her",
                   position=Position(value.latitude_deg, value.longitude_deg))  # fmt: skip
