"""The search: where she can be and what to do next; once she is found, who is still adrift."""

from functools import partial

import streamlit as st

from dashboard.panels import layer
from dashboard.panels.datum import (
    add,
    answer,
    evidence,
    fix,
    plan,
    searched,
    side,
    steered,
)
from dashboard.panels.plot import chart
from dashboard.panels.text import panel, words
from dashboard.view import current

seen = current()
found = seen.picture.shown("datum")
left, right = st.columns([2.6, 1], gap="small")
about = side.about(found.result) if found is not None else None
with left:
    chart.show(
        seen,
        key="search_chart",
        every_mark=found is not None and not found.result.is_fix,
        about=about.position if about is not None else None,
        reach_m=2.0 * about.radius_95_m if about is not None else 0.0,
    )
with right:
    if found is not None:
        side.show(found.result, found.sentence, seen.answers)
    else:
        shut = seen.picture.layers.get("datum")
        panel(words(shut.reason if shut is not None else "The datum is not worked out here."))


def reports() -> None:
    """Show the reports, the answer without each, and the form that adds one."""
    evidence.show(seen)
    add.show(seen)


def proved() -> None:
    """Show what the searches proved, beside it the form of one as it was steered."""
    drawn, form = st.columns([1.6, 1], gap="small")
    with drawn:
        searched.show(seen)
    with form:
        steered.show(seen)


def line_by_line() -> None:
    """Show the answer line by line."""
    if found is not None:
        answer.show(seen)
    answer.details(seen)


layer.foot(
    seen,
    "search",
    {
        "Legs to steer, searchers": partial(plan.show, seen),
        "Reports, and the answer without each": reports,
        "Fix from lines": partial(fix.show, seen),
        "What the searches proved": proved,
        "The answer line by line": line_by_line,
    },
)
