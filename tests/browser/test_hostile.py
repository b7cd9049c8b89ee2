"""Text and bytes from outside: shown harmlessly on every page, refused in a sentence, never run."""

from __future__ import annotations

import http.client
import re
import select
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, expect

from dashboard.page_table import TABLE
from layers.catalogue import KINDS
from layers.earth.errors import InputError
from layers.journal.actor import Actor, Role
from layers.journal.record import Draft, form_identity
from layers.journal.store import Journal, open_journal
from tests.browser.chart import PATIENCE_MS
from tests.browser.conftest import Server, start

pytestmark = pytest.mark.browser

RUNS = "window.top.hurt=1;document.title='hurt'"
EVIL = f'<script>{RUNS}</script><img src=x onerror="{RUNS}">\'"><svg onload={RUNS}>'
SHIP, OTHER = "mmsi:299000901", "mmsi:299000902"
PLACE = {"latitude_deg": 49.8, "longitude_deg": -8.4}
LONG = "L" * 10_000
TRUE, FALSE = "NORTHERN LANTERN", "NORTHERN L\u0410NTERN"  # a Cyrillic A in the second
TRUE_ONE, TWIN = "mmsi:299000903", "mmsi:299000904"
WATCH = Actor(name=EVIL[:80], role=Role.WATCH, via="test")
FEED = Actor(name="AIS", role=Role.FEED, via="test")
PAGES = [entry.address for entry in TABLE]


def _draft(kind: str, payload: dict[str, Any], now: datetime, identity: str) -> Draft:
    return Draft(kind=kind, payload=payload, valid_at=now, heard_at=now, source=EVIL[:100],
                 identity=form_identity(identity))  # fmt: skip


@pytest.fixture(scope="module")
def hurt(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """A server whose journal holds markup wherever text can stand."""
    folder = tmp_path_factory.mktemp("hostile")
    journal = open_journal(str(folder / "journal.sqlite"), KINDS, name=EVIL, exercise=True)
    now = datetime.now(UTC)
    said: list[tuple[str, dict[str, Any]]] = [
        ("watch.task", {"who": EVIL[:100], "what": EVIL}),
        ("watch.decision", {"what": EVIL, "reasons": LONG[:2_000], "decided_by": EVIL[:60]}),
        ("watch.question", {"what": EVIL, "asked_of": EVIL[:60]}),
        ("watch.alarm", {"rule": "ab" * 16, "said": EVIL}),
        ("tracks.vessel", {"subject": SHIP, "name": EVIL[:80], "role": "support ship"}),
        ("tracks.position", {"subject": SHIP, **PLACE}),
        ("tracks.vessel", {"subject": OTHER, "name": LONG[:80], "role": "support ship"}),
        ("tracks.position", {"subject": OTHER, **PLACE}),
        ("tracks.vessel", {"subject": TRUE_ONE, "name": TRUE, "role": "support ship"}),
        ("tracks.position", {"subject": TRUE_ONE, **PLACE, "latitude_deg": 49.9}),
        # a name that looks like another is none that a person may type: it comes by radio, and in
        # words
        ("tracks.static", {"subject": TWIN, "name": FALSE}),
        ("tracks.position", {"subject": TWIN, **PLACE, "latitude_deg": 49.95}),
        (
            "watch.task",
            {"who": "OSPREY", "what": f"{FALSE}: search \u202enoitisop\u202c of\u200b hers"},
        ),
    ]
    with pytest.raises(InputError, match="at most 80"):  # a label longer than a label is
        journal.append(WATCH, [_draft("tracks.vessel", {**said[6][1], "name": LONG}, now, "long")])
    for number, (kind, payload) in enumerate(said):
        by = FEED if kind == "tracks.static" else WATCH
        journal.append(by, [_draft(kind, payload, now, f"evil{number}")])
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
    # however long a word is, the page does not run off its side
    assert page.evaluate(
        "() => document.documentElement.scrollWidth <= document.documentElement.clientWidth"
    )
    for frame in page.frames:
        assert (
            frame.evaluate(
                "() => document.querySelectorAll('img[src=x], svg[onload], [onerror]').length"
            )
            == 0
        )
    page.close()


# what a person can read, hear or hover over, in the page and in the charts within it
ALL_WORDS = """() => [document.body.innerText, ...[...document.querySelectorAll(
    '[title], [aria-label], text, title')].map(one => [one.getAttribute('title'),
    one.getAttribute('aria-label'), one.textContent].join(' '))].join('\\n')"""


def test_a_twin_is_told_apart_and_nothing_unseen_is_on_any_page(
    browser: Browser, hurt: Server
) -> None:
    page, named = browser.new_page(viewport={"width": 1366, "height": 768}), 0
    for address in ("plot", "response", "watch", "log", "wall"):
        page.goto(f"{hurt.address}/{address}")
        expect(page.get_by_text("<SCRIPT>", exact=False).first).to_be_visible(timeout=PATIENCE_MS)
        if address == "response":
            page.get_by_text("Ships and aircraft", exact=True).first.click()
        if address in ("response", "log"):
            expect(page.get_by_text("LANTERN").first).to_be_attached(timeout=PATIENCE_MS)
        page.wait_for_timeout(1_500)
        for frame in page.frames:
            seen = str(frame.evaluate(ALL_WORDS))
            unseen = re.findall("[\u200b\u202a-\u202e\u2066-\u2069\u00ad]", seen)
            assert not unseen, address
            for at in re.finditer(FALSE, seen):
                assert seen[at.end() :].lstrip().startswith("‹with Cyrillic"), address
                named += 1
    assert named  # she is there, and marked each time
    page.close()


LIMIT = 100 * 1024**2  # bytes of one file: --server.maxUploadSize


def test_an_upload_past_the_limit_is_refused_by_the_server(browser: Browser, hurt: Server) -> None:
    """By the watch's own page, in a session that may upload: declared too large, and too long."""
    context = browser.new_context()
    page = context.new_page()
    page.goto(f"{hurt.address}/feeds")
    page.get_by_role("radio", name="Drop a file", exact=True).first.click()
    drop = page.locator('input[type="file"]').first
    expect(drop).to_be_attached(timeout=PATIENCE_MS)
    with page.expect_request(lambda request: "/upload_file/" in request.url) as asked:
        drop.set_input_files({"name": "a.txt", "mimeType": "text/plain", "buffer": b"nothing"})
    accepted = asked.value.response()
    assert accepted is not None
    assert accepted.status == 204  # the same request within the limit is taken
    way = urlsplit(asked.value.url)
    headers = {"Cookie": "; ".join(f"{c['name']}={c['value']}" for c in context.cookies())}
    token = asked.value.headers.get("x-xsrftoken")
    headers |= {"X-Xsrftoken": token} if token else {}
    declared = _upload(way.netloc, f"{way.path}1", headers, declared=2 * 1024**3)
    # too large; or not asked for any more, when the page has taken the first file by then
    assert (declared[0], declared[2]) in {(413, 0), (403, 0)}, declared
    status, _, sent = _upload(way.netloc, f"{way.path}2", headers, declared=None)
    assert status in {403, 411}  # whoever does not say how much it will be is asked to
    assert sent < LIMIT
    # the page itself says so in a sentence, before a byte is sent
    page.evaluate(
        """size => { const it = new File([new Uint8Array(size)], 'large.bin');
        const box = document.querySelector('input[type="file"]');
        const held = new DataTransfer(); held.items.add(it); box.files = held.files;
        box.dispatchEvent(new Event('change', {bubbles: true})); }""",
        LIMIT + 1,
    )
    expect(page.get_by_text("File must be 100.0MB or smaller.")).to_be_visible(timeout=30_000)
    context.close()


def _upload(
    netloc: str, path: str, headers: dict[str, str], *, declared: int | None
) -> tuple[int, str, int]:
    """Send an upload of a declared size, or piece by piece; return status, words, bytes sent."""
    link = http.client.HTTPConnection(netloc, timeout=60)
    link.putrequest("PUT", path)
    for name, value in headers.items():
        link.putheader(name, value)
    link.putheader("Content-Type", "multipart/form-data; boundary=x")
    if declared is not None:
        link.putheader("Content-Length", str(declared))
    else:
        link.putheader("Transfer-Encoding", "chunked")
    link.endheaders()
    sent = 0
    head = b'--x\r\nContent-Disposition: form-data; name="f"; filename="f"\r\n\r\n'
    piece = bytes(1024**2)
    try:
        while declared is None and sent < 2 * LIMIT and not _answered(link):
            data = head if not sent else piece
            link.send(b"%x\r\n%b\r\n" % (len(data), data))
            sent += len(data)
    except ConnectionError:
        pass  # the server hung up in the middle; its answer is still to be read
    answer = link.getresponse()
    said = answer.read().decode()
    link.close()
    return answer.status, said, sent


def _typed(journal: Journal) -> int:
    """Return how many tasks were recorded; alarms come and end by themselves meanwhile."""
    return len(journal.read(["watch.task"], journal.head()[0]))


def _answered(link: http.client.HTTPConnection) -> bool:
    return bool(select.select([link.sock], [], [], 0)[0])


KEEP_SOCKETS = """window.kept = []; window.held = []; window.hold = false;
const Real = WebSocket;
window.WebSocket = class extends Real {
  constructor(...a) { super(...a); window.kept.push(this); }
  send(data) {
    if (window.hold) window.held.push([...new Uint8Array(data)]); else super.send(data);
  }
  push(data) { super.send(data); }
};"""
SEND = """messages => messages.forEach(m => window.kept.forEach(
  s => { if (s.readyState === 1) s.push(new Uint8Array(m)); }))"""


def test_what_a_reader_sends_writes_nothing(browser: Browser, hurt: Server) -> None:
    """What the watch's own form sends is caught before the server has it, and sent by a reader.

    Nothing is written then. Sent by the watch's page afterwards it is written: the message was
    good, and only who sent it made the difference.
    """
    journal = open_journal(str(hurt.folder / "journal.sqlite"), KINDS, readonly=True)
    watch = browser.new_context().new_page()
    watch.add_init_script(KEEP_SOCKETS)
    watch.goto(f"{hurt.address}/watch")
    watch.get_by_text("Write into the watch's book").click(timeout=PATIENCE_MS)
    watch.get_by_label("Who", exact=True).first.fill("FORGED", timeout=PATIENCE_MS)
    watch.get_by_label("What", exact=True).first.fill("to be replayed")
    watch.wait_for_timeout(1_000)
    watch.evaluate("() => { window.hold = true; }")
    watch.get_by_role("button", name="Record it").first.click()
    caught: list[list[int]] = []
    for _ in range(60):  # of a busy machine
        watch.wait_for_timeout(1_000)
        caught = [m for m in watch.evaluate("() => window.held") if _presses(bytes(m))]
        if caught:
            break
    assert len(caught) == 1
    before = _typed(journal)

    context = browser.new_context(extra_http_headers={"X-Forwarded-For": "192.0.2.9"})
    reader = context.new_page()
    reader.add_init_script(KEEP_SOCKETS)
    reader.goto(f"{hurt.address}/watch")
    expect(reader.get_by_text("reading only").first).to_be_visible(timeout=PATIENCE_MS)
    reader.wait_for_timeout(2_000)
    assert reader.evaluate("() => window.kept.some(s => s.readyState === 1)")
    reader.evaluate(SEND, caught)
    reader.wait_for_timeout(6_000)
    assert _typed(journal) == before
    context.close()

    watch.evaluate("() => { window.hold = false; }")
    watch.evaluate(SEND, caught)
    watch.get_by_text("Tasks, listening times and checklists").click()
    expect(watch.get_by_text("to be replayed").first).to_be_visible(timeout=PATIENCE_MS)
    assert _typed(journal) == before + 1
    journal.close()
    watch.context.close()


def _presses(message: bytes) -> bool:
    """Whether a message from the page presses a button."""
    from streamlit.proto.BackMsg_pb2 import BackMsg

    said = BackMsg.FromString(message)
    return any(each.trigger_value for each in said.rerun_script.widget_states.widgets)
