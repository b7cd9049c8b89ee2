"""Sound and seabed: the water, what is heard, the net and how good it is, the charts."""

import streamlit as st

from dashboard.panels import layer
from dashboard.panels.transponders import (
    depths as transponders_depths,
    hearing as transponders_hearing,
    net as transponders_net,
    plan as transponders_plan,
    profile as transponders_profile,
    rays as transponders_rays,
    record as transponders_record,
    residuals as transponders_residuals,
    three_d as transponders_three_d,
)
from dashboard.view import current

seen = current()
if layer.head(seen, "transponders"):
    transponders_three_d.show(seen)
    transponders_net.show(seen)
    left, right = st.columns(2, gap="small")
    with left:
        st.subheader("The net and where it is good")
        transponders_plan.show(seen)
        st.subheader("Box-in: what each reply says")
        transponders_residuals.show(seen)
    with right:
        st.subheader("The water")
        transponders_profile.show(seen)
        st.subheader("How sound runs from her")
        transponders_rays.show(seen)
    st.subheader("How far she is heard, term by term")
    transponders_hearing.show(seen)
    st.subheader("Charts under the plot")
    transponders_depths.show(seen)
transponders_record.show(seen)
layer.foot(seen, "seabed")
