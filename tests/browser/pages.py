"""What the journeys share: opening a page, waiting until it is at rest, its two known misses."""

from __future__ import annotations

import re

from playwright.sync_api import Page, expect

from tests.browser.chart import chart
from tests.browser.conftest import Server, Watched

OPENING_MS = 180_000  # a cold server works the whole picture out first
# Streamlit's page asks for its health below its own address before it asks at the root; only a
# server of its own making could answer there. Nothing else may fail.
KNOWN = re.compile(r"404 http://127\.0\.0\.1:\d+/[a-z]+/_stcore/(health|host-config)$")


def opened(on: Watched, server: Server, address: str = "") -> Page:
    """Open a page and wait for its banner; on the plot also for its marks."""
    on.page.goto(f"{server.address}/{address}")
    expect(on.page.get_by_text("EXERCISE SABLE TIDE").first).to_be_visible(timeout=OPENING_MS)
    if address.partition("?")[0] in ("", "plot"):
        chart(on.page)
    at_rest(on.page)
    return on.page


def at_rest(page: Page) -> None:
    """Wait until the page's script has run to its end."""
    expect(page.locator('[data-test-script-state="notRunning"]').first).to_be_attached(
        timeout=OPENING_MS
    )


def box(page: Page, name: str) -> None:
    """Open one of the boxes beside the chart."""
    page.get_by_role("button", name=name, exact=True).or_(
        page.get_by_role("radio", name=name, exact=True)
    ).first.click()
    at_rest(page)


def unknown_misses(on: Watched) -> list[str]:
    """Return the failed requests that are not the two known ones."""
    return [each for each in on.failed if not KNOWN.search(each)]
