"""The web application: the framework's own, with the door in front of it and our routes beside."""

from __future__ import annotations

import signal
import threading
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from types import FrameType

import streamlit as st
from starlette.middleware import Middleware
from starlette.routing import BaseRoute

from dashboard.door.browser import Browser
from dashboard.door.guard import Guard
from dashboard.door.names import Names
from dashboard.live import routes as live
from dashboard.live.hub import HUB

SCRIPT = Path(__file__).resolve().parents[1] / "app.py"


def routes(base: str) -> list[BaseRoute]:
    """Return the routes of our own; they are judged at the same door.

    Parameters
    ----------
    base : str
        The path that the pages lie under; the framework does not put it before a route.
    """
    return live.routes(base)


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
        ],
    )


@asynccontextmanager
async def _life(_app: object) -> AsyncIterator[None]:
    """Let the questions that wait go as soon as the server is told to end, not after them."""
    for one in (signal.SIGTERM, signal.SIGINT):
        _chain(one)
    yield
    HUB.close()


def _chain(number: signal.Signals) -> None:
    before = signal.getsignal(number)

    def ended(caught: int, frame: FrameType | None) -> None:
        HUB.end_soon()
        if callable(before):
            before(caught, frame)

    if threading.current_thread() is threading.main_thread():
        signal.signal(number, ended)
