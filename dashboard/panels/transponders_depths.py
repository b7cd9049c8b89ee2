"""Depth by the loaded grids, with cell and spread, and what chart cells hold."""

from __future__ import annotations

from dashboard.panels.text import caution, panel, table, words
from dashboard.view import Seen
from layers.earth.table import Table


def show(seen: Seen) -> None:
    """Show depths at the places of work and the charts they come from."""
    found = seen.picture.shown("transponders")
    if found is None:
        return
    charts = found.tables["Charts and grids"]
    if not charts.rows:
        panel(
            words(
                "No chart yet: drop a depth grid (NetCDF, GeoTIFF, BAG) or a chart cell (S-57, "
                "with its updates in one zip file) on the plot."
            )
        )
        return
    _table(charts)
    depths = found.tables["Depth of the seabed"]
    if depths.rows:
        _table(depths)
    caution(
        "Not for navigation. A coarse grid can be wrong by more than its cells differ: ask for "
        "a survey before anyone relies on a depth."
    )


def _table(shown: Table) -> None:
    panel(table(shown.rows, shown.heads))
