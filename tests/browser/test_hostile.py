"""Text and bytes from outside: shown harmlessly on every page, refused in a sentence, never run."""

from __future__ import annotations

import http.client
import json
from collections.abc import Iterator
from datetime import UTC, datetime
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, expect

from dashboard.shell import TABLE
from layers.catalogue import KINDS
from layers.journal.actor import Actor, Role
from layers.journal.record import Draft, form_identity
from layers.journal.store import open_journal
from tests.browser.chart import PATIENCE_MS
from tests.browser.conftest import Server, start

pytestmark = pytest.mark.browser

RUNS = "window.top.hurt=1;document.title='hurt'"
EVIL = f'<script>{RUNS}</script><img src=x onerror="{RUNS}">\'"><svg onload={RUNS}>'
SHIP = "mmsi:299000901"
LONG = "L" * 10_000
WATCH = Actor(name=EVIL[:80], role=Role.WATCH, via="test")
PAGES = [entry.address for entry in TABLE]


@pytest.fixture(scope="module")
def hurt(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """A server whose journal holds markup wherever text can stand."""
    folder = tmp_path_factory.mktemp("hostile")
    journal = open_journal(str(folder / "journal.sqlite"), KINDS, name=EVIL, exercise=True)
    now = datetime.now(UTC)
    said = {
        "watch.task": {"who": EVIL[:100], "what": EVIL},
        "watch.decision": {"what": EVIL, "reasons": LONG[:2_000], "decided_by": EVIL[:60]},
        "watch.question": {"what": EVIL, "asked_of": EVIL[:60]},
        "watch.alarm": {"rule": "ab" * 16, "said": EVIL},
        "tracks.vessel": {"subject": SHIP, "name": EVIL[:80], "role": "support ship"},
        "tracks.position": {"subject": SHIP, "latitude_deg": 49.8, "longitude_deg": -8.4},
    }
    for number, (kind, payload) in enumerate(said.items()):
        draft = Draft(kind=kind, payload=payload, valid_at=now, heard_at=now, source=EVIL[:100],
                      identity=form_identity(f"evil{number}"))  # fmt: skip
        journal.append(WATCH, [draft])
    journal.close()
    running = start(folder, "--empty")
    yield running
    running.end()


@pytest.mark.parametrize("address", PAGES)
def test_markup_from_outside_is_text_on_every_page(
    browser: Browser, hurt: Server, address: str
) -> None:
    page = browser.new_page(viewport={"width": 1366, "height": 768})
    dialogs: list[str] = []
    page.on("dialog", lambda dialog: (dialogs.append(dialog.message), dialog.dismiss()))
    page.goto(f"{hurt.address}/{address}")
    # the exercise's own name is markup: it stands on every page, as letters
    expect(page.get_by_text("<SCRIPT>", exact=False).first).to_be_visible(timeout=PATIENCE_MS)
    page.wait_for_timeout(1_500)
    assert dialogs == []
    assert page.evaluate("() => window.hurt === undefined")
    assert page.title() != "hurt"
    for frame in page.frames:
        assert (
            frame.evaluate(
                "() => document.querySelectorAll('img[src=x], svg[onload], [onerror]').length"
            )
            == 0
        )
    page.close()


def test_an_upload_past_the_limit_is_refused_by_the_server(hurt: Server) -> None:
    place = urlsplit(hurt.address)
    link = http.client.HTTPConnection(place.hostname or "", place.port, timeout=10)
    link.putrequest("PUT", "/_stcore/upload_file/nobody/nothing")
    link.putheader("Content-Length", str(2 * 1024**3))
    link.putheader("Content-Type", "multipart/form-data; boundary=x")
    link.endheaders()
    try:
        link.send(b"--x\r\n")
        status = link.getresponse().status
    except (ConnectionError, http.client.HTTPException):
        status = 0  # the server hung up, which refuses too
    assert status == 0 or 400 <= status < 500
    link.close()


def test_what_a_reader_sends_writes_nothing(browser: Browser, hurt: Server) -> None:
    """A forged message over the socket, and a forged forwarding header, change no record."""
    context = browser.new_context(extra_http_headers={"X-Forwarded-For": "192.0.2.9"})
    page = context.new_page()
    sockets: list[str] = []
    page.on("websocket", lambda socket: sockets.append(socket.url))
    # every socket of the page is kept, so that a message can be sent over it by hand
    page.add_init_script(
        "window.kept=[];const W=WebSocket;window.WebSocket=class extends W{"
        "constructor(...a){super(...a);window.kept.push(this)}}"
    )
    page.goto(f"{hurt.address}/watch")
    expect(page.get_by_text("reading only").first).to_be_visible(timeout=PATIENCE_MS)
    journal = open_journal(str(hurt.folder / "journal.sqlite"), KINDS, readonly=True)
    before = journal.head()
    forged = list(_forged())
    page.evaluate(
        "messages => window.kept.forEach(s => messages.forEach(m => s.send(new Uint8Array(m))))",
        forged,
    )
    page.wait_for_timeout(4_000)
    assert sockets
    assert journal.head() == before
    journal.close()
    context.close()


def _forged() -> Iterator[list[int]]:
    """Yield messages that press every button and fill every form of the watch by name."""
    from streamlit.proto.BackMsg_pb2 import BackMsg

    for key in ("tick_1_1", "FormSubmitter:form.watch.task.watch-Record it", "take_1", "Load it"):
        message = BackMsg()
        state = message.rerun_script.widget_states.widgets.add()
        state.id = f"$$ID-0-{key}"
        state.trigger_value = True
        text = message.rerun_script.widget_states.widgets.add()
        text.id = "$$ID-1-journal"
        text.string_value = json.dumps({"kind": "watch.task", "payload": {"who": "forged"}})
        yield list(message.SerializeToString())
