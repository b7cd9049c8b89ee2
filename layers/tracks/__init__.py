"""Tracks of ships and aircraft: where they are, how old that is, when they can be there."""

from layers.contract import Layer
from layers.journal.kinds import ruled
from layers.tracks import ais_csv_feed, gpx_feed, marks, model, nmea_feed, report, rtz_feed, ships
from layers.tracks.release import RULES

LAYER = Layer(
    key="tracks",
    title="Ships and aircraft",
    kinds=ruled(model.KINDS, RULES),
    feeds=(nmea_feed.FEED, nmea_feed.FEED_BARE, ais_csv_feed.FEED, gpx_feed.FEED, rtz_feed.FEED),
    needs=("datum",),
    page="response",
    rank=60,
    compute=ships.compute,
    hand=ships.hand,
    marks=marks.marks,
    table=report.table,
    tables=report.tables,
    sentence=report.sentence,
    caution=report.CAUTION,
    version=3,
)
