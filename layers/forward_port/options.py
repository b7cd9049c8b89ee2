"""Every option side by side: what fits, when, what rules it out, what would decide it."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
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
from layers.forward_port.chain.alongside import alongside
from layers.forward_port.chain.forecast import forecast
from layers.forward_port.facts import Facts, gather, with_ways_told
from layers.forward_port.home.compute import home_of
from layers.forward_port.legs import coast, ways_from
from layers.forward_port.legs.legs import Surroundings, routes_of
from layers.forward_port.ports import fit
from layers.forward_port.ports.candidates import Needs, rank
from layers.forward_port.ports.pairing import fits_of
from layers.forward_port.result import (
    ForwardPortResult,
    OptionForecast,
    PublishedPorts,
)
from layers.journal.known import Known
from layers.journal.releases.released import withholds

DEFAULT_NEEDS = Needs(draught_m=6.0)
PUBLISHED_SHOWN = 25


def compute(known: Known, others: Others, moment: Moment) -> ForwardPortResult:
    """Return every option as it stands, and the published ports near the datum.

    Raises
    ------
    InputError
        Neither an option nor a candidate port nor a published table is known yet.
    """
    now = min(moment.at, moment.as_of)
    facts = with_ways_told(gather(known, moment.at), now)
    datum_value = others.get("datum")
    where = datum_value.where if isinstance(datum_value, DatumValue) else None
    published = _published(known, facts, datum_value)
    if not (facts.names("option") or facts.names("port") or published or _held(known)):
        raise InputError(
            "no candidate port and no option is known yet",
            accepted="ports typed by the watch, or your own copies of the World Port Index and "
            "runways tables",
        )
    weather = others.get("weather")
    tracks = others.get("tracks")
    around = Surroundings(
        facts=facts,
        field=weather.field if isinstance(weather, WeatherValue) else None,
        ships=tracks.ships if isinstance(tracks, TracksValue) else (),
        routes=routes_of(known.entries("tracks.route")),
        now=now,
        datum=where if isinstance(where, Position) else None,
    )
    series = weather.series_at_datum if isinstance(weather, WeatherValue) else None
    chosen = facts.choices[-1][0].option if facts.choices else ""
    options = tuple(_option(option, around, series, chosen) for option in facts.every("option"))
    up_to_sailing = withholds(known, Tells.POSITION)
    if up_to_sailing:
        options = tuple(map(_without_her_track, options))
    return ForwardPortResult(
        at=moment.at,
        now=now,
        options=options,
        choices=facts.choices,
        ports=facts.every("port"),
        airfields=facts.every("airfield"),
        where=where,
        up_to_sailing=up_to_sailing,
        published=published,
        coast_tested=coast.tested(),
        home=home_of(known, facts, options, moment.at),
        rests_on=facts.ids,
    )


def _held(known: Known) -> bool:
    return any(known.entries(f"forward_port.{kind}") for kind in ("held", "told_coming"))


def _without_her_track(each: OptionForecast) -> OptionForecast:
    """Return an option whose ship's track is withheld: when she comes is not *not known*."""
    lengths = {activity.title for activity in each.activities if not activity.known}
    return replace(
        each,
        fits=tuple(map(fit.arrival_withheld, each.fits)),
        unknowns=tuple(
            said
            for said in each.unknowns
            if fit.ARRIVAL_NOT_KNOWN not in said and not any(t in said for t in lengths)
        ),
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
    nothing = np.zeros(0, dtype=np.int64)
    follow = is_chosen or option.purpose != "rescue" or not chosen
    problem, found = "", None
    try:
        found = forecast(option, around, series, from_now=follow)
    except InputError as reason:
        problem = reason.words
    arrival = None if found is None else alongside(option, found.activities, facts)
    fits = fits_of(option, facts, arrival) if option.purpose == "rescue" else ()
    kills = [answer.words() for answer in fits if answer.verdict is fit.Verdict.DOES_NOT]
    unknowns = [answer.words() for answer in fits if answer.verdict is fit.Verdict.NOT_KNOWN]
    kills += _refused(option, facts)
    if found is None:
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
            problem=problem,
        )
    for activity in found.activities:
        if activity.leg is not None and activity.leg.on_land:
            kills.append(f"{activity.title}: {activity.leg.on_land}")
        if activity.leg is not None and activity.leg.unclear:
            unknowns.append(f"{activity.title}: {activity.leg.unclear}")
    unknowns += found.unknown
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
    lat, lon = ports["latitude_deg"][shown], ports["longitude_deg"][shown]
    places = tuple(Position(float(a), float(b)) for a, b in zip(lat, lon, strict=True))
    if isinstance(where := datum.where, Block):
        away = tuple(span_words(where.distance_nmi(place)) for place in places)
    return PublishedPorts(
        found=found,
        names=tuple(ports["name"][shown].tolist()),
        places=places,
        countries=tuple(ports["country"][shown].tolist()),
        depths_m=tuple(None if d != d else float(d) for d in ports["pier_depth_m"][shown]),
        tides_m=tuple(None if d != d else float(d) for d in ports["tidal_range_m"][shown]),
        by_sea=_by_sea(datum.where, places),
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


def _by_sea(where: Any, places: tuple[Position, ...]) -> tuple[ways_from.BySea | None, ...]:
    """Return the way from the datum to each port as far as it is known; None where not tested."""
    land = coast.land()
    if land is None or not isinstance(where, Position):
        return (None,) * len(places)
    return ways_from.kept(land, where, places)


def errand(result: ForwardPortResult) -> tuple[str, ...]:
    """Return the program that finds the ways to published ports not worked out yet, or nothing."""
    if result.published is None or not isinstance(result.where, Position):
        return ()
    ways = zip(result.published.places, result.published.by_sea, strict=True)
    left = [at for at, way in ways if way is not None and way.how is ways_from.How.NOT_YET]
    return ways_from.program(result.where, left) if left else ()


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
