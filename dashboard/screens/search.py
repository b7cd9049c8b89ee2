"""The search: where she can be and what to do next; once she is found, who is still adrift."""

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
with st.expander("Legs to steer, what was sent, and who can search"):
    plan.show(seen)
with st.expander("Reports, and the answer without each; add one"):
    evidence.show(seen)
    add.show(seen)
with st.expander("Fix from lines"):
    fix.show(seen)
with st.expander("What the searches proved; put one in as it was steered"):
    drawn, form = st.columns([1.6, 1], gap="small")
    with drawn:
        searched.show(seen)
    with form:
        steered.show(seen)
with st.expander("The answer line by line"):
    if found is not None:
        answer.show(seen)
    answer.details(seen)
if found is not None:
    with st.expander("Leeway table"):
        st.dataframe(found.tables["Leeway"].as_dicts(), hide_index=True, width="stretch")
layer.foot(seen, "search")
