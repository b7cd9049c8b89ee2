"""The newest of what is ready, layer by layer, while the rest is still worked out.

A ship that moved is shown as soon as the ships are worked out, whatever else follows from her.
What is not ready stands as those who look have it already; it was made of the same release's
reading, so nothing comes from others' pictures.
"""

from __future__ import annotations

import time
from collections.abc import Mapping
from datetime import datetime, timedelta

from dashboard.cache import opened, pictures
from dashboard.cache.opened import Present
from layers.catalogue import LAYERS
from layers.contract import Moment, Shown, Unavailable
from layers.journal.releases.released import ReleaseShelf
from layers.journal.releases.rules import Release
from layers.picture import Picture

MOST = 4  # moments that are waited for
ASK_AGAIN_S = 1.0
STANDS = timedelta(minutes=2)  # that what is not ready may stand beside what is newer


class Coming:
    """The moments whose pictures are worked out for those who see the same, in their order."""

    def __init__(self) -> None:
        self._held: list[tuple[Present, Mapping[str, str]]] = []  # with the keys of their results
        self._asked: tuple[tuple[int, datetime] | None, float] = (None, 0.0)

    def newest(self, here: Present, release: Release, before: Picture | None) -> Picture | None:
        """Return what is newer than what was shown before, None while nothing is.

        Parameters
        ----------
        here : Present
            Where the journal stands.
        before : Picture or None
            What is shown to them; what is not ready yet stays as it is there.
        """
        if not self._held or _name(self._held[-1][0]) != _name(here):
            names = pictures.names_of(here.shown, here.revision, release)
            self._held = [*self._held, (here, names)][-MOST:]
        if before is None:
            return None
        for one, names in reversed(self._held):
            if not timedelta(0) <= one.shown - before.moment.at <= STANDS:
                continue
            there = pictures.ready_layers(names)
            if any(there[key] is not before.layers.get(key) for key in there):
                self._held = [held for held in self._held if held[0].shown >= one.shown]
                return _together(one, release, {**before.layers, **there})
        return None

    def ask(self, here: Present, release: Release) -> None:
        """Ask for a release's picture; the watch's is worked out unasked, unless it is late."""
        asked, since = self._asked
        now, new = time.monotonic(), asked != _name(here)
        if not new and now - since < ASK_AGAIN_S:
            return
        self._asked = (_name(here), now)
        if not (new and release.whole):
            pictures.ask(here.shown, here.revision, release)


def _name(here: Present) -> tuple[int, datetime]:
    return here.revision, here.shown


def _together(
    here: Present, release: Release, layers: Mapping[str, Shown | Unavailable]
) -> Picture | None:
    if any(layer.key not in layers for layer in LAYERS):
        return None
    shelf = opened.read_by(release)
    return Picture(
        moment=Moment(here.shown, here.shown),
        upto_seq=here.revision,
        layers={layer.key: layers[layer.key] for layer in LAYERS},
        reading=shelf if isinstance(shelf, ReleaseShelf) else None,
    )
