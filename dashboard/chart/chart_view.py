"""What a chart shows of a picture: which frame, layers and marks; and the marks as texts.

A view can be written into a few words and read again, so that the marks of a page's chart can be
made anew without its script.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from dashboard.chart.shared import shared
from dashboard.live.place import digest
from dashboard.view import Seen, reference
from layers.contract import Shown
from layers.earth.chart.frames import ChartFrame, FrameName, frame_for
from layers.earth.position import Position
from layers.scene.drawn import is_drawn, is_quiet


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartView:
    """What a chart shows.

    Parameters
    ----------
    frame : ChartFrame
        The projection, about its centre.
    hidden, only : tuple of str
        Layers left out; or the only ones.
    shaded, every_mark : bool
        Whether fields are shaded, and marks drawn that are quiet once a fix holds.
    """

    frame: ChartFrame
    hidden: tuple[str, ...] = ()
    only: tuple[str, ...] = ()
    shaded: bool = False
    every_mark: bool = False

    def words(self) -> str:
        """Return it as text."""
        at = self.frame.centre
        told = [at.latitude_deg, at.longitude_deg, self.frame.name.value, self.frame.half_width_m]
        return json.dumps([*told, self.hidden, self.only, self.shaded, self.every_mark])

    @staticmethod
    def read(text: str) -> ChartView:
        """Return the view that `words` wrote."""
        lat, lon, name, half_m, hidden, only, shaded, every = json.loads(text)
        return ChartView(
            frame=frame_for(Position(lat, lon), FrameName(name), half_m),
            hidden=tuple(hidden),
            only=tuple(only),
            shaded=shaded,
            every_mark=every,
        )


@dataclass(frozen=True, slots=True)
class DrawnMarks:
    """A chart's marks at a moment.

    Parameters
    ----------
    layers : mapping of str to bytes
        Each layer's marks, packed.
    told : dict
        What the browser's chart is told beside them.
    """

    layers: Mapping[str, bytes]
    told: dict[str, Any]

    def names(self) -> list[tuple[str, str]]:
        """Return each layer with what its marks are known by, in the order they are drawn."""
        return [(name, digest(packed)) for name, packed in self.layers.items()]


def drawn_marks(seen: Seen, view: ChartView) -> DrawnMarks:
    """Return the marks that a chart shows, written once for all who see the same."""
    marks = {
        name: [mark for mark in shown.marks if is_drawn(mark, shaded=view.shaded)]
        for name, shown in seen.picture.layers.items()
        if isinstance(shown, Shown)
        and (name in view.only if view.only else name not in view.hidden)
    }
    quiet = 0
    if not view.every_mark:
        every = sum(map(len, marks.values()))
        marks = {
            name: [mark for mark in held if not is_quiet(seen.picture, name, mark)]
            for name, held in marks.items()
        }
        quiet = every - sum(map(len, marks.values()))
    told: dict[str, Any] = {
        "follows": f"{seen.moment.at:%H%M}" if seen.follows_now else "",
        "unseen": f"{quiet} older evidence and hearing marks not drawn: see Layers"
        if quiet
        else "",
    }
    if (found := reference(seen.picture)) is not None:
        place, name = found
        told |= {"lat": place.latitude_deg, "lon": place.longitude_deg, "name": name}
    numbers = None if seen.release.guarded else seen.known.numbers_of
    layers = {
        name: shared().part(name, held, view.frame, seen.ink, numbers)
        for name, held in marks.items()
        if held
    }
    return DrawnMarks(layers, told)
