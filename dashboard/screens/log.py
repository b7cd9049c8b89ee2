"""The log: the journal as a page; filter, search, and say what is thought of a record."""

from collections.abc import Callable
from functools import partial

from dashboard.panels import layer
from dashboard.panels.journal import (
    copy as log_copy,
    entries as log_entries,
    opinion,
    parcel as log_parcel,
)
from dashboard.panels.text import panel, words
from dashboard.view import current

seen = current()
parts: dict[str, Callable[[], object]] = {}
if reason := log_entries.kept_back(seen):
    panel(words(reason))
else:
    picked = log_entries.show(seen)
    if picked is not None:
        opinion.show(seen, picked)
    if seen.writable:
        parts["Copy the journal, with a check that anyone can run"] = partial(log_copy.show, seen)
        parts["Records by stick, to and from another room"] = partial(log_parcel.show, seen)
layer.foot(seen, "log", parts)
