"""Marks projected and written once for all viewers who look at the same ones in the same frame.

A hundred readers of one plot would otherwise project and write the same marks a hundred times.
The key is the marks themselves, not their text: results are shared read-only by all viewers, so
the same mark is the same object. What is kept holds its marks, so that no other object can take
their place in the key.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Sequence

import streamlit as st

from dashboard.chart.folium_map import written
from layers.earth.frames import ChartFrame
from layers.earth.marks import AnyMark
from layers.scene.ink import Ink
from layers.scene.scene import scene

MOST = 48  # of about a quarter of a megabyte each
Marks = Sequence[tuple[str, AnyMark]]
Key = tuple[ChartFrame, str, tuple[tuple[str, int], ...]]


class Written:
    """The last texts by what they show; the longest unused goes first."""

    def __init__(self, most: int = MOST) -> None:
        self._most = most
        self._held: OrderedDict[Key, tuple[str, tuple[AnyMark, ...]]] = OrderedDict()
        self._lock = threading.Lock()
        self.made = 0  # how often something had to be written

    def text(self, marks: Marks, frame: ChartFrame, ink: Ink) -> str:
        """Return the marks as text for the browser, found or written now."""
        key = (frame, ink.name, tuple((name, id(mark)) for name, mark in marks))
        with self._lock:  # who asks second for the same thing waits for the first
            if key not in self._held:
                self.made += 1
                whole = written(scene(marks, frame), ink)
                self._held[key] = (whole, tuple(mark for _, mark in marks))
            self._held.move_to_end(key)
            while len(self._held) > self._most:
                self._held.popitem(last=False)
            return self._held[key][0]


@st.cache_resource(show_spinner=False)
def shared() -> Written:
    """Return what all viewers of this server share."""
    return Written()
