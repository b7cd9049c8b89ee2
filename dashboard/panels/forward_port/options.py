"""Which way the rescue vehicle goes: every option beside it."""

from __future__ import annotations

import streamlit as st

from dashboard.panels.text import line, panel, table, words
from dashboard.view import Seen
from layers.earth.clock import clock_words, dtg
from layers.forward_port.report import arrivals, ends_with, hours_words
from layers.forward_port.result import ForwardPortResult, OptionForecast

AFTER_ITS_END = (
    "P10 to P90",
    "Time taken",
    "Ruled out by",
    "Not known, and would decide it",
)


def show(seen: Seen) -> None:
    """Show the options side by side."""
    result: ForwardPortResult | None = seen.picture.result("forward_port")
    if result is None:
        return
    rows = [_row(each) for each in result.options if each.option.purpose == "rescue"]
    if rows:
        panel(table(rows, ("Option", f"{ends_with(result).capitalize()} P50", *AFTER_ITS_END)))
    there = arrivals(result)
    if rows and there:  # without an option the page's own sentence says them
        panel("".join(line(words(said)) for said in there))
    _choices(result)


def show_short(seen: Seen) -> None:
    """Show one line a way: when it ends, and in few words what rules it out or is not known."""
    result: ForwardPortResult | None = seen.picture.result("forward_port")
    if result is None:
        return
    rows = [_short(each, result) for each in result.options if each.option.purpose == "rescue"]
    if rows:
        panel(table(rows, ("Way", ends_with(result).capitalize(), "P10 to P90", "Ruled out by")))


def _short(each: OptionForecast, result: ForwardPortResult) -> tuple[str, ...]:
    name = f"{each.option.title}{', chosen' if each.chosen else ''}"
    # what stands before the colon names the thing that does not fit; figures are under Every way
    ruled = "; ".join(dict.fromkeys(one.split(":")[0] for one in each.kills)) or (
        f"nothing known; to be asked: {len(each.unknowns)}" if each.unknowns else "nothing known"
    )
    last, now = each.last, result.now
    if last is None:
        return name, "–", "", each.problem or ruled
    if each.done_at is not None:
        return name, f"done {clock_words(each.done_at, now)}", "", each.problem or ruled
    before = "not before " if each.at_least else ""
    spread = f"{clock_words(last.p10, now)} to {clock_words(last.p90, now)}"
    return name, f"{before}{clock_words(last.p50, now)}", spread, each.problem or ruled


def _row(each: OptionForecast) -> tuple[str, ...]:
    name = f"{each.option.title}{' — chosen' if each.chosen else ''}"
    killed = each.problem or "; ".join(each.kills) or "nothing known"
    unknown = "; ".join(each.unknowns) or "nothing"
    last = each.last
    if last is None:
        return name, "not worked", "", "", killed, unknown
    if each.done_at is not None:
        took = hours_words(each.done_at - each.option.zero)
        return name, f"done {dtg(each.done_at)}", "", f"{took} after {each.option.zero_is}", (
            killed), unknown  # fmt: skip
    before = "not before " if each.at_least else ""
    took = hours_words(last.p50 - each.option.zero)
    return (
        name,
        f"{before}{dtg(last.p50)}",
        f"{dtg(last.p10)} to {dtg(last.p90)}",
        f"{took} after {each.option.zero_is}",
        killed,
        unknown,
    )


def _choices(result: ForwardPortResult) -> None:
    titles = {each.option.key: each.option.title for each in result.options}
    rows = [
        (dtg(at), titles.get(choice.option, choice.option), choice.reason)
        for choice, at, _ in result.choices
    ]
    if rows:
        panel(table(rows, ("Chosen at", "Option", "Reason given")))
        st.caption(
            "An option that is not followed is worked as if it had been followed from the start."
        )
