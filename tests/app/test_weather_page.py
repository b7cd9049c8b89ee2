"""The weather panels through Streamlit's own test runner, on the exercise at its opening."""

from __future__ import annotations

from typing import Any

import pytest
from streamlit.testing.v1 import AppTest


def _page() -> None:
    from types import SimpleNamespace

    from dashboard.panels import layer
    from dashboard.panels.weather import (
        elsewhere as weather_elsewhere,
        error as weather_error,
        hatch as weather_hatch,
        limits as weather_limits,
        meteogram as weather_meteogram,
        now as weather_now,
        sortie as weather_sortie,
        windows as weather_windows,
    )
    from demo_data import scenario
    from demo_data.load import demo_journal
    from layers.contract import Moment
    from layers.picture import picture
    from layers.scene.ink import INKS

    at = scenario.DEMO_NOW
    shelf, seq = demo_journal(at)
    seen: Any = SimpleNamespace(
        picture=picture(shelf, Moment(at, at), seq, ["weather"]),
        ink=INKS["night"],
        writable=False,
        now=at,
        about=None,
        moment=Moment(at, at),
    )
    layer.head(seen, "weather")
    weather_sortie.show_bar(seen)
    weather_sortie.show_limits(seen)
    for panel in (weather_now, weather_windows, weather_meteogram, weather_error, weather_hatch):
        panel.show(seen)
    weather_windows.bar(seen)
    weather_limits.show(seen)
    weather_elsewhere.show(seen)


@pytest.fixture(scope="module")
def app() -> AppTest:
    run = AppTest.from_function(_page, default_timeout=60).run()
    assert not run.exception, run.exception
    return run


def html(app: AppTest) -> str:
    return " ".join(str(part.proto.body) for part in app.get("html"))


def test_the_whole_sortie_stands_first_with_its_limits_against_now(app: AppTest) -> None:
    text = html(app)
    first = text.index("Sea for a dive: no, not before 170440Z")
    assert first >= 0
    assert text.rindex("Sea for a dive: no") < text.rindex("Tressick Bank")
    assert "Hs at most 2.5 m" in text
    assert "current at the seat at most 0.8 kn" in text
    drawn = " ".join(str(part.value) for part in app.markdown)
    assert "<svg" in drawn
    assert "may not begin 0635Z to 170440Z" in drawn


def test_the_page_says_what_it_is_and_how_old(app: AppTest) -> None:
    text = html(app)
    assert "Sea state 4 (moderate)" in text
    assert "2 h 45 old, STALE" in text
    assert "single waves may reach twice Hs" in text
    assert "approach into it on" in text
    assert "0.85 ft/s" in text


def test_every_drawing_has_its_data_inside_and_utc_times(app: AppTest) -> None:
    import json

    drawings = [json.loads(part.proto.spec) for part in app.get("vega_lite_chart")]
    assert len(drawings) == 5  # windows, three of the meteogram, issues
    for drawing in drawings:
        text = json.dumps(drawing)
        assert "url" not in text
        assert '"type": "utc"' in text


def test_a_limit_moved_moves_the_window(app: AppTest) -> None:
    assert "160830Z" not in html(app)
    app.number_input(key="weather.try.launch.hs_max_m").set_value(2.5).run()
    assert not app.exception
    assert "160830Z MAR 27" in html(app)


def test_a_place_far_off_says_where_its_weather_comes_from(app: AppTest) -> None:
    app.text_input(key="weather.elsewhere.place").set_value("49 06.0N 010 00.0W").run()
    app.text_input(key="weather.elsewhere.time").set_value("161500Z MAR 27").run()
    assert not app.exception
    text = html(app)
    assert "south-western approaches forecast (exercise)" in text
    assert "9.0" in text  # hours since its issue


def test_a_place_that_is_none_has_its_sentence(app: AppTest) -> None:
    app.text_input(key="weather.elsewhere.place").set_value("91N 8W").run()
    assert not app.exception
    assert app.error
