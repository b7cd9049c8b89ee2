"""The one box in a real browser, on an empty exercise: read back, asked, recorded, undone."""

from __future__ import annotations

import re
import time
from collections.abc import Iterator

import pytest
from playwright.sync_api import Page, expect

from layers.catalogue import KINDS
from layers.journal.store import open_journal
from tests.browser.conftest import Server, Watched, start

pytestmark = pytest.mark.browser
PATIENCE_MS = 120_000  # of a machine that is busy with other tests


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    running = start(tmp_path_factory.mktemp("heard"), "--empty", "--exercise", "TRY")
    try:
        yield running
    finally:
        running.end()


def kinds(server: Server) -> list[str]:
    """Return what the journal holds, oldest first."""
    journal = open_journal(server.folder / "journal.sqlite", KINDS, create=False, readonly=True)
    try:
        return [record.kind for record in reversed(journal.log(upto_seq=10_000))]
    finally:
        journal.close()


def said(page: Page) -> str:
    return page.locator(".st-key-heard_said").inner_text()


def press(page: Page, line: str) -> None:
    """Go to the box by its key from wherever the page is, type a line and press Enter."""
    page.evaluate("document.activeElement.blur()")
    page.keyboard.press("/")
    expect(page.get_by_label("What was heard")).to_be_focused()
    page.keyboard.type(line)
    page.keyboard.press("Enter")


def opened(on: Watched, server: Server, name: str) -> Page:
    on.page.set_viewport_size({"width": 1366, "height": 768})
    on.page.goto(f"{server.address}/{name}")
    expect(on.page.get_by_label("What was heard")).to_be_visible(timeout=PATIENCE_MS)
    page: Page = on.page
    return page


def test_a_line_is_read_back_recorded_and_stands_there_with_its_number(
    on: Watched, server: Server
) -> None:
    page = opened(on, server, "plot")
    press(page, "lkp 4320N 00840E -30 min within 2 nmi; 52 on board")
    understood = page.locator(".mp-heard", has_text="Understood: last known position")
    expect(understood).to_be_visible(timeout=PATIENCE_MS)
    assert kinds(server) == [], "read back is not recorded"
    box = page.locator(".st-key-heard_said").bounding_box()
    assert box is not None
    assert 0 <= box["y"] < box["y"] + box["height"] <= 768, "in sight without scrolling"
    began = time.monotonic()
    page.keyboard.press("Enter")
    expect(page.get_by_text(re.compile(r"No\. 1:"))).to_be_visible(timeout=PATIENCE_MS)
    print(f"second Enter to the read-back with its number: {time.monotonic() - began:.2f} s")
    assert kinds(server) == ["datum.lkp", "survivors.complement"]
    expect(page.get_by_label("What was heard")).to_have_value("")


def test_what_is_asked_is_answered_by_a_press(on: Watched, server: Server) -> None:
    page = opened(on, server, "watch")
    press(page, "lkp 4320N 00840E -20 min within 3,704 m")
    expect(page.get_by_text("3,704 m: 3704 m or 3.7040 m?")).to_be_visible(timeout=PATIENCE_MS)
    before = kinds(server)
    page.keyboard.press("Enter")
    page.get_by_role("button", name="3704 m", exact=True).click()
    expect(page.get_by_label("What was heard")).to_have_value(re.compile("within 3704 m"))
    expect(page.get_by_text(re.compile("Understood:"))).to_be_visible(timeout=PATIENCE_MS)
    assert kinds(server) == before, "nothing is recorded by an answer alone"


def test_undo_takes_it_back_by_one_press_from_any_page(on: Watched, server: Server) -> None:
    page = opened(on, server, "log")
    press(page, "sublook")
    expect(page.get_by_text(re.compile("Understood: stage SUBLOOK"))).to_be_visible(
        timeout=PATIENCE_MS
    )
    page.keyboard.press("Enter")
    undo = page.locator(".st-key-heard_said").get_by_role("button", name="Undo")
    undo.click(timeout=PATIENCE_MS)
    expect(page.locator(".st-key-heard_said s")).to_have_count(1, timeout=PATIENCE_MS)
    assert kinds(server)[-2:] == ["watch.stage", "journal.retract"]


def test_what_is_no_fact_says_that_nothing_of_it_is_on_the_plot(
    on: Watched, server: Server
) -> None:
    page = opened(on, server, "search")
    press(page, "captain has been told")
    note = page.get_by_text("kept as a note, nothing of it is on the plot").first
    expect(note).to_be_visible(timeout=PATIENCE_MS)
    page.keyboard.press("Enter")
    expect(page.get_by_text(re.compile(r"No\. \d+:"))).to_be_visible(timeout=PATIENCE_MS)
    assert kinds(server)[-1] == "watch.note"


def test_the_examples_are_listed(on: Watched, server: Server) -> None:
    page = opened(on, server, "plot")
    page.get_by_role("button", name="Examples").click()
    expect(page.get_by_text("nothing seen TENACE box", exact=False)).to_be_visible()
    expect(page.get_by_text("52 on board", exact=True)).to_be_visible()


def test_who_presses_enter_on_and_on_while_a_page_is_slow_records_once(
    on: Watched, server: Server
) -> None:
    page = opened(on, server, "watch")
    before = kinds(server).count("watch.decision")
    press(page, "decided: launch at first light")
    expect(page.get_by_text(re.compile("Understood:"))).to_be_visible(timeout=PATIENCE_MS)
    for _ in range(6):  # the page has not shown yet that the first was taken
        page.keyboard.press("Enter")
    expect(page.get_by_label("What was heard")).to_have_value("", timeout=PATIENCE_MS)
    page.wait_for_timeout(2_000)
    press(page, "decided: launch at first light")
    once = page.get_by_text(re.compile("recorded just now, once"))
    expect(once.or_(page.get_by_text(re.compile("Understood:")))).to_be_visible(timeout=PATIENCE_MS)
    if once.is_visible():  # after ten seconds, as a slow machine takes, it may be meant again
        page.keyboard.press("Enter")
        page.keyboard.press("Enter")
    page.wait_for_timeout(2_000)
    assert kinds(server).count("watch.decision") == before + 1


@pytest.mark.parametrize("fault", [
    "document.activeElement.blur()",  # the page was drawn anew, and Enter falls beside the box
    "document.addEventListener('keydown', (e) => e.stopImmediatePropagation(), "
    "{capture: true, once: true})",  # the page was busy, and took no notice
    # and the record of the line before went meanwhile
    "document.addEventListener('keydown', (e) => e.stopImmediatePropagation(), "
    "{capture: true, once: true}); const old = document.createElement('div'); "
    "old.className = 'mp-heard mp-done'; old.textContent = 'told before'; "
    "document.querySelector('.st-key-heard_said').append(old); setTimeout(() => old.remove(), 300)",
])  # fmt: skip
def test_an_enter_that_the_page_did_not_take_is_given_once_more(
    on: Watched, server: Server, fault: str
) -> None:
    page = opened(on, server, "watch")
    line = f"decided: wait for the better ship, {len(fault)}"
    press(page, line)
    expect(page.get_by_text(re.compile("Understood:"))).to_be_visible(timeout=PATIENCE_MS)
    before = kinds(server).count("watch.decision")
    page.evaluate(fault)
    page.keyboard.press("Enter")
    expect(page.get_by_text(re.compile(r"No\. \d+:"))).to_be_visible(timeout=PATIENCE_MS)
    page.wait_for_timeout(4_000)
    assert kinds(server).count("watch.decision") == before + 1
