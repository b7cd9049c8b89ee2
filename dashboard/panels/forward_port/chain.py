"""The chain to first rescue, home and to hospital: bars, and the figures under them."""

from __future__ import annotations

from dataclasses import replace

import streamlit as st

from dashboard.panels.forward_port.bars import chain_bars
from dashboard.panels.text import panel, table, words
from dashboard.tools import need
from dashboard.view import Seen
from layers.forward_port.report import chain_table
from layers.forward_port.result import ForwardPortResult

MOST_SHORT = 6  # bars that a first screen holds under the ways


def show_short(seen: Seen) -> None:
    """Show the bars of the way followed: what is not done yet, before it what was done last."""
    result: ForwardPortResult | None = seen.picture.result("forward_port")
    if result is None:
        return
    main = result.main()
    if main is None or not main.activities:
        return
    held = sorted(main.activities, key=lambda one: one.planned_start)
    ahead = [one for one in held if one.finished_at is None][:MOST_SHORT]
    done = [one for one in held if one.finished_at is not None]
    shown = [*done[max(0, len(done) - (MOST_SHORT - len(ahead))) :], *ahead]
    left = len(held) - len(shown)
    rest = f"; {left} more under The whole chain" if left else ""
    st.html(
        words(
            f"{main.option.title}: filled done, dashed expected to P50, "
            f"thin below as planned{rest}",
            "mp-quiet",
        )
    )
    short = replace(main, activities=tuple(shown))
    st.vega_lite_chart(chain_bars(short, result.now, seen.ink), theme=None, width="stretch")


def show(seen: Seen) -> None:
    """Show one option's chain; the one followed first."""
    result: ForwardPortResult | None = seen.picture.result("forward_port")
    if result is None:
        return
    worked = [each for each in result.options if each.activities]
    if not worked:
        need.said(seen, "No chain: record an option and its activities, with three times each.",
                  "chain", "forward_port.option", "forward_port.activity")  # fmt: skip
        return
    main = result.main()
    worked.sort(key=lambda each: each is not main)
    titles = [each.option.title for each in worked]
    chosen = st.selectbox("Chain of", titles, key="response.chain")
    each = worked[titles.index(chosen)]
    st.html(
        words(
            "Filled: done. Outlined, dashed: expected to its P50, dotted on to its P90. Thin "
            "below: as planned. Upright: the time shown. Times UTC.",
            "mp-quiet",
        )
    )
    st.vega_lite_chart(chain_bars(each, result.now, seen.ink), theme=None, width="stretch")
    with st.expander("The figures of this chain"):
        made = chain_table(each)
        panel(table(made.rows, made.heads))
