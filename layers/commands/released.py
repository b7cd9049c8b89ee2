"""``--release NAME``: a verb's answer as a release may read it."""

from __future__ import annotations

import argparse

from layers.catalogue import KINDS
from layers.journal.known import Known, Shelf
from layers.journal.releases.released import read_as
from layers.journal.releases.rules import Release
from layers.watch.withheld import NAMES, release_for


def add_release(parser: argparse.ArgumentParser) -> None:
    """Declare ``--release``."""
    parser.add_argument(
        "--release",
        metavar="NAME",
        default="watch",
        help=f"as who may see it reads it: {', '.join(NAMES)}; the watch if left out",
    )


def as_released(shelf: Shelf, name: str, to: str = "") -> tuple[Shelf, Release]:
    """Return the shelf as a release reads it, and what that release withholds.

    Raises
    ------
    InputError
        There is no release of that name.
    """
    last = shelf.last_seq(None, 2**62)
    as_of = shelf.recorded_at(last)
    if as_of is None:  # an empty journal: nobody has said anything yet
        from layers.earth.clock import EPOCH

        as_of = EPOCH
    release = release_for(Known(shelf, KINDS, last, as_of), name, to)
    return read_as(shelf, KINDS, release), release
