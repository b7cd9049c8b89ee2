"""Does it fit: each piece against each thing that must carry, lift, pass or hold it.

Every answer says *fits*, *does not fit* or *not known*, with the limit and the figure. A limit
that nobody has given is not known: never yes, never no.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from layers.forward_port import model
from layers.forward_port.legs.off_tracking import swept_width_m
from layers.forward_port.ports import tide

ROAD_CLEARANCE_M = 0.10  # under a bridge; our own, common practice, no source


class Verdict(StrEnum):
    """The three answers."""

    FITS = "fits"
    DOES_NOT = "does not fit"
    NOT_KNOWN = "not known"


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """One answer.

    Parameters
    ----------
    subject, against : str
        ``"launch frame"``, ``"crane Quay 3 of Port Tressick"``.
    what : str
        ``"capacity at 18 m outreach"``.
    need, limit : float or None
        What is needed and what there is, in ``unit``; None when not known.
    at_least : bool
        The limit must be at least the need (otherwise at most: a width, a height).
    note : str
        What would settle it, or why it is so.
    """

    subject: str
    against: str
    what: str
    verdict: Verdict
    need: float | None
    limit: float | None
    unit: str
    note: str = ""
    at_least: bool = True

    def words(self) -> str:
        """Return the answer as one clause."""
        if self.limit is None:
            return f"{self.subject}, {self.against}: {self.what} not known{_because(self.note)}"
        return (
            f"{self.subject} {self.verdict} {self.against}: {self.what} {self.limit:g} "
            f"{self.unit}, needs {_figure(self.need)} {self.unit}{_because(self.note)}"
        )


def _because(note: str) -> str:
    return f" ({note})" if note else ""


def _figure(value: float | None) -> str:
    return "an unknown" if value is None else f"{value:.4g}"


def compared(
    subject: str,
    against: str,
    what: str,
    need: float | None,
    limit: float | None,
    unit: str,
    note: str = "",
) -> Fit:
    """Return whether a need is within a limit; not known when either is missing."""
    verdict = (
        Verdict.NOT_KNOWN
        if need is None or limit is None
        else Verdict.FITS
        if need <= limit + 1e-9
        else Verdict.DOES_NOT
    )
    return Fit(
        subject=subject,
        against=against,
        what=what,
        verdict=verdict,
        need=need,
        limit=limit,
        unit=unit,
        note=note,
    )


def settled(answers: Sequence[Fit]) -> Fit:
    """Return one answer from those by different reports: where they disagree, not known."""
    first = answers[0]
    if len({answer.verdict for answer in answers}) == 1:
        return min(answers, key=lambda a: a.limit if a.limit is not None else float("inf"))
    known = [f"{a.limit:g} {a.unit}" for a in answers if a.limit is not None]
    return Fit(
        subject=first.subject,
        against=first.against,
        what=first.what,
        verdict=Verdict.NOT_KNOWN,
        need=first.need,
        limit=None,
        unit=first.unit,
        note=f"reports disagree: {', '.join(known)}; adopt one",
    )


def crane(piece: model.Piece, ship: model.Ship, lifter: model.Crane) -> Fit:
    """Return whether a crane lifts a piece to where it stands on the ship.

    The capacity at an outreach between two of its table is that of the greater outreach.
    """
    against = f"crane {lifter.name} of {lifter.port}"
    outreach = ship.outreach_m
    if outreach is None:
        return compared(
            piece.name, against, "capacity", piece.mass_t, None, "t", "outreach needed not known"
        )
    what = f"capacity at {outreach:g} m outreach"
    table = sorted(lifter.reach, key=lambda reach: reach.outreach_m)
    beyond = [reach for reach in table if reach.outreach_m >= outreach - 1e-9]
    if beyond:
        return compared(piece.name, against, what, piece.mass_t, beyond[0].capacity_t, "t")
    largest = lifter.largest_t
    if largest is not None and largest < piece.mass_t:
        return compared(piece.name, against, "capacity at any outreach", piece.mass_t, largest, "t")
    note = "its table ends short of that; ask" if table else "ask for its load table"
    return compared(piece.name, against, what, piece.mass_t, None, "t", note)


def runway(
    load: Sequence[model.Piece], aircraft: model.Aircraft, field: model.Airfield
) -> tuple[Fit, ...]:
    """Return whether an aircraft with a load can use the runway: length at that load, width."""
    mass = sum(piece.mass_t for piece in load)
    need = runway_need_m(aircraft, mass)
    subject = f"{aircraft.name} with {mass:g} t"
    note = "" if need is not None else "the aircraft's need at this load is not given"
    return (
        compared(subject, field.name, "runway length", need, field.runway_length_m, "m", note),
        compared(
            subject,
            field.name,
            "runway width",
            aircraft.runway_width_m,
            field.runway_width_m,
            "m",
        ),
    )


def runway_need_m(aircraft: model.Aircraft, payload_t: float) -> float | None:
    """Return the runway needed at a payload: that of the next payload in the table, or None."""
    table = sorted(aircraft.runway, key=lambda need: need.payload_t)
    enough = [need.length_m for need in table if need.payload_t >= payload_t - 1e-9]
    return enough[0] if enough else None


def hold(load: Sequence[model.Piece], aircraft: model.Aircraft) -> tuple[Fit, ...]:
    """Return whether the pieces of one load go into the hold together, one behind the other."""
    subject = f"load {load[0].load}"
    mass = sum(piece.mass_t for piece in load)
    return (
        compared(subject, aircraft.name, "payload", mass, aircraft.payload_t, "t"),
        compared(
            subject,
            aircraft.name,
            "hold length",
            sum(piece.length_m for piece in load),
            aircraft.hold_length_m,
            "m",
        ),
        compared(
            subject,
            aircraft.name,
            "hold width",
            max(piece.width_m for piece in load),
            aircraft.hold_width_m,
            "m",
        ),
        compared(
            subject,
            aircraft.name,
            "hold height",
            max(piece.height_m for piece in load),
            aircraft.hold_height_m,
            "m",
        ),
    )


def road(piece: model.Piece, trailer: model.Trailer, leg: model.Road) -> tuple[Fit, ...]:
    """Return whether a piece on its trailer passes a road leg at its worst places."""
    high = trailer.bed_height_m + piece.height_m + ROAD_CLEARANCE_M
    gross = trailer.mass_t + piece.mass_t
    wide = max(piece.width_m, trailer.width_m)
    checks = [
        ("overhead with the bed's height and 0.1 m clear", high, leg.overhead_m, "m"),
        ("width", wide, leg.width_m, "m"),
        ("bridge load", gross, leg.bridge_t, "t"),
    ]
    found = [
        compared(piece.name, f"road {leg.name}", what, need, limit, unit)
        for what, need, limit, unit in checks
    ]
    return (*found, _corner(piece, trailer, leg))


def _corner(piece: model.Piece, trailer: model.Trailer, leg: model.Road) -> Fit:
    against, what = f"road {leg.name}", "width in the tightest corner"
    if leg.corner_radius_m is None:
        return compared(
            piece.name, against, what, None, None, "m", "radius of the tightest corner not known"
        )
    need = swept_width_m(
        leg.corner_radius_m,
        trailer.width_m,
        max(piece.width_m, trailer.width_m),
        trailer.tractor_wheelbase_m,
        trailer.trailer_wheelbase_m,
    )
    if need is None:
        return Fit(
            subject=piece.name,
            against=against,
            what=what,
            verdict=Verdict.DOES_NOT,
            need=None,
            limit=leg.corner_width_m,
            unit="m",
            note=f"the trailer cannot turn on a radius of {leg.corner_radius_m:g} m",
        )
    return compared(piece.name, against, what, need, leg.corner_width_m, "m")


def deck(pieces: Sequence[model.Piece], ship: model.Ship) -> tuple[Fit, ...]:
    """Return whether all pieces stand on the ship's deck, and it bears each."""
    area = sum(piece.length_m * piece.width_m for piece in pieces)
    room = (
        None
        if ship.deck_length_m is None or ship.deck_width_m is None
        else ship.deck_length_m * ship.deck_width_m
    )
    heaviest = max(pieces, key=lambda piece: piece.mass_t / (piece.length_m * piece.width_m))
    longest = max(pieces, key=lambda piece: piece.length_m)
    bearing = heaviest.mass_t / (heaviest.length_m * heaviest.width_m)
    return (
        compared("all pieces", f"deck of {ship.name}", "area", area, room, "m²"),
        compared(
            longest.name,
            f"deck of {ship.name}",
            "length",
            longest.length_m,
            ship.deck_length_m,
            "m",
        ),
        compared(
            heaviest.name,
            f"deck of {ship.name}",
            "strength",
            bearing,
            ship.deck_strength_t_m2,
            "t/m²",
        ),
    )


def quay(pieces: Sequence[model.Piece], berth: model.Berth) -> Fit:
    """Return whether the berth bears the heaviest piece set down on it."""
    heaviest = max(pieces, key=lambda piece: piece.mass_t / (piece.length_m * piece.width_m))
    bearing = heaviest.mass_t / (heaviest.length_m * heaviest.width_m)
    against = f"berth {berth.name} of {berth.port}"
    return compared(heaviest.name, against, "strength", bearing, berth.strength_t_m2, "t/m²")


def alongside(
    ship: model.Ship,
    berth: model.Berth,
    curve: model.Tide | None,
    start: datetime,
    stay: timedelta,
) -> tuple[Fit, ...]:
    """Return whether a ship lies at a berth: its length, and water under her through the stay."""
    against = f"berth {berth.name} of {berth.port}"
    length = compared(ship.name, against, "length", ship.length_m, berth.length_m, "m")
    need = ship.draught_m + ship.under_keel_m
    what = f"depth alongside at the lowest water of the stay, {ship.under_keel_m:g} m under her"
    if berth.depth_m is None:
        return length, compared(ship.name, against, what, need, None, "m", "ask for a sounding")
    if berth.depth_m >= need:
        return length, compared(ship.name, against, what, need, berth.depth_m, "m", "without tide")
    low = None if curve is None else tide.least_height_m(curve, start, stay)
    note = "the tide during the stay is not entered" if low is None else f"tide {low:.1f} m"
    limit = None if low is None else round(berth.depth_m + low, 2)
    return length, compared(ship.name, against, what, need, limit, "m", note)
