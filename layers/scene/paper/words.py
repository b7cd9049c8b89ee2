"""Words on a sheet of paper: title, stamp, legend and notes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from textwrap import wrap

from matplotlib.figure import Figure

from layers.earth.chart.graticule import Extent
from layers.scene.ink import Ink
from layers.scene.paper.legend import draw_legend
from layers.scene.release import CAUTION, Stamp, one_line
from layers.scene.scene import Scene

LINE = 0.0147  # of 7 points, as a part of the sheet's height
LOWEST = 0.03  # of the column of words, as a part of the sheet


def draw_words(figure: Figure, scene: Scene, sheet: Sheet, extent: Extent, ink: Ink) -> None:
    """Write title, stamp, caution, and the column of legend and notes."""
    stamp = sheet.stamp
    banner = "   ".join(part for part in (stamp.banner, stamp.title, stamp.time_words) if part)
    write(figure, 0.045, 0.955, banner, ink.ink, 13, "bold")
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
    _column(figure, scene, sheet, extent, ink)


def _column(figure: Figure, scene: Scene, sheet: Sheet, extent: Extent, ink: Ink) -> None:
    x, y = 0.785, 0.915
    y = _block(figure, x, y, "Legend", (), ink)
    y = draw_legend(figure, x, y, scene, extent, ink)
    for words in ("dashed: expected", "dotted or hollow: stale", "?: disputed"):
        write(figure, x, y, words, ink.quiet, 7)
        y -= 0.018
    y = _block(figure, x, y - 0.01, "How old it is", sheet.ages, ink)
    _block(figure, x, y - 0.01, "What is known", sheet.notes, ink)


def _block(figure: Figure, x: float, y: float, head: str, lines: Sequence[str], ink: Ink) -> float:
    """Write a head and its sentences; what the sheet has no room for is said to be left out."""
    if y < LOWEST + 0.03:
        return y
    write(figure, x, y, head, ink.ink, 9, "bold")
    y -= 0.024
    for number, paragraph in enumerate(lines):
        parts = wrap(paragraph, 44)
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

    def __post_init__(self) -> None:
        """Write out what a file's format, or an eye, can not take."""
        for name in ("notes", "ages"):
            object.__setattr__(self, name, tuple(one_line(text) for text in getattr(self, name)))
