"""Weather and sea: what it is, what it will be, and when the sea lets us work."""

from __future__ import annotations

from layers.contract import Answering, Layer, Page
from layers.journal.kinds import heard_as, ruled
from layers.weather.answering import dive, inputs
from layers.weather.compute import compute, stands
from layers.weather.feeds import (
    bufr_feed,
    drifter_feed,
    grib_feed,
    metar_feed,
    ndbc_feed,
    netcdf_feed,
    synop_feed,
)
from layers.weather.heard_words import HEARD
from layers.weather.marks import marks
from layers.weather.model import KINDS
from layers.weather.release import RULES
from layers.weather.report import sentence, table
from layers.weather.result import hand
from layers.weather.tables import tables

LAYER = Layer(
    key="weather",
    title="Weather and sea state",
    kinds=heard_as(ruled(KINDS, RULES), HEARD),
    feeds=(
        ndbc_feed.FEED,
        metar_feed.FEED,
        synop_feed.FEED,
        netcdf_feed.FEED,
        grib_feed.FEED,
        bufr_feed.FEED,
        drifter_feed.FEED,
    ),
    needs=(),
    afterwards=("datum",),  # the place of work; its drift needs the sea of everywhere
    stands=stands,
    also_reads=(
        "datum.lkp",
        "watch.place_told",
        "survivors.lift_limits",
        "survivors.vehicle",
    ),
    version=4,
    page=Page(address="weather", title="Weather", rank=25),
    rank=40,
    subject="sea and weather",
    brief_slide=False,
    report="H",
    answers={
        # a place of work is her place; limits and observations there tell of it
        "dive": Answering(make=dive, without=("weather.place_of_work", "survivors.vehicle")),
        "inputs": Answering(make=inputs, without=("weather.observation",)),
    },
    compute=compute,
    hand=hand,
    marks=marks,
    table=table,
    sentence=sentence,
    tables=tables,
    caution=(
        "The operating authority's limits decide. Hs is a mean of the highest third: single "
        "waves may reach twice Hs. A forecast is worth no more than its age and its error, both "
        "shown beside it."
    ),
)
