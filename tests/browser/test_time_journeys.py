"""The time bar as the watch uses it: keyboard, hindsight, expected, and play."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from demo_data.scenario import DEMO_NOW
from layers.earth.clock import to_us
from tests.browser.chart import PATIENCE_MS
from tests.browser.conftest import Server, Watched
from tests.browser.pages import OPENING_MS, at_rest, opened

pytestmark = pytest.mark.browser
EVENING = 1_805_068_800_000_000  # 2027-03-15T00:00Z, before the first lift


def test_the_slider_moves_by_keyboard_and_the_muster_with_it(on: Watched, server: Server) -> None:
    page = opened(on, server)
    out = page.locator(".mp-strip [data-answer='persons.out']")
    now = out.inner_text()
    slider = page.get_by_role("slider", name="Time shown")
    slider.focus()
    slider.press("ArrowLeft")
    expect(page.locator(".mp-strip .moved", has_text=re.compile("^16"))).to_be_visible(
        timeout=OPENING_MS
    )
    page.get_by_role("slider", name="Time shown").press("Home")
    expect(page.locator(".mp-strip .moved", has_text=re.compile("^1[123]"))).to_be_visible(
        timeout=OPENING_MS
    )
    # at the first record nobody was out yet: a cell of nought is left out, and never the last one
    expect(out.filter(has_text=re.compile(rf"^{now.split()[0]}\s*out"))).to_have_count(
        0, timeout=PATIENCE_MS
    )
    page.get_by_role("slider", name="Time shown").press("End")
    ahead = page.locator(".mp-strip .moved[data-mode='by plan']", has_text=re.compile("^18"))
    expect(ahead).to_be_visible(timeout=OPENING_MS)
    page.get_by_role("button", name="Now", exact=True).click()
    expect(page.locator(".mp-strip [data-mode='now']")).to_be_visible(timeout=OPENING_MS)
    assert on.errors == []


def test_a_time_is_typed_and_what_is_none_is_said_beside_it(on: Watched, server: Server) -> None:
    page = opened(on, server)
    field = page.get_by_label("Time shown, as 160640Z or 0640")
    field.fill("yesterday-ish")
    field.press("Enter")
    said = page.locator(".st-key-time").get_by_role("alert")
    expect(said).to_contain_text("yesterday-ish", timeout=OPENING_MS)
    expect(field).to_have_value("yesterday-ish")  # kept to be mended
    expect(page.locator(".mp-strip [data-mode='now']")).to_be_visible()
    field.fill("150000Z")
    field.press("Enter")
    expect(page.locator(".mp-strip .moved", has_text="150000Z")).to_be_visible(timeout=OPENING_MS)
    expect(said).to_have_count(0)
    assert on.errors == []


def test_hindsight_is_told_from_what_was_known(on: Watched, server: Server) -> None:
    page = opened(on, server, f"?as_of={EVENING}")
    expect(page.locator(".mp-strip .moved", has_text="150000Z")).to_be_visible()
    # how old the feeds are is told of now, and says so
    feeds = page.locator(".mp-line").filter(has_text="Feeds")
    expect(feeds).to_contain_text(re.compile(r"\d+ of \d+\s*now: "))
    page.get_by_text("in hindsight", exact=True).click()
    expect(page.locator(".mp-strip [data-mode='hindsight']", has_text="150000Z")).to_be_visible(
        timeout=OPENING_MS
    )


@pytest.mark.long
def test_play_goes_on_and_stops_at_now(on: Watched, server: Server) -> None:
    page = opened(on, server, f"?as_of={to_us(DEMO_NOW) - 45 * 60_000_000}")
    expect(page.locator(".mp-strip .moved", has_text="160550Z")).to_be_visible()
    page.get_by_role("button", name="Play", exact=True).click()
    expect(page.locator(".mp-strip .moved", has_text=re.compile("^1606"))).to_be_visible(
        timeout=OPENING_MS
    )
    expect(page.locator(".mp-strip [data-mode='now']")).to_be_visible(timeout=OPENING_MS)
    expect(page.get_by_role("button", name="Play", exact=True)).to_be_visible(timeout=PATIENCE_MS)


def test_no_mode_and_no_time_moves_the_slider_under_the_hand(on: Watched, server: Server) -> None:
    # L27: at 1366 moving the slider wrapped a banner, and page and slider jumped 30 px
    page = opened(on, server)
    slider = page.locator(".st-key-time [data-testid='stSlider']")
    strip = page.locator(".mp-strip")

    def places() -> tuple[float, float, float]:
        expect(strip).to_be_visible(timeout=PATIENCE_MS)  # it is drawn anew for each mode
        bar, top = slider.bounding_box(), strip.bounding_box()
        assert bar is not None
        assert top is not None
        return bar["y"], top["y"], top["height"]

    before = places()
    for mode in ("in hindsight", "expected", "as known"):
        page.locator(".st-key-time button", has_text=mode).first.click()
        at_rest(page)
        assert places() == before, mode
    for typed in ("131730Z", "160535Z"):
        field = page.locator(".st-key-time input").first
        field.fill(typed)
        field.press("Enter")
        expect(strip).to_contain_text(typed, timeout=PATIENCE_MS)
        at_rest(page)
        assert places() == before, typed
