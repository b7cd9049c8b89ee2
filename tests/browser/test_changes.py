"""What changed is swapped into the open page: no script runs, and a lost link is said."""

from __future__ import annotations

import re
import uuid
from datetime import timedelta

import pytest
from playwright.sync_api import Browser, Page, WebSocketRoute, expect

from layers.catalogue import KINDS
from layers.journal.actor import Actor, Role
from layers.journal.record import Draft, form_identity
from layers.journal.store import Journal
from tests.browser.chart import CHART, PATIENCE_MS, chart, run
from tests.browser.conftest import Server

pytestmark = pytest.mark.browser
WATCH = Actor(name="watch officer 1", role=Role.WATCH)
READER = {"X-Forwarded-For": "192.0.2.1"}
OURS = re.compile(r"/changes$")
PLACE = "() => musterplot.marks.filter(m => (m.p.t || '').startsWith('mmsi:299000903')).length"


def record(server: Server, latitude: float) -> None:
    journal = Journal.open(server.folder / "exercise.sqlite", KINDS)
    at = journal.now() - timedelta(seconds=1)
    payload = {"subject": "mmsi:299000903", "latitude_deg": latitude, "longitude_deg": -8.45,
               "speed_kn": 5.0, "course_true_deg": 0.0}  # fmt: skip
    moved = Draft(kind="tracks.position", payload=payload, valid_at=at, heard_at=at, source="form",
                  identity=form_identity(uuid.uuid4().hex))  # fmt: skip
    journal.append(WATCH, [moved])
    journal.close()


def reader(browser: Browser) -> Page:
    return browser.new_page(viewport={"width": 1366, "height": 768}, extra_http_headers=READER)


def followed(page: Page, server: Server, latitude: float) -> None:
    before = run(page, "() => JSON.stringify(musterplot.told.v)")
    record(server, latitude)
    inner = page.wait_for_selector(CHART).content_frame()
    assert inner is not None
    inner.wait_for_function(
        "before => JSON.stringify(musterplot.told.v) !== before", arg=before, timeout=PATIENCE_MS
    )


def test_a_readers_page_follows_without_being_run(browser: Browser, server: Server) -> None:
    page = reader(browser)
    runs: list[int] = []
    page.on("websocket", lambda socket: None if OURS.search(socket.url) else socket.on(
        "framereceived", lambda frame: runs.append(len(frame))))  # fmt: skip
    page.goto(server.address)
    chart(page)
    expect(page.locator(".mp-strip [data-answer='margin'] b")).to_have_text(
        re.compile(r"\d"), timeout=PATIENCE_MS
    )
    page.locator("[data-test-script-state='notRunning']").wait_for(state="attached")
    field = page.get_by_label("Time shown, as 160640Z or 0640")
    field.click()
    field.fill("1606")
    node = page.locator("[data-part='strip'] .mp-strip").element_handle()
    before = len(runs)
    followed(page, server, 49.91)
    assert len(runs) == before, "no script ran for it"
    assert field.input_value() == "1606"
    assert field.evaluate("e => e === document.activeElement")
    assert node.evaluate("e => e.isConnected"), "the strip's own nodes stay"
    page.close()


def test_without_the_socket_it_is_asked_now_and_then_and_says_so(
    browser: Browser, server: Server
) -> None:
    page = reader(browser)

    def shut(route: WebSocketRoute) -> None:
        route.close(code=1011)

    page.route_web_socket(OURS, shut)
    page.goto(server.address)
    chart(page)
    said = page.locator(".mp-slow")
    expect(said).to_have_text("Slow link: asked every 3 s.", timeout=PATIENCE_MS)
    followed(page, server, 49.92)
    page.close()


def test_a_page_that_is_told_nothing_says_how_old_it_is(browser: Browser, server: Server) -> None:
    page = reader(browser)
    page.route_web_socket(OURS, lambda route: None)  # it takes questions and answers none
    page.goto(server.address)
    chart(page)
    said = page.get_by_role("alert").filter(has_text="NO UPDATE since")
    expect(said).to_have_text(
        re.compile(r"NO UPDATE since \d{4}:\d\dZ .* stands here is \d+ s old"), timeout=PATIENCE_MS
    )
    page.close()
