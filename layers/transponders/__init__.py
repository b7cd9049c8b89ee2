"""Transponders, sound and seabed: the water's sound speed, the net on the seabed, what is heard."""

from layers.contract import Layer, Page
from layers.earth.tells import TELLS_POSITION
from layers.journal.kinds import heard_as, ruled
from layers.transponders.compute import compute, hand
from layers.transponders.heard_words import HEARD
from layers.transponders.hull import KINDS_READ
from layers.transponders.marks import marks
from layers.transponders.model import KINDS
from layers.transponders.net import ranges_csv_feed
from layers.transponders.release import RULES
from layers.transponders.report import sentence, table, tables
from layers.transponders.seabed import chart_feed, depth_netcdf_feed, depth_raster_feed
from layers.transponders.sound import argo_feed, ctd_feed, edf_feed, profile_csv_feed
from layers.transponders.sound.hearing import LOSSES

LAYER = Layer(
    key="transponders",
    title="Transponders, sound and seabed",
    kinds=heard_as(ruled(KINDS, RULES), HEARD),
    feeds=(
        edf_feed.FEED,
        ctd_feed.FEED,
        profile_csv_feed.FEED,
        argo_feed.FEED,
        ranges_csv_feed.FEED,
        depth_netcdf_feed.FEED,
        depth_raster_feed.FEED,
        chart_feed.FEED,
    ),
    needs=("weather",),
    also_reads=KINDS_READ,
    version=3,
    grain_s=300.0,
    patient=("weather",),
    page=Page(address="seabed", title="Seabed", rank=30),
    rank=70,
    subject="sound and the net",
    brief_slide=False,
    tells=TELLS_POSITION,
    compute=compute,
    hand=hand,
    marks=marks,
    table=table,
    sentence=sentence,
    tables=tables,
    caution=(
        f"Sound: look at the age of the profile; ranges can halve or double within hours. {LOSSES} "
        "Charts and depth grids shown here are not for navigation."
    ),
)
