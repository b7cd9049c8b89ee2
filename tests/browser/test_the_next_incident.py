"""The end of an exercise walked on the screen to its archive, and the next incident begun.

Written from the text: one act closes and archives the last; the next has its own drop folder,
feeds and journal; nothing of the old comes into the new, ever; a list of incidents to open.
"""

from __future__ import annotations

import re
import subprocess
import sys
import time
import zipfile
from collections.abc import Callable
from functools import reduce
from operator import xor
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect
from pyais.encode import encode_dict

from layers.catalogue import KINDS
from layers.incidents import folder_of
from layers.journal.record import Record
from layers.journal.store import open_journal
from tests.browser.conftest import start
from tests.browser.test_outage import WAIT_MS, say

pytestmark = pytest.mark.browser
CHANGED_MS = 5 * WAIT_MS  # four processes end, and four begin


def line(mmsi: int) -> str:
    """Return a position report with its time in a tag block (IEC 61162-450)."""
    told = {"msg_type": 1, "mmsi": str(mmsi), "lat": 49.9, "lon": -8.4, "speed": 8.0,
            "course": 90.0, "second": 10}  # fmt: skip
    sentence = encode_dict(told, radio_channel="A", sentence_type="VDM")[0]
    block = f"c:{int(time.time()) - 60}"
    return f"\\{block}*{reduce(xor, block.encode()):02X}\\{sentence}\r\n"


def records(path: Path) -> list[Record]:
    journal = open_journal(path, KINDS, readonly=True)
    try:
        return journal.read(sorted(KINDS), journal.revision())
    finally:
        journal.close()


def subjects(path: Path) -> set[str]:
    return {str(one.payload.get("subject")) for one in records(path)} - {"None"}


def until(holds: Callable[[], bool], seconds: float = 90.0) -> None:
    end = time.monotonic() + seconds
    while not holds():
        assert time.monotonic() < end, "it did not come"
        time.sleep(0.5)


def the_end(page: Page) -> None:
    """Open what the watch's page has of the end and of other incidents."""
    fold = page.get_by_text("End of this incident, and the next")
    for _ in range(4):
        page.get_by_role("radio", name="Incidents", exact=True).click()
        try:
            expect(fold).to_be_visible(timeout=30_000)
            break
        except AssertionError:
            continue
    fold.click()


def test_an_exercise_is_closed_and_the_next_incident_knows_nothing_of_it(
    browser: Browser, tmp_path: Path
) -> None:
    old = tmp_path / "old.sqlite"
    server = start(tmp_path, "--empty", "--exercise", "Exercise Old Swell", "--journal", str(old))
    try:
        drop = folder_of(old, tmp_path) / "drop"
        page = browser.new_page(viewport={"width": 1366, "height": 768})
        page.set_default_timeout(WAIT_MS)
        page.goto(f"{server.address}/watch", timeout=CHANGED_MS)
        say(page, "pob 3", "3")
        until(drop.exists)
        (drop / "old_ships.nmea").write_text(line(299_000_901), "ascii")
        until(lambda: subjects(old) == {"mmsi:299000901"})
        the_end(page)
        expect(page.get_by_text("persons not heard of: 3")).to_be_visible(timeout=WAIT_MS)
        page.get_by_label("Name of the next incident").fill("Trawler off Hook Head")
        begin = page.get_by_role("button", name="Begin the next incident")
        begin.click()
        asked = page.get_by_text(re.compile("persons not heard of: 3.*closed all the same"))
        expect(asked).to_be_visible(timeout=WAIT_MS)
        assert not [one for one in records(old) if one.kind == "watch.closed"]
        page.get_by_text(re.compile("^Close it all the same: people")).click()
        begin.click()

        # the same page comes back with the next: an operation, of which nothing is known
        strip = page.locator(".mp-strip")
        expect(strip.locator(".op")).to_have_text("Trawler off Hook Head", timeout=CHANGED_MS)
        expect(strip).not_to_contain_text("EXERCISE")
        new = tmp_path / "incidents" / "trawler-off-hook-head" / "journal.sqlite"
        assert records(new) == []
        closed = [one for one in records(old) if one.kind == "watch.closed"]
        assert len(closed) == 1
        assert closed[0].payload["next_incident"] == "Trawler off Hook Head"

        # what lies, or comes to lie, in the old one's folder is read into neither
        (drop / "late.nmea").write_text(line(299_000_902), "ascii")
        until((new.parent / "drop").exists)
        (new.parent / "drop" / "new.nmea").write_text(line(299_000_903), "ascii")
        until(lambda: subjects(new) == {"mmsi:299000903"})
        assert subjects(old) == {"mmsi:299000901"}

        # the archive is whole, by Python alone
        (archive,) = (tmp_path / "archive").glob("*.zip")
        copy = tmp_path / "copy"
        zipfile.ZipFile(archive).extractall(copy)
        said = subprocess.run([sys.executable, "-I", "-S", "check.py"], cwd=copy, text=True,
                              capture_output=True, check=True).stdout  # fmt: skip
        assert f"{len(records(old))} records, nothing altered" in said

        # and the old one stands in the list, to be opened again as it was left
        page.goto(f"{server.address}/watch", timeout=CHANGED_MS)
        the_end(page)
        expect(page.get_by_text(re.compile("EXERCISE Old Swell: .*closed"))).to_be_visible(
            timeout=WAIT_MS
        )
        page.get_by_role("button", name="Open", exact=True).click()
        expect(strip.locator(".ex")).to_contain_text("OLD SWELL", timeout=CHANGED_MS)
        expect(page.get_by_text("3", exact=True).first).to_be_visible(timeout=WAIT_MS)
        assert subjects(old) == {"mmsi:299000901"}  # closed: still nothing is read into it
    finally:
        server.end()
