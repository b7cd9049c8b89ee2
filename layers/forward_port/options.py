"""Every option side by side: what fits, when, what kills it, what would decide it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

import numpy as np

from layers.contract import Moment, Others
from layers.earth.block import Block, middle_of, span_words
from layers.earth.errors import InputError
from layers.earth.position import Position
from layers.earth.tells import Tells
from layers.earth.values import (
    DatumValue,
    ForwardPortValue,
    ResponseOption,
    SeaSeries,
    TracksValue,
    WeatherValue,
)
from layers.forward_port import model
from layers.forward_port.chain.forecast import forecast
from layers.forward_port.facts import Facts, gather
from layers.forward_port.legs import coast
from layers.forward_port.legs.legs import Surroundings, routes_of
from layers.forward_port.ports import fit
from layers.forward_port.ports.candidates import Needs, rank
from layers.forward_port.result import ForwardPortResult, OptionForecast, PublishedPorts
from layers.journal.known import Known
from layers.journal.released import withholds

DEFAULT_NEEDS = Needs(draught_m=6.0)
PUBLISHED_SHOWN = 25


def compute(known: Known, others: Others, moment: Moment) -> ForwardPortResult:
    """Return every option as it stands, and the published ports near the datum.

    Raises
    ------
    InputError
        Neither an option nor a candidate port nor a published table is known yet.
    """
    facts = gather(known, moment.at)
    datum_value = others.get("datum")
    where = datum_value.where if isinstance(datum_value, DatumValue) else None
    published = _published(known, facts, datum_value)
    if not (facts.names("option") or facts.names("port") or published):
        raise InputError(
            "no candidate port and no option is known yet",
            accepted="ports typed by the watch, or your own copies of the World Port Index and "
            "runways tables",
        )
    weather = others.get("weather")
    tracks = others.get("tracks")
    now = min(moment.at, moment.as_of)
    around = Surroundings(
        facts=facts,
        field=weather.field if isinstance(weather, WeatherValue) else None,
        ships=tracks.ships if isinstance(tracks, TracksValue) else (),
        routes=routes_of(known.entries("tracks.route")),
        now=now,
    )
    series = weather.series_at_datum if isinstance(weather, WeatherValue) else None
    chosen = facts.choices[-1][0].option if facts.choices else ""
    options = tuple(_option(option, around, series, chosen) for option in facts.every("option"))
    return ForwardPortResult(
        at=moment.at,
        now=now,
        options=options,
        choices=facts.choices,
        ports=facts.every("port"),
        airfields=facts.every("airfield"),
        where=where,
        up_to_sailing=withholds(known, Tells.POSITION),
        published=published,
        coast_tested=coast.tested(),
        rests_on=facts.ids,
    )


def hand(result: ForwardPortResult) -> ForwardPortValue:
    """Return the rescue options with their draws, as other layers need them."""
    return ForwardPortValue(
        options=tuple(
            ResponseOption(
                key=each.option.key,
                title=each.option.title,
                ready_us=each.ready_us,
                chosen=each.chosen,
            )
            for each in result.options
            if each.option.purpose == "rescue" and len(each.ready_us)
        )
    )


def _option(
    option: model.Option, around: Surroundings, series: SeaSeries | None, chosen: str
) -> OptionForecast:
    facts = around.facts
    is_chosen = option.key == chosen
    fits = fits_of(option, facts) if option.purpose == "rescue" else ()
    kills = [answer.words() for answer in fits if answer.verdict is fit.Verdict.DOES_NOT]
    unknowns = [answer.words() for answer in fits if answer.verdict is fit.Verdict.NOT_KNOWN]
    kills += _refused(option, facts)
    nothing = np.zeros(0, dtype=np.int64)
    follow = is_chosen or option.purpose != "rescue" or not chosen
    try:
        found = forecast(option, around, series, from_now=follow)
    except InputError as reason:
        return OptionForecast(
            option=option,
            fits=fits,
            kills=tuple(kills),
            unknowns=tuple(unknowns),
            activities=(),
            ready_us=nothing,
            last_us=nothing,
            first_sight=None,
            ready=None,
            last=None,
            done_at=None,
            at_least=True,
            sea_known=False,
            chosen=is_chosen,
            problem=str(reason),
        )
    for activity in found.activities:
        if activity.leg is not None and activity.leg.on_land:
            kills.append(f"{activity.title}: {activity.leg.on_land}")
    unknowns += [f"how long: {title}" for title in found.unknown]
    return OptionForecast(
        option=option,
        fits=fits,
        kills=tuple(kills),
        unknowns=tuple(unknowns),
        activities=found.activities,
        ready_us=found.ready_us,
        last_us=found.last_us,
        first_sight=found.first_sight,
        ready=found.ready,
        last=found.last,
        done_at=found.done_at,
        at_least=bool(found.unknown),
        sea_known=found.sea_known,
        chosen=is_chosen,
    )


def _refused(option: model.Option, facts: Facts) -> list[str]:
    mine = {
        a.key: a.title for a in facts.every("activity") if not a.options or option.key in a.options
    }
    return [
        f"refused: {mine[c.activity]} ({c.by})"
        for c in facts.every("clearance")
        if c.state == "refused" and c.activity in mine
    ]


def fits_of(option: model.Option, facts: Facts) -> tuple[fit.Fit, ...]:
    """Return every pairing of the load list with what the option would use."""
    pieces: tuple[model.Piece, ...] = facts.every("piece")
    ship = facts.last("ship", option.ship)
    found: list[fit.Fit] = []
    if pieces and ship is not None:
        found += _lifting(option, pieces, ship, facts)
        found += fit.deck(pieces, ship)
    if ship is not None:
        found += _berthing(option, pieces, ship, facts)
    if pieces:
        found += _flying(option, pieces, facts)
        found += _driving(option, pieces, facts)
    return tuple(found)


def _lifting(
    option: model.Option, pieces: Sequence[model.Piece], ship: model.Ship, facts: Facts
) -> list[fit.Fit]:
    heaviest = max(pieces, key=lambda piece: piece.mass_t)
    names = [n for n in facts.names("crane") if facts.all("crane", n)[-1].port == option.port]
    if not names:
        return [
            fit.compared(
                heaviest.name,
                f"cranes of {option.port}",
                "capacity",
                heaviest.mass_t,
                None,
                "t",
                "no crane is entered",
            )
        ]
    best = [
        fit.settled([fit.crane(heaviest, ship, each) for each in facts.all("crane", name)])
        for name in names
    ]
    # One crane that lifts it is enough; else one that might, else the strongest that does not.
    order = {fit.Verdict.FITS: 0, fit.Verdict.NOT_KNOWN: 1, fit.Verdict.DOES_NOT: 2}
    best.sort(key=lambda answer: (order[answer.verdict], -(answer.limit or 0.0)))
    return best[:1]


def _berthing(
    option: model.Option, pieces: Sequence[model.Piece], ship: model.Ship, facts: Facts
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
    start = option.alongside_from or option.zero + timedelta(hours=36)
    stay = timedelta(hours=option.alongside_h)
    curve = facts.last("tide", option.port)
    per_report = [fit.alongside(ship, berth, curve, start, stay) for berth in reports]
    found = [fit.settled(answers) for answers in zip(*per_report, strict=True)]
    if pieces:
        found.append(fit.settled([fit.quay(pieces, berth) for berth in reports]))
    return found


def _flying(option: model.Option, pieces: Sequence[model.Piece], facts: Facts) -> list[fit.Fit]:
    aircraft = facts.last("aircraft", option.aircraft)
    fields = facts.all("airfield", option.airfield)
    if aircraft is None:
        return []
    loads: dict[int, list[model.Piece]] = {}
    for piece in pieces:
        loads.setdefault(piece.load, []).append(piece)
    found = [answer for number in sorted(loads) for answer in fit.hold(loads[number], aircraft)]
    heaviest = max(loads.values(), key=lambda load: sum(piece.mass_t for piece in load))
    if fields:
        per_report = [fit.runway(heaviest, aircraft, field) for field in fields]
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


def _published(known: Known, facts: Facts, datum: Any) -> PublishedPorts | None:
    ports = known.columns("forward_port.wpi")
    if not isinstance(datum, DatumValue) or not len(ports["seq"]):
        return None
    runways = known.columns("forward_port.runway")
    ships = facts.every("ship")
    aircraft = facts.every("aircraft")
    needs = DEFAULT_NEEDS
    if ships:
        deepest = max(ships, key=lambda ship: ship.draught_m)
        longest = [n.length_m for a in aircraft for n in a.runway]
        needs = Needs(
            draught_m=deepest.draught_m,
            under_keel_m=deepest.under_keel_m,
            runway_m=max(longest, default=DEFAULT_NEEDS.runway_m),
        )
    found = rank(ports, runways, middle_of(datum.where), needs)
    shown = found.row[:PUBLISHED_SHOWN]
    away = None
    if isinstance(where := datum.where, Block):
        lat, lon = ports["latitude_deg"][shown], ports["longitude_deg"][shown]
        places = [Position(float(a), float(b)) for a, b in zip(lat, lon, strict=True)]
        away = tuple(span_words(where.distance_nmi(place)) for place in places)
    return PublishedPorts(
        found=found,
        names=tuple(ports["name"][shown].tolist()),
        countries=tuple(ports["country"][shown].tolist()),
        depths_m=tuple(None if d != d else float(d) for d in ports["pier_depth_m"][shown]),
        lifts=tuple(ports["lifts"][shown].tolist()),
        runways=tuple(
            "" if row < 0 else str(runways["airport"][row])
            for row in found.runway_row[:PUBLISHED_SHOWN]
        ),
        ports=len(ports["seq"]),
        runway_count=len(runways["seq"]),
        depth_unknown=int(np.isnan(ports["pier_depth_m"]).sum()),
        runway_unknown=int(np.isnan(runways["length_m"]).sum()),
        away=away,
    )


def expected_at(at: datetime, result: ForwardPortResult) -> list[tuple[Any, Any, Any]]:
    """Return (option, activity, position) of every leg of the main option under way at a time."""
    main = result.main()
    found = []
    for activity in main.activities if main else ():
        leg = activity.leg
        start = activity.started_at or activity.start.p50
        finish = activity.finished_at or activity.finish.p50
        if leg is None or len(leg.at_h) < 2 or not start <= at < finish:
            continue
        begun = leg.fix_at or start
        span_h = (finish - begun).total_seconds() / 3600.0
        share = (at - begun).total_seconds() / 3600.0 / span_h if span_h > 0 else 1.0
        found.append((main, activity, leg.where(max(0.0, min(1.0, share)) * leg.hours)))
    return found
