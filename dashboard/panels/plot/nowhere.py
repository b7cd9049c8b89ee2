"""What stands over a chart while nobody has told a place: it would show one that nobody meant."""

from __future__ import annotations

from html import escape

from dashboard.view import Seen

PART = "chart.nowhere"
NO_PLACE = "No place is told yet. The chart begins at the last known position, or at a ship."


def html(seen: Seen) -> str:
    """Return the cover, empty as soon as there is a place."""
    if seen.about is not None:
        return ""
    owed = filter(None, (seen.picture.owed(key) for key in seen.picture.layers))
    return f'<div class="mp-nowhere">{escape(next(owed, NO_PLACE))}</div>'
