"""Every pairing of the load list with what an option would use.

What an option names and nobody entered is *not known* and says so: it is neither left out nor
taken for no obstacle.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from layers.forward_port import model
from layers.forward_port.facts import Facts
from layers.forward_port.ports import air_fit, fit, ship_fit
from layers.forward_port.ports.water_level import water_level


def fits_of(
    option: model.Option, facts: Facts, arrival: Sequence[datetime] | None
) -> tuple[fit.Fit, ...]:
    """Return every pairing of the load list with what the option would use.

    Parameters
    ----------
    arrival : sequence of datetime or None
        When the ship comes to her berth: early, likely and late; empty or None where not known.
    """
    pieces: tuple[model.Piece, ...] = facts.every("piece")
    ship = facts.last("ship", option.ship)
    found: list[fit.Fit] = _unentered(option, facts)
    if not pieces:
        found.append(
            fit.not_entered("load list", option.title, "pieces", "nobody has entered what goes")
        )
    if pieces and ship is not None:
        found += _lifting(option, pieces, ship, facts)
        found += ship_fit.deck(pieces, ship)
    if ship is not None:
        found += _berthing(option, pieces, ship, facts, arrival or ())
        port = facts.last("port", option.port)
        if port is not None:
            level = water_level(facts, option.port)
            found += ship_fit.approach(ship, port, level, arrival or ())
    if pieces:
        found += _flying(option, pieces, facts)
        found += _driving(option, pieces, facts)
    return tuple(found)


NAMED: tuple[tuple[str, str], ...] = (
    ("ship", "deck, draught and length"),
    ("port", "place, channel and berths"),
    ("airfield", "runway"),
    ("aircraft", "hold and runway need"),
    ("trailer", "bed, mass and turning"),
)


def _unentered(option: model.Option, facts: Facts) -> list[fit.Fit]:
    """Return what the option names that nobody entered, and what it should name and does not."""
    found = []
    for kind, what in NAMED:
        name = getattr(option, kind)
        if name and not facts.all(kind, name):
            found.append(
                fit.not_entered(name, option.title, what, f"nobody has entered this {kind}")
            )
    if not option.ship:
        found.append(fit.not_entered("ship", option.title, "deck", "the option names no ship"))
    if not option.port:
        found.append(fit.not_entered("port", option.title, "berth", "the option names no port"))
    for kind, what, wanted in (
        ("aircraft", "hold and runway need", option.airfield and not option.aircraft),
        ("airfield", "runway", option.aircraft and not option.airfield),
        ("trailer", "road from the airfield",
         option.airfield and option.port and not option.trailer),
    ):  # fmt: skip
        if wanted:
            words = f"the option names no {kind}"
            found.append(fit.not_entered(kind, option.title, what, words))
    return found


def _lifting(
    option: model.Option, pieces: Sequence[model.Piece], ship: model.CandidateShip, facts: Facts
) -> list[fit.Fit]:
    heaviest = max(pieces, key=lambda piece: piece.mass_t)
    cranes = [(n, facts.all("crane", n)[-1]) for n in facts.names("crane")]
    names = [
        n
        for n, each in cranes
        if each.port == option.port and (not option.berth or each.berth in ("", option.berth))
    ]
    if not names:
        return [
            fit.compared(
                heaviest.name,
                f"cranes of {option.port}",
                "capacity",
                heaviest.mass_t,
                None,
                "t",
                "no crane is entered at this berth" if option.berth else "no crane is entered",
            )
        ]
    best = [
        fit.settled([ship_fit.crane(heaviest, ship, each) for each in facts.all("crane", name)])
        for name in names
    ]
    # One crane that lifts it is enough; else one that might, else the strongest that does not.
    order = {fit.Verdict.FITS: 0, fit.Verdict.NOT_KNOWN: 1, fit.Verdict.DOES_NOT: 2}
    best.sort(key=lambda answer: (order[answer.verdict], -(answer.limit or 0.0)))
    return best[:1]


def _berthing(
    option: model.Option,
    pieces: Sequence[model.Piece],
    ship: model.CandidateShip,
    facts: Facts,
    starts: Sequence[datetime],
) -> list[fit.Fit]:
    reports = facts.all("berth", f"{option.port} {option.berth}")
    if not reports:
        return [
            fit.compared(
                ship.name,
                f"berths of {option.port}",
                "length",
                ship.length_m,
                None,
                "m",
                "no berth is entered",
            )
        ]
    stay = timedelta(hours=option.alongside_h)
    curve = water_level(facts, option.port)
    per_report = [ship_fit.alongside(ship, berth, curve, starts, stay) for berth in reports]
    found = [fit.settled(answers) for answers in zip(*per_report, strict=True)]
    if pieces:
        found.append(fit.settled([ship_fit.quay(pieces, berth) for berth in reports]))
    return found


def _flying(option: model.Option, pieces: Sequence[model.Piece], facts: Facts) -> list[fit.Fit]:
    aircraft = facts.last("aircraft", option.aircraft)
    fields = facts.all("airfield", option.airfield)
    if aircraft is None:
        return []
    loads: dict[int, list[model.Piece]] = {}
    for piece in pieces:
        loads.setdefault(piece.load, []).append(piece)
    found = [answer for number in sorted(loads) for answer in air_fit.hold(loads[number], aircraft)]
    heaviest = max(loads.values(), key=lambda load: sum(piece.mass_t for piece in load))
    if fields:
        per_report = [air_fit.runway(heaviest, aircraft, field) for field in fields]
        found += [fit.settled(answers) for answers in zip(*per_report, strict=True)]
    return found


def _driving(option: model.Option, pieces: Sequence[model.Piece], facts: Facts) -> list[fit.Fit]:
    trailer = facts.last("trailer", option.trailer)
    names = [
        name
        for name in facts.names("road")
        if (facts.last("road", name).airfield, facts.last("road", name).port)
        == (option.airfield, option.port)
    ]
    if trailer is None:
        return []
    if option.airfield and option.port and not names:
        return [
            fit.not_entered(
                f"road from {option.airfield} to {option.port}",
                option.title,
                "heights, bridges and corners",
                "nobody has entered a road between them",
            )
        ]
    worst = {
        max(pieces, key=lambda p: p.height_m),
        max(pieces, key=lambda p: p.width_m),
        max(pieces, key=lambda p: p.mass_t),
    }
    ordered = [piece for piece in pieces if piece in worst]
    found: list[fit.Fit] = []
    for name in names:
        per_check: dict[str, list[fit.Fit]] = {}
        for piece in ordered:
            per_report = [fit.road(piece, trailer, leg) for leg in facts.all("road", name)]
            for answers in zip(*per_report, strict=True):
                one = fit.settled(answers)
                per_check.setdefault(one.what, []).append(one)
        # Of all pieces only the one that asks most of each check is listed.
        found += [max(answers, key=lambda a: a.need or 0.0) for answers in per_check.values()]
    return found
