"""What the datum layer draws; formatting only."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np

from layers.datum.before.base import base_of
from layers.datum.before.reckoned import WHOLE_ERROR, reckoned
from layers.datum.evidence.marks import circle, evidence_marks, line
from layers.datum.hull_marks import hull_marks
from layers.datum.probability.bands import bands
from layers.datum.result import Adrift, DatumResult, FarthestOn, Planned, SentPlan
from layers.earth.chart.marks import (
    AnyMark,
    AreaMark,
    Freshness,
    LineMark,
    Path,
    PointMark,
    Style,
    Symbol,
)
from layers.earth.clock import clock_words, dtg, hhmm
from layers.earth.geodesy import ring
from layers.earth.plane import ellipse_ring
from layers.earth.position import Position
from layers.earth.said.written import distance_words
from layers.earth.tells import NOTHING, TELLS_POSITION
from layers.earth.uncertain import chance_words
from layers.earth.units import M_PER_NMI
from layers.journal.known import Known


def marks(result: DatumResult) -> tuple[AnyMark, ...]:
    """Return the marks, from below to above."""
    found: list[AnyMark] = []
    if not result.is_fix:
        found += _bands(result)
    else:
        for item in (one for one in result.adrift if one.still_sought):
            found += _adrift_bands(result, item)
    found += _track(result)
    for report in result.evidence:
        found += evidence_marks(report, result.at)
    for floating in result.adrift:
        # what is sought no more drifts about on no chart; where it was found stands there
        if floating.still_sought or floating.found_at is not None or floating.given_up:
            found += _floating(floating)
    for plan in result.plans:
        for leg in plan.planned:
            found += _planned(leg, plan.object, result.at)
        for sent in plan.sent:
            found.append(_sent(sent, plan.object, result.at))
    found += _datum(result)
    return tuple(found)


def _sources(result: DatumResult | Sketch) -> str:
    return " ".join(result.rests_on)


def _bands(result: DatumResult) -> list[AnyMark]:
    centre = result.plane.point(result.position.latitude_deg, result.position.longitude_deg)
    return bands(result.grid, result.plane, centre, _sources(result))


def _adrift_bands(result: DatumResult, item: Adrift) -> list[AnyMark]:
    """Return where who is adrift can be, in the bands that stood for her before she was found."""
    if not item.still_sought:
        return []
    centre = result.plane.point(item.position.latitude_deg, item.position.longitude_deg)
    source = " ".join(item.rests_on)
    style = Style.PEOPLE if item.persons else Style.DRIFT
    found = bands(item.grid, result.plane, centre, source, f"holds-{item.name}", style)
    return [replace(mark, at=item.at) for mark in found]


def sketch(known: Known, at: datetime) -> tuple[AnyMark, ...]:
    """Return what a last known position and a movement draw at once, before they are recorded.

    By the functions that the layer itself uses, without the weighing of evidence: her last known
    place with the circle that holds her, the track, the reckoned place, the farthest-on circle.
    """
    if not known.entries("datum.lkp"):
        return ()
    base = base_of(known, at)
    if base.known is None:
        return ()
    run = reckoned(base, (), at)
    where = Position(base.known.value.latitude_deg, base.known.value.longitude_deg)
    sigma_m = base.known.value.sigma_m
    drawn = Sketch(
        at=at,
        last_known=where,
        last_known_at=base.known.record.valid_at,
        last_known_sigma_m=sigma_m,
        overdue=run.overdue,
        track=run.track,
        farthest_on=run.farthest,
        dead_reckoning=run.place,
        dead_reckoning_sigma_m=run.sigma_m,
        dead_reckoning_at=run.at,
    )
    within_m = WHOLE_ERROR * sigma_m
    tip = f"good to {within_m / M_PER_NMI:.1f} nmi: she was in this circle with 95 %"
    found = [*_track(drawn), circle("lkp within", Style.DATUM, where, within_m, tip, "", True)]
    return tuple(replace(mark, freshness=Freshness.EXPECTED) for mark in found)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sketch:
    """As much of a result as the track is drawn from."""

    at: datetime
    last_known: Position | None
    last_known_at: datetime | None
    last_known_sigma_m: float | None
    overdue: bool
    track: tuple[Position, ...]
    farthest_on: FarthestOn | None
    dead_reckoning: Position | None
    dead_reckoning_sigma_m: float | None
    dead_reckoning_at: datetime | None
    is_fix: bool = False
    rests_on: tuple[str, ...] = ()


def _track(result: DatumResult | Sketch) -> list[AnyMark]:
    found: list[AnyMark] = []
    source = _sources(result)
    if result.last_known is not None and result.last_known_at is not None:
        found.append(
            PointMark(
                key="lkp",
                style=Style.DATUM,
                tooltip=(
                    f"last known position {result.last_known}, {dtg(result.last_known_at)}, "
                    f"good to {(result.last_known_sigma_m or 0.0) / M_PER_NMI:.1f} nmi (68 %)"
                ),
                source=source,
                label=f"LKP {clock_words(result.last_known_at, result.at)}",
                rank=4,
                at=result.last_known_at,
                position=result.last_known,
                symbol=Symbol.FIX,
            )
        )
    if result.track:
        found.append(line("pim", Style.DATUM, result.track, "intended movement", source))
    if result.is_fix:
        return found
    if result.last_known is not None and result.farthest_on is not None:
        far = result.farthest_on
        tip = f"{far.radius_m / M_PER_NMI:.1f} nmi: {far.words}"
        lat, lon = ring(result.last_known, far.radius_m)
        found.append(
            LineMark(
                key="farthest-on",
                style=Style.DATUM,
                tooltip=tip,
                source=source,
                label=f"farthest on {clock_words(far.until, result.at)} at {far.speed_kn:g} kn",
                latitudes_deg=lat,
                longitudes_deg=lon,
                path=Path.AS_GIVEN,
                width=1,
                dotted=True,
            )
        )
    if result.dead_reckoning is not None and result.dead_reckoning_sigma_m is not None:
        until = "when the report was missed" if result.overdue else dtg(result.at)
        shown = result.dead_reckoning_at
        found.append(
            PointMark(
                key="dr",
                style=Style.DATUM,
                tooltip=(
                    f"dead reckoning {result.dead_reckoning}, {until}, "
                    f"± {result.dead_reckoning_sigma_m / M_PER_NMI:.1f} nmi (68 %)"
                ),
                source=source,
                label="DR" if shown is None else f"DR {clock_words(shown, result.at)}",
                position=result.dead_reckoning,
                symbol=Symbol.DEAD_RECKONING,
                at=result.at,
            )
        )
    return found


def _where_found(item: Adrift, source: str) -> AnyMark:
    place = item.found_at or item.position
    return PointMark(
        key=f"found-{item.name}",
        style=Style.PEOPLE if item.persons else Style.DRIFT,
        tooltip=f"{item.name}, {item.state}, at {place}",
        source=source,
        label=f"{item.name} found {hhmm(item.at)}",
        rank=5,
        position=place,
        symbol=Symbol.FIX,
        at=item.at,
    )


def _floating(item: Adrift) -> list[AnyMark]:
    # how many are adrift now is the muster's to say: this is what was told of the object
    persons = "" if item.persons is None else f", told with {item.persons} persons"
    source = " ".join(item.rests_on)
    if item.found_at is not None:
        return [_where_found(item, source)]
    tip = (
        f"{item.name}{persons}, {item.state}: expected {item.position} at {dtg(item.at)}, 95 % "
        f"within {distance_words(item.radius_95_m)}; adrift since {dtg(item.from_at)}"
    )
    freshness = Freshness.EXPECTED
    lat, lon = ellipse_ring(item.position, item.ellipse)
    return [
        LineMark(
            key=f"drift-{item.name}",
            style=Style.DRIFT,
            tooltip=tip,
            source=source,
            latitudes_deg=np.array([item.from_place.latitude_deg, item.position.latitude_deg]),
            longitudes_deg=np.array([item.from_place.longitude_deg, item.position.longitude_deg]),
            freshness=freshness,
            arrow=True,
        ),
        AreaMark(
            key=f"where-{item.name}",
            style=Style.DRIFT,
            tooltip=tip,
            source=source,
            latitudes_deg=lat,
            longitudes_deg=lon,
            freshness=freshness,
            at=item.at,
        ),
        PointMark(
            key=f"adrift-{item.name}",
            style=Style.PEOPLE if item.persons else Style.DRIFT,
            tooltip=tip,
            source=source,
            label=f"{item.name} {hhmm(item.at)}",
            rank=1 if item.persons else 5,
            freshness=freshness,
            position=item.position,
            symbol=Symbol.PEOPLE if item.persons else Symbol.ESTIMATED,
            at=item.at,
        ),
    ]


def _datum(result: DatumResult) -> list[AnyMark]:
    name = "position by fix" if result.is_fix else "most probable position"
    within = distance_words(result.radius_95_m)
    tip = f"DISSUB, {name} {result.position}, {dtg(result.at)}, 95 % within {within}"
    source = _sources(result)
    lat, lon = ellipse_ring(result.position, result.ellipse)
    exact = result.is_fix
    drawn = hull_marks(result.position, result.hull, result.at) if exact else []
    # until she is found the bands say where she can be; one outline is enough
    ellipse = AreaMark(
        key="ellipse-95",
        style=Style.DISSUB,
        tooltip=f"95 % ellipse of the {name}",
        source=source,
        latitudes_deg=lat,
        longitudes_deg=lon,
        at=result.at,
        tells=TELLS_POSITION,
    )
    return [
        *([ellipse] if exact else []),
        *(_second_places(result) if not exact else []),
        *drawn,
        PointMark(
            key="datum",
            style=Style.DISSUB,
            tooltip=tip,
            source=source,
            label="DISSUB" if result.is_fix else f"datum {hhmm(result.at)}",
            rank=0,
            at=result.at,
            position=result.position,
            symbol=Symbol.FIX if result.is_fix else Symbol.ESTIMATED,
            tells=TELLS_POSITION if exact else NOTHING,
            far_m=drawn[0].near_m if drawn else None,
        ),
    ]


def _second_places(result: DatumResult) -> list[AnyMark]:
    """Return the other places she may be in, each with its share."""
    return [
        PointMark(
            key=f"place-{number}",
            style=Style.DISSUB,
            tooltip=(
                f"she may be here: {place.position}, {chance_words(place.share)}, 95 % of that "
                f"within {distance_words(place.radius_95_m)}"
            ),
            source=_sources(result),
            label=f"or here, {chance_words(place.share)}",
            rank=1,
            at=result.at,
            position=place.position,
            symbol=Symbol.ESTIMATED,
        )
        for number, place in enumerate(result.places[1:], start=2)
    ]


def _planned(item: Planned, sought: str, now: datetime) -> list[AnyMark]:
    """Return the legs a searcher is to steer, dotted, and the way there."""
    pattern, who = item.pattern, item.searcher.name
    tip = (
        f"{who} for {sought}: {pattern.title}, {clock_words(item.begins, now)} to "
        f"{clock_words(item.ends, now)}, finds {chance_words(item.pos)}"
    )
    places = tuple(turn.position for turn in pattern.turns)
    which = f"{sought}-{who}-{item.begins:%d%H%M}"
    legs = line(f"planned-{which}", Style.SEARCH, places, tip, item.record)
    legs = replace(
        legs, dotted=True, width=1, freshness=Freshness.EXPECTED, label=f"{who}, planned"
    )
    way = line(f"way-{which}", Style.SEARCH, (item.starts_from, places[0]), tip, item.record)
    way = replace(way, dotted=True, width=1, freshness=Freshness.EXPECTED, arrow=True)
    return [way, legs]


def _sent(sent: SentPlan, sought: str, now: datetime) -> AnyMark:
    """Return the legs a searcher was sent to steer, as they were sent."""
    tip = (
        f"{sent.searcher} for {sought}: sent, {sent.pattern}, {clock_words(sent.begins, now)} to "
        f"{clock_words(sent.ends, now)}, then worth {chance_words(sent.pos)}"
    )
    legs = line(f"sent-{sought}-{sent.searcher}", Style.SEARCH, sent.turns, tip, sent.record)
    return replace(legs, dotted=True, freshness=Freshness.EXPECTED, label=f"{sent.searcher}, sent")
