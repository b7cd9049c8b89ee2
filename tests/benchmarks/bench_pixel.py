"""From a record to what is seen of it: the real command and a real Chromium, alone and at work.

Alone, the watch records one thing after another: a ship's position, a person out. At work, ten
AIS lines a second come in by UDP, each of another place, and every ten seconds a bearing has the
datum worked out anew.
"""

from __future__ import annotations

import socket
import tempfile
import threading
import time
from pathlib import Path
from statistics import median

import numpy as np
from playwright.sync_api import Browser, Page, sync_playwright
from pyais.encode import encode_dict

from layers.catalogue import KINDS
from layers.earth.clock import to_us
from layers.feeds.settings import FeedSetting, write_settings
from layers.journal.store import Journal, open_journal
from tests.benchmarks.figure import Figure
from tests.benchmarks.painted import NOTE_OUT, NOTE_RECORDS, OUT, RECORDS, Waited, together, waited
from tests.benchmarks.recording import append, append_ship
from tests.browser.chart import chart, run
from tests.browser.conftest import ARGUMENTS, Server, chromium, free_port, start, wait_for_land

CHANGES = 24
APART_S = (1.0, 6.0)  # at no fixed step, which would always meet the same moment of a clock
LINES_A_SECOND, LOAD_S, BEARING_EVERY_S, SHIPS = 10, 120.0, 10.0, 50
SETTLE_S, AFTER_S = 10.0, 15.0
WITHIN_S = 5.0


def figures() -> list[Figure]:
    """Return record to pixel, alone and beside ten lines a second and a datum at work."""
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as play:
        port = free_port()
        receiver = {"name": "ship's AIS", "from": f"udp://127.0.0.1:{port}"}
        write_settings(Path(folder), [FeedSetting.model_validate(receiver)])
        browser = play.chromium.launch(executable_path=chromium(), args=list(ARGUMENTS))
        server = start(Path(folder))
        journal = open_journal(str(server.folder / "exercise.sqlite"), KINDS)
        try:
            wait_for_land(server)
            page = _opened(browser, server)
            ship, append_s = _ship(page, journal)
            out = _out(page, journal)
            recorded, drawn, datum = _at_work(page, journal, port)
        finally:
            journal.close()
            server.end()
            browser.close()
    alone = f"one append takes {1e3 * append_s:.0f} ms of it"
    busy = f"{LINES_A_SECOND} lines a second by UDP for {LOAD_S:.0f} s, every one recorded"
    often = f"one every {BEARING_EVERY_S:.0f} s"
    return [
        _figure("a ship's position from append to pixel", ship, alone),
        _figure("a person out from append to the muster's figure", out, alone),
        _figure("an AIS line to its record, a datum at work", recorded, busy),
        _figure("an AIS line to its pixel, a datum at work", drawn, busy),
        _figure("a bearing to its datum drawn, AIS beside it", datum, often),
    ]  # fmt: skip


def _figure(name: str, found: Waited, note: str) -> Figure:
    return Figure(issue=7, name=f"{name}, p95", ratio=found.cut(95), target=WITHIN_S,
                  direction="at most", reference="1 s", unit="s",
                  note=f"{found.words()} of {len(found.seconds)}; {note}")  # fmt: skip


def _opened(browser: Browser, server: Server) -> Page:
    page = browser.new_page(viewport={"width": 1920, "height": 1080})
    page.goto(server.address)
    chart(page)
    page.wait_for_timeout(SETTLE_S * 1e3)
    run(page, NOTE_RECORDS)
    page.evaluate(NOTE_OUT)
    return page


def _ship(page: Page, journal: Journal) -> tuple[Waited, float]:
    rng = np.random.default_rng(1)
    begun, took = {}, []
    for number in range(CHANGES):
        at = time.time()
        begun[str(append_ship(journal, number).seq)] = at
        took.append(time.time() - at)
        page.wait_for_timeout(rng.uniform(*APART_S) * 1e3)
    page.wait_for_timeout(WITHIN_S * 1e3)
    return waited(begun, run(page, RECORDS)), median(took)


def _out(page: Page, journal: Journal) -> Waited:
    rng = np.random.default_rng(2)
    before = int(page.locator(".mp-strip [data-answer='persons.out'] b").inner_text())
    begun: dict[str, float] = {}
    told: tuple[str, ...] = ()
    lifted = {"from_place": "forward", "to_place": "chamber 1", "reason": "lifted",
              "groups": [{"persons": 1, "fitness": "walking"}], "read_back": True}  # fmt: skip
    for number in range(1, CHANGES // 2 + 1):
        begun[str(before + number)] = time.time()
        told += (append(journal, "survivors.move", lifted, told).id,)
        page.wait_for_timeout(rng.uniform(*APART_S) * 1e3)
    page.wait_for_timeout(WITHIN_S * 1e3)
    return waited(begun, page.evaluate(OUT))


class Sender(threading.Thread):
    """Ten lines a second to a port, and when each was sent."""

    def __init__(self, port: int) -> None:
        super().__init__(daemon=True)
        self._port = port
        self.sent: dict[str, float] = {}  # by ship and place

    def run(self) -> None:
        """Send until the time is over."""
        to = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        begun = time.monotonic()
        for number in range(int(LOAD_S * LINES_A_SECOND)):
            time.sleep(max(0.0, begun + number / LINES_A_SECOND - time.monotonic()))
            mmsi, lap = 299_000_400 + number % SHIPS, number // SHIPS
            place = {"lat": round(49.5 + 0.01 * (number % SHIPS), 4),
                     "lon": round(-8.9 + 0.001 * lap, 4)}  # fmt: skip
            told = {"msg_type": 1, "mmsi": str(mmsi), "speed": 6.0, "course": 90.0, **place}
            line = encode_dict(told, radio_channel="A", sentence_type="VDM")[0]
            self.sent[_name(f"mmsi:{mmsi}", place["lon"])] = time.time()
            to.sendto(line.encode(), ("127.0.0.1", self._port))
        to.close()


def _name(subject: str, longitude_deg: float) -> str:
    """Return what tells one line of the sender from all others."""
    return f"{subject} {longitude_deg:.3f}"


def _at_work(page: Page, journal: Journal, port: int) -> tuple[Waited, Waited, Waited]:
    before, _ = journal.head()
    sender = Sender(port)
    sender.start()
    bearings: dict[str, float] = {}
    ids: tuple[str, ...] = ()
    end = time.monotonic() + LOAD_S
    while time.monotonic() < end:
        bearing_deg = 232.0 + len(bearings) % 3
        told = {"observer": "GREY HERON", "latitude_deg": 49.9, "longitude_deg": -8.3,
                "bearing_deg": bearing_deg, "sense": "true", "sigma_deg": 5.0}  # fmt: skip
        at = time.time()
        record = append(journal, "datum.bearing", told, ids)
        ids += (record.id,)
        bearings[str(record.seq)] = at
        page.wait_for_timeout(BEARING_EVERY_S * 1e3)
    sender.join()
    page.wait_for_timeout(AFTER_S * 1e3)
    painted = run(page, RECORDS)
    offset_s = to_us(journal.now()) / 1e6 - time.time()  # an exercise has a clock of its own
    recorded, names = {}, {}
    for record in journal.read(["tracks.position"], journal.head()[0]):
        if record.seq > before and isinstance(record.payload, dict):
            name = _name(record.payload["subject"], record.payload["longitude_deg"])
            recorded[name] = to_us(record.recorded_at) / 1e6 - offset_s
            names[name] = str(record.seq)
    missing = len(sender.sent.keys() - recorded.keys())
    if missing:
        raise AssertionError(f"{missing} of {len(sender.sent)} lines are not in the journal")
    by_ship: dict[str, dict[str, float]] = {}
    for name, at in sender.sent.items():
        by_ship.setdefault(name.split()[0], {})[name] = at
    drawn = {name: painted.get(number) for name, number in names.items()}
    return (
        waited(sender.sent, recorded),
        together(waited(sent, drawn) for sent in by_ship.values()),
        waited(bearings, painted),
    )
