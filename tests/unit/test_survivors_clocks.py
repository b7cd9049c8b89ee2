"""The two clocks on one axis: the margin in words, letters large enough, red for one thing."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import timedelta
from functools import lru_cache

import pytest

from dashboard.panels.survivors.clocks import SIZES, tick_times, two_clocks
from dashboard.panels.survivors.occupancy import occupancy_drawing
from dashboard.panels.text import fitting
from demo_data.scenario import z
from layers.contract import Moment
from layers.earth.uncertain import NotKnown, Number
from layers.scene.ink import INKS
from layers.survivors.air.endurance import RefugePeople
from layers.survivors.decisions.gain import Standing
from layers.survivors.decisions.report import gain_sentences, left_out_words
from layers.survivors.lifts.axis import axis_of
from layers.survivors.lifts.margin import outlook
from layers.survivors.lifts.margin_model import Outlook
from tests.unit.lift_air import PlainAir
from tests.unit.lift_ground import option
from tests.unit.test_margin_unknown import calm
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
    return outlook(
        made.known(at), {"weather": calm(at)}, moment, people, air, n_draws=200, decision_draws=100
    )


SHORT, LONG = 3.0, 60.0


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("ink", INKS)
def test_the_margin_stands_in_words_and_no_letter_is_too_small(size: str, ink: str) -> None:
    drawn = two_clocks(looked(LONG), INKS[ink], size)
    assert "to spare, CO2 level of the test binds" in drawn
    assert drawn.count("\n") == 0  # a page takes it in one line
    letters = [int(size) for size in re.findall(r'font-size="(\d+)"', drawn)]
    assert min(letters) >= (28 if size == "wall" else 13)


def test_red_is_kept_for_people_who_will_not_be_out_in_time() -> None:
    ink = INKS["night"]
    short, spare = two_clocks(looked(SHORT), ink), two_clocks(looked(LONG), ink)
    assert "LATE: " in short
    assert ink.late in short
    assert ink.late not in spare


def test_a_refuge_that_is_not_known_is_open_and_says_what_to_ask() -> None:
    known = looked(LONG)
    (one,) = known.refuges
    unknown = NotKnown(unit="h", missing=("the after refuge's air is not known",))
    blank = replace(one, nobody=unknown, planned=unknown, alone_h=None, binding="", late_h=None)
    drawn = two_clocks(replace(known, refuges=(blank,)), INKS["night"])
    assert "the after refuge&#x27;s air is not known" in drawn
    assert "to spare" not in drawn
    axis = axis_of(replace(known, refuges=(blank,)))
    assert axis is not None
    assert axis.refuges[0].lasts is None
    assert not axis.refuges[0].beyond


def test_a_margin_that_is_not_known_has_no_line_to_measure_it() -> None:
    def strokes(seen: Outlook) -> int:
        return len(re.findall(r'<line[^>]*stroke-width="1.6"', two_clocks(seen, INKS["night"])))

    known = looked(LONG)
    unknown = NotKnown(unit="h", missing=("how many are in the after refuge",))
    half = replace(known.refuges[0], nobody=unknown, planned=unknown)  # its clocks stand
    assert strokes(known) > 0
    assert strokes(replace(known, refuges=(half,))) == 0
    # its air was read: what is not known is how long it lasts
    assert "air" not in left_out_words(replace(known, refuges=(half,)))
    assert "can last is not known: after" in left_out_words(replace(known, refuges=(half,)))
    assert left_out_words(known) == ""


def test_where_stores_nobody_told_of_may_put_a_level_off_its_hour_is_at_least() -> None:
    known = looked(LONG)
    (one,) = known.refuges
    assert "at least" not in two_clocks(known, INKS["night"])
    open_end = replace(known, refuges=(replace(one, at_least=True),))
    assert re.search(r"\d{4}Z at least", two_clocks(open_end, INKS["night"]))


def test_where_a_level_is_not_known_the_hour_of_the_others_is_at_most() -> None:
    known = looked(LONG)
    (one,) = known.refuges
    drawn = two_clocks(replace(known, refuges=(replace(one, at_most=True),)), INKS["night"])
    assert re.search(r"\d{4}Z at most", drawn)
    assert one.alone_h is not None
    far = replace(one.alone_h, p10=float("inf"), p50=float("inf"), p90=float("inf"))
    beyond = replace(known, refuges=(replace(one, at_most=True, alone_h=far),))
    drawn = two_clocks(beyond, INKS["night"])
    assert "the rest may end sooner" in drawn
    assert "no level within" not in drawn


def test_words_longer_than_their_drawing_lose_whole_clauses_and_never_letters() -> None:
    said = "at most 13 h to spare (stores, none counted), carbon dioxide 6 % SEV binds"
    assert fitting(said, 80) == said
    assert fitting(said, 60) == "at most 13 h to spare, carbon dioxide 6 % SEV binds"
    assert fitting(said, 30) == "at most 13 h to spare"
    assert fitting("margin not known", 5) == "margin not known"  # one clause is never cut


@pytest.mark.parametrize("size", SIZES)
def test_no_hour_lies_under_the_box_that_says_now(size: str) -> None:
    drawn = two_clocks(looked(LONG), INKS["night"], size)
    (now,) = re.findall(r'<text x="([\d.]+)"[^>]*>now</text>', drawn)
    letters = SIZES[size].quiet
    for x, said in re.findall(
        r'<text x="([\d.]+)"[^>]*text-anchor="middle"[^>]*>(\d\d|\d{6}Z)<', drawn
    ):
        assert abs(float(x) - float(now)) > (3.0 + 0.52 * len(said)) * letters / 2, said


def test_the_line_runs_from_hatch_shut_to_the_level_that_binds() -> None:
    known = looked(LONG)
    axis = axis_of(known)
    assert axis is not None
    (line,), (one,) = axis.refuges, known.refuges
    assert line.last is not None
    assert line.lasts is not None
    hours = (line.lasts - line.last).total_seconds() / 3600.0
    assert isinstance(one.nobody, Number)
    assert hours == pytest.approx(one.nobody.value, abs=4.0)  # P50 to P50, beside the P50 between
    assert axis.start < axis.now < line.last < axis.end
    assert [bar.key for bar in line.bars] == ["A1", "A2"]
    assert all(bar.dive < bar.hatch < bar.deck for bar in line.bars)


def test_without_anybody_waiting_there_is_no_drawing() -> None:
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
    assert "of 18 places" in occupancy_drawing(seen.chambers, INKS["night"])
    said = " ".join(gain_sentences(seen.decisions.gains))
    shown = [gain.title for gain in seen.decisions.gains if gain.standing is Standing.GAINS]
    assert "decision calm" in said or "decision calm" in shown
