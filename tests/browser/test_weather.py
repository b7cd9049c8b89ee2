"""The weather page as the watch meets it: the real command, a real browser, no network."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from tests.browser.chart import PATIENCE_MS, chart
from tests.browser.conftest import Server, Watched

pytestmark = pytest.mark.browser

OPENING_MS = 3 * PATIENCE_MS  # the first picture is computed, on a machine that may be busy


def opened(on: Watched, server: Server) -> None:
    on.page.goto(server.address)
    expect(on.page.get_by_text("EXERCISE SABLE TIDE").first).to_be_visible(timeout=OPENING_MS)
    chart(on.page)  # who leaves while it loads breaks its requests off
    on.page.get_by_role("link", name="Weather", exact=True).first.click(timeout=OPENING_MS)
    on.page.get_by_role("radio", name="Everything", exact=True).first.click(timeout=OPENING_MS)
    expect(on.page.locator("strong", has_text="Elsewhere")).to_be_visible(timeout=OPENING_MS)


def test_the_weather_is_drawn_from_the_exercise_without_a_network(
    on: Watched, server: Server
) -> None:
    opened(on, server)
    said = on.page.get_by_text(re.compile(r"Sea state \d \(\w+\), Hs \d")).first
    expect(said).to_be_visible(timeout=PATIENCE_MS)
    # waves before all, windows, three drawings through time, and the last issues
    expect(on.page.locator("[data-testid=stVegaLiteChart]")).to_have_count(6, timeout=PATIENCE_MS)
    drawn = on.page.locator(
        "[data-testid=stVegaLiteChart] canvas, [data-testid=stVegaLiteChart] svg"
    )
    expect(drawn.first).to_be_visible(timeout=PATIENCE_MS)
    assert on.failed == []
    assert on.errors == []


def test_moving_a_limit_moves_its_window(on: Watched, server: Server) -> None:
    opened(on, server)
    cell = on.page.get_by_role("row", name=re.compile("^window 1")).first
    expect(cell).to_be_visible(timeout=PATIENCE_MS)
    before = cell.inner_text()
    field = on.page.get_by_label("Hs at most (m)").first
    field.fill("2.5")
    field.press("Tab")
    expect(on.page.get_by_text("Tried on this screen only")).to_be_visible(timeout=PATIENCE_MS)
    assert cell.inner_text() != before
    assert on.errors == []
