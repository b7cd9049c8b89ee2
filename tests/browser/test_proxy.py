"""Behind nginx with TLS and a path of its own, as README sets it up: everybody reads."""

from __future__ import annotations

import re
import ssl
import subprocess
import time
from base64 import b64decode
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from urllib.request import urlopen

import pytest
from playwright.sync_api import Browser, expect

from tests import prepare
from tests.browser.chart import PATIENCE_MS, chart
from tests.browser.conftest import ROOT, Server, free_port, start, watched

pytestmark = [pytest.mark.browser, pytest.mark.servers]

AROUND = """
daemon off; worker_processes 1; pid {folder}/nginx.pid; error_log {folder}/error.log;
events {{ worker_connections 256; }}
http {{
  access_log off; types {{ text/html html; text/javascript js; text/css css; }}
  client_body_temp_path {folder}/body; proxy_temp_path {folder}/proxy;
  fastcgi_temp_path {folder}/f; uwsgi_temp_path {folder}/u; scgi_temp_path {folder}/s;
  {server}
}}
"""
FIRST_VISIT_BYTES = 45 * 256_000 / 8  # 45 s on a line of 256 kbit/s: coast and lettering too


@dataclass
class Proxied:
    """A server behind a proxy."""

    server: Server
    address: str


def from_readme(port: int, behind: str, folder: Path) -> str:
    """Return README's own nginx example, with this test's ports and certificate in it."""
    text = (ROOT / "README.md").read_text()
    found = re.search(r"```nginx\n(.*?)```", text, re.DOTALL)
    assert found
    told = found.group(1)
    for old, new in (
        ("listen 443 ssl", f"listen 127.0.0.1:{port} ssl"),
        ("server_name plot.example", "server_name 127.0.0.1"),
        ("/etc/ssl/plot.crt", str(folder / "plot.crt")),
        ("/etc/ssl/plot.key", str(folder / "plot.key")),
        ("127.0.0.1:8501", behind),
    ):
        assert old in told
        told = told.replace(old, new)
    return told


@pytest.fixture(scope="module")
def proxied(tmp_path_factory: pytest.TempPathFactory, shared: Path) -> Iterator[Proxied]:
    nginx = prepare.found(prepare.NGINX)
    assert nginx, "the tests of the proxy need nginx: apt-get install nginx-light"
    folder = tmp_path_factory.mktemp("proxy")
    port = free_port()
    subprocess.run(
        ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2",
         "-subj", "/CN=127.0.0.1", "-keyout", "plot.key", "-out", "plot.crt"],
        cwd=folder, check=True, capture_output=True,
    )  # fmt: skip
    server = start(folder, base="/plot", shared=shared)
    behind = server.address.removeprefix("http://").removesuffix("/plot")
    (folder / "nginx.conf").write_text(
        AROUND.format(folder=folder, server=from_readme(port, behind, folder))
    )
    process = subprocess.Popen([nginx, "-p", str(folder), "-c", str(folder / "nginx.conf")])
    time.sleep(1.0)
    yield Proxied(server, f"https://127.0.0.1:{port}/plot")
    process.terminate()
    process.wait(10)
    server.end()


def test_pages_and_socket_work_under_a_path_and_the_visitor_reads(
    browser: Browser, proxied: Proxied
) -> None:
    context = browser.new_context(ignore_https_errors=True)
    page = context.new_page()
    notes = watched(page)
    sockets: list[str] = []
    page.on("websocket", lambda socket: sockets.append(socket.url))
    page.goto(f"{proxied.address}/")
    chart(page)
    expect(page.get_by_text("reading only").first).to_be_visible(timeout=PATIENCE_MS)
    page.get_by_role("link", name="Weather", exact=True).first.click()
    page.get_by_role("radio", name="Elsewhere", exact=True).click(timeout=PATIENCE_MS)
    expect(page.get_by_role("textbox", name="Place")).to_be_visible(timeout=PATIENCE_MS)
    assert sockets
    assert all(url.startswith("wss://127.0.0.1") for url in sockets)
    away = [
        text for text in notes.failed if "https://127.0.0.1" not in text and "wss://" not in text
    ]
    assert away == []
    for cookie in context.cookies():
        assert cookie["secure"], cookie["name"]
        assert cookie["sameSite"] in ("Lax", "Strict")
    context.close()


def test_a_first_visit_is_small_enough_for_a_slow_line(browser: Browser, proxied: Proxied) -> None:
    context = browser.new_context(ignore_https_errors=True)
    page = context.new_page()
    session = context.new_cdp_session(page)
    session.send("Network.enable")
    over_the_line: list[float] = []
    session.on(
        "Network.loadingFinished", lambda event: over_the_line.append(event["encodedDataLength"])
    )
    session.on(
        "Network.webSocketFrameReceived",
        lambda event: over_the_line.append(len(b64decode(event["response"]["payloadData"]))),
    )
    page.goto(f"{proxied.address}/")
    plot = chart(page).locator("#map_div")
    expect(plot).to_have_attribute("data-land", re.compile(r"^[1-9]"), timeout=PATIENCE_MS)
    context.close()
    assert len(over_the_line) > 20
    assert sum(over_the_line) < FIRST_VISIT_BYTES


def test_directly_at_the_same_server_is_still_the_watch(browser: Browser, proxied: Proxied) -> None:
    page = browser.new_page()
    page.goto(f"{proxied.server.address}/log")
    expect(page.get_by_text("EXERCISE", exact=False).first).to_be_visible(timeout=PATIENCE_MS)
    assert page.get_by_text("reading only").count() == 0
    page.close()


def test_the_headers_that_readme_promises_are_sent(proxied: Proxied) -> None:
    context = ssl.create_default_context()
    context.check_hostname, context.verify_mode = False, ssl.CERT_NONE  # its own certificate
    with urlopen(f"{proxied.address}/", context=context, timeout=10) as answer:
        headers = {name.lower(): value for name, value in answer.headers.items()}
    assert headers["strict-transport-security"].startswith("max-age=")
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "no-referrer"
    assert "frame-ancestors 'self'" in headers["content-security-policy"]
    assert "version" not in headers.get("server", "").lower()
