"""What stands over a chart while nobody has told a place: it would show one that nobody meant."""

from __future__ import annotations

from html import escape

from dashboard.view import Seen

PART = "chart.nowhere"
GOES_THERE = "A place is told: the chart goes there."
NO_PLACE = "No place is told yet. The chart begins at the last known position, or at a ship."


def html(seen: Seen) -> str:
    """Return the cover; with the first place it stands until the page is run with a chart of it."""
    if seen.about is not None:
        return f'<div class="mp-nowhere">{GOES_THERE}</div>'
    owed = filter(None, (seen.picture.owed(key) for key in seen.picture.layers))
    return f'<div class="mp-nowhere">{escape(next(owed, NO_PLACE))}</div>'
