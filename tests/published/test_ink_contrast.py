"""Contrast of every colour pair of the theme by the formula of WCAG 2.2."""

from __future__ import annotations

import itertools

import pytest

from layers.earth.chart.marks import Style
from layers.scene.ink import INKS

# Source: WCAG 2.2 (W3C Recommendation), definition of contrast ratio: black on white is 21:1.
# VERIFIED from the definition's own bounds (1 to 21).
GRAPHIC, LETTER = 3.0, 4.5  # success criteria 1.4.11 and 1.4.3


def luminance(colour: str) -> float:
    """Return the relative luminance of ``#rrggbb``, 0 to 1 (WCAG 2.2, definition)."""
    channels = [int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Return the contrast ratio of two colours, 1 to 21 (WCAG 2.2, definition)."""
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def test_black_on_white_is_twenty_one_to_one() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#777777", "#777777") == pytest.approx(1.0)
    # Published with many explanations of the criterion: #767676 is the lightest grey that
    # passes 4.5:1 on white. Common practice, no source.
    assert contrast("#767676", "#ffffff") >= LETTER > contrast("#787878", "#ffffff")


@pytest.mark.parametrize(
    ("name", "style", "ground"), list(itertools.product(INKS, Style, ("sea", "land", "panel")))
)
def test_every_style_can_be_read_on_every_ground(name: str, style: Style, ground: str) -> None:
    ink = INKS[name]
    assert contrast(ink.of(style), getattr(ink, ground)) >= LETTER


@pytest.mark.parametrize("name", INKS)
def test_words_can_be_read_on_every_ground(name: str) -> None:
    ink = INKS[name]
    for letters, ground in itertools.product(
        ("ink", "quiet", "good", "late"), ("sea", "land", "panel")
    ):
        assert contrast(getattr(ink, letters), getattr(ink, ground)) >= LETTER, (letters, ground)


@pytest.mark.parametrize("name", INKS)
def test_the_shore_line_parts_land_from_sea(name: str) -> None:
    ink = INKS[name]
    assert contrast(ink.shore, ink.sea) >= GRAPHIC


def test_red_is_kept_for_people_who_will_not_be_out_in_time() -> None:
    for ink in INKS.values():
        users = [style for style in Style if ink.of(style) == ink.late]
        assert users == [Style.LATE]
