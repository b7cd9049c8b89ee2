"""Who may write: decided from what the server knows, never from what a browser says."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from dashboard.access import is_for_here, role_of
from dashboard.door import from_this_room, through_a_proxy
from dashboard.settings import listens_on_loopback
from layers.journal.actor import Actor, Role
from layers.journal.record import Draft, form_identity

AUTH = {"watch_emails": ["first.watch@example"], "watch_groups": ["rescue-watch"]}


@pytest.mark.parametrize(
    ("claims", "role"),
    [
        ({"email": "first.watch@example", "email_verified": True}, Role.WATCH),
        ({"email": "first.watch@example", "email_verified": False}, Role.READER),
        ({"email": "first.watch@example"}, Role.READER),  # not said to be verified
        ({"email": "first.watch@example", "email_verified": "true"}, Role.READER),  # a text
        ({"email": "someone@example", "email_verified": True}, Role.READER),
        ({"groups": ["kitchen", "rescue-watch"]}, Role.WATCH),  # two roles: the watch's counts
        ({"groups": "rescue-watch"}, Role.READER),  # a text is not a list of groups
        ({"groups": [["rescue-watch"]]}, Role.READER),
        ({}, Role.READER),
    ],
)
def test_only_whom_the_server_names_is_of_the_watch(claims: dict[str, object], role: Role) -> None:
    assert role_of(claims, AUTH) is role


def test_with_nobody_named_everybody_reads() -> None:
    assert role_of({"email": "a@example", "email_verified": True}, {}) is Role.READER
    assert role_of({"groups": ["rescue-watch"]}, {"watch_groups": "rescue-watch"}) is Role.READER


@pytest.mark.parametrize(
    "name",
    ["X-Forwarded-For", "X-Forwarded-Proto", "X-Forwarded-Port", "X-Forwarded", "X_Forwarded_Host",
     "x-forwarded-whatever-comes", "Forwarded", "Via", "x-real-ip", "CF-Connecting-IP",
     "True-Client-IP", "X-Client-IP", "Fastly-Client-IP"],
)  # fmt: skip
def test_a_forwarding_header_means_a_proxy(name: str) -> None:
    assert through_a_proxy({"Host": "127.0.0.1", name: "10.0.0.1"})
    assert not through_a_proxy({"Host": "127.0.0.1", "User-Agent": "x"})


@pytest.mark.parametrize(
    ("address", "loopback"),
    [("127.0.0.1", True), ("::1", True), ("[::1]", True), ("localhost", True),
     ("0.0.0.0", False), ("::", False), ("192.0.2.7", False), ("plot.example", False)],
)  # fmt: skip
def test_only_loopback_is_this_machine_alone(
    monkeypatch: pytest.MonkeyPatch, address: str, loopback: bool
) -> None:
    monkeypatch.setenv("MUSTERPLOT_LISTENS", address)
    assert listens_on_loopback() is loopback


@pytest.mark.parametrize(
    ("host", "origin", "watch"),
    [
        ("127.0.0.1:8501", "http://127.0.0.1:8501", True),
        ("localhost:8501", "http://localhost:8501", True),
        ("[::1]:8501", "http://[::1]:8501", True),
        ("127.0.0.1:8501", None, True),  # not from a page
        ("127.0.0.1:8501", "http://127.0.0.1:9000", False),  # another server of this machine
        ("127.0.0.1:8501", "http://localhost:8501", False),
        ("127.0.0.1:8501", "null", False),
        ("127.0.0.1:8501", "http://127.0.0.1:8501.evil.example", False),
        ("rebound.example:8501", "http://rebound.example:8501", False),  # a name let point here
        ("127.0.0.1.evil.example", None, False),
        ("localhost.evil.example:8501", None, False),
        ("192.0.2.7:8501", None, False),
        ("", None, False),
        ("[", "http://[", False),
    ],
)
def test_the_watch_without_a_log_in_is_asked_by_loopbacks_name_from_the_plots_own_page(
    host: str, origin: str | None, watch: bool
) -> None:
    headers = {"Host": host} | ({} if origin is None else {"Origin": origin})
    assert from_this_room(headers) is watch
    assert not from_this_room({**headers, "X-Forwarded-Proto": "https"})


ADDED = (  # by proxies, tunnels and content networks (from memory), and names nobody has yet
    "X-Original-Forwarded-For: 203.0.113.9", "X-Remote-Addr: 203.0.113.9", "Max-Forwards: 9",
    "X-Appengine-User-IP: 203.0.113.9", "Akamai-Origin-Hop: 1", "X-Scheme: https",
    "X-Nf-Client-Connection-Ip: 203.0.113.9", "Front-End-Https: on", "Proxy-Connection: close",
    "X-Amzn-Trace-Id: Root=1-67891233", "X-Cloud-Trace-Context: 1/2;o=1", "X-ARR-LOG-ID: x",
    "Tailscale-User-Login: eve@example.org", "X-Envoy-Expected-Rq-Timeout-Ms: 15000",
    "X_Forwarded_For: 203.0.113.9", "X-Vercel-Id: fra1", "Ngrok-Trace-Id: 4", "X-Host: a.example",
    "Never-Seen: 203.0.113.9, 10.0.0.1", "Never-Seen: 2001:db8:0:1::5", "X-SSL-Client-IP: ",
    # by log-ins in front, caches, traces and certificates: none holds an address (from memory)
    "X-Client-Cert: MIIB", "Remote-User: eve", "X-Remote-User: eve", "X-Webauth-User: eve",
    "X-Auth-Request-Email: eve@example.org", "X-Pomerium-Claim-Email: eve@example.org",
    "Authorization: Basic ZXZlOg==", "X-Request-Id: 7", "X-Github-Request-Id: 7", "X-Varnish: 7",
    "Traceparent: 00-0af7651916cd43dd8448eb211c80319c-b7ad6b7169203331-01", "X-B3-TraceId: 7",
    "X-Amz-Cf-Id: x", "Surrogate-Capability: x=1", "Early-Data: 1", "X-Real-Port: 40000",
    "X-Accel-Internal: /x", "A-Name-Of-Tomorrow: ", "Te: trailers",
)  # fmt: skip
# what browsers send on a socket (Chromium and Firefox, seen), with values that look like addresses
BROWSER = {
    "Upgrade": "websocket", "Connection": "Upgrade", "Pragma": "no-cache", "DNT": "1",
    "Cache-Control": "no-cache", "User-Agent": "Mozilla/5.0 (X11) Chrome/99.0.0.0", "Sec-GPC": "1",
    "Accept-Encoding": "gzip, deflate, br, zstd", "Accept-Language": "de-CH,de;q=0.9",
    "Sec-WebSocket-Key": "dGhlIHNhbXBsZSBub25jZQ==", "Sec-WebSocket-Version": "13",
    "Sec-WebSocket-Extensions": "permessage-deflate; client_max_window_bits",
    "Sec-CH-UA-Full-Version-List": '"Chromium";v="99.0.0.0"', "Priority": "u=1, i",
    "If-Modified-Since": "Sat, 13 Mar 2027 12:30:45 GMT", "Cookie": "seen=203.0.113.9",
}  # fmt: skip


@pytest.mark.parametrize(
    ("told", "here"),
    [("plot", True), (["plot"], True), (["other", "plot"], True), ([], False), ("plots", False),
     (["other"], False), ({"plot": 1}, False)],
)  # fmt: skip
def test_a_log_in_counts_where_it_was_made_for(told: object, here: bool) -> None:
    assert is_for_here({"aud": told}, {"client_id": "plot"}) is here


@pytest.mark.parametrize("added", ADDED)
def test_a_header_that_somebody_on_the_way_added_makes_a_reader(added: str) -> None:
    name, _, value = added.partition(": ")
    room = {**BROWSER, "Host": "127.0.0.1:8501", "Origin": "http://127.0.0.1:8501"}
    assert from_this_room(room)
    assert not from_this_room({**room, name: value})


def test_another_port_than_the_servers_own_or_https_tells_of_a_tunnel(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("MUSTERPLOT_PORT", "8501")
    for host, origin, watch in (
        ("127.0.0.1:8501", "http://127.0.0.1:8501", True),
        ("localhost:9000", "http://localhost:9000", False),  # ssh -L 9000:127.0.0.1:8501
        ("localhost", "http://localhost", False),
        ("127.0.0.1:8501", "https://127.0.0.1:8501", False),
    ):
        assert from_this_room({"Host": host, "Origin": origin}) is watch, host


def test_no_outside_address_is_ever_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    import socket

    from streamlit import net_util
    from streamlit.web.server.server_util import is_url_from_allowed_origins

    from dashboard.server import web

    asked: list[object] = []
    monkeypatch.setattr(net_util, "get_external_ip", net_util.get_external_ip)
    monkeypatch.setattr(net_util, "get_internal_ip", net_util.get_internal_ip)
    monkeypatch.setattr(socket, "getaddrinfo", lambda *words, **_: asked.append(words) or [])
    monkeypatch.setattr(socket.socket, "connect", lambda _self, to: asked.append(to))
    web.ask_nobody()
    for name in range(1000):
        assert not is_url_from_allowed_origins(f"http://evil{name}.example")
    assert asked == []


def test_an_export_is_recorded_with_who_made_it_and_not_by_a_chosen_name_alone(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    from dashboard.cache import opened

    taken: list[Draft] = []

    class Pen:
        def append(self, _actor: Actor, drafts: list[Draft]) -> None:
            taken.extend(drafts)

    monkeypatch.setattr(opened, "pen", Pen)
    now = datetime(2027, 3, 16, tzinfo=UTC)
    reader = Actor(name="watch officer", role=Role.READER, identity="a@example; 7")
    opened.record_export(reader, Draft(
        kind="watch.export", payload={}, valid_at=now, heard_at=now, source="watch officer",
        identity=form_identity("x"),
    ))  # fmt: skip
    assert taken[0].source == "export by watch officer <a@example; 7>"
