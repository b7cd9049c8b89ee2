"""``python -m tests.night``: a night on the real server, and the curve of its memory.

Two viewers follow the plot and the wall, AIS of 25 ships comes by UDP at five lines a second, and
the watch records something every ninety seconds. The memory of each process is taken twice a
minute, without what is mapped from files, which is given back when it is wanted; said are the
curve and the slope after the first part. ``--minutes 360`` is the whole
night, ``--hurry 4`` lets everything come four times as fast.
"""

from __future__ import annotations

import argparse
import asyncio
import contextlib
import os
import socket
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import psutil
from pyais.encode import encode_dict

from layers.catalogue import KINDS
from layers.incidents import folder_of
from layers.journal.store import open_journal
from tests.benchmarks.recording import append
from tests.benchmarks.viewers import Viewer
from tests.browser.conftest import Server, free_port, start

SHIPS, LINES_A_SECOND, RECORD_EVERY_S, SAMPLE_S = 25, 5.0, 90.0, 30.0
SPEED_KN, ERROR_M = 8.0, 3.0
PARTS = {
    "dashboard.server.web": "web server",
    "--part quick": "computing process",
    "--part slow": "margin's process",
    "layers.feeds": "feed reader",
}


@dataclass
class Curve:
    """Megabytes of each process by seconds since the viewers came."""

    at_s: list[float] = field(default_factory=list)
    mb: dict[str, list[float]] = field(default_factory=dict)

    def take(self, server: Server, at_s: float) -> None:
        """Take the memory of each of the server's processes."""
        self.at_s.append(at_s)
        for child in psutil.Process(server.process.pid).children(recursive=True):
            with contextlib.suppress(psutil.NoSuchProcess):
                said = " ".join(child.cmdline())
                for part, name in PARTS.items():
                    if part in said:
                        told = child.memory_info()
                        own = told.rss - getattr(told, "shared", 0)
                        self.mb.setdefault(name, []).append(own / 1e6)

    def slope_mb_h(self, name: str, after: float) -> float:
        """Return MB an hour after a part of the night, by least squares."""
        values = np.array(self.mb[name])
        at_h = np.array(self.at_s[-len(values) :]) / 3600.0
        late = at_h >= at_h[-1] * after
        return float(np.polyfit(at_h[late], values[late], 1)[0])

    def words(self, after: float) -> list[str]:
        """Return the curve of each process in ten values, and its slope."""
        return [
            f"{name}: {' '.join(f'{v:.0f}' for v in values[:: max(len(values) // 12, 1)])} MB, "
            f"{self.slope_mb_h(name, after):+.1f} MB an hour after the first {after:.0%}"
            for name, values in self.mb.items()
        ]


class Ships:
    """Ships under way at 8 kn that turn slowly, each told by a receiver good to some metres."""

    def __init__(self) -> None:
        self._rng = np.random.default_rng(7)
        self._places = np.column_stack(
            (self._rng.uniform(49.0, 50.5, SHIPS), self._rng.uniform(-9.5, -7.0, SHIPS))
        )
        self._courses = self._rng.uniform(0.0, 360.0, SHIPS)
        self._at = np.full(SHIPS, time.monotonic())

    def line(self, number: int) -> bytes:
        """Return one position report of the ship whose turn it is."""
        ship, now = number % SHIPS, time.monotonic()
        passed_s, self._at[ship] = now - self._at[ship], now
        self._courses[ship] += self._rng.normal(0.0, 0.2 * np.sqrt(passed_s))
        course = np.radians(self._courses[ship])
        went_deg = SPEED_KN * passed_s / 3600.0 / 60.0
        stretch = np.cos(np.radians(self._places[ship, 0]))
        self._places[ship] += went_deg * np.cos(course), went_deg * np.sin(course) / stretch
        told = self._places[ship] + self._rng.normal(0.0, ERROR_M / 111_120.0, 2)
        message = {
            "msg_type": 1, "mmsi": str(299_000_300 + ship), "lat": float(told[0]),
            "lon": float(told[1]), "speed": SPEED_KN,
            "course": round(float(self._courses[ship] % 360.0), 1) % 360.0,
            "heading": round(float(self._courses[ship])) % 360, "second": number % 60,
        }  # fmt: skip
        return (encode_dict(message, radio_channel="A", sentence_type="VDM")[0] + "\r\n").encode()


async def _ais(port: int, hurry: float) -> None:
    ships = Ships()
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as out:
        number = 0
        while True:
            out.sendto(ships.line(number), ("127.0.0.1", port))
            number += 1
            await asyncio.sleep(1.0 / (LINES_A_SECOND * hurry))


async def _records(url: str, hurry: float) -> None:
    journal, number = open_journal(url, KINDS, busy_s=60.0), 0
    while True:
        text = {"text": f"said by telephone, number {number}"}
        await asyncio.to_thread(append, journal, "watch.note", text)
        number += 1
        await asyncio.sleep(RECORD_EVERY_S / hurry)


async def night(server: Server, port: int, url: str, minutes: float, hurry: float) -> Curve:
    """Let a night go by; return its curve."""
    stream = server.address.replace("http", "ws") + "/_stcore/stream"
    tasks = [
        asyncio.create_task(Viewer(stream).stay()),
        asyncio.create_task(Viewer(stream, page="wall").stay()),
        asyncio.create_task(_ais(port, hurry)),
        asyncio.create_task(_records(url, hurry)),
    ]
    curve, began = Curve(), time.monotonic()
    while (passed := time.monotonic() - began) < minutes * 60.0:
        curve.take(server, passed)
        now = ", ".join(f"{name} {values[-1]:.0f}" for name, values in curve.mb.items())
        sys.stderr.write(f"{passed / 60.0:5.1f} min: {now}\n")
        await asyncio.sleep(min(SAMPLE_S, minutes))
    for task in tasks:
        task.cancel()
    await asyncio.gather(*tasks, return_exceptions=True)
    return curve


def run(minutes: float, hurry: float) -> Curve:
    """Start a server of its own on an empty exercise, with one feed, and let the night go by."""
    with tempfile.TemporaryDirectory() as name:
        folder, port = Path(name), free_port()
        url = str(folder / "night.sqlite")
        settings = f'[[feed]]\nname = "AIS"\nfrom = "udp://127.0.0.1:{port}"\n'
        place = folder_of(url, folder)
        place.mkdir(parents=True)
        (place / "feeds.toml").write_text(settings, "utf-8")
        os.chmod(folder, 0o700)
        server = start(folder, "--exercise", "NIGHT", "--journal", url)
        try:
            return asyncio.run(night(server, port, url, minutes, hurry))
        finally:
            server.end()


def main(words: Sequence[str] | None = None) -> int:
    """Run and print."""
    parser = argparse.ArgumentParser(prog="python -m tests.night")
    parser.add_argument("--minutes", type=float, default=360.0)
    parser.add_argument("--hurry", type=float, default=1.0)
    parser.add_argument("--after", type=float, default=0.5, help="the part that is not judged")
    asked = parser.parse_args(words)
    for said in run(asked.minutes, asked.hurry).words(asked.after):
        print(said, flush=True)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
