"""The time bar through Streamlit's own test runner: a move counts whatever the minute."""

from __future__ import annotations

from datetime import timedelta

import pytest
from streamlit.testing.v1 import AppTest

from tests.app.conftest import on_page, texts

pytestmark = pytest.mark.long


def test_a_move_of_less_than_a_step_shows_what_was_known_then(app: AppTest) -> None:
    on_page(app, "plot")
    slider = app.slider(key="time_slider")
    # the first press of a key goes to the grid of steps: from 0635 or so by some minutes
    slider.set_value(slider.value - timedelta(minutes=2)).run()
    assert not app.exception
    assert "as it was known at" in texts(app)
    # the slider stands where it was moved to, so that the next press goes on from there
    assert app.slider(key="time_slider").value == slider.value
    app.button(key="now").click().run()
    assert "as known now" in texts(app)
