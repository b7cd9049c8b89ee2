"""What stands on a sheet of paper: ages before sentences, a legend of only what is on it."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import timedelta

from layers.earth.chart.frames import FrameName, frame_for
from layers.earth.chart.marks import GridMark, Style
from layers.earth.position import Position
from layers.journal.known import Known
from layers.picture import Picture
from layers.scene.drawn import QUIET_AFTER, is_drawn, is_quiet
from layers.scene.ink import DAY
from layers.scene.paper.sheet import draw
from layers.scene.paper.words import Sheet
from layers.scene.release import CAUTION
from layers.scene.scene import STYLE_WORDS, scene
from tests.unit.test_exports import STAMP, marks

FRAME = frame_for(Position(49.8, -8.5), FrameName.RANGE_TRUE, 25_000.0)
WORDS = re.compile(r"<text[^>]*>(.*?)</text>", re.DOTALL)
TAGS = re.compile(r"<[^>]+>")


def words_on(sheet: Sheet, longitude: float = -8.5) -> str:
    placed = [(name, replace(mark, label="LIMPET", tooltip="t")) for name, mark in marks(longitude)]
    text = draw(scene(placed, FRAME), sheet, DAY, None, "svg").decode()
    return "\n".join(TAGS.sub("", found).strip() for found in WORDS.findall(text))


def test_everything_a_reader_outside_needs_stands_on_it() -> None:
    found = words_on(Sheet(stamp=STAMP, notes=("A note.",), ages=("Weather: 5 min old",)))
    for said in (
        "EXERCISE SABLE TIDE", "152340Z MAR 27", "FOR TRAINING",
        CAUTION, "Legend", "How old it is", "Weather: 5 min old", "What is known", "A note.",
        "nmi", "N", "head abababab", "For: operations room", STAMP.attribution,
    ):  # fmt: skip
        assert said in found.replace("\n", " ") or said in found, said


def test_what_has_no_room_is_counted() -> None:
    notes = tuple(f"Sentence {number} " + "that goes on and on " * 12 for number in range(9))
    found = words_on(Sheet(stamp=STAMP, notes=notes, ages=("an age",)))
    written = found.count("Sentence ")
    assert 0 < written < 9
    assert f"and {9 - written} more in the program" in found


def test_the_legend_tells_only_of_what_is_on_the_sheet() -> None:
    here, elsewhere = (words_on(Sheet(stamp=STAMP), longitude) for longitude in (-8.5, 30.0))
    for style in (Style.SHIP, Style.ROUTE, Style.DATUM):
        assert STYLE_WORDS[style] in here
        assert STYLE_WORDS[style] not in elsewhere


def test_fields_are_drawn_only_when_asked_for() -> None:
    grid = next(mark for _, mark in marks() if isinstance(mark, GridMark))
    assert is_drawn(grid, shaded=False)  # probability always is
    field = replace(grid, style=Style.WAVE)
    assert not is_drawn(field, shaded=False)
    assert is_drawn(field, shaded=True)


def test_old_evidence_gives_way_only_while_a_fix_holds(demo: tuple[Picture, Known]) -> None:
    made, _ = demo
    at = made.moment.at
    mark = replace(marks()[0][1], key="bearing-1", style=Style.EVIDENCE, at=at - 2 * QUIET_AFTER)
    assert is_quiet(made, "datum", mark)
    assert not is_quiet(made, "tracks", mark)
    assert not is_quiet(made, "datum", replace(mark, at=at - timedelta(minutes=5)))
    without = replace(made, layers={k: v for k, v in made.layers.items() if k != "datum"})
    assert not is_quiet(without, "datum", mark)
