"""What is lost, since when, how old what is shown is; and what waits to be recorded.

Drawn over the page and never pushing it. The browser's own part (`lost.js`) says the same when
the plot's server or the way to it is gone, and puts back what was half typed.
"""

from __future__ import annotations

from datetime import datetime
from functools import cache as kept_for_good
from html import escape
from pathlib import Path

import streamlit as st

from dashboard import settings
from dashboard.away.link import LINK, Loss
from dashboard.away.waiting import Sent
from dashboard.cache import opened
from dashboard.unbroken import unbroken
from dashboard.view import Seen
from layers.catalogue import KINDS
from layers.earth.clock import clock_words, day_hhmm
from layers.journal.words.payloads import payload_words

MOST = 8


def show(seen: Seen) -> None:
    """Show the loss, if there is one, and to the watch what it has sent meanwhile.

    All in one box that is always there: what stands below keeps its place and its folds.
    """
    with st.container(key="gone"):
        script()
        _show(seen)


def _show(seen: Seen) -> None:
    waiting = opened.outbox().waiting() if seen.writable else ()
    if seen.lost is not None:
        old = seen.journal.now() - seen.moment.as_of
        _plate(loss_words(seen.lost), _age(old.total_seconds()), waiting)
    elif seen.catches_up:
        old = seen.now - seen.moment.at
        _plate("JUST STARTED: the newest is being worked out", _age(old.total_seconds()), waiting)
    elif waiting:
        _plate("NOT YET RECORDED", "<span>it is recorded as soon as it can be</span>", waiting)
    if seen.writable and seen.lost is None:
        _refused()


def loss_words(loss: Loss) -> str:
    """Return what is lost and since when; the reason stands behind it."""
    return f"JOURNAL LOST since {day_hhmm(loss.since)}"


def alone() -> None:
    """Show the loss where nothing of the journal was ever seen by this server."""
    script()
    loss = LINK.loss
    said = loss_words(loss) if loss else "JOURNAL LOST"
    _plate(said, "<span>nothing of it was seen here yet; it comes by itself</span>", ())


def _age(seconds: float) -> str:
    """Return how old what is shown is; the browser counts on."""
    said = f"{seconds:.0f} s" if seconds < 120 else f"{seconds // 60:.0f} min"
    return f'<span data-old-s="{seconds:.0f}">what stands here is <b>{said}</b> old</span>'


def _plate(what: str, age: str, waiting: tuple[Sent, ...]) -> None:
    reason = LINK.loss.reason if LINK.loss else ""
    count = sum(len(one.drafts) for one in waiting)
    kept = ""
    if count:
        lines = "".join(f"<li>{escape(line)}</li>" for line in sent_lines(waiting))
        kept = (
            f'<details class="kept"><summary>{count} sent, not yet recorded: kept here</summary>'
            f"<ol>{lines}</ol></details>"
        )
    st.html(
        f'<div class="mp-gone" role="alert" title="{escape(reason)}"><b>{escape(what)}</b> '
        f"{age}{kept}</div>"
    )


def sent_lines(waiting: tuple[Sent, ...]) -> list[str]:
    """Return what waits in words, in its order."""
    found = [
        f"{clock_words(one.sent_at, one.sent_at)} {_words(draft.kind, draft.payload)}"
        for one in waiting
        for draft in one.drafts
    ]
    more = len(found) - MOST
    return found if more <= 0 else [*found[:MOST], f"and {more} more"]


def _words(kind: str, payload: object) -> str:
    title = KINDS[kind].title if kind in KINDS else kind
    said = payload_words(payload, most=90) if isinstance(payload, dict) else ""
    return f"{title}: {said}"


def _refused() -> None:
    """Say what was sent during a loss and could not be recorded after it, until it is taken out."""
    for one in opened.outbox().refused():
        with st.container(key=f"refused_{one.key[:12]}"):
            said = "; ".join(_words(draft.kind, draft.payload) for draft in one.drafts)
            st.html(
                '<div class="mp-fault" role="alert">! Sent while the journal was away and not '
                f"recorded: {escape(said)}: {escape(one.refused)}</div>"
            )
            if one.asked:
                st.button(
                    "Record it all the same",
                    key=f"again_{one.key}",
                    on_click=_again,
                    args=(one.key,),
                )
            st.button(
                "Seen: take it out",
                key=f"take_out_{one.key}",
                on_click=opened.outbox().take_out,
                args=(one.key,),
            )


@unbroken
def _again(key: str) -> None:
    opened.outbox().again(key)
    opened.pen().send_waiting()


def not_yet(count: int, now: datetime) -> str:
    """Return what a form says of what it sent while the journal is away."""
    loss = LINK.loss
    since = f" since {clock_words(loss.since, now)}" if loss else ""
    one = "It is" if count == 1 else "They are"
    return f"Not yet recorded: the journal is lost{since}. {one} kept and recorded when it is back"


def script() -> None:
    """Put the browser's own part on the page."""
    here = f'<i hidden data-mp-incident="{settings.journal_key()}"></i>'
    st.html(f"{here}<script>{_script()}</script>", unsafe_allow_javascript=True)


@kept_for_good
def _script() -> str:
    return Path(__file__).with_name("lost.js").read_text()
