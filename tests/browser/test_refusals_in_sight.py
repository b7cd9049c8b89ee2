"""What a form refuses is seen without scrolling at 1366 by 768, for every kind that is typed."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from dashboard.tools.forms.order import SUBJECTS
from dashboard.tools.forms.record_form import typed_kinds
from layers.catalogue import KINDS
from tests.browser.chart import PATIENCE_MS
from tests.browser.conftest import Server, start, watched
from tests.browser.pages import at_rest, box, opened
from tests.browser.test_form_journeys import choose

pytestmark = pytest.mark.browser

# what is said beside the button, and how much of it lies within the window, nothing covering it
SAID = "[class*='st-key-act_'] [role=alert].mp-fault"
SEEN = """said => { const e = document.querySelector(said), r = e.getBoundingClientRect();
  const at = document.elementFromPoint(r.left + r.width / 2, r.top + Math.min(r.height / 2, 12));
  return {top: r.top, bottom: r.bottom, left: r.left, right: r.right, high: innerHeight,
    wide: innerWidth, clear: e.contains(at), cut: e.scrollHeight - e.clientHeight,
    words: e.innerText}; }"""
SHORT = ("datum.bearing", "survivors.air", "weather.observation", "tracks.vessel")


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory, shared: Path) -> Iterator[Server]:
    running = start(tmp_path_factory.mktemp("refused"), shared=shared)
    try:
        yield running
    finally:
        running.end()


@pytest.fixture
def page(browser: Browser, server: Server) -> Iterator[Page]:
    context = browser.new_context(viewport={"width": 1366, "height": 768})
    yield opened(watched(context.new_page()), server, "plot")
    context.close()


def refused(page: Page, kind: str) -> str:
    """Press Record on an empty form; return what is wrong with where its refusal stands."""
    title = f"{SUBJECTS[kind.split('.')[0]]}: {KINDS[kind].title}"
    choose(page, "What is reported or decided", title)
    at_rest(page)
    page.evaluate("() => document.querySelector('[data-testid=stMain]').scrollTo(0, 0)")
    expect(page.locator(SAID)).to_have_count(0, timeout=PATIENCE_MS)
    button = page.get_by_role("button", name="Record it", exact=True)
    expect(button).to_be_visible(timeout=PATIENCE_MS)
    button.click()
    at_rest(page)
    expect(page.locator(SAID), kind).to_have_count(1, timeout=PATIENCE_MS)
    seen = page.evaluate(SEEN, SAID)
    inside = seen["top"] >= 0 and seen["bottom"] <= seen["high"] and seen["left"] >= 0
    if inside and seen["right"] <= seen["wide"] and seen["clear"] and seen["cut"] <= 1:
        return ""
    return f"{kind}: {seen}"


@pytest.mark.long
@pytest.mark.parametrize("subject", sorted(SUBJECTS))
def test_what_any_form_refuses_stands_in_sight(page: Page, subject: str) -> None:
    box(page, "Add")
    kinds = [name for name in typed_kinds() if name.split(".")[0] == subject]
    wrong = [said for kind in kinds if (said := refused(page, kind))]
    assert not wrong, "\n".join(wrong)


def test_what_is_refused_stands_in_sight(page: Page) -> None:
    box(page, "Add")
    wrong = [said for kind in SHORT if (said := refused(page, kind))]
    assert not wrong, "\n".join(wrong)
