"""What changed: who is told, that nothing older replaces anything newer, and made once for all."""

from __future__ import annotations

import asyncio
import gzip
import json
import time
import warnings
from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from itsdangerous import URLSafeTimedSerializer
from starlette.applications import Starlette
from starlette.websockets import WebSocketDisconnect

from dashboard.door import served
from dashboard.door.browser import COOKIE, Browser
from dashboard.door.log_ins import log_ins
from dashboard.live import hub, plain, routes, token
from dashboard.live.hub import Hub
from dashboard.live.made import State, steps_from
from dashboard.live.place import digest
from dashboard.live.token import Bearer, Eyes, NotTold
from layers import ours

with warnings.catch_warnings():  # its newer client is not needed for this
    warnings.simplefilter("ignore")
    from starlette.testclient import TestClient

WATCH = Eyes("", writable=True, wall=False, ink="night")
READER = Eyes("place readers", writable=False, wall=False, ink="night")
MINE = "0" * 32
BEARER = Bearer(token.browser_key(MINE))
ROOM = {"host": "127.0.0.1:8501", "origin": "http://127.0.0.1:8501"}
OLD, NEW = (1_000_000, 5), (1_000_000, 9)


def state(version: tuple[int, int] = NEW, **parts: str) -> State:
    held = {name: (json.dumps(text), digest(text)) for name, text in parts.items()}
    return State(version, held, "built so")


def unpacked(message: bytes | None) -> Any:
    assert message is not None
    return json.loads(gzip.decompress(message))


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("MUSTERPLOT_DATA_FOLDER", str(tmp_path))
    return tmp_path


def read(text: str, cookie: str = MINE, headers: dict[str, str] | None = None) -> Eyes:
    return token.read(text, cookie, ROOM if headers is None else headers)[0]


def test_a_token_says_who_may_see_what() -> None:
    assert read(token.made(READER, BEARER)) == READER


def test_another_browser_an_altered_token_and_none_are_refused() -> None:
    good = token.made(READER, BEARER)
    other_key = URLSafeTimedSerializer("another", salt="changes").dumps([["", True], []])
    for text, cookie in ((good, "1" * 32), (good, ""), (good[:-2] + "AA", MINE), ("", MINE),
                         (str(other_key), MINE)):  # fmt: skip
        with pytest.raises(NotTold):
            read(text, cookie)


def test_a_token_runs_out_and_a_log_in_ends_it(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    good = token.made(WATCH, Bearer(BEARER.browser, log_in="somebody"))
    assert read(good) == WATCH
    log_ins(folder).end("somebody")
    with pytest.raises(NotTold):
        read(good)
    with pytest.raises(NotTold):
        read(token.made(WATCH, Bearer(BEARER.browser, ends_at=time.time() - 1.0)))
    monkeypatch.setattr(token, "LASTS_S", -1)
    with pytest.raises(NotTold):
        read(token.made(READER, BEARER))


def test_a_reader_s_token_counts_at_another_server_and_nobody_else_s(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def at(server: str, key: str = "k" * 32) -> None:
        folder = tmp_path / server
        folder.mkdir(exist_ok=True)
        if key:
            ours.write(folder / ours.SERVERS_KEY, key.encode())
        monkeypatch.setenv("MUSTERPLOT_DATA_FOLDER", str(folder))

    at("north")
    good = token.made(READER, BEARER)
    personal = [
        token.made(WATCH, BEARER),
        token.made(READER, Bearer(BEARER.browser, log_in="somebody")),  # ended where, who knows
        token.made(READER, Bearer(BEARER.browser, room=True)),
    ]
    assert [read(one) for one in (good, *personal)] == [READER, WATCH, READER, READER]
    forged = URLSafeTimedSerializer("k" * 32, salt="readers of any server").dumps(
        [["", True, False, "night", ""], [BEARER.browser, "", 0.0, False]]
    )
    at("south")
    assert read(good) == READER
    for one in (*personal, str(forged)):
        with pytest.raises(NotTold):
            read(one)
    with pytest.raises(NotTold):
        read(good, "1" * 32)
    for server, key in (("bare", ""), ("strange", "s" * 32)):
        at(server, key)
        with pytest.raises(NotTold):
            read(good)
    at("south")
    monkeypatch.setattr(token, "LASTS_S", -1)
    with pytest.raises(NotTold) as told:
        read(good)
    assert told.value.status == 401


def test_what_was_given_in_the_room_is_refused_through_a_proxy() -> None:
    good = token.made(WATCH, Bearer(BEARER.browser, room=True))
    assert read(good) == WATCH
    with pytest.raises(NotTold):
        read(good, headers={**ROOM, "x-forwarded-for": "192.0.2.1"})


def test_a_message_holds_what_is_other_and_is_made_once() -> None:
    held = state(strip="12 not heard of", top="wall")
    have = {"strip": digest("13 not heard of"), "top": digest("wall")}
    told = unpacked(held.message(have))
    assert told["parts"] == {"strip": "12 not heard of"}
    assert tuple(told["v"]) == NEW
    assert held.message(dict(have)) is held.message(have)


async def _asked(made: Hub, since: tuple[int, int], have: dict[str, str]) -> bytes | None:
    return await made.later_than(READER, since, have, 0.05)


def _hub(held: State | None) -> Hub:
    made = Hub()
    made.run = lambda: None  # type: ignore[method-assign]  # nobody looks at a journal here
    if held is not None:
        made._states[READER] = held
    return made


def test_nothing_older_is_told_to_who_has_something_newer() -> None:
    held = _hub(state(OLD, strip="old"))
    have = {"strip": digest("new")}
    assert asyncio.run(_asked(held, NEW, have)) is None
    assert unpacked(asyncio.run(_asked(held, OLD, have)))["parts"] == {"strip": "old"}


def test_who_has_all_there_is_waits_and_hears_how_old_it_is() -> None:
    now_ms = int(time.time() * 1e3)
    held = _hub(state((1_000_000, now_ms - 4_000), strip="same"))
    have = {"strip": digest("same")}
    assert asyncio.run(_asked(held, OLD, have)) is None
    assert held.age_s(READER, have) == pytest.approx(4.0, abs=2.0)
    assert held.age_s(READER, {**have, "unknown": ""}) is None, "nobody vouches for it"
    assert _hub(None).age_s(READER, have) is None


def test_when_another_release_is_in_force_nothing_is_told() -> None:
    held = _hub(State((0, 0), {}, "", refused=True))
    with pytest.raises(NotTold):
        asyncio.run(_asked(held, OLD, {"strip": ""}))


def test_something_new_is_told_at_once() -> None:
    async def both() -> bytes | None:
        made = _hub(state(OLD, strip="a"))
        have = {"strip": digest("a")}
        waiting = asyncio.create_task(made.later_than(READER, OLD, have, 5.0))
        await asyncio.sleep(0)
        made._put(READER, state(NEW, strip="b"))
        return await waiting

    assert unpacked(asyncio.run(both()))["parts"] == {"strip": "b"}


@pytest.fixture
def client(monkeypatch: pytest.MonkeyPatch) -> TestClient:
    made = _hub(state(NEW, strip="12 not heard of"))
    monkeypatch.setattr(routes, "HUB", made)
    monkeypatch.setattr(routes, "HOLD_S", 0.05)
    app = Starlette(routes=served.routes("plot"))
    return TestClient(app, base_url="http://127.0.0.1:8501", cookies={COOKIE: MINE})


def question(words: str, **more: object) -> str:
    return json.dumps({"token": words, "since": OLD, "have": {"strip": ""}, **more})


def test_a_socket_answers_one_question_at_a_time(client: TestClient) -> None:
    words = token.made(READER, BEARER)
    with client.websocket_connect("/plot/changes") as talk:
        talk.send_text(question(words))
        assert unpacked(talk.receive_bytes())["parts"] == {"strip": "12 not heard of"}
        same = {"strip": digest("12 not heard of")}
        talk.send_text(question(words, since=NEW, have=same))
        assert "same" in json.loads(talk.receive_text())


def test_a_token_past_half_its_life_is_renewed_for_the_same_eyes(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(token, "HALF_S", -1)
    with client.websocket_connect("/plot/changes") as talk:
        talk.send_text(question(token.made(READER, BEARER)))
        assert read(json.loads(talk.receive_text())["token"]) == READER


@pytest.mark.parametrize("words", [
    "", "[]", "{}", "null", "[" * 900, "x" * 40_000, question("no token"),
    question(token.made.__name__, since=["a", 1]),
    json.dumps({"token": "t", "since": OLD, "have": dict.fromkeys(map(str, range(200)), "")}),
])  # fmt: skip
def test_what_is_no_question_ends_the_socket(client: TestClient, words: str) -> None:
    with client.websocket_connect("/plot/changes") as talk:
        talk.send_text(words)
        with pytest.raises(WebSocketDisconnect) as ended:
            talk.receive_text()
    assert ended.value.code in (4400, 4403)


def test_a_token_of_another_release_is_told_nothing(client: TestClient) -> None:
    other = Eyes("another readers", writable=False, wall=False, ink="night")
    with client.websocket_connect("/plot/changes") as talk:
        talk.send_text(question(token.made(other, BEARER)))
        assert json.loads(talk.receive_text()) == {"same": None}


def test_the_short_poll_answers_the_same(client: TestClient, monkeypatch: Any) -> None:
    monkeypatch.setattr(routes, "POLL_S", 0.05)
    head = {"x-plot-question": question(token.made(READER, BEARER))}
    got = client.get("/plot/changed", headers=head)
    assert got.json()["parts"] == {"strip": "12 not heard of"}
    assert client.get("/plot/changed").status_code == 400
    bad = {"x-plot-question": question(token.made(READER, Bearer("another")))}
    assert client.get("/plot/changed", headers=bad).status_code == 403


def test_a_browser_is_given_a_cookie_with_its_first_page() -> None:
    async def page(scope: Any, receive: Any, send: Any) -> None:
        await send({"type": "http.response.start", "status": 200, "headers": []})
        await send({"type": "http.response.body", "body": b"in"})

    client = TestClient(Browser(page, "plot"), base_url="http://testserver")
    assert "set-cookie" not in client.get("/plot", headers={"accept": "*/*"}).headers
    told = client.get("/plot", headers={"accept": "text/html"}).headers["set-cookie"]
    assert "HttpOnly" in told
    assert "Path=/plot" in told
    assert "set-cookie" not in client.get("/plot", headers={"accept": "text/html"}).headers


def test_a_layer_that_changed_a_little_is_told_by_what_changed() -> None:
    def layer(*rows: str) -> dict[str, tuple[str, str]]:
        text = json.dumps({"type": "FeatureCollection", "features": list(rows)})
        return {"chart/tracks": (text, digest(text))}

    ships = [f"a ship with many words about her, number {n}" for n in range(20)]
    before = State(OLD, layer(*ships), "")
    new = layer(*ships[:7], "one that moved", *ships[8:])
    after = State(NEW, new, "", steps=steps_from(before, new))
    had = before.parts["chart/tracks"][1]
    step = json.loads(after.steps["chart/tracks", had])
    assert step["from"] == had
    built = [ships[row] if isinstance(row, int) else row for row in step["features"]]
    assert built == json.loads(new["chart/tracks"][0])["features"]
    same = State(NEW, new, "", steps=steps_from(after, new))
    assert same.steps == after.steps, "it stays for who asks a little later"
    assert steps_from(None, new) == {}


def test_the_plain_page_is_small_and_says_its_age(client: TestClient, monkeypatch: Any) -> None:
    held = state((1, int(time.time() * 1e3)), **dict.fromkeys(plain.PARTS, "<b>12</b>"))
    monkeypatch.setattr(plain, "HUB", _hub(held))
    monkeypatch.setattr(plain, "eyes_of", lambda headers, cookie="": READER)
    got = client.get("/plot/plain")
    assert got.status_code == 200
    assert got.text.count("<b>12</b>") == len(plain.PARTS)
    assert "The answers now" in got.text
    assert len(got.content) < 60_000
    assert "NO UPDATE: what stands here is 45 s old" in plain.html(
        dict.fromkeys(plain.PARTS, ""), 45
    )
    monkeypatch.setattr(plain, "HUB", _hub(None))
    monkeypatch.setattr(plain, "WAIT_S", 0.05)
    assert client.get("/plot/plain").status_code == 503


def test_records_that_keep_coming_do_not_keep_what_is_new_away() -> None:
    made, who = _hub(None), ("", True, False)
    shown = [at for at in range(0, 65, 5) if made.may_show(who, at / 10.0, ready=False)]
    assert shown == [20, 45], "after two seconds, and from then on after two more"
    assert made.may_show(who, 6.6, ready=True)


def test_a_picture_that_takes_long_holds_up_neither_ages_nor_other_viewers(
    monkeypatch: Any,
) -> None:
    made, built = _hub(None), []
    seen: Any = SimpleNamespace()
    monkeypatch.setattr(made, "_build", lambda sight, group, at: built.append((group, at)))
    monkeypatch.setattr(made, "_told", lambda who, base: "news")
    monkeypatch.setattr(made, "_look", lambda who, told: None)  # never comes back
    monkeypatch.setattr(hub.opened, "news", lambda: SimpleNamespace(revision=lambda: 7))
    monkeypatch.setattr(hub.opened, "book", lambda: SimpleNamespace(
        now=lambda: datetime(2027, 3, 16, tzinfo=UTC)))  # fmt: skip
    made._wanted = {WATCH: {"strip": 0.0}, READER: {"strip": 0.0}}
    made._sights = {("", True, False): hub.Sight(seen, "before", 0.0)}
    for at in (1.0, 2.0):
        made.tick(at)
    assert built == [({WATCH: {"strip"}}, 1.0), ({WATCH: {"strip"}}, 2.0)]
    made.tick(1_000.0)
    assert made._sights == {}, "who comes after a while is not given what stood then"


def test_what_a_page_was_made_of_stands_until_there_is_newer(monkeypatch: Any) -> None:
    made, who = _hub(None), ("", True, False)
    monkeypatch.setattr(hub, "replace", lambda seen, actor: seen)
    monkeypatch.setattr(hub.opened, "key_of", lambda release: "")
    old: Any = SimpleNamespace(version=OLD, release=None, writable=True)
    new: Any = SimpleNamespace(version=NEW, release=None, writable=True)
    made.seen(new, wall=False)
    made.seen(old, wall=False)
    assert made._sights[who].seen is new
    made.tick(time.monotonic())
    assert made._sights[who].seen is new, "its page has not asked yet"


def test_what_is_ready_shows_while_the_rest_is_worked_out_and_is_asked_for_again(
    monkeypatch: Any,
) -> None:
    made, who = _hub(None), ("place readers", False, False)
    monkeypatch.setattr(hub, "_allowed", lambda who: None)
    monkeypatch.setattr(hub.Coming, "ask", lambda self, here, release: None)
    monkeypatch.setattr(hub.opened, "key_of", lambda release: "place readers")
    monkeypatch.setattr(hub.opened, "present", lambda release: SimpleNamespace(
        revision=8, shown=NEW, told=8))  # fmt: skip
    monkeypatch.setattr(hub.pictures, "is_ready", lambda *_asked: False)
    monkeypatch.setattr(hub, "seen_now", lambda actor, release, here, ink, so_far=None: (
        SimpleNamespace(picture=so_far)))  # fmt: skip
    shown: list[object] = []
    monkeypatch.setattr(hub.Coming, "newest", lambda self, here, release, before: (
        shown.append(before), "the ships of now, the rest of before")[1])  # fmt: skip
    made._look(who, "news")
    assert who not in made._sights, "who was shown nothing yet waits for a whole picture"
    made._sights[who] = hub.Sight(SimpleNamespace(picture="of before"), "old", 9.0)  # type: ignore[arg-type]  # a stand-in with what is asked of it
    made._look(who, "news")
    assert not shown, "many readers are not told in two parts what is whole a moment later"
    time.sleep(hub.SO_FAR_S)
    made._look(who, "news")
    held = made._sights[who]
    assert held.seen is not None
    assert held.seen.picture == "the ships of now, the rest of before"
    assert shown[-1] == "of before", "never another viewer's"
    assert held.told == "old", "what is still missing is looked for at the next tick"
