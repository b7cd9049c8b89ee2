"""A sheet of paper: the exercise's plot on A4 at 150 dpi against an empty page of that size."""

from __future__ import annotations

import io

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure as Page

from demo_data.load import demo_journal
from demo_data.scenario import DEMO_NOW
from layers.contract import Moment
from layers.picture import picture
from layers.scene.ink import DAY
from layers.scene.release import Release
from layers.scene.snapshot import About, snapshot
from tests.benchmarks.figure import Figure, seconds

A4_IN = (11.69, 8.27)
DPI = 150


def figures() -> list[Figure]:
    """Return the snapshot's time as a ratio to the empty page's."""
    shelf, upto_seq = demo_journal(DEMO_NOW)
    made = picture(shelf, Moment(DEMO_NOW, DEMO_NOW), upto_seq)
    about = About("Exercise SABLE TIDE", upto_seq, "ab" * 32)
    whole = Release()

    def full() -> None:
        snapshot(made, "png", about=about, ink=DAY, land=None, release=whole)

    taken, empty = seconds(full, 3), seconds(_empty, 5)
    return [
        Figure(
            issue=7, name="A4 snapshot of the exercise at 150 dpi", ratio=taken / empty, target=4.0,
            direction="at most", reference="saving an empty matplotlib page of that size",
            note=f"{taken * 1000:.0f} ms against {empty * 1000:.0f} ms; without the coastline",
        )
    ]  # fmt: skip


def _empty() -> None:
    page = Page(figsize=A4_IN)
    FigureCanvasAgg(page)
    page.add_subplot()
    page.savefig(io.BytesIO(), format="png", dpi=DPI)
