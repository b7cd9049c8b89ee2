"""The one door: what is refused before the framework sees it, and what goes through."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest
from streamlit.web.server.server_util import get_cookie_secret
from streamlit.web.server.starlette.starlette_app_utils import create_signed_value

from dashboard.access import identity
from dashboard.door import uploads
from dashboard.door.guard import Guard
from dashboard.door.log_ins import COOKIE, LogIns, key_of
from dashboard.door.names import Names, checked
from dashboard.door.pace import Pace
from dashboard.door.uploads import MB, Offers
from layers.earth.errors import InputError
from layers.journal.actor import Actor, Role

HOST = "127.0.0.1:8501"
Pairs = Sequence[tuple[str, str]]


class Behind:
    """What lies behind the door: it counts who came through."""

    def __init__(self) -> None:
        self.came = 0

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:
        self.came += 1
        if scope["type"] == "http":
            await send({"type": "http.response.start", "status": 200, "headers": []})
            await send({"type": "http.response.body", "body": b"in"})


def ask(
    guard: Guard, headers: Pairs, path: str = "/", method: str = "GET", sort: str = "http"
) -> tuple[int, list[dict[str, Any]]]:
    """Ask as a browser would; return the status, 101 and 403 for a socket, and what was sent."""
    path, _, query = path.partition("?")
    scope = {
        "type": sort,
        "method": method,
        "path": path,
        "raw_path": path.encode(),
        "query_string": query.encode(),
        "headers": [(name.lower().encode(), told.encode("latin-1")) for name, told in headers],
        "client": ("127.0.0.1", 50000),
    }
    sent: list[dict[str, Any]] = []

    async def receive() -> dict[str, Any]:
        return {"type": "http.request", "body": b"", "more_body": False}

    async def send(message: dict[str, Any]) -> None:
        sent.append(message)

    asyncio.run(guard(scope, receive, send))
    if sort == "websocket":
        return (403 if sent else 101), sent
    return sent[0]["status"], sent


def signed(told: str, name: str = COOKIE) -> str:
    return create_signed_value(get_cookie_secret(), name, told).decode()


def door(names: Names | None = None, base: str = "") -> tuple[Guard, Behind]:
    behind = Behind()
    return Guard(behind, names or Names.of("127.0.0.1"), base), behind


PROXY = (("X-Forwarded-For", "198.51.100.7"), ("X-Forwarded-Proto", "https"))
# RFC 6454: an origin is scheme, host and port; RFC 9110 7.2: exactly one Host
WRONG: list[tuple[str, Pairs, int]] = [
    ("rebound name", [("Host", "rebound.example:8501")], 421),
    ("rebound name, its own page", [("Host", "r.example"), ("Origin", "http://r.example")], 421),
    ("no name", [], 400),
    ("two names", [("Host", HOST), ("Host", "evil.example")], 400),
    ("two origins", [("Host", HOST), ("Origin", f"http://{HOST}"), ("Origin", "null")], 400),
    ("name with a user", [("Host", f"127.0.0.1@{HOST}")], 421),
    ("name with a path", [("Host", "127.0.0.1/x")], 421),
    ("port that is none", [("Host", "127.0.0.1:port")], 421),
    ("decimal address", [("Host", "2130706433")], 421),
    ("short address", [("Host", "127.1")], 421),
    ("address of elsewhere", [("Host", "192.0.2.7:8501")], 421),
    ("local suffix", [("Host", "localhost.evil.example")], 421),
    ("another site's page", [("Host", HOST), ("Origin", "http://evil.example")], 403),
    ("another port's page", [("Host", HOST), ("Origin", "http://127.0.0.1:9000")], 403),
    ("other loopback name", [("Host", HOST), ("Origin", "http://localhost:8501")], 403),
    ("no origin to name", [("Host", HOST), ("Origin", "null")], 403),
    ("file's page", [("Host", HOST), ("Origin", "file://")], 403),
    ("extension's page", [("Host", HOST), ("Origin", f"chrome-extension://{HOST}")], 403),
    ("origin with a user", [("Host", HOST), ("Origin", f"http://{HOST}@{HOST}")], 403),
    ("origin with a path", [("Host", HOST), ("Origin", f"http://{HOST}/x")], 403),
    ("picture on another site", [("Host", HOST), ("Sec-Fetch-Site", "cross-site"),
     ("Sec-Fetch-Mode", "no-cors"), ("Sec-Fetch-Dest", "image")], 403),
    ("frame on another site", [("Host", HOST), ("Sec-Fetch-Site", "cross-site"),
     ("Sec-Fetch-Mode", "navigate"), ("Sec-Fetch-Dest", "iframe")], 403),
    ("script on another port", [("Host", HOST), ("Sec-Fetch-Site", "same-site"),
     ("Sec-Fetch-Mode", "no-cors"), ("Sec-Fetch-Dest", "script")], 403),
    # twenty more of another trial: other spellings of this machine, of a name and of an origin
    ("name with a dot behind", [("Host", "localhost.:8501")], 421),
    ("address in the other's clothes", [("Host", "[::ffff:127.0.0.1]:8501")], 421),
    ("address in hexadecimals", [("Host", "0x7f000001:8501")], 421),
    ("address in octals", [("Host", "0177.0.0.1:8501")], 421),
    ("any address", [("Host", "0.0.0.0:8501")], 421),
    ("any address, the other", [("Host", "[::]:8501")], 421),
    ("address in wide figures", [("Host", "\xef\xbc\x91\xef\xbc\x92\xef\xbc\x97.0.0.1")], 421),
    ("name with a nought", [("Host", "localhost%00:8501")], 421),
    ("two names in one", [("Host", f"{HOST}, evil.example")], 421),
    ("port with a sign", [("Host", "127.0.0.1:+8501")], 421),
    ("address and a name", [("Host", "127.0.0.1.nip.example:8501")], 421),
    ("folded name", [("Host", f"evil.example {HOST}")], 421),
    ("origin with a dot behind", [("Host", HOST), ("Origin", "http://127.0.0.1.:8501")], 403),
    ("origin of a socket", [("Host", HOST), ("Origin", f"ws://{HOST}")], 403),
    ("origin that goes on", [("Host", HOST), ("Origin", f"http://{HOST}.evil.example")], 403),
    ("origin with a question", [("Host", HOST), ("Origin", f"http://{HOST}?x")], 403),
    ("origin with a backslash", [("Host", HOST), ("Origin", f"http://evil.example\\@{HOST}")], 403),
    ("origin that is empty", [("Host", HOST), ("Origin", "")], 403),
    ("two origins in one", [("Host", HOST), ("Origin", f"http://{HOST} http://e.example")], 403),
    ("socket of another site, right origin", [("Host", HOST), ("Origin", f"http://{HOST}"),
     ("Sec-Fetch-Site", "cross-site"), ("Sec-Fetch-Mode", "websocket")], 403),
    ("body of no length", [("Host", HOST), ("Content-Length", "-1")], 400),
    ("body where none is taken", [("Host", HOST), ("Content-Length", "70000")], 413),
    ("body without an end", [("Host", HOST), ("Transfer-Encoding", "chunked")], 413),
]  # fmt: skip


@pytest.mark.parametrize(("headers", "status"), [w[1:] for w in WRONG], ids=[w[0] for w in WRONG])
def test_what_is_not_asked_rightly_never_comes_behind_the_door(headers: Pairs, status: int) -> None:
    guard, behind = door()
    assert ask(guard, headers)[0] == status
    if status not in (400, 413) or "twice" in str(headers):
        assert ask(guard, headers, sort="websocket")[0] == 403
        assert behind.came == 0


RIGHT: list[tuple[str, Pairs]] = [
    ("by address", [("Host", HOST)]),
    ("by name", [("Host", "localhost:8501"), ("Origin", "http://localhost:8501")]),
    ("IPv6", [("Host", "[::1]:8501"), ("Origin", "http://[::1]:8501")]),
    ("from a link", [("Host", HOST), ("Sec-Fetch-Site", "cross-site"),
     ("Sec-Fetch-Mode", "navigate"), ("Sec-Fetch-Dest", "document")]),
    ("proxy", [("Host", HOST), ("Origin", f"https://{HOST}"), *PROXY]),
    ("proxy on a port", [("Host", "127.0.0.1:8443"), ("Origin", "https://127.0.0.1:8443"),
     *PROXY]),
]  # fmt: skip


@pytest.mark.parametrize("headers", [r[1] for r in RIGHT], ids=[r[0] for r in RIGHT])
def test_what_is_asked_rightly_comes_through(headers: Pairs) -> None:
    guard, behind = door()
    assert ask(guard, headers)[0] == 200
    assert ask(guard, headers, sort="websocket")[0] == 101
    assert behind.came == 2


def test_who_told_a_name_is_asked_by_that_name_alone() -> None:
    for names in (
        Names.of("127.0.0.1", ["plot.example"]),
        Names.of("127.0.0.1", redirect="https://plot.example/plot/oauth2callback"),
    ):
        guard, _ = door(names)
        assert ask(guard, [("Host", "plot.example"), *PROXY])[0] == 200
        assert ask(guard, [("Host", "other.example"), *PROXY])[0] == 421
        assert names.for_streamlit() == ["127.0.0.1", "::1", "localhost", "plot.example"]


def test_a_header_that_a_script_can_add_is_no_name_to_come_in_by() -> None:
    # a page whose name was let point here adds it to what it fetches (Fetch standard: a script
    # may set any header but the forbidden ones, and these are not among them)
    for headers in (PROXY, (("Via", "1.1 x"),), (("Never-Seen", "203.0.113.9"),)):
        guard, behind = door()
        assert ask(guard, [("Host", "rebound.example:8501"), *headers], path="/plain")[0] == 421
        assert behind.came == 0


def test_on_all_addresses_any_address_in_figures_is_its_own_but_no_foreign_name() -> None:
    guard, _ = door(Names.of("0.0.0.0"))
    assert ask(guard, [("Host", "192.0.2.7:8501")])[0] == 200
    assert ask(guard, [("Host", "evil.example")])[0] == 421


def test_a_name_that_is_none_is_refused_in_words() -> None:
    assert checked("https://Plot.Example/") == "plot.example"
    for wrong in ("", "a b", "plot.example/path", "https://", "-x.example"):
        with pytest.raises(InputError, match="name of a host"):
            checked(wrong)


def test_only_what_is_needed_is_there_and_in_no_other_way() -> None:
    guard, behind = door(base="plot")
    assert ask(guard, [("Host", HOST)], "/plot/_stcore/metrics")[0] == 404
    assert ask(guard, [("Host", HOST)], "/plot/", "POST")[0] == 405
    assert ask(guard, [("Host", HOST)], "/plot/", "OPTIONS")[0] == 405
    assert ask(guard, [("Host", HOST)], "/" + "a" * 9000)[0] == 414
    assert ask(guard, [("Host", HOST)], "/?" + "a" * 9000)[0] == 414
    assert behind.came == 0


def test_every_answer_says_that_no_other_site_may_frame_or_take_it() -> None:
    guard, _ = door()
    for headers in ([("Host", HOST)], [("Host", "evil.example")]):
        told = dict(ask(guard, headers)[1][0]["headers"])
        assert told[b"content-security-policy"] == b"frame-ancestors 'self'"
        assert told[b"cross-origin-resource-policy"] == b"same-origin"
        assert told[b"x-content-type-options"] == b"nosniff"


def test_who_asks_too_fast_waits_then_is_sent_away_and_nobody_else_is() -> None:
    pace = Pace(burst=3, a_second=1)
    assert [pace.take("a", 0.0) for _ in range(5)] == [0, 0, 0, 1.0, 2.0]
    assert pace.take("b", 0.0) == 0
    assert pace.take("a", 4.0) == 0
    guard, behind = door()
    guard.opened = Pace(burst=1, a_second=1 / 60)
    assert ask(guard, [("Host", HOST), *PROXY], sort="websocket")[0] == 101
    assert ask(guard, [("Host", HOST), *PROXY], sort="websocket")[0] == 403
    assert ask(guard, [("Host", HOST)], sort="websocket")[0] == 101
    assert behind.came == 2


FILE = [("Host", HOST), ("Content-Length", "1000")]


def test_a_file_is_taken_only_where_its_page_offers_it(monkeypatch: pytest.MonkeyPatch) -> None:
    offers = Offers()
    monkeypatch.setattr("dashboard.door.guard.OFFERS", offers)
    guard, behind = door()
    path = "/_stcore/upload_file/mine/invented"
    assert ask(guard, FILE, path, "PUT")[0] == 403
    offers.offer("mine", "room")
    assert ask(guard, FILE, path, "PUT")[0] == 200
    assert ask(guard, FILE, "/_stcore/upload_file/another/x", "PUT")[0] == 403
    assert ask(guard, [*FILE, *PROXY], path, "PUT")[0] == 403  # not from this room
    assert ask(guard, [("Host", HOST)], path, "PUT")[0] == 411
    assert ask(guard, [("Host", HOST), ("Content-Length", f"{101 * MB}")], path, "PUT")[0] == 413
    offers.made_anew("mine")
    assert ask(guard, FILE, path, "PUT")[0] == 200, "a file is dropped on what is seen meanwhile"
    offers.offer("mine", "room")
    offers.made("mine")
    assert ask(guard, FILE, path, "PUT")[0] == 200
    offers.made_anew("mine")
    offers.made("mine")  # the page shows it no more
    assert ask(guard, FILE, path, "PUT")[0] == 403
    assert behind.came == 3


def test_an_upload_belongs_to_the_log_in_that_opened_the_page() -> None:
    mine, other = ({"cookie": f"{COOKIE}={signed(one)}; _streamlit_xsrf=x"} for one in "ab")
    offers = Offers()
    offers.offer("s", uploads.who(mine))
    assert offers.begin("s", uploads.who(mine), 10)[0] == 0
    assert offers.begin("s", uploads.who(other), 10)[0] == 403
    assert offers.begin("s", uploads.who({}), 10)[0] == 403
    nobody = Offers()
    nobody.offer("s", uploads.who({"host": "plot.example"}))
    assert nobody.begin("s", uploads.who({"host": "plot.example"}), 10)[0] == 403


def test_what_is_held_is_limited_for_each_and_for_all_and_given_back(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    held: dict[str, list[int]] = {}
    monkeypatch.setattr(uploads, "held_bytes", lambda: held)
    offers = Offers()
    for session in "abcd":
        offers.offer(session, "room")
    held["a"] = [90 * MB] * 3
    assert offers.begin("a", "room", 40 * MB)[0] == 413
    assert offers.begin("b", "room", 90 * MB)[0] == 0
    assert offers.begin("b", "room", 90 * MB)[0] == 0
    assert offers.begin("c", "room", 90 * MB)[0] == 0
    assert offers.begin("d", "room", 90 * MB)[0] == 503  # 270 held and 270 on their way
    offers.end("b", 90 * MB)
    held.clear()  # its viewer left
    assert offers.begin("d", "room", 90 * MB)[0] == 0
    held["c"] = [1] * uploads.MOST_FILES
    assert offers.begin("c", "room", 1)[0] == 413


def test_log_out_ends_every_copy_of_the_cookie_and_stays_over_a_restart(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept = LogIns(tmp_path / "log_outs.json")
    monkeypatch.setattr("dashboard.door.guard.log_ins", lambda _: kept)
    mine, other = ({COOKIE: signed(told), "_streamlit_xsrf": "x"} for told in "ab")
    for cookies, name in ((mine, "First Watch"), (other, "Second Watch")):
        assert kept.see(key_of(cookies), name, "a@example; 7", "watch")
    assert [one.name for one in kept.now()] == ["Second Watch", "First Watch"]
    guard, _ = door()
    cookie = "; ".join(f"{name}={told}" for name, told in mine.items())
    assert ask(guard, [("Host", HOST), ("Cookie", cookie)], "/auth/logout")[0] == 200
    assert not kept.see(key_of({**mine, "_streamlit_xsrf": "new"}), "First Watch", "", "watch")
    assert kept.see(key_of(other), "Second Watch", "", "watch")
    again = LogIns(tmp_path / "log_outs.json")
    assert not again.see(key_of(mine), "First Watch", "", "watch")
    assert (tmp_path / "log_outs.json").stat().st_mode & 0o777 == 0o600
    assert not again.see("", "without a cookie", "", "watch")


def spellings(cookie: str) -> list[dict[str, str]]:
    """Ways to send one cookie that the framework reads alike (RFC 4648 3.5: spare bits)."""
    head, _, signature = cookie.rpartition(".")
    alphabet = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_"
    last = alphabet.index(signature[-1])  # 160 bits in 27 letters leave two over
    spare = [signature[:-1] + alphabet[last - last % 4 + n] for n in range(4)]
    return [
        *({COOKIE: f"{head}.{one}"} for one in spare),
        {COOKIE: f"{head}.{signature[:5]}!{signature[5:]}"},
        {COOKIE: f"{cookie}="},
        {COOKIE: cookie, f"{COOKIE}_9": "beside it"},
        {COOKIE: cookie, f"{COOKIE}_1": signed("chunk", f"{COOKIE}_1")},
    ]


def test_a_copied_cookie_in_any_spelling_is_the_log_in_that_was_ended(tmp_path: Path) -> None:
    kept, cookie = LogIns(tmp_path / "log_outs.json"), signed('{"sub": "7", "iat": 1}')
    assert kept.see(key_of({COOKIE: cookie}), "First Watch", "", "watch")
    kept.end(key_of({COOKIE: cookie}))
    for sent in spellings(cookie):
        assert not kept.see(key_of(sent), "First Watch", "", "watch"), sent
    half = {COOKIE: signed("chunks-2"), **{f"{COOKIE}_{n}": signed(t, f"{COOKIE}_{n}")
            for n, t in ((1, '{"sub": "7"'), (2, ', "iat": 1}'))}}  # fmt: skip
    assert not kept.see(key_of(half), "First Watch", "", "watch")  # the same, in two parts
    assert not key_of({COOKIE: "not signed"})


def test_no_page_of_another_site_logs_anybody_out() -> None:
    guard, behind = door()
    for site in ("cross-site", "same-site"):
        link = [("Host", HOST), ("Sec-Fetch-Site", site), ("Sec-Fetch-Mode", "navigate"),
                ("Sec-Fetch-Dest", "document")]  # fmt: skip
        assert ask(guard, link, "/auth/logout")[0] == 403
        assert ask(guard, link, "/watch")[0] == 200  # a link to a page may stand anywhere
    assert behind.came == 2


def test_what_a_provider_vouches_for_stands_beside_the_name_that_people_choose() -> None:
    said = {"name": "watch officer", "sub": "17", "email": "a@example"}
    assert identity({**said, "email_verified": True}) == "a@example; 17"
    assert identity(said) == "17"
    actor = Actor(name="watch officer", role=Role.WATCH, identity="17")
    assert actor.author == "watch officer <17>"
    assert Actor(name="watch officer", role=Role.WATCH).author == "watch officer"
