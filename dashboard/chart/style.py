"""The page's style sheet: `page.css`, with the colours of one ink in its variables."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import streamlit as st

from dashboard.chart.addresses import FONT
from dashboard.door.letters import other_ranges
from layers.scene.ink import DAY, Ink

NAMES = ("page", "panel", "line", "sea", "land", "shore", "contour", "ink", "quiet", "plate",
         "people", "sound", "search", "late", "late_plate")  # fmt: skip
# the grid is painted on a canvas in the night's colours, which no style sheet reaches
GRID_BY_DAY = (
    ".stApp div[data-testid='stDataFrame'] canvas { filter: invert(1) hue-rotate(180deg); }"
)


# the letter of the root, which all sizes are shares of, at 1920 pixels across and below
ROOT_PX = 16.0
# a screen of more pixels shows the same at the same size on the desk: at least so wide and high in
# pixels, so many times as large; a browser's own bars take a tenth of the height
LARGER = ((2400, 1240, 1.25), (2880, 1480, 1.5), (3360, 1740, 1.75), (3840, 1960, 2.0))
_PX = re.compile(r"(?<![\w.#-])(-?\d+(?:\.\d+)?)px")
_PRELUDE = re.compile(r"(@(?:media|container)[^{]*)")


def growing(rules: str) -> str:
    """Return a style sheet written in pixels with each a share of the root's letter instead.

    What a rule asks of the screen's width stays in pixels.
    """
    parts = _PRELUDE.split(rules)
    return "".join(part if part.startswith("@") else _PX.sub(_share, part) for part in parts)


def _share(found: re.Match[str]) -> str:
    return f"{float(found[1]) / ROOT_PX:g}rem"


def larger() -> str:
    """Return the rules by which letters, controls and drawings grow with the screen.

    The wall has sizes of its own, which are shares of the screen's height. The charts are drawn
    in pixels by others' scripts, and are shown larger as they stand.
    """
    steps = "".join(
        f"@media (min-width: {wide}px) and (min-height: {high}px) {{ "
        f":root:not(:has(.mp-w)) {{ --grow: {times:g}; font-size: {ROOT_PX * times:g}px; }} }}\n"
        for wide, high, times in LARGER
    )
    return f":root {{ --grow: 1; }}\n{steps}"


@cache
def _rules() -> str:
    return larger() + growing(Path(__file__).with_name("page.css").read_text())


def variables(ink: Ink) -> str:
    """Return the colours of an ink as variables of a style sheet."""
    told = [f"--{name.replace('_', '-')}: {getattr(ink, name)};" for name in NAMES]
    told += [f"--tint-{number}: {tint};" for number, tint in enumerate(ink.tints)]
    return f":root {{ {' '.join(told)} }}"


def sheet(ink: Ink) -> str:
    """Return the style sheet for one ink."""
    return "\n".join((variables(ink), _rules(), GRID_BY_DAY if ink is DAY else ""))


def rest_of_letters() -> str:
    """Return the rule by which letters beyond our own file come from the framework's whole one."""
    if not FONT:
        return ""
    base = str(st.get_option("server.baseUrlPath") or "").strip("/")
    address = f"/{base}/{FONT}" if base else f"/{FONT}"
    return (
        '@font-face { font-family: "Source Sans"; font-weight: 200 900; font-display: swap; '
        f'src: url("{address.replace("../", "")}?whole") format("woff2"); '
        f"unicode-range: {other_ranges()}; }}"
    )


def apply(ink: Ink) -> None:
    """Put the style sheet on the page."""
    st.html(f"<style>{sheet(ink)}\n{rest_of_letters()}</style>")
