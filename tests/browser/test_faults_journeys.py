"""A changed number, a lock, a lost file, a bad disk, a sleep: under the strip, until mended.

Written from the text: an altered journal stands there until a person takes note in a record; a
fault stands there within seconds, what was typed stays in its form, and after the cure nothing is
lost or doubled.
"""

from __future__ import annotations

import os
import re
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import psutil
import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from layers.catalogue import KINDS
from layers.journal.actor import Actor, Role
from layers.journal.integrity import outside
from layers.journal.naming import DATABASE, FOLDER
from layers.journal.record import Draft, form_identity
from layers.journal.store import open_journal
from tests.browser.chart import PATIENCE_MS
from tests.browser.conftest import ROOT, Server, start
from tests.browser.test_outage import FRAMEWORK, field

pytestmark = pytest.mark.browser
NAME = "Exercise FAULTS"
SOON_MS = 10_000  # of a busy machine; the time it took is printed
CHECKED_MS = 120_000  # the first is made 20 s after the start, and gives way to everything
WHO = Actor(name="Watch", role=Role.WATCH, via="test")


@dataclass
class Room:
    """A plot whose journal lies on a disk of its own, and was altered by hand before the start."""

    server: Server
    journal: Path
    small: bool

    def raw(self, *lines: str) -> None:
        """Alter the journal as somebody with the file would, past the program."""
        with sqlite3.connect(self.journal, timeout=20.0) as raw:
            for line in lines:
                assert raw.execute(line).rowcount == 1, line
        raw.close()

    def typed(self) -> list[str]:
        """Return who was given a task, in order."""
        journal = open_journal(self.journal, KINDS, readonly=True)
        held = journal.read(["watch.task", "watch.altered_taken"], journal.revision())
        journal.close()
        return [str(one.payload.get("who") or "noted") for one in held]

    def checked(self) -> None:
        """Check it now, by the program that does so every hour."""
        words = [sys.executable, "-m", "layers.checking"]
        told = {DATABASE: str(self.journal), FOLDER: str(self.server.folder)}
        subprocess.run(words, cwd=ROOT, env={**os.environ, **told}, check=True, timeout=120)


@pytest.fixture(scope="module")
def room(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Room]:
    folder, disk = tmp_path_factory.mktemp("faults"), tmp_path_factory.mktemp("disk")
    mount = ["mount", "-t", "tmpfs", "-o", "size=12m", "tmpfs", str(disk)]
    small = subprocess.run(mount, capture_output=True, check=False).returncode == 0
    try:
        yield from _in(folder, disk / "journal.sqlite", small)
    finally:
        if small:
            subprocess.run(["umount", "--lazy", str(disk)], check=True)


def _in(folder: Path, path: Path, small: bool) -> Iterator[Room]:
    journal = open_journal(path, KINDS, name=NAME, exercise=True)
    now = datetime.now(UTC)
    for number in range(3):
        payload = {"who": f"TASKED {number}", "what": "search north"}
        told = Draft(kind="watch.task", payload=payload, valid_at=now, heard_at=now,
                     source="watch", identity=form_identity(str(number)))  # fmt: skip
        journal.append(WHO, [told])
    assert outside.check(journal, folder)[0].intact
    journal.close()
    held = Room(Server("", folder, None), path, small)  # type: ignore[arg-type]  # a stand-in with what is asked of it
    held.raw("UPDATE records SET payload = replace(payload, 'north', 'south') WHERE seq = 2")
    running = start(folder, "--exercise", NAME, "--journal", str(path))
    try:
        yield Room(running, path, small)
    finally:
        running.end()


def trouble(page: Page, *words: str) -> Locator:
    """Return the line under the strip, where it says this."""
    return page.locator(".mp-trouble", has_text=re.compile(".*".join(words)))


def on(page: Page, room: Room, address: str) -> Page:
    page.goto(f"{room.server.address}/{address}", timeout=PATIENCE_MS)
    expect(page.locator(".mp-strip").first).to_be_visible(timeout=PATIENCE_MS)
    return page


def told_and_gone(pages: list[Page], words: str, cause: object, cure: object) -> None:
    """Let a fault come and go; both are seen within seconds on every page."""
    assert callable(cause)
    assert callable(cure)
    cause()
    began = time.monotonic()
    for page in pages:
        expect(trouble(page, words)).to_be_visible(timeout=SOON_MS)
    sys.stdout.write(f"{words}: told after {time.monotonic() - began:.1f} s\n")
    for page in pages:
        assert not FRAMEWORK.search(page.locator("body").inner_text())
    cure()
    for page in pages:
        expect(trouble(page, words)).to_have_count(0, timeout=SOON_MS)


def test_a_lock_a_lost_file_and_a_full_disk_stand_under_the_strip_and_go_when_mended(
    browser: Browser, room: Room
) -> None:
    page = on(browser.new_page(viewport={"width": 1366, "height": 768}), room, "watch")
    plot = on(browser.new_page(), room, "plot")
    form = field(page, "Who")
    form.fill("HARRIER")
    field(page, "What").fill("search west")
    other = sqlite3.connect(room.journal, isolation_level=None)
    told_and_gone(
        [page, plot], "locked by another program",
        lambda: other.execute("BEGIN IMMEDIATE"), lambda: other.execute("ROLLBACK"),
    )  # fmt: skip
    aside = room.journal.with_suffix(".aside")
    told_and_gone(
        [page, plot], "taken away or exchanged",
        lambda: room.journal.rename(aside), lambda: aside.rename(room.journal),
    )  # fmt: skip
    assert form.input_value() == "HARRIER"
    if room.small:
        _full(page, plot, room)
    before = room.typed().count("HARRIER")
    page.get_by_role("button", name="Record it").first.click()
    expect(form).to_have_value("", timeout=PATIENCE_MS)
    assert (before, room.typed().count("HARRIER")) == (0, 1)
    other.close()
    page.close()
    plot.close()


def _full(page: Page, plot: Page, room: Room) -> None:
    """Fill the journal's disk, press the button meanwhile, make room again."""
    filler = room.journal.with_name("filler")

    def fill() -> None:
        with filler.open("wb", buffering=0) as out:
            for size in (1 << 16, 1 << 12, 1):
                try:
                    while out.write(b"x" * size):
                        pass
                except OSError:
                    continue

    def press_then_cure() -> None:
        page.get_by_role("button", name="Record it").first.click()
        expect(page.get_by_text(re.compile("nothing was recorded")).first).to_be_visible(
            timeout=PATIENCE_MS
        )
        expect(field(page, "Who")).to_have_value("HARRIER")
        filler.unlink()

    told_and_gone([page, plot], "The disk is full", fill, press_then_cure)
    expect(field(page, "Who")).to_have_value("HARRIER")


def test_an_altered_journal_stands_under_the_strip_until_the_watch_takes_note(
    browser: Browser, room: Room
) -> None:
    page = on(browser.new_page(viewport={"width": 1366, "height": 768}), room, "watch")
    altered = trouble(page, "ournal altered at record 2")
    expect(altered).to_be_visible(timeout=CHECKED_MS)
    plot = on(browser.new_page(), room, "plot")
    expect(trouble(plot, "ournal altered at record 2")).to_be_visible(timeout=PATIENCE_MS)
    page.reload()  # nobody who only looks, or comes again, makes it go
    expect(altered).to_be_visible(timeout=PATIENCE_MS)
    assert "noted" not in room.typed()

    page.get_by_text(re.compile("^Alarms: ")).first.click()
    taken = page.get_by_role("button", name="Take note")
    for left in range(taken.count(), 0, -1):
        taken.first.click()
        expect(taken).to_have_count(left - 1, timeout=PATIENCE_MS)
    for each in (page, plot):
        expect(trouble(each, "altered")).to_have_count(0, timeout=PATIENCE_MS)
    assert "noted" in room.typed()
    noted = len(room.typed())

    # another number is another finding; the one that is known is not asked about twice
    room.raw("UPDATE records SET payload = replace(payload, 'north', 'west') WHERE seq = 3")
    room.checked()
    for each in (page, plot):
        expect(trouble(each, "ournal altered at record 3")).to_be_visible(timeout=SOON_MS)
        expect(trouble(each, "record 2")).to_have_count(0)
    assert len(room.typed()) == noted
    page.close()
    plot.close()


# an image of a file system that errors make read-only, with files open on it, as a real disk's do
EXT4 = ("mkfs.ext4", "-q", "-O", "^has_journal")


@pytest.fixture
def failing(tmp_path: Path) -> Iterator[Room]:
    """A plot whose journal lies on a disk that turns read-only at its first error."""
    image, disk, folder = tmp_path / "image", tmp_path / "disk", tmp_path / "data"
    disk.mkdir()
    folder.mkdir()
    with image.open("wb") as out:
        out.truncate(64 << 20)
    mount = ["mount", "-o", "loop,errors=remount-ro", str(image), str(disk)]
    for words in ([*EXT4, str(image)], mount):
        if (
            shutil.which(words[0]) is None
            or subprocess.run(words, capture_output=True, check=False).returncode
        ):
            pytest.skip(f"this account may not make a disk of its own: {words[0]}")
    path = disk / "journal.sqlite"
    open_journal(path, KINDS, name=NAME, exercise=True).close()
    held = Room(start(folder, "--exercise", NAME, "--journal", str(path), coast=False), path, True)
    try:
        yield held
    finally:
        held.server.end()  # the one that runs by then
        subprocess.run(["umount", "--lazy", str(disk)], check=True)


def _first_error(room: Room) -> None:
    told = subprocess.run(
        ["findmnt", "-n", "-o", "SOURCE", str(room.journal.parent)],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    loop = Path(told.stdout.strip()).name
    Path(f"/sys/fs/ext4/{loop}/trigger_fs_error").write_text("a bad block")


def test_a_disk_that_can_only_be_read_is_said_and_after_the_cure_nothing_is_lost_or_twice(
    browser: Browser, failing: Room
) -> None:
    page = on(browser.new_page(viewport={"width": 1366, "height": 768}), failing, "watch")
    for who in ("HARRIER", "KESTREL"):
        if who == "KESTREL":
            _first_error(failing)
            began = time.monotonic()
            expect(trouble(page, "can only be read")).to_be_visible(timeout=SOON_MS)
            sys.stdout.write(f"read-only disk: told after {time.monotonic() - began:.1f} s\n")
        field(page, "Who").fill(who)
        field(page, "What").fill("search west")
        page.get_by_role("button", name="Record it").first.click()
        if who == "HARRIER":
            expect(field(page, "Who")).to_have_value("", timeout=PATIENCE_MS)
    # it stays in its form, or waits on the other disk, said so: one of both
    stays, waits = field(page, "Who"), page.get_by_text("1 sent, not yet recorded: kept here")
    expect(waits.or_(page.get_by_text(re.compile("nothing was recorded"))).first).to_be_visible(
        timeout=PATIENCE_MS
    )
    typed_again = stays.input_value() == "KESTREL"
    assert typed_again or waits.count()
    assert not FRAMEWORK.search(page.locator("body").inner_text())
    page.close()
    failing.server.end()
    log = (failing.server.folder / "server.log").read_text()
    assert "Traceback" not in log, log[-3000:]

    disk = str(failing.journal.parent)  # whoever looks after the computer mends it
    subprocess.run(["umount", disk], check=True)
    image = failing.journal.parent.with_name("image")
    subprocess.run(["fsck.ext4", "-y", str(image)], capture_output=True, check=False)
    subprocess.run(["mount", "-o", "loop", str(image), disk], check=True)
    assert failing.typed() == ["HARRIER"]
    words = ("--exercise", NAME, "--journal", str(failing.journal))
    failing.server = start(failing.server.folder, *words, coast=False)
    page = on(browser.new_page(), failing, "watch")
    expect(trouble(page, "can only be read")).to_have_count(0)
    if typed_again:
        field(page, "Who").fill("KESTREL")
        field(page, "What").fill("search west")
        page.get_by_role("button", name="Record it").first.click()
        expect(field(page, "Who")).to_have_value("", timeout=PATIENCE_MS)
    end = time.monotonic() + PATIENCE_MS / 1000.0
    while time.monotonic() < end and len(failing.typed()) < 2:
        time.sleep(0.5)
    assert failing.typed() == ["HARRIER", "KESTREL"]
    page.close()


def drop_folder(folder: Path) -> Path:
    """Return the incident's drop folder, as soon as the reader of feeds has made it."""
    end = time.monotonic() + PATIENCE_MS / 1000.0
    while not (found := list(folder.glob("incidents/*/drop"))) and time.monotonic() < end:
        time.sleep(0.2)
    return found[0]


def test_a_computer_that_stood_still_says_so_and_feeds_catch_up(
    browser: Browser, tmp_path: Path
) -> None:
    running = start(tmp_path, "--empty", "--exercise", NAME, coast=False)
    page = on(browser.new_page(), Room(running, tmp_path, small=False), "watch")
    field(page, "Who").fill("HARRIER")
    drop = drop_folder(tmp_path)
    all_of_it = [running.process, *psutil.Process(running.process.pid).children(recursive=True)]
    for each in all_of_it:
        os.kill(each.pid, signal.SIGSTOP)
    try:
        now = datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
        (drop / "slept.csv").write_text(
            "kind,valid_at,subject,latitude_deg,longitude_deg\n"
            f"tracks.position,{now},mmsi:299000101,49.5,-8.5\n"
        )
        time.sleep(35.0)  # a shorter one is no sleep
    finally:
        for each in all_of_it:
            os.kill(each.pid, signal.SIGCONT)
    expect(trouble(page, "stood still for", "ask for what was missed")).to_be_visible(
        timeout=SOON_MS
    )
    expect(field(page, "Who")).to_have_value("HARRIER")
    journal = open_journal(next(tmp_path.glob("*.sqlite")), KINDS, readonly=True)
    end = time.monotonic() + 60.0
    held: list[str] = []
    while time.monotonic() < end and not held:
        found = journal.read(["tracks.position"], journal.revision())
        held = [one.source for one in found]
        time.sleep(0.5)
    assert held == ["slept.csv"]
    field(page, "What").fill("search west")
    page.get_by_role("button", name="Record it").first.click()
    expect(field(page, "Who")).to_have_value("", timeout=PATIENCE_MS)
    tasks = [one.payload["who"] for one in journal.read(["watch.task"], journal.revision())]
    assert tasks == ["HARRIER"]
    journal.close()
    page.close()
    running.end()
