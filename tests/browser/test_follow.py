"""A page follows the journal by itself, and costs next to nothing while nothing happens."""

from __future__ import annotations

import re
import uuid
from datetime import timedelta

import pytest
from playwright.sync_api import Route, expect

from layers.catalogue import KINDS
from layers.journal.actor import Actor, Role
from layers.journal.record import Draft, form_identity
from layers.journal.store import open_journal
from tests.browser.chart import CHART, PATIENCE_MS, chart, run
from tests.browser.conftest import Server, Watched
from tests.browser.pages import at_rest, opened

pytestmark = pytest.mark.browser
WATCH = Actor(name="watch officer 1", role=Role.WATCH)
QUIET_MS = 10_000


def test_what_another_records_is_shown_without_being_asked_for(on: Watched, server: Server) -> None:
    opened(on, server)
    run(on.page, "() => void map_div.setView([3000, -4000], -4.5, {animate: false})")
    journal = open_journal(server.folder / "exercise.sqlite", KINDS)
    at = journal.now() - timedelta(seconds=1)
    payload = {"subject": "mmsi:299000903", "latitude_deg": 49.86, "longitude_deg": -8.45,
               "speed_kn": 5.0, "course_true_deg": 0.0}  # fmt: skip
    identity = form_identity(uuid.uuid4().hex)
    moved = Draft(kind="tracks.position", payload=payload, valid_at=at, heard_at=at, source="form",
                  identity=identity)  # fmt: skip
    journal.append(WATCH, [moved])
    journal.close()
    drawn = "() => musterplot.marks.some(m => (m.p.t || '').startsWith('mmsi:299000903'))"
    on.page.wait_for_selector(CHART).content_frame().wait_for_function(drawn, timeout=PATIENCE_MS)
    kept = run(
        on.page, "() => [map_div.getCenter().lat, map_div.getCenter().lng, map_div.getZoom()]"
    )
    assert kept == pytest.approx([3000, -4000, -4.5], abs=60)
    assert on.errors == []


def test_a_quiet_page_is_sent_nothing(on: Watched, server: Server) -> None:
    received: list[int] = []
    on.page.on("websocket", lambda socket: socket.on(
        "framereceived", lambda frame: received.append(len(frame))))  # fmt: skip
    opened(on, server, "?as_of=1805068800000000")  # another time than now: no minute passes there
    expect(on.page.locator(".mp-strip .moved")).to_be_visible(timeout=PATIENCE_MS)
    for _ in range(12):  # the slow layers of that time may still come
        before = len(received)
        on.page.wait_for_timeout(QUIET_MS)
        if len(received) == before:
            break
    assert received, "the page came over the socket that was listened to"
    assert len(received) == before, "a page that shows one past time is left alone"


@pytest.mark.long
def test_a_chart_whose_marks_do_not_come_says_so(on: Watched, server: Server) -> None:
    marks = re.compile(r"/media/[0-9a-f]+\.gz$")
    on.page.route(marks, lambda route: route.abort())
    on.page.goto(server.address)
    inside = on.page.frame_locator(CHART)
    said = inside.get_by_role("alert")
    expect(said).to_have_text("MARKS MISSING: the chart is empty", timeout=PATIENCE_MS)
    on.page.unroute(marks)
    chart(on.page)  # asked for again until they come
    expect(said).to_be_hidden(timeout=PATIENCE_MS)
    at_rest(on.page)
    on.page.route(marks, lambda route: route.abort())
    on.page.get_by_role("slider", name="Time shown").press("Home")
    expect(said).to_have_text(
        "MARKS MISSING: what is shown is of another time", timeout=PATIENCE_MS
    )
    on.page.unroute(marks)
    expect(said).to_be_hidden(timeout=PATIENCE_MS)


def test_while_the_chart_is_on_its_way_its_place_says_so(on: Watched, server: Server) -> None:
    held: list[Route] = []
    on.page.route("**/leaflet.js*", lambda route: held.append(route))
    on.page.goto(server.address)
    place = on.page.locator(CHART)
    expect(place).to_be_visible(timeout=PATIENCE_MS)
    words = "frame => getComputedStyle(frame.parentElement, '::after').content"
    assert place.evaluate(words) == '"The chart is being drawn"'
    for each in held:
        each.continue_()
    on.page.unroute("**/leaflet.js*")
    chart(on.page)
    assert place.evaluate(words) == "none"
