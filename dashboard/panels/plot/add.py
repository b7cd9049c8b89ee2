"""Adding to the journal from beside the chart: drop a file, or type a report."""

from __future__ import annotations

from dashboard.tools import drop
from dashboard.tools.forms import record_form
from dashboard.view import Seen


def show(seen: Seen) -> None:
    """Show both ways in."""
    drop.show(seen)
    record_form.choose(seen, key="plot")
