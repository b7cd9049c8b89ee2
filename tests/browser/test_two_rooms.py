"""Two rooms: two servers on one PostgreSQL, a browser at each; and two rooms without a link.

Written from the text: what is told in one room stands in the other at once; the same event told
twice is asked about; what one room does to another's record is told there; records come by stick
once, contradictions side by side.
"""

from __future__ import annotations

import contextlib
import re
import socket
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import psutil
import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from playwright.sync_api import Browser, Page, expect
from pyais.encode import encode_dict

from layers.catalogue import KINDS
from layers.incidents import folder_of
from layers.journal.actor import Actor, Role
from layers.journal.copies.parcel import mark_of, pack, unpack
from layers.journal.naming import ROOM_FILE
from layers.journal.record import Draft, form_identity
from layers.journal.store import open_journal
from tests.browser.conftest import Server, free_port, start
from tests.browser.test_outage import WAIT_MS, say
from tests.databases import fresh

pytestmark = [pytest.mark.browser, pytest.mark.servers]
TOLD_MS = 60_000  # on a computer that has other work too


@pytest.fixture
def rooms(tmp_path: Path) -> Iterator[tuple[list[Server], str]]:
    url = fresh("postgresql", tmp_path)
    running = []
    try:
        for name in ("North", "South"):
            folder = tmp_path / name
            folder.mkdir()
            (folder / ROOM_FILE).write_text(name, "utf-8")
            running.append(
                start(folder, "--empty", "--exercise", "Exercise Two Rooms", "--journal", url)
            )
        yield running, url
    finally:
        for each in running:
            each.end()


def at(browser: Browser, server: Server, page: str) -> Page:
    opened = browser.new_page(viewport={"width": 1366, "height": 768})
    opened.goto(f"{server.address}/{page}", timeout=3 * WAIT_MS)
    expect(opened.get_by_text("EXERCISE TWO ROOMS").first).to_be_visible(timeout=WAIT_MS)
    return opened


def test_what_one_room_tells_and_changes_stands_in_the_other(
    browser: Browser, rooms: tuple[list[Server], str]
) -> None:
    (one, two), url = rooms
    north, south = at(browser, one, "watch"), at(browser, two, "watch")
    wall = browser.new_page(viewport={"width": 1920, "height": 1080})
    wall.goto(f"{two.address}/wall", timeout=3 * WAIT_MS)
    say(north, "pob 60", "60")
    for each in (north, south, wall):
        expect(each.get_by_text("60", exact=True).first).to_be_visible(timeout=TOLD_MS)
    journal = open_journal(url, KINDS, readonly=True)
    (first,) = journal.read(["survivors.complement"], journal.revision())
    assert "room North" in first.author
    # the same told in the other room is asked about, and nothing is recorded meanwhile
    box = south.get_by_label("What was heard")
    box.fill("pob 60")
    box.press("Enter")
    expect(south.locator("summary", has_text=re.compile("Understood"))).to_be_visible(
        timeout=WAIT_MS
    )
    box.press("Enter")
    expect(
        south.get_by_text(re.compile(r"The same was recorded as No\. 1 .*room North")).first
    ).to_be_visible(timeout=WAIT_MS)
    assert len(journal.read(["survivors.complement"], journal.revision())) == 1
    # what the other room corrects is told here, by whom, and put away by a press
    box.fill("")
    say(south, f"correct {first.seq}: pob 61", "61")
    told = north.get_by_text(re.compile("Changed by others: 1"))
    expect(told).to_be_visible(timeout=TOLD_MS)
    expect(wall.get_by_text("61", exact=True).first).to_be_visible(timeout=TOLD_MS)
    told.click()
    expect(north.get_by_text(f"No. {first.seq}", exact=True).last).to_be_visible(timeout=WAIT_MS)
    expect(north.get_by_text(re.compile("room South")).last).to_be_visible(timeout=WAIT_MS)
    north.get_by_role("button", name="Seen", exact=True).click()
    expect(told).to_have_count(0, timeout=WAIT_MS)
    expect(south.get_by_text(re.compile("Changed by others"))).to_have_count(0)
    journal.close()


def antenna(port: int, mmsi: int) -> None:
    """Send one position report, as an antenna's multiplexer does."""
    told = {"msg_type": 1, "mmsi": str(mmsi), "lat": 49.9, "lon": -8.4, "speed": 8.0,
            "course": 90.0, "second": 10}  # fmt: skip
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as out:
        sentence = encode_dict(told, radio_channel="A", sentence_type="VDM")[0]
        out.sendto(f"{sentence}\r\n".encode(), ("127.0.0.1", port))


def until(holds: Callable[[], bool], seconds: float = 90.0) -> None:
    end = time.monotonic() + seconds
    while not holds():
        assert time.monotonic() < end, "it did not come"
        time.sleep(0.5)


def die(server: Server) -> None:
    """Let a whole server die at once: nobody is told, nothing is ended."""
    starter = psutil.Process(server.process.pid)
    for each in (*starter.children(recursive=True), starter):
        with contextlib.suppress(psutil.NoSuchProcess):
            each.kill()
    for each in starter.children(recursive=True) if starter.is_running() else ():
        each.kill()
    server.process.wait(20)


def test_when_the_server_that_reads_a_feed_dies_another_takes_it_over_by_one_press(
    browser: Browser, tmp_path: Path
) -> None:
    url, port, running = fresh("postgresql", tmp_path), free_port(), []
    try:
        for name in ("North", "South"):
            folder = tmp_path / name
            place = folder_of(url, folder)
            place.mkdir(parents=True)
            (folder / ROOM_FILE).write_text(name, "utf-8")
            if name == "North":
                feed = f'[[feed]]\nname = "antenna"\nfrom = "udp://127.0.0.1:{port}"\n'
                (place / "feeds.toml").write_text(feed, "utf-8")
            running.append(
                start(folder, "--empty", "--exercise", "Exercise Two Rooms", "--journal", url)
            )
        north, south = running
        at(browser, north, "plot")  # its processes start with the first who looks
        page = at(browser, south, "feeds")
        expect(page.get_by_text(re.compile("room North .*read there"))).to_be_visible(
            timeout=3 * WAIT_MS
        )
        expect(page.get_by_role("cell", name=re.compile("antenna"))).to_be_visible()
        journal = open_journal(url, KINDS, readonly=True)

        def heard(mmsi: int) -> bool:
            antenna(port, mmsi)
            rows = journal.read(["tracks.position"], journal.revision())
            return any(one.payload["subject"] == f"mmsi:{mmsi}" for one in rows)

        until(lambda: heard(299_000_911))
        die(north)
        expect(page.get_by_text(re.compile("room North .*GONE, last heard"))).to_be_visible(
            timeout=3 * WAIT_MS
        )
        expect(page.get_by_text(re.compile("nobody reads antenna")).first).to_be_visible(
            timeout=WAIT_MS
        )
        page.get_by_role("button", name="Read antenna here").click()
        expect(page.get_by_text(re.compile("antenna is read here within"))).to_be_visible(
            timeout=WAIT_MS
        )
        until(lambda: heard(299_000_912))
        (note,) = journal.read(["watch.note"], journal.revision())
        assert "feed antenna of room North" in note.payload["text"]
        assert "room South" in note.author
        journal.close()
    finally:
        for each in running:
            each.end()


def test_records_come_by_stick_once_and_contradictions_stand_side_by_side(
    browser: Browser, tmp_path: Path
) -> None:
    folder = tmp_path / "here"
    folder.mkdir()
    (folder / ROOM_FILE).write_text("Here", "utf-8")
    server = start(folder, "--empty", "--exercise", "Exercise Two Rooms")
    key = Ed25519PrivateKey.generate()
    mark = mark_of(key.public_key())
    there = open_journal(tmp_path / "there.sqlite", KINDS, name="TWO ROOMS", exercise=True)
    vessel = {"subject": "mmsi:299000101", "name": "NORTHERN LANTERN", "role": "support ship"}
    here = open_journal(folder / "journal.sqlite", KINDS, create=False)

    def put(journal: object, form: str, kind: str, **payload: object) -> None:
        now = there.now()
        told = Draft(kind=kind, payload=payload, valid_at=now, heard_at=now, source="by hand",
                     identity=form_identity(form))  # fmt: skip
        journal.append(Actor(name="CD", role=Role.WATCH), [told])  # type: ignore[attr-defined]  # an open journal

    put(there, "a", "watch.note", text="heard knocking on the hull")
    put(there, "b", "tracks.vessel", **vessel, max_speed_kn=16.0)
    put(here, "c", "tracks.vessel", **vessel, max_speed_kn=12.0)
    file = tmp_path / "there.parcel"
    file.write_bytes(pack(there, 0, by="CD", room="There", made_us=1, key=key))
    try:
        page = at(browser, server, "log")
        page.get_by_text("Records by stick, to and from another room").click()
        expect(page.get_by_text("This room's mark:")).to_be_visible(timeout=WAIT_MS)
        page.locator('input[type="file"]').last.set_input_files(file)
        typed = page.get_by_label("That room's mark, as you heard it")
        take = page.get_by_role("button", name="Take the records in")
        typed.fill("0000-0000-0000-0000")
        typed.press("Enter")
        expect(take).to_be_enabled(timeout=WAIT_MS)
        take.click()
        expect(page.get_by_text(re.compile("Nothing was taken in"))).to_be_visible(timeout=WAIT_MS)
        typed.fill(mark.upper())
        typed.press("Enter")
        take.click()
        expect(page.get_by_text(re.compile("2 records taken in"))).to_be_visible(timeout=WAIT_MS)
        expect(page.get_by_text("Contradictions: 1")).to_be_visible()
        row = page.locator("tr", has_text="NORTHERN LANTERN").last
        expect(row).to_contain_text("16")
        expect(row).to_contain_text("12")
        take.click()
        expect(page.get_by_text(re.compile("0 records taken in, 2 were here"))).to_be_visible(
            timeout=WAIT_MS
        )
        # and back: what this room sends is signed by it, and holds what was asked for
        page.get_by_label("This room is called").fill("Here")
        page.get_by_role("button", name="Make the file for the other room").click()
        save = page.get_by_role("button", name=re.compile("^Save records-1-to-"))
        expect(save).to_be_visible(timeout=WAIT_MS)
        with page.expect_download() as coming:
            save.click()
        sent = unpack(Path(coming.value.path()).read_bytes())
        assert (sent.about.room, sent.about.after) == ("Here", 0)
        kinds = [row[2] for row in sent.rows]
        assert kinds.count("tracks.vessel") == 2
        expect(page.get_by_text(sent.about.mark)).to_be_visible()
    finally:
        server.end()
        there.close()
        here.close()
