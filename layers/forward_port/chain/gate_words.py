"""What the gates of a chain wait for, and what of it nobody knows.

An hour of which nothing is known shuts no gate, so a time that leans on one is *not before*: each
such wait is said, by its activity.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from layers.earth.arrays import Bools, Floats
from layers.earth.clock import dtg, from_us, to_us
from layers.earth.position import Position
from layers.earth.units import S_PER_H
from layers.earth.values import SeaSeries
from layers.forward_port import model
from layers.forward_port.chain.activities import ActualTimes
from layers.forward_port.chain.chain import ChainRun
from layers.forward_port.chain.gates import Limits, at_place
from layers.forward_port.facts import Facts
from layers.forward_port.legs.legs import Surroundings
from layers.forward_port.ports.tide import heights_m, level_of
from layers.forward_port.ports.water_level import water_level

PAST_KNOWN = 0.1  # of the draws: what is told as P90 then rests on what nobody knows


def limits_of(option: model.Option, row: model.Activity, facts: Facts) -> Limits:
    """Return what an activity waits for."""
    return Limits(
        hs_max_m=row.hs_max_m,
        wind_max_kn=row.wind_max_kn,
        daylight=row.daylight,
        tide=water_level(facts, option.port),
        tide_min_m=row.tide_min_m,
    )


def sea_for(
    option: model.Option, row: model.Activity, series: SeaSeries | None, around: Surroundings
) -> SeaSeries | None:
    """Return the sea where an activity is done, None where nothing is expected there.

    At a port that nobody entered nothing is expected: the scene's sea is not the port's.
    """
    if series is None or not row.at_port:
        return series
    port = around.facts.last("port", option.port)
    if port is None:
        return None
    return at_place(series, around.field, Position(port.latitude_deg, port.longitude_deg))


def gate_not_known(
    option: model.Option,
    rows: Sequence[model.Activity],
    times: Mapping[str, ActualTimes],
    series: SeaSeries | None,
    around: Surroundings,
    done: ChainRun,
) -> tuple[str, ...]:
    """Return what activities wait for that is not known for all the hours they may take."""
    found = []
    for row in rows:
        limits = limits_of(option, row, around.facts)
        if not limits.any or times.get(row.key, ActualTimes()).finished_at is not None:
            continue
        sea = sea_for(option, row, series, around)
        place = done.network.place[row.key]
        span = (done.start_h[place], done.finish_h[place])
        for what, nothing, ends, known in _waits(limits, sea):
            why: str | None = nothing
            if sea is not None and known is not None and known.any():
                why = _why(option, sea, known, span, ends)
            if why is not None:
                found.append(f"the {what} that {row.title} waits for{why}")
    return tuple(found)


def _waits(limits: Limits, sea: SeaSeries | None) -> Iterator[tuple[str, str, str, Bools | None]]:
    """Return what is waited for, what is said where none or only part of it is known, and when."""
    asked = (("waves", limits.hs_max_m), ("wind", limits.wind_max_kn))
    names = [name for name, limit in asked if limit is not None]
    if names:
        known = None if sea is None else _forecast(sea, names)
        yield " and ".join(names), ": no forecast", "the forecast ends", known
    if limits.daylight:
        light = None if sea is None else np.ones(len(sea.at_us), dtype=np.bool_)
        yield "daylight", ": not worked out without a forecast of its place", "known to", light
    if limits.tide_min_m is not None:
        level = limits.tide
        lacks = "" if level is None else level_of(level).lacks
        water = None
        if level is not None and sea is not None and not lacks:
            water = np.isfinite(heights_m(level, sea.at_us))
        yield "tide", f": {lacks}" if lacks else "", "known to", water


def _forecast(sea: SeaSeries, names: Sequence[str]) -> Bools:
    """Return at which hours all that is asked for is forecast: what is held on is none."""
    known = np.ones(len(sea.at_us), dtype=np.bool_)
    if "waves" in names:
        known &= np.isfinite(sea.hs_m) & sea.waves_forecast
    if "wind" in names:
        known &= np.isfinite(sea.wind_kn) & sea.wind_forecast
    return known


def _why(
    option: model.Option, sea: SeaSeries, known: Bools, span: tuple[Floats, Floats], ends: str
) -> str | None:
    """Return what is said of hours an activity may take that are not known, None for nothing."""
    hours = (sea.at_us - to_us(option.zero)) / 1e6 / S_PER_H
    last = float(hours[known][-1])
    start, finish = span
    if float(np.mean(finish > last)) > PAST_KNOWN:
        return f": {ends} {dtg(from_us(int(sea.at_us[known][-1])))}"
    # what began before the first hour is judged from it on
    gaps = np.concatenate(([0], np.cumsum(~known)))
    low = np.clip(np.searchsorted(hours, start, side="right") - 1, 0, len(hours) - 1)
    high = np.clip(np.searchsorted(hours, finish, side="left"), low + 1, len(hours))
    if float(np.mean(gaps[high] > gaps[low])) > PAST_KNOWN:
        return ": not known for all the hours it may take"
    return None
