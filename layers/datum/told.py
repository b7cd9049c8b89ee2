"""What stands for the datum where her place is withheld: the block that the watch has told."""

from __future__ import annotations

from layers.contract import Moment, Shown
from layers.contract.told_place import told_block
from layers.earth.chart.marks import AreaMark, Style
from layers.earth.clock import dtg
from layers.earth.table import Table
from layers.earth.tells import POSITION_WITHHELD
from layers.earth.values import DatumValue
from layers.journal.known import Known


def told(known: Known, moment: Moment) -> Shown | None:
    """Return the block on the chart, and as what other layers measure to; None before the first.

    Depth, time of loss and groups adrift are her place too, and are not handed on.
    """
    block = told_block(known, moment.at)
    if block is None:
        return None
    latitudes, longitudes = block.outline()
    words = f"The DISSUB lies in the area told: {block}"
    return Shown(
        result=None,
        marks=(
            AreaMark(
                key="told area",
                style=Style.DATUM,
                latitudes_deg=latitudes,
                longitudes_deg=longitudes,
                tooltip=f"{words}. Her place in it is withheld.",
                source="",
                label="area told",
                rank=1,
                at=moment.at,
            ),
        ),
        table=Table(
            heads=("What", "Value"),
            rows=(("Area told", str(block)), ("Told as of (Z)", dtg(moment.at))),
        ),
        sentence=f"{words}; her place in it is withheld here.",
        tables={},
        closed=POSITION_WITHHELD,
        handed=DatumValue(
            where=block,
            radius_95_m=None,
            ellipse_95=None,
            is_fix=False,
            depth_m=None,
            lost_at=None,
            adrift=(),
        ),
    )
