"""The web application: the framework's own, with the door in front of it and our routes beside."""

from __future__ import annotations

from pathlib import Path

import streamlit as st
from starlette.middleware import Middleware
from starlette.routing import BaseRoute

from dashboard.door.guard import Guard
from dashboard.door.names import Names

SCRIPT = Path(__file__).resolve().parents[1] / "app.py"


def routes(base: str) -> list[BaseRoute]:
    """Return the routes of our own; they are judged at the same door.

    Parameters
    ----------
    base : str
        The path that the pages lie under; the framework does not put it before a route.
    """
    return []


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
        SCRIPT, routes=routes(base), middleware=[Middleware(Guard, names=names, base=base)]
    )
