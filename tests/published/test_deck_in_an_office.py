"""The brief opened by LibreOffice: every word stands on its slide, and none lies on another.

The slides that come out were also looked at, which no test does.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from itertools import combinations
from pathlib import Path

import pytest

from layers.answers import answers
from layers.journal.known import Known
from layers.picture import Picture
from layers.scene.deck import deck
from layers.scene.ink import DAY
from layers.scene.release import Release
from layers.scene.snapshot import About, snapshot
from layers.watch.state import state
from tests.unit.test_brief import stamp

OFFICE, READER = shutil.which("soffice"), shutil.which("pdftotext")
WORD = re.compile(
    r'<word xMin="([\d.]+)" yMin="([\d.]+)" xMax="([\d.]+)" yMax="([\d.]+)">(.*?)</word>'
)
PAGE = re.compile(r'<page width="([\d.]+)" height="([\d.]+)">(.*?)</page>', re.DOTALL)
Box = tuple[float, float, float, float, str]

pytestmark = pytest.mark.skipif(
    OFFICE is None or READER is None,
    reason="needs LibreOffice and pdftotext: apt-get install libreoffice-impress poppler-utils",
)


@pytest.fixture(scope="module")
def pages(
    demo: tuple[Picture, Known], tmp_path_factory: pytest.TempPathFactory
) -> list[tuple[float, float, list[Box]]]:
    """Return width, height and words of every slide as the office lays them out."""
    folder: Path = tmp_path_factory.mktemp("office")
    made, known = demo
    about = About("Exercise SABLE TIDE", 9, "cd" * 32)
    watch = state(known, made.moment)
    found = answers(made, watch)
    plot = snapshot(made, "png", answers=found, about=about, ink=DAY, land=None, release=Release())
    content = deck(made, found, watch, stamp(made), plot.content)
    (folder / "brief.pptx").write_bytes(content)
    subprocess.run(
        [str(OFFICE), "--headless", "--convert-to", "pdf", "brief.pptx"],
        cwd=folder, check=True, capture_output=True, timeout=180,
        env={**os.environ, "HOME": str(folder)},
    )  # fmt: skip
    told = subprocess.run(
        [str(READER), "-bbox", "brief.pdf", "-"],
        cwd=folder, check=True, capture_output=True, text=True,
    )  # fmt: skip
    return [
        (float(width), float(height), [
            (float(a), float(b), float(c), float(d), text) for a, b, c, d, text in WORD.findall(on)
        ])
        for width, height, on in PAGE.findall(told.stdout)
    ]  # fmt: skip


def test_it_opens_with_six_slides_each_with_its_time(
    pages: list[tuple[float, float, list[Box]]],
) -> None:
    assert len(pages) == 6
    for _, _, words in pages:
        text = " ".join(word[4] for word in words)
        assert "EXERCISE SABLE TIDE" in text
        assert "160635Z MAR 27" in text


def test_every_word_is_on_its_slide_and_none_lies_on_another(
    pages: list[tuple[float, float, list[Box]]],
) -> None:
    for number, (width, height, words) in enumerate(pages, 1):
        for left, top, right, bottom, text in words:
            on = left >= 0 and top >= 0 and right <= width and bottom <= height
            assert on, f"slide {number}: {text!r} runs off it"
        for one, other in combinations(words, 2):
            assert not _lie_on_each_other(one, other), f"slide {number}: {one[4]!r}, {other[4]!r}"


def _lie_on_each_other(one: Box, other: Box) -> bool:
    """Whether two words share more than the leading of their lines; turned ones are left out."""
    across = min(one[2], other[2]) - max(one[0], other[0])
    down = min(one[3], other[3]) - max(one[1], other[1])
    low = min(one[3] - one[1], other[3] - other[1])
    turned = any(box[3] - box[1] > 1.5 * (box[2] - box[0]) and len(box[4]) > 2
                 for box in (one, other))  # fmt: skip
    return not turned and across > 1.0 and down > 0.45 * low
