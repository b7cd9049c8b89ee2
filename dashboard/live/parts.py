"""The parts of pages that are made anew without their script: a name and a function of each."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType

from dashboard.panels import events, strip, wall
from dashboard.panels.plot import five_lines, nowhere, two_clocks
from dashboard.view import Seen

PARTS: Mapping[str, Callable[[Seen], str]] = MappingProxyType(
    {
        events.PART: events.told_html,
        strip.PART: lambda seen: strip.html(seen, seen.answers, plain=True),
        wall.TOP: wall.top_html,
        wall.FOOT: wall.foot_html,
        two_clocks.WALL: two_clocks.wall_html,
        two_clocks.SMALL: two_clocks.small_html,
        five_lines.PART: five_lines.panel_html,
        nowhere.PART: nowhere.html,
    }
)
