"""What is drawn: candidate ports and airfields, legs, and where each is expected to be."""

from __future__ import annotations

import numpy as np

from layers.earth import geodesy
from layers.earth.block import Block, span_words
from layers.earth.chart.marks import AnyMark, Freshness, LineMark, Path, PointMark, Style, Symbol
from layers.earth.clock import dtg
from layers.earth.position import Position
from layers.earth.units import M_PER_NMI
from layers.forward_port.legs.legs import LegTime
from layers.forward_port.options import expected_at
from layers.forward_port.report import ends_with
from layers.forward_port.result import ActivityForecast, ForwardPortResult, OptionForecast

_STYLES = {"flight": Style.AIRCRAFT, "road": Style.ROAD, "sea": Style.ROUTE}


def marks(result: ForwardPortResult) -> tuple[AnyMark, ...]:
    """Return ports, airfields, the legs of every option and expected positions."""
    found: list[AnyMark] = []
    for port in result.ports:
        found.append(_port(port.name, port.latitude_deg, port.longitude_deg, port.basis, result))
    for field in result.airfields:
        runway = (
            "runway not known"
            if field.runway_length_m is None
            else f"runway {field.runway_length_m:.0f} m"
        )
        found.append(
            PointMark(
                key=f"airfield {field.name}",
                style=Style.PORT,
                position=Position(field.latitude_deg, field.longitude_deg),
                symbol=Symbol.TRIANGLE,
                label=field.name,
                rank=4,
                tooltip=f"{field.name}: {runway}",
                source="airfield as entered",
            )
        )
    found += _legs(result)
    found += _expected(result)
    return tuple(found)


def _port(
    name: str, latitude_deg: float, longitude_deg: float, basis: str, result: ForwardPortResult
) -> PointMark:
    place = Position(latitude_deg, longitude_deg)
    words = f"{name} ({basis})"
    if isinstance(result.where, Block):
        words += f": {span_words(result.where.distance_nmi(place))} from the area told"
    elif result.where is not None:
        distance_m, bearing, _ = geodesy.between(place, result.where)
        words += f": datum {distance_m / M_PER_NMI:.0f} nmi on {bearing:03.0f}°T"
    mine = [o for o in result.options if o.option.port == name and o.last is not None]
    for option in mine:
        if option.last is not None:
            words += f"; {option.option.title}: {ends_with(result)} P50 {dtg(option.last.p50)}"
    main = result.main()
    chosen = main is not None and main.option.port == name
    return PointMark(
        key=f"port {name}",
        style=Style.PORT,
        position=place,
        symbol=Symbol.DIAMOND if chosen else Symbol.ESTIMATED,
        label=name,
        rank=3,
        tooltip=words,
        source="port as entered",
        at=result.at,
    )


def _legs(result: ForwardPortResult) -> list[AnyMark]:
    main = result.main()
    found: list[AnyMark] = []
    drawn: set[str] = set()
    ordered = sorted(result.options, key=lambda option: option is not main)
    for option in ordered:
        if option.option.purpose not in ("rescue", "arrival"):
            continue
        for activity in option.activities:
            leg = activity.leg
            if leg is None or leg.key in drawn or len(leg.latitudes_deg) < 2:
                continue
            drawn.add(leg.key)
            found.append(_leg(option, activity, leg, of_main=option is main))
    return found


def _leg(
    option: OptionForecast, activity: ActivityForecast, leg: LegTime, *, of_main: bool
) -> LineMark:
    state = (
        f"done {dtg(activity.finished_at)}"
        if activity.finished_at
        else f"P50 {dtg(activity.start.p50)} to {dtg(activity.finish.p50)}"
    )
    land = f". {leg.on_land}" if leg.on_land else ""
    untested = "" if leg.coast_tested or leg.mode != "sea" else ". Not tested against the coast"
    return LineMark(
        key=f"leg {leg.key}",
        style=_STYLES[leg.mode],
        latitudes_deg=leg.latitudes_deg,
        longitudes_deg=leg.longitudes_deg,
        path=Path.GEODESIC if leg.mode == "flight" else Path.AS_GIVEN,
        width=2 if of_main else 1,
        dotted=not of_main,
        freshness=Freshness.KNOWN if activity.finished_at else Freshness.EXPECTED,
        disputed=bool(leg.on_land),
        tooltip=f"{activity.title} ({option.option.title}): {leg.said}; {leg.hours:.1f} h; "
        f"{state}{land}{untested}",
        source=leg.record_id or activity.record_id,
        at=activity.finished_at or activity.finish.p50,
    )


def _expected(result: ForwardPortResult) -> list[AnyMark]:
    found: list[AnyMark] = []
    for _, activity, place in expected_at(result.at, result):
        leg = activity.leg
        course = _course(leg, place)
        found.append(
            PointMark(
                key=f"expected {activity.key}",
                style=_STYLES[leg.mode],
                position=place,
                symbol=Symbol.DEAD_RECKONING,
                heading_true_deg=course,
                freshness=Freshness.EXPECTED,
                label=f"{activity.title} {result.at:%H%MZ}",
                rank=4,
                tooltip=f"{activity.title}: expected at {dtg(result.at)} at {place}, along its "
                f"leg ({leg.said}); not a fix",
                source=leg.record_id or activity.record_id,
                at=result.at,
            )
        )
    return found


def _course(leg: LegTime, place: Position) -> float | None:
    away = geodesy.inverse(
        place.latitude_deg, place.longitude_deg, leg.latitudes_deg, leg.longitudes_deg
    )
    ahead = int(np.argmin(away.distance_m)) + 1
    if ahead >= len(leg.latitudes_deg):
        return None
    course = float(away.bearing_true_deg[ahead])
    return course if course == course else None
