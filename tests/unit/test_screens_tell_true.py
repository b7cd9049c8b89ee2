"""What an independent look at all screens found untrue, asked of the exercise at other moments.

Each test names its finding; its moments are not those of the finding.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from functools import lru_cache

import numpy as np
import pytest

from dashboard.panels import wall
from demo_data.load import demo_journal
from demo_data.scenario import DEMO_NOW, z
from layers import answer_words
from layers.answers import Answers, answers
from layers.catalogue import KINDS
from layers.contract import Moment, Shown
from layers.earth.chart.frames import FrameName, frame_for
from layers.earth.chart.marks import AnyMark, LineMark, Style
from layers.earth.said.written import distance_words
from layers.earth.uncertain import Stated
from layers.journal.known import Known
from layers.picture import Picture, picture
from layers.scene.browser import feature_collection
from layers.scene.ink import DAY
from layers.scene.kml import gpx, kml
from layers.scene.release import Release, Stamp, marks_for
from layers.scene.scene import ids_in, scene, source_words, tooltip
from layers.scene.sitrep import StaffWords, next_number, precedence, sitrep
from layers.scene.snapshot import datum_of
from layers.watch.state import state

SEARCHED, FOUND, DOWN = z(13, "1840"), z(15, "2310"), z(16, "0345")
MOMENTS = (SEARCHED, FOUND, DOWN, DEMO_NOW)


@lru_cache(maxsize=8)
def seen(at: datetime) -> tuple[Picture, Known, Answers]:
    shelf, upto = demo_journal(at)
    known, moment = Known(shelf, KINDS, upto, at), Moment(at, at)
    made = picture(shelf, moment, upto)
    return made, known, answers(made, state(known, moment))


@pytest.mark.parametrize("at", MOMENTS)
def test_how_long_they_last_is_never_longer_than_the_level_that_comes_first(at: datetime) -> None:
    # L2: hours to spare left out the cold, which came 37 h sooner
    made, _, found = seen(at)
    shown = made.shown("margin")
    if shown is None:
        assert not found.margin
        return
    quantities = set()
    for one in shown.result.air.refuges:
        ends = [level.hours.p50 for level in one.levels if not level.reached]
        quantities |= {level.quantity for level in one.levels}
        until = found.margin[one.refuge].lasts_until
        if ends and until is not None:
            assert until <= at + timedelta(hours=min(ends), minutes=1), one.refuge
    assert at == SEARCHED or "low temperature" in quantities


@pytest.mark.parametrize("at", MOMENTS)
def test_no_search_is_planned_for_an_hour_that_is_past(at: datetime) -> None:
    # L4: the plan for two living people lay 57 h in the past
    made, _, found = seen(at)
    shown = made.shown("datum")
    assert shown is not None
    for plan in shown.result.plans:
        assert plan.at == at
        for one in plan.planned:
            assert at <= one.leaves_for_it <= one.begins < one.ends, one.searcher
    if isinstance(found.search_next, Stated):
        assert found.search_next.value.begins >= at


@pytest.mark.parametrize("at", MOMENTS)
def test_her_position_has_one_error(at: datetime) -> None:
    # L10: two places of one boat, later one place with 6 m in one line and 7 m in the next
    made, _, found = seen(at)
    assert isinstance(found.position, Stated)
    within = distance_words(found.position.value.radius_95_m)
    datum, net = made.shown("datum"), made.shown("transponders")
    assert datum is not None
    assert f"95 % within {within}" in datum.sentence or "places" in datum.sentence
    if net is not None and "DISSUB" in net.sentence:
        told = net.sentence.partition("DISSUB")[2]
        assert " m (95 %)" not in told.partition(";")[0]
    hers = [m for s in made.layers.values() if isinstance(s, Shown) for m in s.marks
            if m.label == "DISSUB"]  # fmt: skip
    assert len(hers) <= 1


@pytest.mark.parametrize("at", MOMENTS)
def test_nobody_is_expected_before_now_and_who_lies_stopped_is_not_expected(at: datetime) -> None:
    # L13: an ETA before the time shown, for ships that lay stopped
    made, _, _ = seen(at)
    shown = made.shown("tracks")
    assert shown is not None
    for ship in shown.result.ships:
        if ship.arrival is None:
            continue
        assert ship.arrival.by_great_circle >= at, ship.name
        assert ship.arrival.by_rhumb >= at, ship.name
    for clause in shown.sentence.split("; "):
        assert "ETA" not in clause or "stopped" not in clause, clause


@pytest.mark.parametrize("at", MOMENTS)
def test_no_mark_is_named_or_cited_by_a_key(at: datetime) -> None:
    # L28: names in KML were keys, tooltips cited the first letters of an id
    made, known, _ = seen(at)
    pairs = list(marks_for(made, Release()))
    numbers = known.numbers_of(ids_in(mark for _, mark in pairs))
    assert len(numbers) > 20
    stamp = Stamp(title="Plot", exercise="", moment=made.moment, head_seq=1, head_hash="ab" * 32)
    texts = [kml(pairs, stamp, DAY, numbers), gpx(pairs, stamp)]
    frame = frame_for(datum_of(made), FrameName.RANGE_TRUE, 60_000.0)
    texts += [tooltip(item, numbers) for item in scene(pairs, frame, numbers).placed]
    ids = set(numbers) | {id_[:8] for id_ in numbers}
    for text in texts:
        words = set(text.replace("<", " ").replace(">", " ").split())
        assert not words & ids
    # each number is the log's own
    mark = next(
        mark for _, mark in pairs if len(mark.source.split()) == 1 and mark.source in numbers
    )
    assert source_words(mark, numbers) == f"record {numbers[mark.source]}"
    assert known.with_ids([mark.source])[mark.source].seq == numbers[mark.source]
    assert source_words(mark, {}) == ""  # of a release that withholds no number is told


def test_the_wall_says_what_a_vehicle_does_that_is_down() -> None:
    # L17: a sortie under way, overdue, stood on the page of lifts only
    _, _, found = seen(DOWN)
    said = answer_words.sortie(found)
    assert isinstance(found.sortie, Stated)
    assert found.sortie.value.phase
    html = wall.answers_html(found, "")
    assert f"{said.figure}, {said.word}" in html
    assert "sortie" not in wall.answers_html(seen(DEMO_NOW)[2], "").replace("whole sortie", "")


def test_a_measured_line_is_drawn_as_nothing_else_is() -> None:
    # L22: in the same bold stroke as what stood beside it
    made, _, _ = seen(DEMO_NOW)
    frame = frame_for(datum_of(made), FrameName.RANGE_TRUE, 60_000.0)
    ends = np.array([49.8, 49.9]), np.array([-8.5, -8.3])
    line = LineMark(key="leg0", style=Style.MEASURE, tooltip="", source="",
                    latitudes_deg=ends[0], longitudes_deg=ends[1])  # fmt: skip

    def strokes(pairs: list[tuple[str, AnyMark]]) -> set[str]:
        drawn = feature_collection(scene(pairs, frame), DAY)["features"]
        return {one["properties"].get("d", "solid") for one in drawn}

    others = strokes(list(marks_for(made, Release())))
    assert len(others) > 2
    assert not strokes([("measure", line)]) & others


@pytest.mark.parametrize(("at", "number"), [(SEARCHED, 4), (DOWN, 9), (DEMO_NOW, 10)])
def test_the_report_goes_on_counting_and_gives_its_reader_no_orders_of_the_screen(
    at: datetime, number: int
) -> None:
    # L24: "SITREP 1" at +2 d 17 h; "add one" and "drop a file on the plot" went out in it
    made, known, found = seen(at)
    assert next_number(known) == number
    stamp = Stamp(title="SITREP", exercise="", moment=made.moment, head_seq=1, head_hash="ab" * 32)
    told = StaffWords(number=number, priority=precedence(state(known, made.moment)))
    text = sitrep(made, known, found, stamp, Release(), told)
    assert f"SAR SITREP {number}\n" in text
    assert "DISTRESS" in text
    for paragraph in ("A. IDENTITY OF CASUALTY", "F. CO-ORDINATING RCC", "G. DESCRIPTION"):
        assert "not reported" not in text.split(paragraph)[1].splitlines()[1], paragraph
    assert "Last contact" in text
    assert "missed" in text
    for order in (" add ", "drop ", "click", "press ", "enter ", "on the plot", "see layers"):
        assert order not in text.casefold(), order


LONGEST = timedelta(hours=3)  # that a room may be shown something overdue: "answered within hours"


def test_nothing_stays_overdue_through_the_exercise() -> None:
    # L32: OVERDUE 1 d 15 h through handovers teaches to look away
    at, long = z(13, "0915"), {}
    while at <= z(17, "1200"):
        shelf, upto = demo_journal(at)
        for event in state(Known(shelf, KINDS, upto, at), Moment(at, at)).overdue:
            if at - event.at > LONGEST:
                long[event.who, event.what] = at - event.at
        at += timedelta(hours=2)
    assert long == {}
