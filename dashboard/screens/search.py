"""The search: where she most probably is, from which reports, and where to look next."""

import streamlit as st

from dashboard.panels import layer
from dashboard.panels.datum import (
    add as datum_add,
)
from dashboard.panels.datum import (
    answer as datum_answer,
)
from dashboard.panels.datum import (
    evidence as datum_evidence,
)
from dashboard.panels.datum import (
    fix as datum_fix,
)
from dashboard.panels.datum import (
    plan as datum_plan,
)
from dashboard.panels.datum import (
    searched as datum_searched,
)
from dashboard.panels.datum import (
    steered as datum_steered,
)
from dashboard.panels.plot import chart
from dashboard.view import current

seen = current()
if layer.head(seen, "datum"):
    datum_answer.show(seen)
left, right = st.columns([1, 1], gap="small")
with left:
    st.subheader("Reports, and the answer without each")
    datum_evidence.show(seen)
    datum_add.show(seen)
with right:
    chart.show(seen, key="search_chart", every_mark=True)
plan, fixed, searched, whole, leeway = st.tabs(
    [
        "Where to search next",
        "Fix from lines",
        "What the searches proved",
        "The answer line by line",
        "Leeway table",
    ]
)
with plan:
    datum_plan.show(seen)
with fixed:
    datum_fix.show(seen)
with searched:
    drawn, form = st.columns([1.6, 1], gap="small")
    with drawn:
        datum_searched.show(seen)
    with form:
        datum_steered.show(seen)
with whole:
    datum_answer.details(seen)
with leeway:
    found = seen.picture.shown("datum")
    if found is not None:
        st.dataframe(found.tables["Leeway"].as_dicts(), hide_index=True, width="stretch")
layer.foot(seen, "search")
