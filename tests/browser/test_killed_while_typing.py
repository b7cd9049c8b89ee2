"""The web server is killed just as a line is recorded: no line lost, none twice.

Written from the text: kills through the web server's own forms; what was acknowledged is there, and
what was not yet is still in its box to be sent again.
"""

from __future__ import annotations

import random
import re
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import suppress

import psutil
import pytest
from playwright.sync_api import Error, Page, expect

from layers.catalogue import KINDS
from layers.journal.store import open_journal
from tests.browser.conftest import Server, Watched, start

pytestmark = pytest.mark.browser
WAIT_MS = 90_000
LATEST_S = 1.2  # after the second Enter
WEB = "dashboard.server.web"


@pytest.fixture
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    running = start(tmp_path_factory.mktemp("killed"), "--empty", "--exercise", "TRY")
    try:
        yield running
    finally:
        running.end()


def web_of(server: Server) -> psutil.Process | None:
    below = psutil.Process(server.process.pid).children(recursive=True)
    return next((each for each in below if WEB in " ".join(each.cmdline())), None)


def lines_of(server: Server) -> Counter[str]:
    journal = open_journal(server.folder / "journal.sqlite", KINDS, create=False, readonly=True)
    try:
        records = journal.log(upto_seq=100_000)
        return Counter(str(r.payload.get("text") or r.payload.get("what")) for r in records)
    finally:
        journal.close()


def understood(page: Page, line: str) -> bool:
    """Put a line into the box, unless it still stands there, and have it read back."""
    box = page.get_by_label("What was heard")
    expect(box).to_be_editable(timeout=WAIT_MS)
    if box.input_value() != line:
        box.fill(line)
    box.press("Enter")
    expect(page.get_by_text(re.compile("Understood:")).first).to_be_visible(timeout=60_000)
    return True


def acknowledged(page: Page, number: str) -> bool:
    told = page.locator(".st-key-heard_said").get_by_text(re.compile(rf"No\. \d+:.*{number}\b"))
    return told.count() > 0


def one_round(page: Page, server: Server, number: str, dice: random.Random) -> None:
    """Type a line, kill the web server about the second Enter, and see it recorded once."""
    line = f"decided: {number} goes first"
    with suppress(Error, AssertionError):
        understood(page, line)
        page.keyboard.press("Enter")
        time.sleep(dice.uniform(0.0, LATEST_S))
    told_before = acknowledged(page, number)
    web = web_of(server)
    assert web is not None, "the web server is not there to be killed"
    web.kill()
    web.wait()
    there = any(number in text for text in lines_of(server))
    assert there or not told_before, f"{number} was acknowledged and is not recorded"
    until = time.monotonic() + WAIT_MS / 1000.0
    while time.monotonic() < until:
        with suppress(Error, AssertionError, psutil.Error):
            expect(page.get_by_label("What was heard")).to_be_editable(timeout=60_000)
            if any(number in text for text in lines_of(server)) or acknowledged(page, number):
                break
            understood(page, line)
            page.keyboard.press("Enter")
            page.wait_for_timeout(2_000)
    found = [count for text, count in lines_of(server).items() if number in text]
    assert found == [1], (number, found, told_before)


def killed(on: Watched, server: Server, rounds: int) -> None:
    dice = random.Random(20_261_129)  # nosec B311 - a test's own dice
    page = on.page
    page.goto(f"{server.address}/watch")
    for number in range(rounds):
        one_round(page, server, f"R{number:03d}X", dice)
    found = {text: count for text, count in lines_of(server).items() if "goes first" in text}
    assert len(found) == rounds
    assert set(found.values()) == {1}


def test_a_line_recorded_as_the_web_server_is_killed_is_there_once(
    on: Watched, server: Server
) -> None:
    killed(on, server, 2)


@pytest.mark.long
@pytest.mark.timeout(3_600)
def test_thirty_kills_while_lines_are_typed(on: Watched, server: Server) -> None:
    killed(on, server, 30)
