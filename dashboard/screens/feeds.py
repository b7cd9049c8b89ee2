"""Feeds: how old each is, what could not be read, dropping a file, setting one up."""

import streamlit as st

from dashboard import follow
from dashboard.panels.feeds import (
    rejects as feeds_rejects,
    settings as feeds_settings,
    state as feeds_state,
)
from dashboard.panels.journal import entries as log_entries
from dashboard.panels.text import panel, words
from dashboard.tools import drop
from dashboard.view import current

seen = current()
left, right = st.columns([2, 1], gap="small")
with left:
    st.markdown("**How old each feed is**")
    feeds_state.show(seen)
    st.markdown("**What could not be read**")
    if reason := log_entries.kept_back(seen):  # a line that could not be read tells all it says
        panel(words(reason))
    else:
        feeds_rejects.show(seen)
with right:
    st.markdown("**Drop a file**")
    drop.show(seen, key="feeds_drop")
    st.markdown("**Set up a feed**")
    feeds_settings.show(seen)
follow.changes(seen)
