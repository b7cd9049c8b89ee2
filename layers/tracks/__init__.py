"""Tracks of ships and aircraft: where they are, how old that is, when they can be there."""

from layers.contract import Layer
from layers.journal.kinds import heard_as, ruled
from layers.tracks import handed_on, marks, model, report, ships
from layers.tracks.feeds import ais_csv_feed, gpx_feed, map_feed, nmea_feed, rtz_feed
from layers.tracks.heard_words import HEARD
from layers.tracks.release import RULES

LAYER = Layer(
    key="tracks",
    title="Ships and aircraft",
    kinds=heard_as(ruled(model.KINDS, RULES), HEARD),
    feeds=(
        nmea_feed.FEED,
        nmea_feed.FEED_BARE,
        ais_csv_feed.FEED,
        gpx_feed.FEED,
        rtz_feed.FEED,
        map_feed.FEED,
    ),
    needs=("datum",),
    page="response",
    rank=60,
    subject="ships",
    brief_slide=False,
    compute=ships.compute,
    hand=handed_on.hand,
    marks=marks.marks,
    table=report.table,
    tables=report.tables,
    sentence=report.sentence,
    caution=report.CAUTION,
    version=5,
)
