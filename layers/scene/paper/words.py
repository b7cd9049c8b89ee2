"""Words on a sheet of paper: title, stamp, legend and notes."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from textwrap import wrap

from matplotlib.figure import Figure

from layers.answer_words import Headline
from layers.earth.chart.graticule import Extent
from layers.scene.ink import Ink
from layers.scene.paper.legend import draw_legend
from layers.scene.release import CAUTION, Stamp, one_line
from layers.scene.scene import Scene

LINE = 0.0147  # of 7 points, as a part of the sheet's height
LOWEST = 0.03  # of the column of words, as a part of the sheet
A4_HIGH_IN, ACROSS = 8.27, 44  # the sheet the parts are of; letters across the column
# the four answers over the chart: letters across each, the widest where most is said
ANSWERS_TOP, ANSWER_ACROSS, MOST_LINES, LETTER_WIDE = 0.922, (46, 30, 41, 24), 4, 0.0049
_CLAUSE = re.compile(r"(?<=[.!?]) (?=[A-Z0-9])|(?<=;) ")


def draw_words(
    figure: Figure, scene: Scene, sheet: Sheet, extent: Extent, ink: Ink,
    *, gave_way: int = 0, alone: bool = False,
) -> None:  # fmt: skip
    """Write title, stamp, caution, and the column of legend and notes; ``alone``: the legend."""
    if alone:
        _legend(figure, scene, extent, ink, 0.755, 0.965, gave_way)
        return
    stamp = sheet.stamp
    banner = "   ".join(part for part in (stamp.banner, stamp.title, stamp.time_words) if part)
    write(figure, 0.045, 0.955, banner, ink.ink, 13, "bold")
    _answers(figure, sheet.answers, ink)
    if stamp.banner:  # whoever holds a corner of the sheet sees what it is
        for x, y in ((0.985, 0.983), (0.985, 0.012), (0.045, 0.012)):
            align = "right" if x > 0.5 else "left"
            write(figure, x, y, stamp.banner, ink.ink, 9, "bold", align)
    if stamp.marking:
        write(figure, 0.405, 0.983, stamp.marking, ink.ink, 9, "bold", "center")
        write(figure, 0.405, 0.012, stamp.marking, ink.ink, 9, "bold", "center")
    below = (
        f"{scene.frame.title}, centred on {scene.frame.centre}, WGS 84.  {CAUTION}  "
        f"For: {stamp.releasable_to}.  "
        f"{stamp.origin_words}."
    )
    lines = [*wrap(below, 150), stamp.attribution]
    for number, line in enumerate(lines):
        write(figure, 0.045, 0.064 - 0.0165 * number, line, ink.quiet, 7)
    x, y = 0.785, 0.915
    y = _legend(figure, scene, extent, ink, x, y, gave_way)
    y = _block(figure, x, y - 0.01, "How old it is", sheet.ages, ink)
    _block(figure, x, y - 0.01, "What is known", _fitting(sheet.notes, y - 0.044), ink)


def _answers(figure: Figure, four: Sequence[Headline], ink: Ink) -> None:
    """Write the four answers in a row over the chart: figure, words, how old it is.

    Words give way where there is no room, never a figure or an age.
    """
    x = 0.045
    for one, letters in zip(four, ANSWER_ACROSS, strict=False):
        write(figure, x, ANSWERS_TOP, one.figure, ink.ink, 14, "bold")
        age = wrap(one.age, letters)
        said = wrap(one.words, letters, max_lines=MOST_LINES - len(age), placeholder="…")
        _lines(figure, x, ANSWERS_TOP - 0.026, said, ink.ink)
        _lines(figure, x, ANSWERS_TOP - 0.026 - LINE * len(said), age, ink.quiet)
        x += (letters + 2) * LETTER_WIDE


def _legend(
    figure: Figure, scene: Scene, extent: Extent, ink: Ink, x: float, y: float, gave_way: int
) -> float:
    y = _block(figure, x, y, "Legend", (), ink)
    y = draw_legend(figure, x, y, scene, extent, ink)
    said = ["dashed: expected", "dotted or hollow: stale", "?: disputed"]
    if gave_way:
        them = "symbol under another" if gave_way == 1 else "symbols under others"
        said.append(f"{gave_way} {them} left out")
    step = LINE * A4_HIGH_IN / float(figure.get_figheight()) * 1.22
    for words in said:
        write(figure, x, y, words, ink.quiet, 7)
        y -= step
    return y


def _fitting(notes: Sequence[str], room: float) -> tuple[str, ...]:
    """Return as much of each note as lets all of them say something, in whole clauses.

    The longest is shortened until they fit, so that no layer is silent for another's length.
    """
    held = [_CLAUSE.split(note) for note in notes]
    lines = int((room - LOWEST) / LINE)

    def taken(parts: list[str]) -> int:
        return len(wrap(" ".join(parts), ACROSS))

    while sum(taken(parts) + 0.6 for parts in held) > lines:
        longest = max((parts for parts in held if len(parts) > 1), key=taken, default=None)
        if longest is None:
            break
        longest.pop()
    said = (" ".join(parts) for parts in held)
    return tuple(f"{text[:-1]}." if text.endswith(";") else text for text in said)


def _block(figure: Figure, x: float, y: float, head: str, lines: Sequence[str], ink: Ink) -> float:
    """Write a head and its sentences; what the sheet has no room for is said to be left out."""
    if y < LOWEST + 0.03:
        return y
    write(figure, x, y, head, ink.ink, 9, "bold")
    y -= 0.024 * A4_HIGH_IN / float(figure.get_figheight())
    for number, paragraph in enumerate(lines):
        parts = wrap(paragraph, ACROSS)
        if y - LINE * len(parts) < LOWEST:
            write(figure, x, y, f"and {len(lines) - number} more in the program", ink.quiet, 7)
            return LOWEST
        _lines(figure, x, y, parts, ink.ink)
        y -= LINE * len(parts) + 0.008
    return y


def _lines(figure: Figure, x: float, y: float, parts: Sequence[str], colour: str) -> None:
    """Write lines of 7 points as one text, which is faster than a text a line."""
    figure.text(
        x, y + 0.0083, "\n".join(parts), color=colour, fontsize=7, ha="left", va="top",
        linespacing=1.24, parse_math=False,
    )  # fmt: skip


def write(
    figure: Figure, x: float, y: float, words: str, colour: str, size: float,
    weight: str = "normal", align: str = "left",
) -> None:  # fmt: skip
    """Write words at a place given as parts of the sheet."""
    figure.text(
        x, y, words, color=colour, fontsize=size, fontweight=weight, ha=align, va="center",
        parse_math=False,
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """What stands on the sheet beside the scene."""

    stamp: Stamp
    notes: tuple[str, ...] = ()  # sentences of the layers
    ages: tuple[str, ...] = ()  # how old each input is
    answers: tuple[Headline, ...] = ()  # the four, as on every screen

    def __post_init__(self) -> None:
        """Write out what a file's format, or an eye, can not take."""
        for name in ("notes", "ages"):
            object.__setattr__(self, name, tuple(one_line(text) for text in getattr(self, name)))
        object.__setattr__(
            self, "answers", tuple(replace(one, word=one_line(one.word)) for one in self.answers)
        )
