"""Depth by the loaded grids, with cell and spread, and what chart cells hold."""

from __future__ import annotations

from dashboard.panels.text import caution, panel, table, words
from dashboard.view import Seen


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
    panel(table(charts.rows, charts.heads))
    depths = found.tables["Depth of the seabed"]
    if depths.rows:
        # The source stands in the table above and the caution below.
        panel(table([row[:6] for row in depths.rows], depths.heads[:6], range(1, 6)))
    caution(
        "Not for navigation. A coarse grid can be wrong by more than its cells differ: ask for a "
        "survey before anyone relies on a depth."
    )
