"""What stands over a chart while nobody has told a place: it would show one that nobody meant."""

from __future__ import annotations

from dashboard.view import Seen

PART = "chart.nowhere"
NO_PLACE = "No place is told yet. The chart begins at the last known position, or at a ship."


def html(seen: Seen) -> str:
    """Return the cover, empty as soon as there is a place."""
    return f'<div class="mp-nowhere">{NO_PLACE}</div>' if seen.about is None else ""
