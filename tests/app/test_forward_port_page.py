"""The response page's panels through Streamlit's own test runner, on the exercise."""

from __future__ import annotations

from typing import Any

import pytest
from streamlit.testing.v1 import AppTest


def _panels(day: int, hhmm: str) -> None:
    from types import SimpleNamespace

    from dashboard.panels import layer
    from dashboard.panels.forward_port import (
        chain as forward_port_chain,
        fit as forward_port_fit,
        legs as forward_port_legs,
        options as forward_port_options,
    )
    from dashboard.panels.tracks import ships as tracks_ships
    from demo_data import scenario
    from demo_data.load import demo_journal
    from layers.contract import Moment
    from layers.picture import picture
    from layers.scene.ink import INKS

    at = scenario.z(day, hhmm)
    shelf, seq = demo_journal(at)
    keys = ["forward_port", "tracks"]
    seen: Any = SimpleNamespace(
        picture=picture(shelf, Moment(at, at), seq, keys), ink=INKS["night"], now=at
    )
    for key in keys:
        layer.head(seen, key)
    for panel in (
        forward_port_options,
        forward_port_chain,
        forward_port_fit,
        forward_port_legs,
        tracks_ships,
    ):
        panel.show(seen)


def run(day: int, hhmm: str) -> AppTest:
    app = AppTest.from_function(_panels, default_timeout=120, args=(day, hhmm)).run()
    assert not app.exception, app.exception
    return app


def html(app: AppTest) -> str:
    return " ".join(str(part.proto.body) for part in app.get("html"))


@pytest.fixture(scope="module")
def before_the_choice() -> AppTest:
    return run(13, "1200")


@pytest.fixture(scope="module")
def opening() -> AppTest:
    return run(16, "0635")


def test_first_choice_stands_with_what_kills_it_and_what_is_not_known(before_the_choice):
    text = html(before_the_choice)
    assert "NORTHERN LANTERN via Port Tressick — chosen" in text
    assert "overhead with the bed&#x27;s height and 0.1 m clear 4.1 m, needs 4.25 m" in text
    assert "runway length 1524 m, needs 1774 m" in text
    assert "depth alongside at the lowest water of the stay" in text
    assert "capacity at 18 m outreach not known (ask for its load table)" in text


def test_the_sentence_says_when_and_what_holds_it_up(before_the_choice):
    text = html(before_the_choice)
    assert "End of chain P50" in text
    assert "after SUBMISS, held up by “" in text


def test_at_the_opening_the_first_lift_is_done(opening):
    text = html(opening)
    # the end of a chain is not yet the first out on deck, which the answers tell
    chain = "NORTHERN LANTERN via Aldermouth: the last of its chain was done 160420Z MAR 27"
    assert chain in text
    assert "67 h 20 after SUBMISS" in text
    assert "done 160420Z MAR 27" in text
    assert "its reach is not known yet" in text  # the first choice and its reason stay


def test_the_chain_is_drawn_as_plan_actual_and_expected(before_the_choice):
    (chart,) = before_the_choice.get("vega_lite_chart") or before_the_choice.get(
        "arrow_vega_lite_chart"
    )
    assert chart is not None
    text = html(before_the_choice)
    assert "Filled: done" in text


def test_cautions_stand_beside_the_figures(opening):
    text = html(opening)
    assert "Lifting and loading by a competent person" in text
    assert "AIS may be absent or false" in text


def test_jumps_and_gaps_are_on_the_page(opening):
    text = html(opening)
    assert "fits neither its neighbour before nor after" in text
    assert "no fix for 3 h 20" in text
