"""Small letter files in the stead of the framework's: nothing that a page writes is missing."""

from __future__ import annotations

import re
import warnings
from itertools import pairwise
from pathlib import Path

import pytest
from fontTools.pens.boundsPen import BoundsPen
from fontTools.ttLib import TTFont
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.responses import PlainTextResponse
from starlette.routing import Route

from dashboard.door.letters import FOLDER, ICONS, LETTERS, RANGES, OwnLetters, other_ranges
from tests import letters

with warnings.catch_warnings():  # its newer client is not needed for this
    warnings.simplefilter("ignore")
    from starlette.testclient import TestClient

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def ours() -> TTFont:
    return letters.opened((FOLDER / LETTERS).read_bytes())


@pytest.fixture(scope="module")
def whole() -> TTFont:
    return letters.opened(letters.framework("SourceSansVF-Upright"))


def test_every_symbol_that_the_framework_may_ask_for_is_there_and_drawn() -> None:
    held = letters.names_in((FOLDER / ICONS).read_bytes())
    assert letters.asked_for() <= held.keys()
    glyphs = letters.opened((FOLDER / ICONS).read_bytes()).getGlyphSet()
    for name in ("expand_more", "close", "check", "visibility", "upload", "chevron_right"):
        pen = BoundsPen(glyphs)
        glyphs[held[name]].draw(pen)
        assert pen.bounds is not None, name


def test_no_letter_of_our_ranges_is_lost(ours: TTFont, whole: TTFont) -> None:
    wanted = {c for least, most in RANGES for c in range(least, most + 1)}
    assert wanted & whole.getBestCmap().keys() <= ours.getBestCmap().keys()


def test_what_the_program_says_by_itself_needs_no_other_file(ours: TTFont, whole: TTFont) -> None:
    files = [p for top in ("dashboard", "layers") for p in (ROOT / top).rglob("*")]
    files = [p for p in files if p.name != "alike.py"]  # letters of names that are told apart
    texts = [p.read_text() for p in files if p.suffix in (".py", ".js", ".css")]
    told = {ord(letter) for text in texts for letter in text}
    assert told & whole.getBestCmap().keys() <= ours.getBestCmap().keys()


def test_figures_stay_in_columns_and_every_weight_is_there(ours: TTFont, whole: TTFont) -> None:
    widths = {ours["hmtx"][ours.getBestCmap()[ord(figure)]][0] for figure in "0123456789"}
    assert len(widths) == 1
    axes = [(a.axisTag, a.minValue, a.maxValue) for a in ours["fvar"].axes]
    assert axes == [(a.axisTag, a.minValue, a.maxValue) for a in whole["fvar"].axes]


def test_a_changed_file_carries_another_name(ours: TTFont) -> None:
    names = {str(r) for r in ours["name"].names if r.nameID in (1, 3, 4, 6, 16, 25)}
    assert not any("source" in name.lower() for name in names)
    assert any("SIL Open Font License" in str(r) for r in ours["name"].names)


def test_our_letters_and_the_rest_are_every_letter_once() -> None:
    rest = [
        (int(a, 16), int(b, 16))
        for a, b in re.findall(r"U\+([0-9A-F]+)-([0-9A-F]+)", other_ranges())
    ]
    both = sorted([*rest, *RANGES])
    assert both[0][0] == 0
    assert both[-1][1] == 0x10FFFF
    assert all(low[1] + 1 == high[0] for low, high in pairwise(both))


def test_ours_are_given_at_the_frameworks_address_and_the_whole_when_asked_for() -> None:
    async def framework(_request: object) -> PlainTextResponse:
        return PlainTextResponse("the framework's")

    app = Starlette(routes=[Route("/{rest:path}", framework)], middleware=[Middleware(OwnLetters)])
    client = TestClient(app)
    place = "/plot/static/media/SourceSansVF-Upright.ttf.BsWL4Kly.woff2"
    assert client.get(place).content == (FOLDER / LETTERS).read_bytes()
    assert client.get(place).headers["content-type"] == "font/woff2"
    assert client.get(f"{place}?whole").text == "the framework's"
    symbols = "/static/media/MaterialSymbols-Rounded.nEdyypZU.woff2"
    assert client.get(symbols).content == (FOLDER / ICONS).read_bytes()
    assert client.get("/static/media/SourceSansVF-Italic.x.woff2").text == "the framework's"
