"""Another pattern over the planned box, as the officer wants it, valued by its own legs."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import streamlit as st

from dashboard.panels.text import panel, words
from layers.datum.result import DatumResult, Planned, SearchPlan
from layers.datum.search.patterns import TITLES, Code, pattern
from layers.datum.search.steer import missed_by
from layers.earth.errors import InputError
from layers.earth.said.quantity import figure
from layers.earth.uncertain import chance_words

AS_PLANNED = "as planned"


def shown(result: DatumResult, plan: SearchPlan, item: Planned) -> Planned:
    """Show the choice of another pattern; return the plan as it then stands."""
    kinds = [AS_PLANNED, *TITLES]
    first, second, third, fourth = st.columns(4)
    code: Any = first.selectbox(
        "Pattern",
        kinds,
        format_func=lambda kind: TITLES.get(kind, kind),
        key="datum.change.code",
    )
    if code == AS_PLANNED:
        return item
    spacing = second.number_input(
        "Track spacing (m)", 1.0, 100_000.0, float(round(item.spacing_m or 500.0)),
        key="datum.change.spacing",
    )  # fmt: skip
    radius, run_in = 0.0, 0.0
    if code == "lanes":
        radius = third.number_input("Turning radius (m)", 0.0, 5_000.0, 400.0,
                                    key="datum.change.radius")  # fmt: skip
        run_in = fourth.number_input("Run-in (m)", 0.0, 5_000.0, 300.0, key="datum.change.run")
    try:
        return _changed(result, plan, item, code, spacing, radius, run_in)
    except InputError as reason:
        panel(words(f"{reason} The legs below are as planned."))
        return item


def _changed(
    result: DatumResult,
    plan: SearchPlan,
    item: Planned,
    code: Code,
    spacing_m: float,
    radius_m: float,
    run_in_m: float,
) -> Planned:
    """Return the plan with this pattern over its box, and what it finds by itself."""
    made = pattern(
        code,
        plane=result.plane,
        middle=item.middle,
        length_m=item.length_m,
        width_m=item.width_m,
        bearing_true_deg=item.bearing_true_deg,
        spacing_m=spacing_m,
        speed_kn=item.searcher.search_speed_kn,
        start=item.begins,
        searcher=item.searcher.name,
        turn_radius_m=radius_m,
        run_in_m=run_in_m,
        track=result.track,
    )
    floating = {one.name: one.ahead for one in result.adrift}
    ahead = floating.get(plan.object, result.ahead)
    missed = missed_by(made, result.plane, ahead, item.searcher.sweep_width_m)
    pos = float(np.mean(1.0 - missed))
    panel(
        words(
            f"Tracks {figure(spacing_m, 0)} m apart: these legs by themselves find it with "
            f"{chance_words(pos)}, the planned ones with {chance_words(item.pos)} after those "
            "planned before them."
        )
    )
    return replace(item, pattern=made, ends=made.turns[-1].at, pos=pos, spacing_m=spacing_m)
