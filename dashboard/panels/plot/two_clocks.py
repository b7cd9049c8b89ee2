"""The two clocks: how long they can last, and when the last will be out; small and large."""

from __future__ import annotations

from dashboard.live.place import place_drawn
from dashboard.panels.survivors import margin as survivors_margin
from dashboard.panels.survivors.clocks import two_clocks
from dashboard.panels.text import words
from dashboard.view import Seen
from layers.contract import Shown, Unavailable

SMALL, WALL = "clocks.small", "wall.clocks"


def small(seen: Seen) -> None:
    """Show them beside the chart."""
    place_drawn(SMALL, seen, small_html(seen), "mp-small-clocks")


def small_html(seen: Seen) -> str:
    """Return them as they stand beside the chart."""
    return survivors_margin.small_html(seen)


def wall(seen: Seen) -> None:
    """Show them under the wall's chart; the style sheet gives them their height."""
    place_drawn(WALL, seen, wall_html(seen), "mp-clocks")


def wall_html(seen: Seen) -> str:
    """Return them large, and small for a screen held in a hand, or why there are none.

    The style sheet shows one of the two: drawn for a wall, their letters would be under 13 px on a
    telephone and the longest line over its edge.
    """
    shown = seen.picture.layers.get("margin")
    if isinstance(shown, Shown):
        sizes = (("on-wall", "wall"), ("in-hand", "small"))
        drawn = {css: two_clocks(shown.result, seen.ink, size) for css, size in sizes}
        if all(drawn.values()):
            return "".join(f'<div class="{css}">{one}</div>' for css, one in drawn.items())
    reason = "no lift plan yet" if shown is None else _reason(shown)
    return f'<div class="mp-w">{words(f"The two clocks: {reason}", "quiet")}</div>'


def _reason(shown: Shown | Unavailable) -> str:
    return shown.headline if isinstance(shown, Unavailable) else str(shown.result.outlook.lacks)
