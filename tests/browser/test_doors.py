"""A hostile page, a page of another local port and a tunnel under a name, in a real browser."""

from __future__ import annotations

import http.server
import json
import socket
import socketserver
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.request import urlopen

import pytest
from playwright.sync_api import Browser, expect

from tests.browser.chart import PATIENCE_MS
from tests.browser.conftest import ARGUMENTS, Server, chromium, start

pytestmark = [pytest.mark.browser, pytest.mark.servers]

KNOCK = """async (address) => {
  const socket = await new Promise((done) => {
    const s = new WebSocket(address.replace("http", "ws") + "/_stcore/stream", ["streamlit"]);
    s.onopen = () => done("open"); s.onerror = () => done("refused");
  });
  const got = await fetch(address + "/_stcore/health", {mode: "no-cors"})
    .then((answer) => answer.type + answer.status, () => "refused");
  return [socket, got];
}"""


class Quiet(http.server.BaseHTTPRequestHandler):
    """A small web server of somebody else on this computer."""

    def do_GET(self) -> None:
        self.send_response(200)
        self.send_header("content-type", "text/html")
        self.end_headers()
        self.wfile.write(f"<iframe src='{self.path[1:]}'></iframe>".encode())

    def log_message(self, *_words: object) -> None:
        """Say nothing."""


@pytest.fixture(scope="module")
def plot(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    running = start(tmp_path_factory.mktemp("doors"), "--empty", "--exercise", "DOORS")
    yield running
    running.end()


@pytest.fixture(scope="module")
def elsewhere() -> Iterator[str]:
    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), Quiet) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        yield f"http://127.0.0.1:{server.server_address[1]}"
        server.shutdown()


def port(server: Server) -> str:
    return server.address.rpartition(":")[2]


@contextmanager
def named(browser: Browser, name: str) -> Iterator[Browser]:
    """Return a Chromium for which a name points to this computer, as its owner lets it."""
    rules = f"--host-resolver-rules=MAP {name} 127.0.0.1, MAP * ~NOTFOUND, EXCLUDE 127.0.0.1"
    words = [word for word in ARGUMENTS if "host-resolver" not in word]
    opened = browser.browser_type.launch(executable_path=chromium(), args=[*words, rules])
    yield opened
    opened.close()


def test_the_watch_at_this_computer_still_records(browser: Browser, plot: Server) -> None:
    page = browser.new_page()
    page.goto(f"{plot.address}/watch")
    expect(page.get_by_text("EXERCISE", exact=False).first).to_be_visible(timeout=PATIENCE_MS)
    assert page.get_by_text("reading only").count() == 0
    page.close()


def test_a_page_of_another_local_port_opens_nothing_and_frames_nothing(
    browser: Browser, plot: Server, elsewhere: str
) -> None:
    page = browser.new_page()
    page.goto(f"{elsewhere}/{plot.address}/")
    assert page.evaluate(KNOCK, plot.address) == ["refused", "refused"]
    frame = page.frames[1]
    assert "EXERCISE" not in (frame.text_content("body") or "")
    assert frame.query_selector("#root") is None
    page.close()


def test_a_name_that_was_let_point_here_gets_no_page_and_no_socket(
    browser: Browser, plot: Server
) -> None:
    with named(browser, "rebound.example") as led_astray:
        page = led_astray.new_page()
        answer = page.goto(f"http://rebound.example:{port(plot)}/watch")
        assert answer is not None
        assert answer.status == 421
        assert page.evaluate(KNOCK, f"http://rebound.example:{port(plot)}")[0] == "refused"


def test_a_tunnel_under_a_name_that_was_told_reads(browser: Browser, tmp_path: Path) -> None:
    running = start(tmp_path, "--empty", "--exercise", "TUNNEL", "--host", "room2.example")

    class Tunnel(socketserver.BaseRequestHandler):
        def handle(self) -> None:
            inner = socket.create_connection(("127.0.0.1", int(port(running))))
            threading.Thread(target=_pump, args=(inner, self.request), daemon=True).start()
            _pump(self.request, inner)

    try:
        with socketserver.ThreadingTCPServer(("127.0.0.1", 0), Tunnel) as tunnel:
            tunnel.daemon_threads = True
            threading.Thread(target=tunnel.serve_forever, daemon=True).start()
            with named(browser, "room2.example") as remote:
                page = remote.new_page()
                page.goto(f"http://room2.example:{tunnel.server_address[1]}/watch")
                reading = page.get_by_text("reading only").first
                expect(reading).to_be_visible(timeout=PATIENCE_MS)
            tunnel.shutdown()
    finally:
        running.end()


def _pump(out_of: socket.socket, into: socket.socket) -> None:
    try:
        while data := out_of.recv(65536):
            into.sendall(data)
    except OSError:
        pass
    finally:
        for end in (out_of, into):
            end.close()


def test_no_page_of_another_site_is_named_as_one_that_may_command(plot: Server) -> None:
    with urlopen(f"{plot.address}/_stcore/host-config", timeout=60) as answer:
        told = json.load(answer)
        assert "frame-ancestors 'self'" in answer.headers["content-security-policy"]
    assert told["allowedOrigins"] == []
    assert not told["enableCustomParentMessages"]
