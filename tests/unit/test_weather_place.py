"""The windows are worked where she most probably is, moving with it, unless another place is told.

A last position at 43°00′N 008°00′E eight hours ago and a course of 090 at 6 knots: by hand she is
up to 48 nmi on, 48 / (60 × cos 43°) = 1.09° of longitude east, lost anywhere on the way. The sea is
1 m high where she was last seen, west of 008°06′E, and 4 m on all the way from there.
"""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import numpy as np
import pytest

from layers.answer_words import dive as said
from layers.answers import answers
from layers.catalogue import BY_KEY, KINDS
from layers.contract import Moment, Origin, Reading
from layers.earth.clock import to_us
from layers.journal.known import Known, ListShelf
from layers.picture import Picture, given_to, hand_on, picture, result_keys
from layers.watch.state import state
from layers.weather import LAYER
from layers.weather.forecast.fields import field_grid
from layers.weather.forecast.issue_draft import add_forecast
from tests.unit.test_weather_dive import NOW, PLACE, H, Journal


def shelf_of(made: Journal) -> ListShelf:
    return ListShelf(made.records, made.blobs)


def overdue() -> Journal:
    made = Journal()
    made.add("datum.lkp", {"latitude_deg": 43.0, "longitude_deg": 8.0, "sigma_m": 900.0,
                           "reported_by": "the watch"}, NOW - 8 * H)  # fmt: skip
    going = {"course_true_deg": 90.0, "speed_min_kn": 6.0, "speed_max_kn": 6.0}
    made.add("datum.intended_movement", going, NOW - 8 * H)
    times = to_us(NOW - H) + np.arange(49) * 3_600_000_000
    lats, lons = np.arange(42.0, 45.0), np.arange(7.0, 11.0, 0.1)
    heights = np.where(lons > 8.1, 4.0, 1.0)
    shape = (len(times), len(lats), len(lons))
    reading = Reading()
    whole = {"hs_m": np.broadcast_to(heights, shape).copy(), "tp_s": np.full(shape, 7.0),
             "wind_east_m_s": np.full(shape, 4.0), "wind_north_m_s": np.zeros(shape)}  # fmt: skip
    origin = Origin(source="t", received_at=NOW - H, digest="0" * 64)
    grid = field_grid(times, lats, lons, whole)
    add_forecast(reading, origin, grid, model="m", issued_at=NOW - H, form="NetCDF")
    made.blobs.update(reading.blobs)
    made.add("weather.forecast", dict(reading.drafts[0].payload), NOW - H)
    return made.limits().seen(10, wind_kn=8.0)


def told(made: Journal, hours: float = 0.0) -> Picture:
    at = NOW + timedelta(hours=hours)
    shelf = shelf_of(made)
    return picture(shelf, Moment(at, at), len(made.records), keys=("weather", "datum"))


def place(made: Journal) -> Any:
    shown = told(made).shown("weather")
    assert shown is not None
    return shown.result.place


@pytest.mark.parametrize("hours", [0.0, 3.0])
def test_the_place_of_work_is_the_datum_and_moves_with_it(hours: float) -> None:
    found = told(overdue(), hours)
    there, datum = found.shown("weather"), found.shown("datum")
    assert there is not None
    assert datum is not None
    where = there.result.place
    assert (where.how, where.words) == ("datum", "at the datum")
    assert where.position == hand_on(BY_KEY["datum"], datum).where  # type: ignore[union-attr]  # this case has one
    assert 8.1 < where.position.longitude_deg < 8.0 + 6.0 * (8.0 + hours) / 60.0 / 0.731


def test_the_sea_is_judged_there_and_not_where_she_was_last_seen() -> None:
    shown = told(overdue()).shown("weather")
    assert shown is not None
    step = shown.result.ahead.at(NOW)
    assert shown.result.ahead.hs_m[step] == pytest.approx(4.0, abs=0.7)
    assert shown.result.dive.open is not True
    assert "judged at the datum" in shown.sentence


def test_another_place_that_was_told_stands_until_it_is_taken_back() -> None:
    made = overdue().add("weather.place_of_work", PLACE)
    assert place(made).how == "place of work"
    assert place(made).position.longitude_deg == PLACE["longitude_deg"]
    made.add("journal.retract", {"target": made.records[-1].id, "reason": "work at the datum"})
    assert place(made).how == "datum"


def test_without_a_last_position_no_place_is_made_up() -> None:
    assert place(Journal().limits().seen(10, hs_m=1.0, wind_kn=8.0)) is None


def test_the_datum_itself_is_given_the_sea_as_worked_out_without_it() -> None:
    assert given_to("weather") == {"datum": "datum"}
    assert given_to("weather first") == {}
    assert given_to("datum")["weather"] == "weather first"
    assert given_to("transponders")["weather"] == "weather first"
    assert given_to("margin")["weather"] == "weather"
    made = overdue()
    known = Known(shelf_of(made), KINDS, len(made.records), NOW)
    assert "weather first" not in result_keys(known, Moment(NOW, NOW))


def test_the_answer_says_where_beside_it() -> None:
    made = overdue()
    known = Known(shelf_of(made), KINDS, len(made.records), NOW)
    whole = picture(shelf_of(made), Moment(NOW, NOW), len(made.records))
    worded = said(answers(whole, state(known, Moment(NOW, NOW))))
    assert worded.figure == "NO"
    assert "at the datum" in worded.more


@pytest.mark.parametrize(
    ("hs_m", "figure", "told"),
    [
        (2.8, "NO", "Hs 2.8 m over 2.5"),  # above the limit of launch: no forecast is needed
        (1.0, "?", "a forecast at the datum"),  # below it: what is not known, and where
    ],
)
def test_with_a_datum_and_no_forecast_the_answer_names_the_datum_as_the_place(
    hs_m: float, figure: str, told: str
) -> None:
    made = Journal()
    made.add("datum.lkp", {"latitude_deg": 43.0, "longitude_deg": 8.0, "sigma_m": 900.0,
                           "reported_by": "the watch"}, NOW - 2 * H)  # fmt: skip
    made = made.limits().seen(10, hs_m=hs_m, wind_kn=8.0)
    known = Known(shelf_of(made), KINDS, len(made.records), NOW)
    whole = picture(shelf_of(made), Moment(NOW, NOW), len(made.records))
    worded = said(answers(whole, state(known, Moment(NOW, NOW))))
    assert worded.figure == figure
    assert told in worded.word
    assert "at the datum" in f"{worded.word} {worded.more}"
    shown = whole.shown("weather")
    assert shown is not None
    assert "judged at the datum" in shown.sentence


@pytest.mark.parametrize(
    ("minutes", "latitude_deg", "speaks"),
    [
        (20, 43.2, True),  # 3 nmi off, fresh
        (20, -10.0, False),  # 3,192 nmi to the south alone
        (60 * 30, 43.2, False),  # of the day before
        (60 * 24 * 1497, -10.0, False),
    ],
)
def test_a_station_far_off_or_of_another_day_is_not_the_weather_of_the_place(
    minutes: int, latitude_deg: float, speaks: bool
) -> None:
    made = Journal().add("weather.place_of_work", PLACE)
    values = {"station": "HALYARD", "sort": "airfield", "longitude_deg": 8.5, "wind_kn": 30.0,
              "wind_from_true_deg": 90.0, "latitude_deg": latitude_deg}  # fmt: skip
    made.add("weather.observation", values, NOW - timedelta(minutes=minutes))
    result = made.result()
    said = LAYER.sentence(result)
    assert "HALYARD" in said
    assert said.startswith("Wind from 090°T 30 kn") is speaks, said
    assert ("No station within 200 nmi" in said) is not speaks
