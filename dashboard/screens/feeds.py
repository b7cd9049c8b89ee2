"""Feeds: how old each is; what could not be read, dropping a file, setting one up are folded."""

from functools import partial

from dashboard.panels import layer
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
feeds_state.show(seen)


def unread() -> None:
    """Show what could not be read: a line of it tells all that it says."""
    if reason := log_entries.kept_back(seen):
        panel(words(reason))
    else:
        feeds_rejects.show(seen)


layer.foot(
    seen,
    "feeds",
    {
        "Drop a file": partial(drop.show, seen, key="feeds_drop"),
        "What could not be read": unread,
        "Set up a feed": partial(feeds_settings.show, seen),
    },
)
