"""Does it fit a ship: lifted aboard, laid out on deck, alongside a berth, into the port."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from layers.earth.clock import clock_words
from layers.forward_port import model
from layers.forward_port.ports import packing, tide
from layers.forward_port.ports.fit import ARRIVAL_NOT_KNOWN, Fit, Verdict, compared
from layers.forward_port.ports.water_level import WaterLevel

# Where nobody has entered them, rigging is taken as a twentieth of the piece and the lift's motion
# as a tenth of the whole (in harbour; common practice, no source): between the bare mass and that
# a crane is not known to be enough.
RIGGING_PART, DYNAMIC_FACTOR = 0.05, 1.10
LASHING_M = 0.5  # room about each piece to lash it; common practice, no source


def crane(piece: model.Piece, ship: model.CandidateShip, lifter: model.Crane) -> Fit:
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
        return _lift(piece, lifter, against, what, beyond[0].capacity_t)
    largest = lifter.largest_t
    if largest is not None and largest < piece.mass_t:
        return compared(piece.name, against, "capacity at any outreach", piece.mass_t, largest, "t")
    note = "its table ends short of that; ask" if table else "ask for its load table"
    return compared(piece.name, against, what, piece.mass_t, None, "t", note)


def _lift(
    piece: model.Piece, lifter: model.Crane, against: str, what: str, capacity_t: float
) -> Fit:
    """Return whether a capacity lifts a piece with its rigging and the motion of the lift."""
    rigging = lifter.rigging_t if lifter.rigging_t is not None else RIGGING_PART * piece.mass_t
    factor = lifter.dynamic_factor or DYNAMIC_FACTOR
    need = round((piece.mass_t + rigging) * factor, 2)
    missing = [
        word
        for word, value in (
            ("rigging", lifter.rigging_t),
            ("dynamic factor", lifter.dynamic_factor),
        )
        if value is None
    ]
    note = f"with {rigging:.3g} t of rigging and a dynamic factor of {factor:g}"
    found = compared(
        piece.name, against, f"{what}, hooked on", need, capacity_t, "t", note, lifter.basis
    )
    if missing and found.verdict is Verdict.DOES_NOT and piece.mass_t <= capacity_t:
        note = f"{' and '.join(missing)} not entered; bare it weighs {piece.mass_t:g} t"
        return replace(found, verdict=Verdict.NOT_KNOWN, note=note)
    if missing:
        return replace(found, note=f"{note}, {' and '.join(missing)} assumed")
    return found


def deck(pieces: Sequence[model.Piece], ship: model.CandidateShip) -> tuple[Fit, ...]:
    """Return whether all pieces stand on the ship's deck, and it bears each and all."""
    against = f"deck of {ship.name}"
    heaviest = max(pieces, key=lambda piece: piece.mass_t / (piece.length_m * piece.width_m))
    bearing = heaviest.mass_t / (heaviest.length_m * heaviest.width_m)
    whole = sum(piece.mass_t for piece in pieces)
    return (
        _room(pieces, ship, against),
        compared(
            "all pieces",
            against,
            "total load",
            whole,
            ship.deck_load_t,
            "t",
            "" if ship.deck_load_t else "ask for what the deck carries in all, and stability",
        ),
        compared(heaviest.name, against, "strength", bearing, ship.deck_strength_t_m2, "t/m²"),
    )


def _room(pieces: Sequence[model.Piece], ship: model.CandidateShip, against: str) -> Fit:
    """Return whether the pieces can be laid out on the deck, with room to lash them."""
    area = round(sum(piece.length_m * piece.width_m for piece in pieces), 1)
    if ship.deck_length_m is None or ship.deck_width_m is None:
        return compared("all pieces", against, "room", area, None, "m²")
    size = (ship.deck_length_m, ship.deck_width_m)
    bare = [(piece.length_m, piece.width_m) for piece in pieces]
    clear = [(a + LASHING_M, b + LASHING_M) for a, b in bare]
    why = packing.impossible(bare, size)
    if why:
        verdict, note = Verdict.DOES_NOT, why
    elif packing.packed(clear, (size[0] + LASHING_M, size[1] + LASHING_M)) is not None:
        verdict, note = Verdict.FITS, f"laid out, {LASHING_M:g} m between them"
    elif packing.packed(bare, size) is not None:
        verdict, note = Verdict.NOT_KNOWN, f"laid out only with less than {LASHING_M:g} m between"
    else:
        verdict, note = Verdict.NOT_KNOWN, "no way to lay them out was found; draw the stowage"
    return Fit(
        subject="all pieces",
        against=against,
        what="room",
        verdict=verdict,
        need=area,
        limit=round(size[0] * size[1], 1),
        unit="m²",
        note=note,
    )


def quay(pieces: Sequence[model.Piece], berth: model.Berth) -> Fit:
    """Return whether the berth bears the heaviest piece set down on it."""
    heaviest = max(pieces, key=lambda piece: piece.mass_t / (piece.length_m * piece.width_m))
    bearing = heaviest.mass_t / (heaviest.length_m * heaviest.width_m)
    against = f"berth {berth.name} of {berth.port}"
    return compared(
        heaviest.name, against, "strength", bearing, berth.strength_t_m2, "t/m²", basis=berth.basis
    )


def alongside(
    ship: model.CandidateShip,
    berth: model.Berth,
    curve: model.Tide | WaterLevel | None,
    starts: Sequence[datetime],
    stay: timedelta,
) -> tuple[Fit, ...]:
    """Return whether a ship lies at a berth: its length, and water under her through the stay.

    Parameters
    ----------
    starts : sequence of datetime
        When she may come: one time, or the early, likely and late one; empty where not known.
    """
    against = f"berth {berth.name} of {berth.port}"
    length = compared(
        ship.name, against, "length", ship.length_m, berth.length_m, "m", basis=berth.basis
    )
    need = ship.draught_m + ship.under_keel_m
    what = f"depth alongside at the lowest water of the stay, {ship.under_keel_m:g} m under her"
    if berth.depth_m is None:
        return length, compared(ship.name, against, what, need, None, "m", "ask for a sounding")
    if berth.depth_m >= need:
        return length, compared(
            ship.name, against, what, need, berth.depth_m, "m", "without tide", berth.basis
        )
    if not starts:
        return length, compared(ship.name, against, what, need, None, "m", ARRIVAL_NOT_KNOWN)
    lows = [None if curve is None else tide.least_height_m(curve, at, stay) for at in starts]
    known = [low for low in lows if low is not None]
    if len(known) < len(lows):
        note = "the tide during the stay is not entered"
        return length, compared(ship.name, against, what, need, None, "m", note)
    when = f"stay from {clock_words(starts[len(starts) // 2], starts[0])}"
    assert curve is not None  # else nothing is known and none of it is reached
    note = f"{when}, tide {min(known):.1f} m above chart datum by {tide.level_of(curve).said}"
    limit = round(berth.depth_m + min(known), 2)
    found = compared(ship.name, against, what, need, limit, "m", note, berth.basis)
    if found.verdict is Verdict.DOES_NOT and berth.depth_m + max(known) >= need:
        note = f"{when}: it depends on when she comes, tide {min(known):.1f} to {max(known):.1f} m"
        found = replace(found, verdict=Verdict.NOT_KNOWN, note=note)
    return length, _whole(found, curve)


def _whole(found: Fit, curve: model.Tide | WaterLevel) -> Fit:
    """Return an answer that rests on a tide; one of which part is not told settles nothing."""
    lacks = tide.level_of(curve).lacks
    if not lacks:
        return found
    return replace(found, verdict=Verdict.NOT_KNOWN, note=f"{found.note}; not whole: {lacks}")


ON_THE_WAY_IN = timedelta(hours=1)  # how long she is in the channel: our own, no source


def _channel_at(
    dry: Fit,
    charted_m: float,
    need_m: float,
    curve: model.Tide | WaterLevel | None,
    starts: Sequence[datetime],
) -> Fit:
    """Return whether the tide lifts her over a channel that is too shallow without it."""
    lows = [
        None if curve is None else tide.least_height_m(curve, at - ON_THE_WAY_IN, ON_THE_WAY_IN)
        for at in starts
    ]
    known = [low for low in lows if low is not None]
    if not starts or len(known) < len(lows):
        return replace(dry, verdict=Verdict.NOT_KNOWN, note="only with enough tide; ask")
    enough = [round(charted_m + low, 2) >= need_m for low in known]
    verdict = Verdict.FITS if all(enough) else Verdict.DOES_NOT
    if any(enough) and (not all(enough) or dry.note.endswith("assumed")):
        verdict = Verdict.NOT_KNOWN
    when = clock_words(starts[len(starts) // 2], starts[0])
    note = f"on the tide of {when}, {min(known):.1f} m at the lowest of the hour before"
    found = replace(dry, verdict=verdict, limit=round(charted_m + min(known), 2), note=note)
    assert curve is not None  # else no low is known
    return _whole(found, curve)


def approach(
    ship: model.CandidateShip,
    port: model.Port,
    curve: model.Tide | WaterLevel | None = None,
    starts: Sequence[datetime] = (),
) -> tuple[Fit, ...]:
    """Return whether a ship gets into a port: depth of its channel, clear height over it.

    Where the channel is too shallow at chart datum, the water in the hour before she may come
    alongside decides.
    """
    need = ship.draught_m + ship.under_keel_m
    charted = port.channel_depth_m
    note = "" if charted is None or charted >= need else "at chart datum"
    depth = compared(
        ship.name, port.name, "depth of the channel", need, charted, "m",
        "ask the port" if charted is None else note, port.basis,
    )  # fmt: skip
    if charted is not None and depth.verdict is Verdict.DOES_NOT:
        depth = _channel_at(depth, charted, need, curve, starts)
    return depth, _overhead(ship, port)


def _overhead(ship: model.CandidateShip, port: model.Port) -> Fit:
    """Return whether a ship passes under what spans the way in, where anything does."""
    asked = "" if ship.air_draught_m else "ask the ship for her air draught"
    if port.overhead_m is None:
        asked = "ask whether a bridge or a cable spans the way in"
    found = compared(
        ship.name, port.name, "clear height on the way in", ship.air_draught_m, port.overhead_m,
        "m", asked, port.basis,
    )  # fmt: skip
    if port.nothing_overhead and port.overhead_m is None:
        assumed = port.basis == "assumed"
        verdict = Verdict.NOT_KNOWN if assumed else Verdict.FITS
        return replace(found, verdict=verdict, note=f"nothing spans it{', assumed' * assumed}")
    return found
