"""One window has one time: the plan's next dive and the weather's hour, written from the issue."""

from datetime import UTC, datetime, timedelta

import pytest

from layers.survivors.lifts.allowed import later, put_off_h
from layers.survivors.lifts.spread import Spread3

NOW = datetime(2027, 3, 16, 6, 40, tzinfo=UTC)
NOW_US = int(NOW.timestamp()) * 1_000_000


def at(hours):
    return NOW + timedelta(hours=hours)


STARTS = (
    (at(0), at(20), False),
    (at(20), at(44), True),
    (at(44), at(50), False),
    (at(50), at(60), True),
    (at(60), at(72), None),
)


@pytest.mark.parametrize(
    ("planned", "told"),
    [(19.5, 20.0), (20.0, 20.0), (30.0, 30.0), (44.0, 50.0), (59.0, 59.0)],
)
def test_a_lift_is_told_for_the_hour_at_which_the_weather_says_a_sortie_may_begin(planned, told):
    assert planned + put_off_h(planned, STARTS, NOW_US) == pytest.approx(told)


@pytest.mark.parametrize("planned", [60.0, 71.0, 80.0])
def test_past_the_forecasts_end_the_hour_is_not_known(planned):
    assert put_off_h(planned, STARTS, NOW_US) is None


def test_a_window_that_never_opens_again_in_the_forecast_leaves_no_hour():
    assert put_off_h(5.0, ((at(0), at(20), False), (at(20), at(30), None)), NOW_US) is None


def test_where_the_weather_says_nothing_of_a_sortie_the_plan_stands():
    assert put_off_h(5.0, (), NOW_US) == 0.0


def test_what_is_told_later_keeps_its_order():
    moved = later(Spread3(p10=1.0, p50=2.0, p90=2.1), 0.5)
    assert moved == Spread3(p10=1.0, p50=2.5, p90=2.5)
