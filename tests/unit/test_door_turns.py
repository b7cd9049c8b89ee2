"""Nobody's sockets hold up the watch: runs at a time, what pages may say, silent connections."""

from __future__ import annotations

import asyncio
import contextlib
from typing import Any

import pytest
import uvicorn
from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg
from uvicorn.server import ServerState
from websockets.asyncio.client import connect
from websockets.exceptions import ConnectionClosed

from dashboard.door import patience, turns
from dashboard.door.guard import MOST_FROM_AFAR, MOST_MESSAGE, MOST_OF_A_PLACE, STREAM, Guard
from dashboard.door.names import Names
from dashboard.door.patience import Patient
from dashboard.door.turns import EACH, KNOWN, ROOM, TOGETHER, Turns
from tests.unit.test_supervisor import free_port

READER = (("host", "plot.example"), ("origin", "http://plot.example"))
HERE = (("host", "127.0.0.1"), ("origin", "http://127.0.0.1"))


def back(kind: str) -> bytes:
    message = BackMsg()
    if kind in ("rerun_script", "file_urls_request", "backend_operation_request"):
        getattr(message, kind).SetInParent()
    else:
        setattr(message, kind, True)
    return message.SerializeToString()


def finished(how: Any = ForwardMsg.FINISHED_SUCCESSFULLY) -> dict[str, Any]:
    message = ForwardMsg(script_finished=how)
    return {"type": "websocket.send", "bytes": message.SerializeToString()}


class Socket:
    """A page's socket at the door; what comes through it is counted behind the door."""

    def __init__(
        self, guard: Guard, headers: tuple[tuple[str, str], ...], *said: Any, path: str = STREAM
    ) -> None:
        self.through: list[Any] = []
        self.refused = False
        self.done = asyncio.Event()
        self._said = [{"type": "websocket.receive", "bytes": one} for one in said]
        scope = {
            "type": "websocket", "path": f"/{path}", "raw_path": b"", "query_string": b"",
            "headers": [(name.encode(), told.encode()) for name, told in headers],
            "client": ("198.51.100.7", 1), "socket": self,
        }  # fmt: skip
        self.task = asyncio.create_task(guard(scope, self._receive, self._send))

    async def _receive(self) -> dict[str, Any]:
        if self._said:
            return self._said.pop(0)
        await self.done.wait()
        return {"type": "websocket.disconnect", "code": 1000}

    async def _send(self, message: dict[str, Any]) -> None:
        self.refused = self.refused or message["type"] == "websocket.close"


async def behind(scope: Any, receive: Any, send: Any) -> None:
    """Take what comes, as the framework does; a run ends when the test lets it."""
    while (message := await receive())["type"] == "websocket.receive":
        scope["socket"].through.append(message)
        scope["socket"].end = lambda how=None: asyncio.create_task(send(how or finished()))


def guard() -> Guard:
    return Guard(behind, Names.of("127.0.0.1", ["plot.example"]))


async def settle() -> None:
    for _ in range(20):
        await asyncio.sleep(0)


async def leave(*sockets: Socket) -> None:
    for one in sockets:
        one.done.set()
        one.task.cancel()
    await asyncio.gather(*(one.task for one in sockets), return_exceptions=True)


def test_one_readers_thirty_sockets_have_three_runs_and_the_room_as_many_as_it_asks() -> None:
    async def tried() -> None:
        door = guard()
        thirty = [Socket(door, READER, back("rerun_script")) for _ in range(30)]
        await settle()
        running = [one for one in thirty if one.through]
        assert len(running) == EACH
        here = [Socket(door, HERE, back("rerun_script")) for _ in range(10)]
        await settle()
        assert all(one.through for one in here)
        running[0].end(finished(ForwardMsg.FINISHED_EARLY_FOR_RERUN))  # it goes on
        await settle()
        assert sum(bool(one.through) for one in thirty) == EACH
        running[0].end()
        await settle()
        assert sum(bool(one.through) for one in thirty) == EACH + 1  # the next has its turn
        await leave(*thirty, *here)

    asyncio.run(tried())


def test_who_left_gives_the_turn_back_and_strangers_never_keep_a_log_in_waiting(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(turns, "AFTER_S", 0.0)

    async def tried() -> None:
        line = Turns()
        for n in range(TOGETHER):
            await asyncio.wait_for(line.take(f"via 198.51.100.{n}"), 1)
        last = asyncio.create_task(line.take("via 203.0.113.1"))
        await settle()
        assert not last.done()
        await asyncio.wait_for(line.take(f"{KNOWN}7"), 1)
        await asyncio.wait_for(line.take(ROOM), 1)
        line.give("via 198.51.100.0")
        await asyncio.wait_for(last, 1)
        waits = asyncio.create_task(line.take("via 203.0.113.1"))
        await settle()
        waits.cancel()
        await settle()
        for place in (
            "via 203.0.113.1",
            f"{KNOWN}7",
            *(f"via 198.51.100.{n}" for n in range(1, 6)),
        ):
            line.give(place)
        assert not line._held  # nothing is lost on the way
        door = guard()
        gone = [Socket(door, READER, back("rerun_script")) for _ in range(EACH)]
        await settle()
        await leave(*gone)
        await asyncio.sleep(0.01)
        one = Socket(door, READER, back("rerun_script"))
        await settle()
        assert one.through
        await leave(one)

    asyncio.run(tried())


@pytest.mark.parametrize(
    "order", ["clear_cache", "set_run_on_save", "load_git_info", "debug_shutdown_runtime"]
)
def test_no_page_orders_what_concerns_all_viewers(order: str) -> None:
    """The framework clears everybody's cache for whoever sends it that message."""

    async def tried() -> None:
        rubbish = (b"\xff\xff\xff", b"", None, back(order))
        one = Socket(guard(), READER, *rubbish, back("app_heartbeat"), back("file_urls_request"))
        await settle()
        assert [message["bytes"] for message in one.through] == [
            back("app_heartbeat"), back("file_urls_request"),
        ]  # fmt: skip
        await leave(one)

    asyncio.run(tried())


def test_a_socket_of_our_own_hears_what_its_page_says() -> None:
    async def tried() -> None:
        one = Socket(guard(), READER, b"{}", b"what is new", path="changes")
        await settle()
        assert [message["bytes"] for message in one.through] == [b"{}", b"what is new"]
        await leave(one)

    asyncio.run(tried())


def test_a_place_holds_so_many_sockets_and_the_room_always_comes_in() -> None:
    async def tried() -> None:
        door = guard()
        door.sockets["198.51.100.7"] = MOST_OF_A_PLACE
        full, here = Socket(door, READER), Socket(door, HERE)
        await settle()
        assert full.refused
        assert not here.refused
        await leave(full, here)

    asyncio.run(tried())


@pytest.mark.parametrize("said", [b"", b"GET / HTTP/1.1\r\nHost: plot.example\r\nX-Slow: "])
def test_who_asks_nothing_whole_is_sent_away(said: bytes, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(patience, "PATIENCE_S", 0.02)

    async def tried() -> bytes:
        config = uvicorn.Config(behind, lifespan="off")
        config.load()
        loop = asyncio.get_running_loop()
        server = await loop.create_server(
            lambda: Patient(config, ServerState(), {}), "127.0.0.1", 0
        )
        read, write = await asyncio.open_connection(*server.sockets[0].getsockname())
        write.write(said)
        ended = await asyncio.wait_for(read.read(), 10)
        write.close()
        server.close()
        return ended

    assert asyncio.run(tried()) == b""


@pytest.mark.parametrize("room", [True, False], ids=["room", "afar"])
def test_a_message_too_large_is_refused_before_it_is_there(room: bool) -> None:
    """From afar 128 KB, from this room 2 MB; what is larger never lies whole in the memory."""
    patience.be_patient_no_longer()
    heard: list[int] = []

    async def app(scope: Any, receive: Any, send: Any) -> None:
        await receive()
        await send({"type": "websocket.accept"})
        while (message := await receive())["type"] == "websocket.receive":
            heard.append(len(message["bytes"]))

    async def tried(most: int) -> int | None:
        port = free_port()
        config = uvicorn.Config(app, port=port, lifespan="off", ws="websockets-sansio",
                                ws_max_size=200 * 1024**2, log_level="error")  # fmt: skip
        server = uvicorn.Server(config)
        running = asyncio.create_task(server.serve())
        while not server.started:
            await asyncio.sleep(0.01)
        named = f"127.0.0.1:{port}" if room else f"plot.example:{port}"
        socket = await connect(f"ws://{named}/", host="127.0.0.1", port=port)
        await socket.send(bytes(most))
        while not heard:
            await asyncio.sleep(0.01)
        with contextlib.suppress(ConnectionClosed):
            await socket.send(bytes(most + 1))
        await asyncio.wait_for(socket.wait_closed(), 20)
        server.should_exit = True
        await running
        return socket.close_code

    most = MOST_MESSAGE if room else MOST_FROM_AFAR
    assert asyncio.run(tried(most)) == 1009
    assert heard == [most]
