"""The exercise's weather, through the layer from its files: what the watch must read.

Written down by hand from the exercise's own truth before it was computed: Hs above 3.0 m from
161000Z to 162200Z, peak 4.5 m, swell of 2.6 m at 11 s until 170400Z; launch limit 3.0 m,
recovery 2.5 m; the nearest buoy silent for three hours from 160350Z.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from functools import cache
from typing import Any

import numpy as np
import pytest

from demo_data import scenario
from demo_data.load import demo_journal, load
from demo_data.scenario import z
from layers.contract import Moment, Shown, Unavailable
from layers.earth.chart.marks import Freshness, GridMark, PointMark
from layers.earth.clock import to_us
from layers.earth.tells import Tells
from layers.earth.values import WeatherValue
from layers.picture import picture
from layers.weather import LAYER

GRAIN = timedelta(minutes=20)  # of the windows, and of the forecast's three-hourly steps


@cache
def shown(at: datetime, ahead: datetime | None = None) -> Any:
    shelf, seq = demo_journal(at)
    return picture(shelf, Moment(at, ahead or at), seq, ["weather"]).layers["weather"]


def result(at: datetime = scenario.DEMO_NOW) -> Any:
    found = shown(at)
    assert isinstance(found, Shown), found
    return found.result


def windows(operation: str, at: datetime = scenario.DEMO_NOW) -> Any:
    return next(o for o in result(at).outlooks if o.operation == operation).windows


def test_the_sentence_of_160635z() -> None:
    assert shown(scenario.DEMO_NOW).sentence == (
        "Sea state 4 (moderate), Hs 2.2 m at 8 s from 221°T, wind from 214°T 26 kn gusting 30 "
        "(force 6), at Western Deep buoy (40 nmi on 256°T, 45 min old); the nearest, Tressick Bank "
        "buoy (6 nmi on 323°T), is 2 h 45 old, stale. Sea for a dive: no, not before "
        "170440Z (52 of 100 then, 90 from 170950Z), because recovery shuts at 0830Z: "
        "Hs 2.53 m over 2.5."
    )


@pytest.mark.parametrize(
    ("operation", "closes", "opens"),
    [("launch", z(16, "1000"), z(16, "2200")), ("recovery", z(16, "0830"), z(17, "0410"))],
)
def test_windows_close_and_open_with_the_blow(
    operation: str, closes: datetime, opens: datetime
) -> None:
    first, second = windows(operation)[:2]
    assert abs(first.closes - closes) <= GRAIN
    assert abs(second.opens - opens) <= GRAIN
    assert 0.3 < first.holds_probability < 0.7  # its end is as likely early as late


def test_what_is_expected_follows_the_truth() -> None:
    series = LAYER.hand(result()).series_at_datum  # type: ignore[misc]  # set in this layer
    hs = dict(zip(series.at_us.tolist(), series.hs_m.tolist(), strict=True))
    assert hs[to_us(z(16, "1500"))] == pytest.approx(scenario.BLOW_PEAK_HS_M, abs=0.1)
    assert hs[to_us(z(17, "0300"))] == pytest.approx(scenario.SWELL_HS_M, abs=0.1)
    over = [at for at, height in hs.items() if height > scenario.LAUNCH_HS_M]
    assert min(over) >= to_us(z(16, "1000"))
    assert max(over) <= to_us(z(16, "2300"))
    assert np.nanmax(series.current_surface_kn) <= 1.1
    assert np.nanmax(series.current_seat_kn) <= 0.9
    assert isinstance(LAYER.hand(result()), WeatherValue)  # type: ignore[misc]  # as above


def test_an_earlier_issue_had_the_front_later_and_says_so() -> None:
    """At 150700Z the newest issue (0600Z) has the front 2.5 h late, and weaker."""
    before = next(w for w in windows("launch", z(15, "0700")) if w.closes is not None)
    now = windows("launch")[0]
    assert timedelta(hours=2) < before.closes - now.closes < timedelta(hours=5)
    assert {each.issued_at for each in result().past_issues} >= {z(16, "0600"), z(16, "0000")}


def test_what_was_forecast_when_does_not_change_with_later_issues() -> None:
    shelf, _ = demo_journal()
    seq = max(r.seq for r in shelf.records if r.recorded_at <= z(15, "0700"))
    found = picture(shelf, Moment(z(15, "0700"), z(15, "0700")), seq, ["weather"])
    later = found.layers["weather"]
    assert isinstance(later, Shown)
    assert later.sentence == shown(z(15, "0700")).sentence


def test_the_running_error_is_measured_and_grows_with_lead() -> None:
    error = next(e for (_, q), e in result().errors.items() if q == "hs_m")
    assert error.measured
    near, far = error.sigma(np.array([3.0, 60.0]))
    assert near < far


def test_damaged_lines_are_rejects_with_their_reason() -> None:
    reasons = [r.reason for r in load().rejects if r.source.startswith(("buoy", "airfield"))]
    assert len(reasons) == 7
    assert any("is not a number" in reason for reason in reasons)


def test_tables_and_marks_carry_units_and_sources() -> None:
    found = shown(scenario.DEMO_NOW)
    assert list(found.tables) == [
        "Working windows",
        "Limits",
        "Expected at the place",
        "Forecast error",
        "Forecast issues",
        "At the hatch",
        "Sun",
    ]
    for mark in found.marks:
        assert mark.tooltip
        assert mark.source
        assert mark.tooltip.count("nan") == 0
    (grid,) = [mark for mark in found.marks if isinstance(mark, GridMark)]
    assert grid.latitudes_deg.shape == tuple(n + 1 for n in grid.values.shape)
    assert grid.freshness is Freshness.EXPECTED
    near = next(m for m in found.marks if m.key == "station-62X07")
    assert isinstance(near, PointMark)
    assert near.freshness is Freshness.STALE
    giving = {m.key for m in found.marks if Tells.POSITION in m.tells}
    assert giving == {"windows", "current-place"}


def test_before_anything_was_heard_the_place_says_what_would_fill_it() -> None:
    found = shown(z(12, "1200"))
    assert isinstance(found, Unavailable)
    assert "a buoy file" in found.reason


def test_before_the_place_of_work_is_set_the_datum_serves() -> None:
    assert result(z(13, "1200")).place.how == "datum"
    assert result(z(14, "0000")).place.how == "place of work"


def test_ahead_of_now_the_expectation_rests_on_the_same_issue() -> None:
    ahead = shown(scenario.DEMO_NOW, z(16, "1500"))
    assert ahead.result.newest[0].issue.issued_at == z(16, "0600")
    launch = next(o for o in ahead.result.outlooks if o.operation == "launch")
    assert not launch.within_now
    assert "Hs" in launch.binding
    assert ahead.sentence.startswith(
        "Expected at the place of work: sea state 6 (very rough), Hs 4.5 m at 10 s, "
    )
    assert "forecast issued 160600Z MAR 27" in ahead.sentence
