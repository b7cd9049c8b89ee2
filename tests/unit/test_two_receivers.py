"""One ship heard by two receivers is one fix.

The first line is the example of the open AIVDM/AIVDO protocol description (gpsd project,
"AIVDM.html"): type 1, MMSI 477553000, 47.58283 N 122.34583 W, at rest, UTC second 15.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from layers.contract import Origin
from layers.tracks.feeds import nmea_feed
from layers.tracks.feeds.same_fix import utc_second

MOORED = b"!AIVDM,1,1,,B,177KQJ5000G?tO`K>RA1wUbN0TKH,0*5C\r\n"
OTHER_CHANNEL = b"!AIVDM,1,1,,A,177KQJ5000G?tO`K>RA1wUbN0TKH,0*5F\r\n"
HEARD = datetime(2027, 3, 14, 6, 40, 16, tzinfo=UTC)


def _ids(line: bytes, receiver: str, at: datetime) -> list[str]:
    origin = Origin(source=receiver, received_at=at, digest="0" * 64, stream=True, live=True)
    reading = nmea_feed.follow().take(line, origin)
    assert not reading.rejects
    return [draft.id for draft in reading.drafts if draft.kind == "tracks.position"]


def test_the_second_of_a_position_is_read_where_the_standard_puts_it() -> None:
    assert utc_second(MOORED) == 15
    assert utc_second(b"$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47") is None


def test_one_ship_heard_by_two_receivers_is_one_fix() -> None:
    first = _ids(MOORED, "AIS north", HEARD)
    for later_s in (-12.0, 0.1, 2.5, 20.0):  # clocks and links differ
        assert _ids(MOORED, "AIS south", HEARD + timedelta(seconds=later_s)) == first
    assert _ids(OTHER_CHANNEL, "AIS south", HEARD) == first  # a receiver names its channel itself


def test_a_moored_ship_that_says_the_same_again_is_news() -> None:
    said = {tuple(_ids(MOORED, "AIS", HEARD + timedelta(minutes=3 * n))) for n in range(10)}
    assert len(said) == 10
