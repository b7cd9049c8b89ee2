"""The log: the journal as a page; filter, search, and say what is thought of a record."""

from dashboard import follow
from dashboard.panels import log_entries, opinion
from dashboard.view import current

seen = current()
picked = log_entries.show(seen)
if picked is not None:
    opinion.show(seen, picked)
follow.changes(seen)
