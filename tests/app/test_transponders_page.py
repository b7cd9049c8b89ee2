"""The panels of the seabed page, each shown from the exercise and from nearly nothing."""

from __future__ import annotations

from streamlit.testing.v1 import AppTest


def exercise_script() -> None:
    from types import SimpleNamespace

    import streamlit as st

    from dashboard.panels import layer
    from dashboard.panels.transponders import (
        depths as transponders_depths,
        hearing as transponders_hearing,
        net as transponders_net,
        plan as transponders_plan,
        profile as transponders_profile,
        rays as transponders_rays,
        residuals as transponders_residuals,
    )
    from demo_data.load import demo_journal
    from layers.contract import Moment
    from layers.picture import picture
    from layers.scene.ink import NIGHT

    shelf, seq = demo_journal(st.session_state["until"])
    moment = Moment(st.session_state["until"], st.session_state["until"])
    seen = SimpleNamespace(
        picture=picture(shelf, moment, seq, keys=["transponders"]), ink=NIGHT, writable=False
    )
    layer.head(seen, "transponders")
    for panel in (
        transponders_net, transponders_plan, transponders_residuals, transponders_profile,
        transponders_rays, transponders_hearing, transponders_depths,
    ):  # fmt: skip
        panel.show(seen)


def shown_at(until) -> tuple[AppTest, str]:
    app = AppTest.from_function(exercise_script, default_timeout=120)
    app.session_state["until"] = until
    app.run()
    text = " ".join(str(element.proto.body) for element in app.get("html"))
    return app, text


def test_the_page_says_the_sentence_the_terms_and_the_cautions() -> None:
    from demo_data import scenario

    app, text = shown_at(scenario.DEMO_NOW)
    assert not app.exception
    assert "TP3 lies 150 m 310°T from where it should" in text
    assert "OUT OF PLACE" in text
    assert "160415Z MAR 27, STALE" in text
    assert "figure of merit" in text
    assert "from memory" in text
    assert "not for navigation" in text.lower()
    assert "ranges can halve or double" in text
    assert "seabed and a rough surface swallow is not counted" in text
    figures = [element.body for element in app.get("html") if "<img alt=" in element.body]
    assert len(figures) == 4


def test_an_empty_place_says_what_would_fill_it() -> None:
    from demo_data.scenario import z

    app, text = shown_at(z(13, "1300"))
    assert not app.exception
    assert "No transponder yet" in text
    assert "No box-in yet: drop the file of replies" in text
    assert "No profile yet: drop a CTD" in text
