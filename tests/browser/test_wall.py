"""The wall as the room reads it: nothing to scroll or press, letters for four metres, link lost."""

from __future__ import annotations

import os
import re
import signal
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace

import pytest
from playwright.sync_api import Browser, Page, expect

from dashboard.panels.plot.two_clocks import wall_html
from dashboard.panels.wall import sheet
from layers.alive import last_beat
from layers.contract import Shown
from layers.earth.table import Table
from layers.incidents import folder_of
from layers.scene.ink import INKS
from tests.browser.chart import CHART, PATIENCE_MS, chart
from tests.browser.conftest import Server, start
from tests.browser.pages import at_rest
from tests.unit.test_survivors_clocks import looked

pytestmark = pytest.mark.browser

OPENING_MS = 2 * PATIENCE_MS
SIZES = ((1920, 1080), (3840, 2160))
# ISO 9241-303 from memory: 20 minutes of arc, 3 % of the height of a 65-inch screen at four metres
LEAST, FOUR = 0.027, 0.09
LETTERS = """() => [...document.querySelectorAll('.mp-w span, .mp-w b, .mp-w div')]
  .filter(e => [...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim()))
  .map(e => [e.textContent.slice(0, 40), parseFloat(getComputedStyle(e).fontSize) / innerHeight])"""
CHART_LETTERS = """() => [...document.querySelectorAll('.mp-label, .mp-grat, .mp-box')]
  .filter(e => e.checkVisibility() && e.textContent.trim())
  .map(e => [e.textContent.slice(0, 40), parseFloat(getComputedStyle(e).fontSize)])"""
LABEL_BOXES = """() => [...document.querySelectorAll('.mp-label')]
  .filter(e => e.checkVisibility() && e.textContent.trim())
  .map(e => [e, e.getBoundingClientRect()])
  .filter(([, b]) => b.right > 0 && b.left < innerWidth && b.bottom > 0 && b.top < innerHeight)
  .map(([e, b]) => [e.textContent, b.left / innerWidth, b.top / innerHeight, b.right / innerWidth,
    b.bottom / innerHeight, e.classList.contains('r0') ? 0 : 1])"""
BELOW = """() => [...document.querySelectorAll('.mp-w, .mp-clocks, iframe')]
  .map(e => e.getBoundingClientRect())
  .filter(b => b.bottom > innerHeight + 1 || b.right > innerWidth + 1)
  .length"""

CLOCK_LETTERS = """() => [...document.querySelectorAll('.mp-clocks text')]
  .filter(t => t.checkVisibility())
  .map(t => [t, t.getBoundingClientRect()])
  .map(([t, b]) => [t.textContent, b.left, b.right, b.bottom,
    parseFloat(getComputedStyle(t).fontSize) * t.getScreenCTM().a])"""


@pytest.fixture(params=[(size, ink) for size in SIZES for ink in ("night", "day")],
                ids=lambda p: f"{p[0][1]}-{p[1]}", scope="module")  # fmt: skip
def wall(browser: Browser, server: Server, request: pytest.FixtureRequest) -> Iterator[Page]:
    (width, height), ink = request.param
    page = browser.new_page(viewport={"width": width, "height": height})
    page.goto(f"{server.address}/wall?ink={ink}")
    chart(page)
    expect(page.locator(".mp-w [data-answer='margin']")).to_be_visible(timeout=OPENING_MS)
    yield page
    page.close()


def test_everything_fits_and_is_large_enough(wall: Page) -> None:
    height = wall.viewport_size["height"] if wall.viewport_size else 0
    wall.wait_for_timeout(1_000)
    assert wall.evaluate("() => document.scrollingElement.scrollHeight <= innerHeight")
    assert wall.evaluate(BELOW) == 0
    # a part of a cut line would hide what it says: only feeds and reports may end in dots
    letters = wall.evaluate(LETTERS)
    assert letters
    assert [one for one in letters if one[1] < LEAST] == []
    figures = wall.evaluate(
        "() => [...document.querySelectorAll('.figure')]"
        ".map(e => parseFloat(getComputedStyle(e).fontSize) / innerHeight)"
    )
    assert len(figures) >= 3
    assert min(figures) >= FOUR
    inner = wall.query_selector(CHART)
    frame = inner.content_frame() if inner else None
    assert frame is not None
    small = [one for one in frame.evaluate(CHART_LETTERS) if one[1] < LEAST * height - 0.5]
    assert small == []


def test_nothing_on_it_can_be_pressed(wall: Page) -> None:
    assert (
        wall.locator(".stMain button:visible, .stMain a:visible, .stMain input:visible").count()
        == 0
    )
    assert chart(wall).locator("a:visible, summary:visible").count() == 0


def test_alarms_are_counted_in_words(wall: Page) -> None:
    said = wall.locator(".mp-w[role=alert] .alert")
    # they come with a new server's first whole look
    expect(said).to_have_text(
        re.compile(r"^\d{4}Z recovery: the window closes, in .+ · \d+ more"), timeout=OPENING_MS
    )


QUESTIONS = {
    "is this real?": r"EXERCISE SABLE TIDE",
    "what hour is shown?": r"16\d{4}Z MAR 27",
    "how far has it come?": r"SUBSUNK \+2 d",
    "how many are still in her?": r"38\s+in hull",
    "is anyone adrift?": r"2\s+adrift",
    "who is not heard of?": r"12\s+not heard of",
    "will the last be out in time, what binds?": r"\+\d+\s+h\s+margin, .*after refuge, .+ binds",
    "may we dive, and from when?": r"(NO|YES)\s+dive, until \d{6}Z",
    "what is the oldest thing we rely on?": r"oldest: \w+",
    "what must be decided next, by when?": r"0800Z in .+: When can the third chamber",
    "who is late?": r"OVERDUE .+: [a-z ]+, \S",
}


def test_people_questions_are_answered_from_the_wall_alone(wall: Page) -> None:
    unanswered = list(QUESTIONS)
    for _ in range(60):  # the margin is rough at first
        said = wall.locator(".stMain").inner_text()
        unanswered = [asked for asked, words in QUESTIONS.items() if not re.search(words, said)]
        if not unanswered:
            break
        wall.wait_for_timeout(1_000)
    assert unanswered == []
    # who is nearest to the two: the arrow at the chart's edge says bearing and distance
    edge = chart(wall).locator(".mp-edge", has_text="escapees")
    expect(edge).to_contain_text(re.compile(r"0\d\d°T \d+\.\d nmi"))


def test_no_name_on_the_chart_is_cut_or_lies_on_another(wall: Page) -> None:
    chart(wall)
    wall.wait_for_timeout(1_000)
    inner = wall.query_selector(CHART)
    frame = inner.content_frame() if inner else None
    assert frame is not None
    boxes = frame.evaluate(LABEL_BOXES)
    assert boxes
    for number, (name, left, top, right, bottom, rank) in enumerate(boxes):
        assert rank == 0 or (left >= 0 and right <= 1 and top >= 0 and bottom <= 1), name
        for other in boxes[number + 1 :]:
            apart = left >= other[3] or right <= other[1] or top >= other[4] or bottom <= other[2]
            assert apart, (name, other[0])


def test_it_cannot_be_moved_in_time(browser: Browser, server: Server) -> None:
    page = browser.new_page(viewport={"width": 1920, "height": 1080})
    page.goto(f"{server.address}/wall?as_of=1805068800000000")  # 2027-03-15T00:00Z
    expect(page.locator(".mp-w [data-answer='margin']")).to_be_visible(timeout=OPENING_MS)
    assert page.get_by_text(re.compile(r"16\d{4}Z MAR 27")).count() > 0
    assert page.get_by_text("150000Z MAR 27").count() == 0
    page.close()


def test_when_the_link_is_lost_it_says_so_with_the_age(
    browser: Browser, tmp_path: Path, shared: Path
) -> None:
    server = start(tmp_path, shared=shared)
    page = browser.new_page(viewport={"width": 1920, "height": 1080})
    try:
        page.goto(f"{server.address}/wall")
        chart(page)
        page.wait_for_timeout(2_000)
        server.process.kill()
        lost = page.frame_locator(CHART).get_by_text(re.compile(r"LINK LOST: .* \d+ (s|min) old"))
        expect(lost).to_be_visible(timeout=30_000)
        box = lost.bounding_box()
        assert box is not None
        assert box["height"] >= LEAST * 1080
    finally:
        page.close()
        server.end()


@pytest.mark.long
def test_when_the_feed_reader_is_killed_it_says_so_with_the_age(
    browser: Browser, tmp_path: Path
) -> None:
    server = start(tmp_path)
    page = browser.new_page(viewport={"width": 1920, "height": 1080})
    try:
        page.goto(f"{server.address}/wall")
        expect(page.locator(".mp-w [data-answer='margin']")).to_be_visible(timeout=OPENING_MS)
        gone = page.get_by_text(re.compile(r"^The feed reader is gone, last heard .+ ago$"))
        expect(gone).to_have_count(0, timeout=OPENING_MS)
        at_rest(page)
        place = folder_of(tmp_path / "exercise.sqlite", tmp_path)
        for _ in range(120):  # it is started some seconds after the first view
            if (reader := last_beat(place, "feeds")) is not None:
                break
            page.wait_for_timeout(500)
        assert reader is not None
        server.process.send_signal(signal.SIGSTOP)  # so that nobody starts it again
        os.kill(reader.pid, signal.SIGKILL)
        expect(gone).to_be_visible(timeout=30_000)
        first = gone.inner_text()
        box = gone.bounding_box()
        assert box is not None
        assert box["height"] >= LEAST * 1080
        expect(gone).not_to_have_text(first, timeout=30_000)  # the age goes on
        server.process.send_signal(signal.SIGCONT)
        expect(gone).to_have_count(0, timeout=OPENING_MS)  # started again, and said no more
    finally:
        page.close()
        server.process.send_signal(signal.SIGCONT)
        server.end()


@pytest.mark.parametrize(("width", "height", "least_px"), [(390, 844, 13.0), (1920, 1080, 26.0)])
def test_the_two_clocks_keep_within_the_screen_and_their_letters_to_be_read(
    browser: Browser, width: int, height: int, least_px: float
) -> None:
    """Held in a hand they are drawn for it, so that nothing runs over an edge or is under 13 px."""
    picture = SimpleNamespace(layers={"margin": Shown(
        result=looked(60.0), marks=(), table=Table(heads=(), rows=()), sentence="", tables={},
    )})  # fmt: skip
    inner = wall_html(SimpleNamespace(picture=picture, ink=INKS["night"]))  # type: ignore[arg-type]  # a stand-in for a page
    page = browser.new_page(viewport={"width": width, "height": height})
    page.set_content(
        f"<!doctype html><style>body {{ margin: 0 }} {sheet()}</style>"
        f'<div class="mp-clocks">{inner}</div><p id="after">behind</p>'
    )
    told = page.evaluate(CLOCK_LETTERS)
    assert len(told) > 5
    for text, left, right, bottom, letter in told:
        assert -1.0 <= left < right <= width + 1.0, text
        assert letter >= least_px, text
        assert bottom <= page.locator("#after").bounding_box()["y"] + 16.0, text  # type: ignore[index]  # it is there
    page.close()
