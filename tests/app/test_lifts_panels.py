"""The panels of the lift page, each shown to the watch and to a reader."""

from __future__ import annotations

import pytest
from streamlit.testing.v1 import AppTest


def page(writable: bool, missing: bool) -> None:
    """Show every panel of the page over a small plan."""
    from datetime import timedelta
    from types import SimpleNamespace

    from dashboard.panels.survivors import (
        gain as survivors_gain,
        lifts as survivors_lifts,
        margin as survivors_margin,
        sortie as survivors_sortie,
    )
    from layers.contract import Moment, Shown
    from layers.earth.table import Table
    from layers.journal.actor import Actor, Role
    from layers.scene.ink import INKS
    from layers.survivors.lifts.margin_model import Outlook
    from tests.unit.lift_ground import PEOPLE
    from tests.unit.test_survivors_clocks import looked
    from tests.unit.test_survivors_sortie import START

    at = START + timedelta(minutes=1)
    outlook = Outlook(at_us=0, unavailable="no planned lift is recorded") if missing else looked(60)
    result = SimpleNamespace(
        at=at - timedelta(minutes=10), outlook=outlook, refuges=PEOPLE[:1], rough=False
    )
    shown = Shown(result=result, marks=(), table=Table(heads=(), rows=()), sentence="", tables={})
    picture = SimpleNamespace(
        layers={"margin": shown}, shown=lambda key: shown if key == "margin" else None
    )
    seen = SimpleNamespace(
        picture=picture,
        moment=Moment(as_of=at, at=at),
        now=at,
        ink=INKS["night"],
        writable=writable,
        actor=Actor(name="watch officer 1", role=Role.WATCH if writable else Role.READER),
    )
    shows = (
        survivors_margin.show, survivors_margin.tables, survivors_lifts.show,
        survivors_lifts.show_chambers, survivors_lifts.show_figures,
        survivors_lifts.show_proposed, survivors_lifts.forms,
        survivors_gain.show, survivors_gain.folded, survivors_sortie.show,
    )  # fmt: skip
    for show in shows:
        show(seen)  # type: ignore[arg-type]  # stands in for a viewer's view


def shown(writable: bool = True, missing: bool = False) -> tuple[AppTest, str]:
    at = AppTest.from_function(
        page, default_timeout=120, kwargs={"writable": writable, "missing": missing}
    ).run()
    assert not at.exception, at.exception
    drawn = [element.value for element in at.markdown]
    return at, " ".join([*(element.proto.body for element in at.get("html")), *drawn])


def test_the_margin_the_cautions_and_the_pictures_are_on_the_page() -> None:
    at, html = shown()
    assert "After refuge" in html
    assert "worked out as of " in html  # ten minutes before the time shown
    assert html.count('class="mp-axis"') == 1  # the two clocks, in the page's own letters
    assert "of 18 places" in html  # chambers against time, drawn on the page too
    assert "do not fit people who sat on compressed air" in html
    assert "no recommendation" in html
    assert "No vehicle is down." in html
    assert "Make it the plan" in [button.label for button in at.button]


@pytest.mark.parametrize("missing", [False, True])
def test_a_reader_is_offered_no_form(missing: bool) -> None:
    at, _ = shown(writable=False, missing=missing)
    assert not at.button


def test_without_a_plan_the_page_says_what_would_fill_it() -> None:
    _, html = shown(missing=True)
    assert "no planned lift is recorded" in html


def test_a_phase_form_offers_the_lifts_that_are_not_back() -> None:
    at, _ = shown()
    lifts = next(box for box in at.selectbox if box.label == "Lift")
    assert list(lifts.options) == ["A1", "A2"]
