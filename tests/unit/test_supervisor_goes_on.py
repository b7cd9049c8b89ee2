"""What worked once is started again for ever; only a web server that never answered ends all."""

from __future__ import annotations

import argparse
import os
import signal
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from dashboard import __main__ as command
from dashboard.server import processes
from dashboard.server.processes import Child
from layers.journal import naming
from tests.unit.test_supervisor import free_port, until

ANSWERS = """
import http.server, sys
class Well(http.server.BaseHTTPRequestHandler):
    def do_GET(self):
        self.send_response(200); self.end_headers()
    def log_message(self, *_): pass
http.server.HTTPServer(("127.0.0.1", {port}), Well).serve_forever()
"""
KILLS = 7  # more than a server that never answered may die


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[argparse.Namespace]:
    before = {number: signal.getsignal(number) for number in (signal.SIGTERM, signal.SIGINT)}
    monkeypatch.setenv(naming.FOLDER, str(tmp_path))
    monkeypatch.setattr(processes, "FIRST_WAIT_S", 0.01)
    monkeypatch.setattr(processes, "LONGEST_WAIT_S", 0.05)
    monkeypatch.setattr(command, "TICK_S", 0.05)
    monkeypatch.setattr(command, "cut_coastline", lambda *_: None)
    yield command.arguments(["--port", str(free_port()), "--empty"])
    for number, handler in before.items():
        signal.signal(number, handler)


def children(asked: argparse.Namespace, script: str) -> list[Child]:
    """Return a web server of this script and three that only live, as the program has them."""
    environment = {**os.environ, naming.DATABASE: "sqlite:///none"}
    lives = ("-c", "import time; time.sleep(120)")
    web = Child("web server", ("-c", script.format(port=asked.port)), environment)
    others = [Child(f"other {n}", lives, environment, waits=True) for n in range(3)]
    return [web, *others]


def test_a_web_server_that_answered_once_is_started_again_however_often_it_is_killed(
    asked: argparse.Namespace, monkeypatch: pytest.MonkeyPatch
) -> None:
    said: list[str] = []
    monkeypatch.setattr(command, "say", said.append)
    held = children(asked, ANSWERS)
    address = command.address_words(asked)
    came_back: list[bool] = []

    def kill_again_and_again() -> None:
        try:
            # one that dies before the supervisor has seen it answer never answered, for it
            until(lambda: any("Musterplot is at" in line for line in said), 30.0)
            for _ in range(KILLS):
                came_back.append(until(lambda: command.answers(address), 30.0))
                if held[0].process is not None:
                    held[0].process.kill()
                    held[0].process.wait()
            came_back.append(until(lambda: command.answers(address), 30.0))
        finally:
            os.kill(os.getpid(), signal.SIGTERM)

    threading.Thread(target=kill_again_and_again, daemon=True).start()
    assert command.run(asked, held) == 0
    assert came_back == [True] * (KILLS + 1)
    assert sum("the web server was ended by signal 9" in line for line in said) == KILLS
    assert not [line for line in said if "does not start" in line]
    assert not any(child.running() for child in held)


def test_one_that_never_answered_ends_the_start_and_says_so(
    asked: argparse.Namespace, monkeypatch: pytest.MonkeyPatch
) -> None:
    said: list[str] = []
    monkeypatch.setattr(command, "say", said.append)
    held = children(asked, "raise SystemExit(3)")
    assert command.run(asked, held) == 1
    assert "the web server does not start; see the lines above" in said
    assert not any(child.running() for child in held)


def test_the_wait_before_it_is_started_again_grows_to_half_a_minute_and_no_further() -> None:
    made = Child("dies", ("-c", "raise SystemExit(3)"), dict(os.environ))
    waits = []
    for _ in range(9):
        made.start()
        assert made.process is not None
        made.process.wait()
        said: list[str] = []
        made.tend(said.append)
        waits.append(float(said[0].rpartition(" in ")[2].removesuffix(" s")))
        made.next_start = 0.0
    assert waits == sorted(waits)
    assert waits[0] < waits[3] < waits[-1] == 30.0
