"""The time bar through Streamlit's own test runner: a move counts whatever the minute."""

from __future__ import annotations

from datetime import timedelta

from streamlit.testing.v1 import AppTest

from tests.app.conftest import on_page, texts


def test_a_move_of_less_than_a_step_shows_what_was_known_then(app: AppTest) -> None:
    on_page(app, "plot")
    slider = app.slider(key="time_slider")
    # the first press of a key goes to the grid of steps: from 0635 or so by some minutes
    slider.set_value(slider.value - timedelta(minutes=2)).run()
    assert not app.exception
    assert 'data-mode="as known then"' in texts(app)
    # the slider stands where it was moved to, so that the next press goes on from there
    assert app.slider(key="time_slider").value == slider.value
    app.button(key="now").click().run()
    assert 'data-mode="now"' in texts(app)


def test_a_time_is_typed_as_it_is_said(app: AppTest) -> None:
    on_page(app, "plot")
    app.text_input(key="time_typed").set_value("160330Z").run()
    assert "160330Z" in texts(app)
    assert 'data-mode="as known then"' in texts(app)
    app.text_input(key="time_typed").set_value("soon").run()
    assert not app.exception
    assert "160330Z" in texts(app), "what is no time changes nothing"
    assert app.text_input(key="time_typed").value == "soon", "and stays to be mended"
    app.text_input(key="time_typed").set_value("now").run()
    assert 'data-mode="now"' in texts(app)


def test_expected_is_told_as_by_plan(app: AppTest) -> None:
    on_page(app, "plot")
    app.segmented_control(key="time_how").set_value("expected").run()
    assert not app.exception
    assert 'data-mode="by plan"' in texts(app)
    app.segmented_control(key="time_how").set_value("as known").run()
    assert 'data-mode="now"' in texts(app)
