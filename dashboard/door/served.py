"""The web application: the framework's own, with the door in front of it and our routes beside."""

from __future__ import annotations

import asyncio
import signal
import sys
import threading
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager
from importlib import import_module
from pathlib import Path
from types import FrameType
from typing import Any

import streamlit as st
from starlette.middleware import Middleware
from starlette.routing import BaseRoute, Route, WebSocketRoute

from dashboard.door.browser import Browser
from dashboard.door.face import OwnFace
from dashboard.door.guard import Guard
from dashboard.door.letters import OwnLetters
from dashboard.door.names import Names
from dashboard.settings import READY

SCRIPT = Path(__file__).resolve().parents[1] / "app.py"


def routes(base: str) -> list[BaseRoute]:
    """Return the routes of our own; they are judged at the same door.

    Parameters
    ----------
    base : str
        The path that the pages lie under; the framework does not put it before a route.
    """
    root = f"/{base}" if base else ""
    return [
        WebSocketRoute(f"{root}/changes", _later("routes", "changes")),
        Route(f"{root}/changed", _later("routes", "changed"), methods=["GET"]),
        Route(f"{root}/plain", _later("plain", "plain"), methods=["GET"]),
    ]


def _later(module: str, name: str) -> Callable[[Any], Awaitable[Any]]:
    """Return a route whose module is imported when it is first asked: the start is not slower."""

    async def asked(what: Any) -> Any:
        found = await asyncio.to_thread(_ready, f"dashboard.live.{module}")
        return await getattr(found, name)(what)

    return asked


def _ready(module: str) -> Any:
    """Import a module; nothing of the journal is asked before it is ready."""
    found = import_module(module)
    READY.wait()
    return found


def application(names: Names, base: str = "") -> st.App:
    """Return the application, not running yet.

    Parameters
    ----------
    names : Names
        That the server goes by.
    base : str
        The path that the pages lie under, without slashes at its ends.
    """
    return st.App(
        SCRIPT,
        routes=routes(base),
        lifespan=_life,
        middleware=[
            Middleware(Guard, names=names, base=base),
            Middleware(Browser, base=base),
            Middleware(OwnLetters),
            Middleware(OwnFace),
        ],
    )


@asynccontextmanager
async def _life(_app: object) -> AsyncIterator[None]:
    """Let the questions that wait go as soon as the server is told to end, not after them."""
    for one in (signal.SIGTERM, signal.SIGINT):
        _chain(one)
    yield
    _close("close")
    if (looks := sys.modules.get("dashboard.looks")) is not None:
        await asyncio.to_thread(looks.note_now, all_end=True)


def _close(how: str) -> None:
    if (hub := sys.modules.get("dashboard.live.hub")) is not None:
        getattr(hub.HUB, how)()


def _chain(number: signal.Signals) -> None:
    before = signal.getsignal(number)

    def ended(caught: int, frame: FrameType | None) -> None:
        _close("end_soon")
        if callable(before):
            before(caught, frame)

    if threading.current_thread() is threading.main_thread():
        signal.signal(number, ended)
