"""The log: the journal as a page; filter, search, and say what is thought of a record."""

from dashboard import follow
from dashboard.panels.journal import copy as log_copy, entries as log_entries, opinion
from dashboard.panels.text import panel, words
from dashboard.view import current

seen = current()
if reason := log_entries.kept_back(seen):
    panel(words(reason))
else:
    picked = log_entries.show(seen)
    if picked is not None:
        opinion.show(seen, picked)
    log_copy.show(seen)
follow.changes(seen)
