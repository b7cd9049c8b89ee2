"""The same fact told twice is one fact: what an instrument reads within minutes shares its error.

Written from the text: every reading told again a minute later must leave each span as it was.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import numpy as np
import pytest

from layers.contract import Moment
from layers.survivors.air.formulas import AirOutlook, air_outlook
from layers.survivors.air.learning.far_off import TrendRead, sift
from tests.survivors_journal import AT, Told
from tests.unit.test_margin_unknown import level

DRAWS = 16_000  # a step more draws anew: of 4,000 a span alone is good to some 2 in 100
TRUE = ((0.0, 1.30, 19.0, 1.00), (5.0, 1.30, 18.4, 1.55), (11.0, 1.31, 17.6, 2.25),
        (17.0, 1.31, 16.9, 2.85))  # fmt: skip


def reading(bar: float, o2: float, co2: float, **more: Any) -> dict[str, Any]:
    return {
        "refuge": "after",
        "pressure": {"value": bar, "unit": "bar", "reference": "absolute"},
        "oxygen": {"value": o2, "unit": "percent"},
        "carbon_dioxide": {"value": co2, "unit": "percent"},
        "temperature_c": 9.0,
        **more,
    }


def read(
    again_min: float | None = None, stock_again: bool = False, n_draws: int = DRAWS, **more: Any
) -> AirOutlook:
    """Return the air after four readings, each told again so many minutes later."""
    told = Told()
    told.complement("list", 30)
    told.move("not accounted for", "after", [(30, "walking")])
    room = {"refuge": "after", "free_volume_m3": 400.0, "depth_m": 142.0}
    told.add("survivors.compartment", room)
    told.add("survivors.level", level())
    stock = {"item": "absorbent", "chemical": "soda lime", "mass_kg": 60.0, "efficiency": 0.7}
    for hours in (0.1, 0.12, 0.14, 0.16) if stock_again else (0.1,):
        told.add("survivors.stores", {"refuge": "after", "stock": stock}, hours)
    for hours, *values in TRUE:
        told.add("survivors.air", reading(*values), hours)
        if again_min is not None:
            told.add("survivors.air", reading(*values, **more), hours + again_min / 60.0)
    at = AT + timedelta(hours=18)
    return air_outlook(told.known(), Moment(at, at), n_draws=n_draws)


def spans(found: AirOutlook, n_draws: int = DRAWS) -> dict[str, float]:
    one = found.of("after")
    assert one is not None
    (ends,) = found.model(n_draws=n_draws, pods=False, leaving=())
    hours = ends.runs_out_us / 3.6e9
    low, high = np.quantile(hours, (0.1, 0.9))
    return {
        "carbon dioxide": one.co2_sev_percent.p90 - one.co2_sev_percent.p10,
        "oxygen": one.oxygen_kpa.p90 - one.oxygen_kpa.p10,
        "hours left": float(high - low),
    }


@pytest.mark.parametrize("minutes", [0.0, 1.0, 2.0])
def test_each_reading_told_again_leaves_every_span(minutes: float) -> None:
    once, twice = spans(read()), spans(read(minutes))
    for what, span in once.items():
        assert twice[what] == pytest.approx(span, rel=0.03), what


def test_another_instrument_or_an_hour_later_tells_something_new() -> None:
    once = spans(read())
    assert (
        spans(read(1.0, instrument="second set"))["carbon dioxide"] < 0.97 * once["carbon dioxide"]
    )
    assert spans(read(60.0))["oxygen"] < 0.99 * once["oxygen"]


def test_stores_counted_once_and_told_four_times_are_one_count() -> None:
    many = 3 * DRAWS  # each telling is a step more, which draws anew: of DRAWS good to 1 in 100
    once, four = read(n_draws=many), read(stock_again=True, n_draws=many)
    assert spans(four, many)["hours left"] == pytest.approx(
        spans(once, many)["hours left"], rel=0.01
    )


def doubted(*told_min: float, instrument: str = "") -> bool:
    """Return whether a reading far off still waits, after it was told again at these minutes."""
    told = Told()
    told.complement("list", 30)
    told.move("not accounted for", "after", [(30, "walking")])
    room = {"refuge": "after", "free_volume_m3": 400.0, "depth_m": 142.0}
    told.add("survivors.compartment", room)
    for hours, *values in TRUE:
        told.add("survivors.air", reading(*values), hours)
    slip = reading(1.31, 16.8, 8.0)
    told.add("survivors.air", slip, 18.0)
    for minutes in told_min:
        told.add("survivors.air", {**slip, "instrument": instrument}, 18.0 + minutes / 60.0)
    at = AT + timedelta(hours=20)
    return air_outlook(told.known(), Moment(at, at), n_draws=500).model.doubted is not None


def test_a_slip_told_twice_in_a_minute_does_not_vouch_for_itself() -> None:
    assert doubted()
    assert doubted(1.0)
    assert doubted(0.5, 1.0, 2.0)
    assert not doubted(1.0, instrument="second set")
    assert not doubted(90.0)


def at(minutes: float) -> datetime:
    return AT + timedelta(minutes=minutes)


def test_a_temperature_told_twice_is_one_point_and_does_not_vouch_for_itself() -> None:
    line = [TrendRead(at(60.0 * n), 12.0 - 0.1 * n) for n in range(5)]
    twice = [
        again
        for one in line
        for again in (one, TrendRead(one.at + timedelta(minutes=1), one.value))
    ]
    assert sift("temperature", twice).used == tuple(line)
    slip = TrendRead(at(300.0), 2.1)
    assert sift("temperature", [*line, slip, TrendRead(at(301.0), 2.1)]).doubtful == slip
    assert sift("temperature", [*line, slip, TrendRead(at(345.0), 2.2)]).doubtful is None
