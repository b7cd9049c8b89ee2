"""A real server by the README's own command, and a real Chromium that cannot reach any network."""

from __future__ import annotations

import os
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from urllib.request import urlopen

import pytest
from playwright.sync_api import Browser, Page, expect, sync_playwright

from tests import prepare
from tests.worked_out import DRAWS, FEW_DRAWS, exercise_into, once, shared_folder

ROOT = Path(__file__).resolve().parents[2]
STARTED_WITHIN_S = 120.0
# a machine that is busy with other tests takes long; what is there ends the wait
expect.set_options(timeout=60_000)
# no name is looked up and nothing but this computer is reached
ARGUMENTS = (
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1",
)  # fmt: skip


def chromium() -> str:
    """Return the path of Chromium; `tests/conftest.py` leaves these tests out without it."""
    if path := prepare.found(prepare.CHROMIUM):
        return path
    raise RuntimeError("the browser tests need Chromium: apt-get install chromium")


def free_port() -> int:
    """Return a port nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@dataclass
class Server:
    """A running `python -m dashboard`."""

    address: str
    folder: Path
    process: subprocess.Popen[bytes]

    def end(self) -> None:
        """End it as a person would."""
        self.process.send_signal(signal.SIGINT)
        try:
            self.process.wait(20)
        except subprocess.TimeoutExpired:
            self.process.kill()


def start(
    folder: Path,
    *words: str,
    log: Path | None = None,
    port: int = 0,
    base: str = "",
    coast: bool = True,
    shared: Path | None = None,
) -> Server:
    """Start the real command and wait until its page answers; its coastline is cut already.

    ``shared`` is the folder of the run: the exercise is then there, its picture worked out.
    """
    if coast:
        _coast_into(folder / "land")
    if shared is not None:
        exercise_into(folder, shared)
    port = port or free_port()
    words = (*words, "--base", base) if base else words
    environment = {**os.environ, "MUSTERPLOT_DATA_FOLDER": str(folder)}
    environment.setdefault(DRAWS, FEW_DRAWS)
    environment.pop("MUSTERPLOT_DATABASE_URL", None)
    with (log or folder / "server.log").open("wb") as out:
        process = subprocess.Popen(
            [sys.executable, "-m", "dashboard", "--port", str(port), *words],
            cwd=ROOT, env=environment, stdout=out, stderr=subprocess.STDOUT,
        )  # fmt: skip
    server = Server(f"http://127.0.0.1:{port}{base}", folder, process)
    end = time.monotonic() + STARTED_WITHIN_S
    while time.monotonic() < end:
        if process.poll() is not None:
            raise RuntimeError(f"the server ended: {(folder / 'server.log').read_text()[-2000:]}")
        try:
            with urlopen(f"{server.address}/_stcore/health", timeout=1.0):
                return server
        except OSError:
            time.sleep(0.2)
    raise RuntimeError(f"no answer: {(folder / 'server.log').read_text()[-2000:]}")


def wait_for_land(server: Server) -> None:
    """Wait until the coastline is cut."""
    from layers.earth.shore.land import Land

    land = Land(server.folder / "land")
    end = time.monotonic() + STARTED_WITHIN_S
    while not land.ready() and time.monotonic() < end:
        time.sleep(0.3)
    assert land.ready()


_run: list[Path] = []


@pytest.fixture(scope="session", autouse=True)
def shared(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder that all processes of the run have in common."""
    _run[:] = [shared_folder(tmp_path_factory)]
    return _run[0]


def _cut(folder: Path) -> None:
    subprocess.run(
        [sys.executable, "-m", "layers.earth.shore.land_cut", str(folder)],
        cwd=ROOT, check=True, stdout=subprocess.DEVNULL,
    )  # fmt: skip


def _coast_into(folder: Path) -> None:
    """Put the coastline into a data folder, unless it is there: cut once a run of the tests.

    A benchmark is no run of them: there it is cut for each folder, as a first start does.
    """
    if folder.exists():
        return
    if _run:
        shutil.copytree(once(_run[0] / "coast", _cut), folder, copy_function=os.link)
    else:
        _cut(folder)


@pytest.fixture(scope="session")
def server(tmp_path_factory: pytest.TempPathFactory, shared: Path) -> Iterator[Server]:
    running = start(tmp_path_factory.mktemp("data"), shared=shared)
    try:
        yield running
    finally:
        running.end()


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    with sync_playwright() as play:
        opened = play.chromium.launch(executable_path=chromium(), args=list(ARGUMENTS))
        yield opened
        opened.close()


@dataclass
class Watched:
    """A page, and everything that went wrong on it."""

    page: Page
    failed: list[str] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)


def watched(page: Page) -> Watched:
    """Return a page whose failed requests, foreign requests and script errors are noted."""
    notes = Watched(page)

    def asked(url: str) -> None:
        if not url.startswith(("http://127.0.0.1", "data:", "blob:", "ws://127.0.0.1")):
            notes.failed.append(f"asked the network for {url}")

    page.on("request", lambda request: asked(request.url))
    page.on("requestfailed", lambda request: notes.failed.append(f"failed {request.url}"))
    page.on(
        "response",
        lambda answer: (
            notes.failed.append(f"{answer.status} {answer.url}") if answer.status >= 400 else None
        ),
    )
    page.on("pageerror", lambda error: notes.errors.append(str(error)))
    return notes


@pytest.fixture
def on(browser: Browser, request: pytest.FixtureRequest) -> Iterator[Watched]:
    page = browser.new_page(viewport={"width": 1366, "height": 768})
    notes = watched(page)
    yield notes
    if os.environ.get("MUSTERPLOT_SCREENS"):
        folder = Path(os.environ["MUSTERPLOT_SCREENS"])
        folder.mkdir(parents=True, exist_ok=True)
        page.screenshot(path=folder / f"{request.node.name}.png")
    page.close()
