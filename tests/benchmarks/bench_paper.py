"""A sheet of paper: the exercise's plot on A4 at 150 dpi against an empty page of that size."""

from __future__ import annotations

import io
import tempfile
from pathlib import Path

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure as Page

from demo_data.load import demo_journal
from demo_data.scenario import DEMO_NOW
from layers.answers import answers
from layers.catalogue import KINDS
from layers.contract import Moment
from layers.earth.shore.land import Land
from layers.journal.known import Known
from layers.journal.naming import data_folder
from layers.picture import picture
from layers.scene.ink import DAY
from layers.scene.release import Release
from layers.scene.snapshot import About, snapshot
from layers.watch.state import state
from tests.benchmarks.figure import Figure, seconds

A4_IN = (11.69, 8.27)
DPI = 150
NEAR_M, WIDE_M = 25_000.0, 222_240.0  # half widths: the first look, and 120 nmi


def figures() -> list[Figure]:
    """Return the snapshot's time as a ratio to the empty page's, near the work and with coast."""
    shelf, upto_seq = demo_journal(DEMO_NOW)
    made = picture(shelf, Moment(DEMO_NOW, DEMO_NOW), upto_seq)
    found = answers(made, state(Known(shelf, KINDS, upto_seq, DEMO_NOW), made.moment))
    about = About("Exercise SABLE TIDE", upto_seq, "ab" * 32)
    land = _land()

    def sheet(half_width_m: float) -> None:
        snapshot(
            made, "png", answers=found, about=about, ink=DAY, land=land, release=Release(),
            half_width_m=half_width_m,
        )  # fmt: skip

    empty = seconds(_empty, 5)
    found = []
    for words, half_width_m in (("", NEAR_M), (", coast in sight", WIDE_M)):
        taken = seconds(lambda half=half_width_m: sheet(half), 5)
        found.append(
            Figure(
                issue=7, name=f"A4 snapshot of the exercise at 150 dpi{words}",
                ratio=taken / empty, target=4.0, direction="at most",
                reference="saving an empty matplotlib page of that size",
                note=f"{taken * 1000:.0f} ms against {empty * 1000:.0f} ms; with the coastline, "
                f"half width {half_width_m / 1852:.0f} nmi",
            )
        )  # fmt: skip
    return found


def _land() -> Land:
    """Return the cut coastline: the one of this computer, or one cut for this run."""
    land = Land(data_folder() / "land")
    if not land.ready():
        land = Land(Path(tempfile.mkdtemp()) / "land")
        land.build()
    return land


def _empty() -> None:
    page = Page(figsize=A4_IN)
    FigureCanvasAgg(page)
    page.add_subplot()
    page.savefig(io.BytesIO(), format="png", dpi=DPI)
