"""A log-in through nginx with TLS: the cookie is closed, and what is written carries the name."""

from __future__ import annotations

import subprocess
import time
from collections.abc import Iterator
from dataclasses import dataclass

import pytest
from playwright.sync_api import Browser, expect

from layers.catalogue import KINDS
from layers.journal.known import Known
from layers.journal.store import open_journal
from tests import prepare
from tests.browser.chart import PATIENCE_MS
from tests.browser.conftest import Server, free_port, start
from tests.browser.provider import CLIENT, SECRET, Provider
from tests.browser.test_proxy import AROUND, from_readme

pytestmark = [pytest.mark.browser, pytest.mark.servers]

WATCH = {"name": "First Watch", "email": "first.watch@example", "email_verified": True}
OPENING_MS = 2 * PATIENCE_MS
DONE_BY = "Tasks, listening times and checklists"


@dataclass
class Guarded:
    """A server with a log-in behind a proxy, and the provider it asks."""

    server: Server
    address: str
    provider: Provider


@pytest.fixture(scope="module")
def guarded(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Guarded]:
    nginx = prepare.found(prepare.NGINX)
    assert nginx, "the tests of the proxy need nginx: apt-get install nginx-light"
    folder, provider = tmp_path_factory.mktemp("tls"), Provider()
    port, inner = free_port(), free_port()
    subprocess.run(
        ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2",
         "-subj", "/CN=127.0.0.1", "-keyout", "plot.key", "-out", "plot.crt"],
        cwd=folder, check=True, capture_output=True,
    )  # fmt: skip
    (folder / "secrets.toml").write_text(
        f"""[auth]
redirect_uri = "https://127.0.0.1:{port}/plot/oauth2callback"
cookie_secret = "{"0123456789abcdef" * 3}"
client_id = "{CLIENT}"
client_secret = "{SECRET}"
server_metadata_url = "{provider.address}/.well-known/openid-configuration"
watch_emails = ["first.watch@example"]
"""
    )
    server = start(folder, "--empty", "--exercise", "LOG IN", port=inner, base="/plot")
    (folder / "nginx.conf").write_text(
        AROUND.format(folder=folder, server=from_readme(port, f"127.0.0.1:{inner}", folder))
    )
    process = subprocess.Popen([nginx, "-p", str(folder), "-c", str(folder / "nginx.conf")])
    time.sleep(1.0)
    yield Guarded(server, f"https://127.0.0.1:{port}/plot", provider)
    process.terminate()
    process.wait(10)
    server.end()
    provider.end()


def test_the_log_in_is_the_author_and_its_cookie_is_closed(
    browser: Browser, guarded: Guarded
) -> None:
    context = browser.new_context(ignore_https_errors=True)
    page = context.new_page()
    guarded.provider.claims = dict(WATCH)
    page.goto(f"{guarded.address}/watch")
    page.get_by_role("button", name="Log in").click(timeout=OPENING_MS)
    expect(page.get_by_text("First Watch (watch)")).to_be_visible(timeout=OPENING_MS)
    mine = [c for c in context.cookies() if c["name"].startswith("_streamlit_user")]
    assert mine
    for cookie in mine:
        assert cookie["secure"], cookie["name"]
        assert cookie["httpOnly"], cookie["name"]
        assert cookie["sameSite"] in ("Lax", "Strict"), cookie["name"]

    page.goto(f"{guarded.address}/watch")
    page.get_by_role("radio", name="Write into the watch's book").click(timeout=OPENING_MS)
    page.get_by_label("Who", exact=True).first.fill("CAPE ARDIS", timeout=OPENING_MS)
    page.get_by_label("What", exact=True).first.fill("steam to the datum")
    page.get_by_role("button", name="Record it").first.click()
    page.get_by_role("radio", name=DONE_BY).click(timeout=OPENING_MS)
    expect(page.get_by_text("steam to the datum").first).to_be_visible(timeout=OPENING_MS)
    journal = open_journal(str(guarded.server.folder / "journal.sqlite"), KINDS, readonly=True)
    seq, _ = journal.head()
    (task,) = Known(journal, KINDS, seq, journal.now()).records("watch.task")
    # a name is what people choose; the verified address and number stand beside it
    assert task.author.startswith("First Watch <first.watch@example; ")
    assert task.payload["who"] == "CAPE ARDIS"
    context.close()

    other = browser.new_context(ignore_https_errors=True)
    page = other.new_page()
    page.goto(f"{guarded.address}/watch")
    expect(page.get_by_text("reading only").first).to_be_visible(timeout=OPENING_MS)
    page.get_by_role("radio", name=DONE_BY).click(timeout=OPENING_MS)
    expect(page.get_by_text("steam to the datum").first).to_be_visible(timeout=OPENING_MS)
    assert page.get_by_role("button", name="Record it").count() == 0
    since = [one for one in journal.read(sorted(KINDS), journal.head()[0]) if one.seq > seq]
    assert {one.kind for one in since} <= {"watch.look"}  # the server's own word: somebody looked
    journal.close()
    other.close()
