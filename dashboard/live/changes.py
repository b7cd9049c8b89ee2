"""The one component that swaps what changed into an open page, and what the page tells it."""

from __future__ import annotations

import json
from collections.abc import Sequence
from functools import cache as kept_for_good
from pathlib import Path
from typing import Any

import streamlit as st
from streamlit import runtime
from streamlit.components.v2 import component
from streamlit.runtime.scriptrunner import get_script_run_ctx

from dashboard import access, settings, state
from dashboard.cache import opened
from dashboard.chart.chart_view import ChartView, DrawnMarks
from dashboard.door import from_this_room
from dashboard.door.log_ins import key_of
from dashboard.live import token
from dashboard.live.hub import HUB
from dashboard.live.made import shape
from dashboard.live.place import can_change, digest
from dashboard.state import Key
from dashboard.view import Seen

SOCKET, POLL = "changes", "changed"  # the routes, below the base path


def chart(
    seen: Seen, view: ChartView, drawn: DrawnMarks, layers: Sequence[tuple[str, str]]
) -> dict[str, Any]:
    """Return what a chart needs to be told for newer marks to take the place of these.

    Parameters
    ----------
    layers : sequence of tuple
        Each layer drawn with what its marks are known by, this viewer's own among them.
    """
    state.put(Key.CHART_VIEW, "")
    if not can_change(seen) or not runtime.exists():
        return {}
    words = view.words()
    state.put(Key.CHART_VIEW, words)
    return {
        "view": digest(words),
        "layers": list(layers),
        "v": list(seen.version),
        "made": digest(json.dumps([drawn.told, drawn.names()])),
    }


def mount(seen: Seen, *, wall: bool) -> bool:
    """Let what changes be swapped into this page; return whether it will be."""
    view, told = state.get(Key.CHART_VIEW), _token(seen, wall=wall)
    state.put(Key.CHART_VIEW, "")
    if not told:
        return False
    if view:
        told = _token(seen, wall=wall, view=view)
    HUB.seen(seen, wall=wall)
    base = str(st.get_option("server.baseUrlPath") or "").strip("/")
    root = f"/{base}/" if base else "/"
    with st.container(key="swapping"):
        _component()(
            key="changes",
            data={
                "socket": root + SOCKET,
                "poll": root + POLL,
                "token": told,
                "v": list(seen.version),
                "view": digest(view) if view else "",
                "shape": shape(seen),
                "query": state.link().partition("?")[2],
            },
            on_stale_change=lambda: None,
        )
    return True


@kept_for_good
def _component() -> Any:
    script = Path(__file__).with_name("changes.js").read_text(encoding="utf-8")
    return component("changes", html="<i hidden></i>", js=script)


def _token(seen: Seen, *, wall: bool, view: str = "") -> str:
    """Return this page's token; empty where nothing can be swapped into it."""
    if not (can_change(seen) and runtime.exists() and get_script_run_ctx()):
        return ""
    cookies = st.context.cookies.to_dict()
    browser = token.browser_key(cookies.get(token.BROWSER, ""))
    if not browser or not settings.has_worker():
        return ""
    eyes = token.Eyes(
        release=opened.key_of(seen.release),
        writable=seen.writable,
        wall=wall,
        ink=seen.ink.name,
        chart=view,
    )
    by_log_in = access.log_in_is_set_up()
    bearer = token.Bearer(
        browser=browser,
        log_in=key_of(cookies) if by_log_in else "",
        ends_at=access.log_in_ends_at(),
        room=seen.writable and not by_log_in and from_this_room(st.context.headers.to_dict()),
    )
    return token.made(eyes, bearer)
