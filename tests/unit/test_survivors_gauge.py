"""A level whose hour is not known stands at the gauge of its quantity, never beside it."""

from __future__ import annotations

from datetime import timedelta

from dashboard.panels.survivors.gauge import gauges
from layers.contract import Moment
from layers.survivors.air.formulas import air_outlook
from tests.survivors_journal import AT
from tests.unit.test_margin_unknown import boat


def test_a_level_is_never_said_not_to_be_entered_where_only_its_hour_is_not_known() -> None:
    told = boat(volumes=("forward",))
    at = AT + timedelta(hours=1.0)
    found = air_outlook(told.known(), Moment(at, at), n_draws=50)
    one = found.of("after")
    assert one is not None
    shown = {gauge.quantity: gauge for gauge in gauges(one, at)}
    co2 = shown["carbon dioxide"]
    assert co2.open_end is not None
    assert co2.under == "ask for the free volume"  # its row says whose: a long name has no room
    assert not [q for q in shown if q not in ("oxygen", "carbon dioxide", "pressure",
                                              "temperature")]  # fmt: skip
