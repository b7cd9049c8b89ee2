"""The page's style sheet: `page.css`, with the colours of one ink in its variables."""

from __future__ import annotations

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


@cache
def _rules() -> str:
    return Path(__file__).with_name("page.css").read_text()


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
