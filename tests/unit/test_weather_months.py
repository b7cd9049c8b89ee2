"""Reports that name a day and no month: dated from when they came, or asked; and corrected ones."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from layers.catalogue import KINDS
from layers.contract import Moment, Origin
from layers.journal.known import Known, ListShelf
from layers.weather import LAYER
from layers.weather.feeds import metar_feed, synop_feed
from layers.weather.observed import observed
from tests.weather_records import record

AT = datetime(2027, 3, 16, 6, 0, tzinfo=UTC)


def origin(received: datetime = AT, source: str = "reports.txt", **more) -> Origin:
    return Origin(source=source, received_at=received, digest="0" * 64, **more)


def metar(*days: str, where: Origin | None = None):
    text = "".join(f"METAR XTRE {day}Z 24012KT 9999 09/04 Q1012=\n" for day in days)
    return metar_feed.read(text.encode(), where or origin())


def synop(*days: str, where: Origin | None = None):
    text = "".join(f"AAXX {day}4 03808 41597 52212 10108=\n" for day in days)
    return synop_feed.read(text.encode(), where or origin())


@pytest.mark.parametrize(
    ("received", "group", "is_of"),
    [
        (datetime(2027, 3, 16, 6, 0, tzinfo=UTC), "160550", "2027-03-16T05:50"),
        (datetime(2027, 3, 1, 0, 4, tzinfo=UTC), "282350", "2027-02-28T23:50"),
        (datetime(2028, 3, 1, 0, 4, tzinfo=UTC), "292350", "2028-02-29T23:50"),
        (datetime(2027, 1, 1, 0, 20, tzinfo=UTC), "312350", "2026-12-31T23:50"),
        # the station's clock runs ahead of the receiver's
        (datetime(2027, 3, 31, 23, 58, tzinfo=UTC), "010000", "2027-04-01T00:00"),
    ],
)
def test_a_report_just_heard_is_of_the_nearest_such_day(received, group, is_of):
    reading = metar(group, where=origin(received))
    assert [f"{draft.valid_at:%Y-%m-%dT%H:%M}" for draft in reading.drafts] == [is_of]
    assert "month and year from the time of receipt" in reading.drafts[0].payload["note"]
    assert not reading.asks


@pytest.mark.parametrize("read", [metar, synop])
def test_a_file_whose_newest_report_would_be_weeks_old_asks_when_it_is_of(read):
    group = "2006" if read is synop else "200550"
    reading = read(group)  # the 20th, received on the 16th: at best 24 days ago
    assert reading.asks.startswith("when was this recorded?")
    assert "FEB 27" in reading.asks
    assert not reading.to_keep().drafts


def test_a_file_that_runs_past_the_day_it_came_is_of_another_month_and_asks():
    """14 to 18, received on the 16th: two of them would lie a month before the others."""
    reading = metar("141150", "151150", "171150", "181150")
    assert reading.asks.startswith("when was this recorded?")


def test_a_file_named_for_another_month_asks_though_its_day_would_fit():
    for name in ("reports_20261116.txt", "XTRE-2026-11-16.txt", "202611160600.txt"):
        assert metar("160550", where=origin(source=name)).asks, name
    for name in ("reports_20270316.txt", "reports.txt", "6111620261116.txt"):
        assert not metar("160550", where=origin(source=name)).asks, name


def test_what_was_told_of_a_file_dates_it_to_the_nearest_day_either_way():
    told = origin(recorded_at=datetime(2026, 11, 30, 12, 0, tzinfo=UTC))
    reading = metar("291150", "010550", where=told)
    assert [f"{draft.valid_at:%d %b %Y}" for draft in reading.drafts] == [
        "29 Nov 2026",
        "01 Dec 2026",
    ]
    assert not reading.asks
    assert "as told" in reading.drafts[0].payload["note"]


def test_a_line_of_a_stream_or_a_watched_log_is_of_now_and_asks_nothing():
    for how in ({"stream": True}, {"live": True}):
        assert not metar("200550", where=origin(**how)).asks


FIRST = "METAR XTRE 160550Z 24045KT 0800 FG 09/04 Q1012 W12/H55="
RIGHT = "METAR COR XTRE 160550Z 24015KT 9999 09/04 Q1012="


@pytest.mark.parametrize("order", [(FIRST, RIGHT), (RIGHT, FIRST)])
@pytest.mark.parametrize("right", [RIGHT, RIGHT.replace("COR XTRE 160550Z", "XTRE 160550Z COR")])
def test_a_corrected_report_replaces_the_first_in_whatever_order_they_come(order, right):
    text = "\n".join(order).replace(RIGHT, right)
    drafts = metar_feed.read(text.encode(), origin()).drafts
    assert len(drafts) == 2  # both are kept in the journal
    records = [
        record(seq, draft.kind, draft.valid_at, dict(draft.payload))
        for seq, draft in enumerate(drafts, start=1)
    ]
    known = Known(ListShelf(records, {}), KINDS, len(records), AT)
    (station,) = LAYER.compute(known, {}, Moment(AT, AT)).stations
    assert station.values["wind_kn"] == 15.0
    assert "hs_m" not in station.values  # the 5.5 m went with the report that told it
    placed = [*records, record(3, "weather.station", AT, {
        "station": "XTRE", "name": "Tressick", "sort": "airfield", "latitude_deg": 50.0,
        "longitude_deg": -5.0,
    })]  # fmt: skip
    seen = observed(Known(ListShelf(placed, {}), KINDS, 3, AT), AT)
    assert seen.wind_kn.tolist() == [15.0]


def test_a_corrected_bulletin_replaces_what_the_first_one_told():
    text = (
        "SMXX01 XTST 160600\nAAXX 16064 03808 41597 52245 10108=\n"
        "SMXX01 XTST 160600 CCA\nAAXX 16064 03808 41597 52215 10108=\n"
    )
    first, second = (
        dict(draft.payload) for draft in synop_feed.read(text.encode(), origin()).drafts
    )
    assert (first.get("corrected"), second["corrected"]) == (None, 1)
