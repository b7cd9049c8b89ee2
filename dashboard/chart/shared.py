"""Marks projected and written once for all viewers who look at the same ones in the same frame.

A hundred readers of one plot would otherwise project and write the same marks a hundred times.
Each layer's marks are a text of their own, packed: a ship that moves costs a reader the text of
the ships, not that of the search.
"""

from __future__ import annotations

import gzip
import json
import threading
from collections import OrderedDict
from collections.abc import Callable, Mapping, Sequence
from functools import cache

import streamlit as st

from layers.earth.chart.frames import ChartFrame
from layers.earth.chart.marks import AnyMark
from layers.scene.browser import feature_collection, glyph_table
from layers.scene.ink import Ink
from layers.scene.scene import ids_in, scene

MOST = 400
MOST_BYTES = 24_000_000  # of the texts with the marks that they were written from
MARK_BYTES = 1_500  # a mark without its places, roughly
Key = tuple[ChartFrame, str, str, tuple[int, ...]]


class KeptTexts:
    """The last texts by what they show; the longest unused goes first."""

    def __init__(self, most: int = MOST) -> None:
        self._most, self._bytes = most, 0
        self._held: OrderedDict[Key, tuple[bytes, tuple[AnyMark, ...]]] = OrderedDict()
        self._lock = threading.Lock()
        self.made = 0  # how often something had to be written

    def part(
        self, layer: str, marks: Sequence[AnyMark], frame: ChartFrame, ink: Ink,
        numbers: Callable[[set[str]], Mapping[str, int]] | None = None,
    ) -> bytes:  # fmt: skip
        """Return one layer's marks as packed GeoJSON text, found or written now.

        ``numbers`` gives those of records by their ids; None where they are not told.
        """
        own = layer if numbers is None else f"{layer} with numbers"
        key = (frame, ink.name, own, tuple(id(mark) for mark in marks))
        with self._lock:  # who asks second for the same thing waits for the first
            if key not in self._held:
                self.made += 1
                told = {} if numbers is None else numbers(ids_in(marks))
                placed = scene([(layer, mark) for mark in marks], frame, told)
                self._held[key] = (packed(feature_collection(placed, ink)), tuple(marks))
                self._bytes += _size(self._held[key])
            self._held.move_to_end(key)
            while len(self._held) > 1 and (
                len(self._held) > self._most or self._bytes > MOST_BYTES
            ):
                self._bytes -= _size(self._held.popitem(last=False)[1])
            return self._held[key][0]


def _size(held: tuple[bytes, tuple[AnyMark, ...]]) -> int:
    places = sum(getattr(getattr(mark, "latitudes_deg", None), "nbytes", 0) for mark in held[1])
    return len(held[0]) + MARK_BYTES * len(held[1]) + 2 * places


@cache
def packed_glyphs() -> bytes:
    """Return the symbols' strokes, packed."""
    return packed(glyph_table())


def packed(content: object) -> bytes:
    """Return JSON text, packed; no time in it: the same content has the same address."""
    return gzip.compress(json.dumps(content, separators=(",", ":")).encode(), 6, mtime=0)


@st.cache_resource(show_spinner=False)
def shared() -> KeptTexts:
    """Return what all viewers of this server share."""
    return KeptTexts()
