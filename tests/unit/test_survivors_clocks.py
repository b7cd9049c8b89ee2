"""The two clocks as drawn: the margin in words, the letters large enough, red for one thing."""

from __future__ import annotations

import re
from datetime import timedelta
from functools import lru_cache
from urllib.parse import unquote

import pytest

from dashboard.panels.survivors.clocks import SIZES, clocks_svg, tick_times, two_clocks
from dashboard.panels.survivors.gain import gain_drawing
from dashboard.panels.survivors.occupancy import occupancy_drawing
from demo_data.scenario import z
from layers.contract import Moment
from layers.scene.ink import INKS
from layers.survivors.air.endurance import RefugePeople
from layers.survivors.lifts.margin import outlook
from layers.survivors.lifts.margin_model import Outlook
from tests.unit.lift_air import PlainAir
from tests.unit.lift_ground import option
from tests.unit.test_survivors_sortie import START, book


@lru_cache(maxsize=2)
def looked(hours: float) -> Outlook:
    made = book()
    made.add("decision", option("calm", recovery_hs_m=3.0))
    at = START + timedelta(minutes=1)
    people = (
        RefugePeople(refuge="after", persons=30, stretcher=1, pressure_bar_abs=2.1, seat="clear"),
    )
    air = PlainAir({"after": hours}, {"after": 30})
    moment = Moment(as_of=at, at=at)
    return outlook(made.known(at), {}, moment, people, air, n_draws=200, decision_draws=100)


SHORT, LONG = 3.0, 60.0


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("ink", INKS)
def test_the_margin_stands_in_words_and_no_letter_is_under_13_px(size: str, ink: str) -> None:
    drawn = clocks_svg(looked(LONG), INKS[ink], size)
    assert "after refuge: " in drawn
    assert "to spare" in drawn
    assert int(re.findall(r'font-size="(\d+)"', drawn)[0]) >= 13


def test_red_and_a_broken_bar_are_kept_for_people_who_will_not_be_out_in_time() -> None:
    ink = INKS["night"]
    short, spare = clocks_svg(looked(SHORT), ink), clocks_svg(looked(LONG), ink)
    assert "short" in short
    assert ink.late in short
    assert "stroke-dasharray" in short
    assert ink.late not in spare
    assert "stroke-dasharray" not in spare
    assert ink.good in spare


def test_the_picture_on_the_page_is_the_drawing_and_is_read_out_in_words() -> None:
    ink = INKS["day"]
    shown = two_clocks(looked(LONG), ink, "small")
    held = re.findall(r"svg\+xml,([^\"]+)", shown)[0]
    assert "<" not in held
    assert unquote(held) == clocks_svg(looked(LONG), ink, "small")
    assert 'alt="after refuge' in shown


def test_without_a_margin_there_is_no_drawing() -> None:
    assert two_clocks(Outlook(at_us=0, unavailable="no plan"), INKS["night"], "wall") == ""
    assert two_clocks(object(), INKS["night"]) == ""


def test_a_name_from_a_record_is_escaped() -> None:
    from dashboard.panels.strokes import text

    assert "<b>" not in text(0, 0, "<b>after</b>", "#fff")


def test_axis_times_are_round_and_few() -> None:
    ticks = list(tick_times(z(16, "0635"), z(19, "0000"), 8))
    assert 2 <= len(ticks) <= 8
    assert all(at.minute == 0 and at.hour % 3 == 0 for at in ticks)


def test_chambers_and_gains_are_drawn_with_their_figures_in_words() -> None:
    seen = looked(LONG)
    assert seen.chambers is not None
    assert seen.decisions is not None
    ink = INKS["night"]
    assert "of 18 places" in occupancy_drawing(seen.chambers, ink)
    assert "decision calm" in gain_drawing(seen.decisions.gains, ink)
