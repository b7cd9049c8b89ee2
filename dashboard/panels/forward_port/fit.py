"""Does it fit: a matrix of options against checks, and each limit with its figure."""

from __future__ import annotations

import streamlit as st

from dashboard.panels.text import panel, table
from dashboard.tools import need
from dashboard.view import Seen
from layers.forward_port.ports.fit import Fit, Verdict
from layers.forward_port.report import fit_table
from layers.forward_port.result import ForwardPortResult, OptionForecast

GROUPS = {
    "crane": ("capacity",),
    "berth": ("depth alongside", "berth"),
    "runway": ("runway",),
    "aircraft hold": ("payload", "hold"),
    "road": ("road",),
    "deck": ("deck",),
}
WORST = (Verdict.DOES_NOT, Verdict.NOT_KNOWN, Verdict.FITS)


def show(seen: Seen) -> None:
    """Show the matrix, and every answer behind it."""
    result: ForwardPortResult | None = seen.picture.result("forward_port")
    if result is None:
        return
    rescue = [each for each in result.options if each.option.purpose == "rescue" and each.fits]
    if not rescue:
        need.said(
            seen, "Nothing to fit yet: record the load list, the ships, cranes, berths and roads.",
            "fit", "forward_port.piece", "forward_port.ship", "forward_port.crane",
            "forward_port.berth", "forward_port.road",
        )  # fmt: skip
        return
    panel(table([_row(each) for each in rescue], ("Option", *GROUPS)))
    with st.expander("Every limit with its figure"):
        made = fit_table(result)
        panel(table(made.rows, made.heads, figures=(5, 6)))


def _row(each: OptionForecast) -> tuple[str, ...]:
    return (each.option.title, *(_cell(each, group) for group in GROUPS))


def _cell(each: OptionForecast, group: str) -> str:
    """Return the worst answer of a group, with the figure of the one that is worst."""
    mine = [answer for answer in each.fits if _group(answer) == group]
    if not mine:
        return "not checked"
    worst = min(mine, key=lambda answer: WORST.index(answer.verdict))
    if worst.verdict is Verdict.FITS:
        return "fits"
    if worst.limit is None or worst.need is None:
        return f"{worst.verdict}: {worst.what}"
    return f"{worst.verdict}: {worst.limit:g} {worst.unit}, needs {worst.need:.4g} {worst.unit}"


def _group(answer: Fit) -> str:
    for group, signs in GROUPS.items():
        if any(sign in answer.what or answer.against.startswith(sign) for sign in signs):
            return group
    return ""
