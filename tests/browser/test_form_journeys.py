"""The forms that are used most, typed in one browser and seen on the plot of another."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, TimeoutError, expect

from tests.browser.chart import PATIENCE_MS, chart, run
from tests.browser.conftest import Server, Watched, start, watched
from tests.browser.pages import OPENING_MS, at_rest, box, opened

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory, shared: Path) -> Iterator[Server]:
    """A server of these tests' own: what is typed stays in its journal."""
    running = start(tmp_path_factory.mktemp("typed"), shared=shared)
    try:
        yield running
    finally:
        running.end()


@pytest.fixture
def other(browser: Browser) -> Iterator[Watched]:
    """Somebody else's browser: nothing is shared with the first."""
    context = browser.new_context(viewport={"width": 1920, "height": 1080})
    yield watched(context.new_page())
    context.close()


def choose(page: Page, label: str, option: str) -> None:
    """Choose from a list by its label and the first words of the option."""
    field = page.get_by_role("combobox", name=label, exact=True).first
    wanted = page.get_by_role("option", name=re.compile(f"^{re.escape(option)}")).first
    for _ in range(3):  # a page that is drawn anew just then closes the list
        field.click()
        field.fill(option)  # a long list holds only what is in view; typing narrows it
        try:
            wanted.click(timeout=5_000)
        except TimeoutError:
            continue
        expect(field).to_have_value(re.compile(f"^{re.escape(option)}"))
        return
    raise AssertionError(f"{option!r} could not be chosen as {label!r}")


def fill(page: Page, **typed: str) -> None:
    for label, text in typed.items():
        named = page.get_by_label(label.replace("_", " "), exact=True)
        named.locator("visible=true").first.fill(text)  # folded boxes hold fields of that name too


CELLS = """() => Object.fromEntries([...document.querySelectorAll(
  ".mp-strip [data-answer^='persons.']")].map(e => [e.dataset.answer.slice(8),
    parseInt(e.querySelector("b").textContent)]))"""


def muster(page: Page) -> dict[str, int]:
    """Return the people of the strip; a cell of nought is left out there."""
    found: dict[str, int] = page.evaluate(CELLS)
    on_board = found.pop("on_board")
    dead = re.search(r"(\d+) dead", page.locator(".mp-strip .pob").inner_text())
    assert sum(found.values()) + int(dead[1] if dead else 0) == on_board, found
    return found


def moving(page: Page) -> None:
    page.get_by_text("Move people", exact=True).click()
    expect(page.get_by_role("button", name="Move them")).to_be_visible(timeout=PATIENCE_MS)


def test_people_moved_are_counted_on_the_other_plot(
    on: Watched, other: Watched, server: Server
) -> None:
    theirs = opened(other, server, "plot")
    before = muster(theirs)
    page = opened(on, server, "survivors")
    moving(page)
    choose(page, "From", "on the surface")
    choose(page, "To", "picked up")
    fill(page, **{"walking (persons)": "1", "From whom": "SALTMARSH"})
    choose(page, "Booked there as", "unknown")
    move = page.get_by_role("button", name="Move them")
    move.click()
    said = page.get_by_role("alert").filter(has_text="reason: nothing was given")
    expect(said).to_be_visible(timeout=PATIENCE_MS)
    assert page.get_by_label("walking (persons)").input_value() == "1"  # kept as typed
    fill(page, Reason="taken from the water")
    move.click()
    out = theirs.locator(".mp-strip [data-answer='persons.out'] b")
    expect(out).to_have_text(str(before["out"] + 1), timeout=PATIENCE_MS)
    after = muster(theirs)
    assert after == before | {"out": before["out"] + 1, "adrift": before["adrift"] - 1}
    picked = page.locator(".stMain").get_by_text(re.compile(r"^picked up: 2"))
    expect(picked.first).to_be_visible(timeout=PATIENCE_MS)
    assert on.errors == []


def test_the_seabeds_form_begins_where_it_is_looked_for(on: Watched, server: Server) -> None:
    """One press shows the first field, at 1366 by 768, without moving the page."""
    on.page.set_viewport_size({"width": 1366, "height": 768})
    page = opened(on, server, "seabed")
    page.get_by_text("Record", exact=True).click()
    field = page.get_by_role("combobox", name="What to record", exact=True)
    expect(field).to_be_visible(timeout=PATIENCE_MS)
    heard = page.locator(".st-key-heard").bounding_box()
    assert heard is not None
    expect(page.get_by_text("Transponder dropped", exact=True)).to_be_visible(timeout=PATIENCE_MS)
    page.wait_for_function(
        """top => [...document.querySelectorAll("input[role=combobox]")].some(e => {
          const at = e.getBoundingClientRect();
          return at.height > 0 && at.top > 0 && at.bottom < top; })""",
        arg=heard["y"],
        timeout=PATIENCE_MS,
    )
    assert on.errors == []


def test_a_move_of_more_than_there_are_is_refused_and_kept(on: Watched, server: Server) -> None:
    page = opened(on, server, "survivors")
    moving(page)
    choose(page, "From", "hospital")
    choose(page, "To", "picked up")
    fill(page, **{"stretcher (persons)": "9", "Reason": "a wrong count", "From whom": "NOBODY"})
    page.get_by_role("button", name="Move them").click()
    said = page.get_by_role("alert").filter(has_text="hospital")
    expect(said).to_be_visible(timeout=PATIENCE_MS)
    expect(said).to_contain_text(re.compile(r"\b1\b"))  # how many there are
    assert page.get_by_label("stretcher (persons)").input_value() == "9"
    assert page.get_by_label("Reason", exact=True).input_value() == "a wrong count"
    assert page.get_by_label("From whom", exact=True).first.input_value() == "NOBODY"
    assert page.get_by_role("combobox", name="From", exact=True).input_value().startswith("hosp")


@pytest.mark.long
def test_a_bearing_typed_as_evidence_is_drawn_on_the_other_plot(
    on: Watched, other: Watched, server: Server
) -> None:
    theirs = opened(other, server, "search")
    page = opened(on, server, "search")
    page.get_by_text("Reports, and the answer without each").click()
    page.get_by_text("Add a bearing", exact=True).click()
    field = page.get_by_role("textbox", name="Seen or heard by", exact=True)
    expect(field).to_be_visible(timeout=PATIENCE_MS)
    fill(
        page,
        Position="49 55.0N 008 20.0W", Seen_or_heard_by="GREY HERON",
        **{"Bearing (°)": "232", "Bearing good to (°)": "5"},
    )  # fmt: skip
    record = page.get_by_role("button", name="Record it").last
    record.click()
    # a bearing whose sense nobody stated is no evidence
    expect(page.get_by_role("alert").filter(has_text="True, magnetic or relative")).to_be_visible(
        timeout=PATIENCE_MS
    )
    assert page.get_by_label("Bearing (°)", exact=True).input_value() == "232"
    choose(page, "True, magnetic or relative", "true")
    record.click()
    expect(chart(theirs).locator(".mp-label", has_text=re.compile("^232°"))).to_have_count(
        1, timeout=OPENING_MS
    )
    assert on.errors == []


@pytest.mark.long
def test_a_ships_position_typed_beside_the_chart_is_drawn(on: Watched, server: Server) -> None:
    page = opened(on, server, "plot")
    box(page, "Add")
    choose(page, "What is reported or decided", "ships: ship or aircraft taking part")
    expect(page.get_by_label("Ship: MMSI or name", exact=True)).to_be_visible(timeout=PATIENCE_MS)
    fill(page, Name="FAIRMEAD", **{"Ship: MMSI or name": "voice:fairmead"})
    choose(page, "What she does here", "ship of opportunity")
    page.get_by_role("button", name="Record it").click()
    at_rest(page)
    choose(page, "What is reported or decided", "ships: position of a ship or aircraft")
    expect(page.get_by_label("Position", exact=True)).to_be_visible(timeout=PATIENCE_MS)
    fill(page, Position="49 57.0N 008 12.0W", **{"Ship: MMSI or name": "voice:fairmead"})
    page.get_by_role("button", name="Record it").click()
    drawn = "() => musterplot.marks.filter(m => (m.p.t || '').startsWith('FAIRMEAD')).length"
    for _ in range(PATIENCE_MS // 1000):
        if run(page, drawn):
            break
        page.wait_for_timeout(1_000)
    assert run(page, drawn) == 1
    text = "() => musterplot.marks.find(m => (m.p.t || '').startsWith('FAIRMEAD')).p.t"
    assert "49°57.0′N 008°12.0′W" in run(page, text)
    assert on.errors == []
