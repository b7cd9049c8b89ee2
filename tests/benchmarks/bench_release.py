"""The picture of a release that withholds, against the watch's of the same moment."""

from __future__ import annotations

from statistics import median
from time import perf_counter

from demo_data.scenario import DEMO_NOW
from layers.catalogue import KINDS, LAYERS
from layers.contract import Moment
from layers.journal.known import Known
from layers.journal.releases.released import read_as
from layers.journal.releases.rules import OUTSIDE, WATCH, Release
from layers.picture import picture, result_keys
from tests.benchmarks.figure import Figure
from tests.release_pairs import base

QUICK = tuple(layer.key for layer in LAYERS if not layer.slow)


def cold_s(release: Release, runs: int) -> float:
    """Return the median seconds of a picture with nothing kept and a shelf that read nothing."""
    shelf, at = base(), DEMO_NOW
    taken = []
    for _ in range(runs):
        start = perf_counter()
        picture(read_as(shelf, KINDS, release), Moment(at, at), shelf.seq_at(at), QUICK)
        taken.append(perf_counter() - start)
    return median(taken)


def figures(runs: int = 5) -> list[Figure]:
    """Return what the quick layers cost for a release, as a part of what they cost the watch."""
    cold_s(WATCH, 1)  # what is loaded once counts for nobody
    watch_s, release_s = cold_s(WATCH, runs), cold_s(OUTSIDE, runs)
    shelf, at = base(), DEMO_NOW
    keys = [
        result_keys(Known(read_as(shelf, KINDS, release), KINDS, shelf.seq_at(at), at),
                    Moment(at, at))
        for release in (OUTSIDE, Release(medical=False, exact_position=False, to="press"))
    ]  # fmt: skip
    shared = sum(keys[0][key] == keys[1][key] for key in keys[0])
    return [
        Figure(
            issue=15,
            name="picture of a release",
            ratio=release_s / watch_s,
            target=1.0,
            direction="at most",
            reference="the watch's picture of the same moment, quick layers, nothing kept",
            note=f"{release_s * 1e3:.0f} ms against {watch_s * 1e3:.0f} ms; a layer that is "
            "withheld is not run",
        ),
        Figure(
            issue=15,
            name="results shared by releases with the same rules",
            ratio=shared / len(keys[0]),
            target=1.0,
            direction="at least",
            reference="all layers",
            unit="of all",
        ),
    ]
