"""SYNOP, SHIP and BUFR: reports decoded by hand from the WMO code tables, and real bulletins."""

from __future__ import annotations

import hashlib
from datetime import UTC, datetime

import pytest

from layers.contract import Origin, Reading
from layers.weather.feeds import synop_feed
from tests.samples import sample
from tests.weather_child import in_a_child

RECEIVED = datetime(2027, 3, 16, 6, 35, tzinfo=UTC)
MS = 3600 / 1852
SHIP = "BBXX CALL7 16064 99498 70085 41/97 52228 10108 20085 40032 57015 70262 22212 00112 " \
       "20806 32523 41206 70026 ="  # fmt: skip


def origin(data: bytes, received: datetime = RECEIVED) -> Origin:
    return Origin(source="f", received_at=received, digest=hashlib.sha256(data).hexdigest())


def read(text: str, received: datetime = RECEIVED) -> Reading:
    return synop_feed.read(text.encode(), origin(text.encode(), received))


def test_a_ship_report_decoded_by_hand() -> None:
    """FM 13: 49.8 N 8.5 W, wind 220° 28 kn, 1003.2 hPa, sea 11.2 °C, Hs 2.6 m by 70HHH."""
    (draft,) = read(SHIP).drafts
    p = draft.payload
    assert draft.valid_at == datetime(2027, 3, 16, 6, tzinfo=UTC)
    assert (p["station"], p["sort"]) == ("CALL7", "ship")
    assert (p["latitude_deg"], p["longitude_deg"]) == (49.8, -8.5)
    assert (p["wind_from_true_deg"], p["wind_kn"]) == (220.0, 28.0)  # indicator 4: knots
    assert (p["air_c"], p["dew_c"], p["pressure_hpa"]) == (10.8, 8.5, 1003.2)
    assert p["sea_c"] == 11.2
    assert p["hs_m"] == 2.6
    assert (p["wind_wave_tp_s"], p["wind_wave_hs_m"]) == (8.0, 3.0)  # half metres
    assert (p["swell_from_true_deg"], p["swell_tp_s"], p["swell_hs_m"]) == (250.0, 12.0, 3.0)
    assert p["visibility_nmi"] == pytest.approx(10_000 / 1852, abs=0.01)  # code 97
    assert "receipt" in p["note"]


def test_one_impossible_group_costs_itself_and_is_told() -> None:
    """A wave of 80.4 m by a slipped figure: wind and pressure of the report stand."""
    reading = read(SHIP.replace("70026", "70804"))
    (reject,) = reading.rejects
    assert reject.reason == (
        "hs_m: '80.4' is too large; accepted: 40 or less; it is left out, the rest is kept"
    )
    payload = reading.drafts[0].payload
    assert (payload["wind_kn"], payload["pressure_hpa"]) == (28.0, 1003.2)
    assert payload["hs_m"] == pytest.approx(4.24, abs=0.01)  # of wind waves and swell, as seen


def test_wind_waves_and_swell_seen_apart_make_a_height_and_say_so() -> None:
    (draft,) = read(SHIP.replace(" 70026", "")).drafts
    assert draft.payload["hs_m"] == pytest.approx((3.0**2 + 3.0**2) ** 0.5, abs=0.01)
    assert "seen apart" in draft.payload["note"]


@pytest.mark.parametrize(
    ("code", "km"),
    [
        (0, 0.0),
        (50, 5.0),
        (56, 6.0),
        (80, 30.0),
        (81, 35.0),
        (89, 75.0),
        (90, 0.0),
        (97, 10.0),
        (99, 50.0),
    ],
)
def test_visibility_code_table_4377(code: int, km: float) -> None:
    """WMO code table 4377; from memory, not checked against the page."""
    assert synop_feed.visibility_km(code) == km


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("AAXX 1606/ 03808 41597 52228 10108=", "wind indicator is not given"),
        ("AAXX 16061 03808 41597 54228 10108=", "wind from 420"),
        ("AAXX 16061 03808 41597=", "ends before wind"),
        ("BBXX CALL7 16061 99998 20085 41597 52228=", "not a position"),
        ("BBXX CALL7 16061 99998 70085 41597 52228=", "99998 70085 is not a position"),
        ("BBXX CALL7 16061 99498 71805 41597 52228=", "99498 71805 is not a position"),
        ("AAXX 32061 03808 41597 52228 10108=", "not a time before"),
    ],
)
def test_a_damaged_report_is_rejected_with_its_reason_and_the_rest_goes_on(
    text: str, says: str
) -> None:
    reading = read(text + "\n" + SHIP)
    assert len(reading.drafts) == 1
    assert says in reading.rejects[0].reason


def test_ships_below_one_head_of_a_bulletin_are_each_read() -> None:
    """Bulletins are sent with BBXX before each ship, and with one BBXX above them all."""
    second = SHIP.replace("BBXX CALL7", "CALL8")
    reading = read(f"SMVX01 XTST 160600\n{SHIP}\n{second}\n")
    assert reading.rejects == []
    assert [draft.payload["station"] for draft in reading.drafts] == ["CALL7", "CALL8"]
    assert {draft.payload["hs_m"] for draft in reading.drafts} == {2.6}


def test_wind_over_99_has_its_own_group() -> None:
    (draft,) = read("AAXX 16064 03808 41597 52299 00105 10108=").drafts
    assert draft.payload["wind_kn"] == 105.0


def test_the_real_bulletin_is_read_in_full() -> None:
    """23 stations of 211200Z MAR 22, winds in metres a second (indicator 1)."""
    data = sample("synop_SMRO01_YRBK_20220321.txt").read_bytes()
    assert synop_feed.recognise(data, "x") > 0.9
    reading = synop_feed.read(data, origin(data, datetime(2022, 3, 21, 12, 5, tzinfo=UTC)))
    assert (len(reading.drafts), len(reading.rejects)) == (23, 0)
    first, second = (draft.payload for draft in reading.drafts[:2])
    # 15015 02999 02501 10103 21090 39765 42952: by hand
    assert first["station"] == "15015"
    assert (first["wind_from_true_deg"], first["air_c"], first["dew_c"]) == (250.0, 10.3, -9.0)
    assert first["wind_kn"] == pytest.approx(1 * MS, abs=0.01)
    assert "pressure_hpa" not in first  # 42952 is a height of the 925 hPa level, no pressure
    # 15020 02997 23104 10130 21075 30177 40377
    assert second["pressure_hpa"] == 1037.7
    assert second["wind_kn"] == pytest.approx(4 * MS, abs=0.01)
    assert {d.valid_at for d in reading.drafts} == {datetime(2022, 3, 21, 12, tzinfo=UTC)}


def test_the_real_bufr_file_is_read_in_full() -> None:
    """Ten SYNOP messages of edition 3; the first by the values that eccodes lists for it."""
    data = sample("synop_10.bufr").read_bytes()
    reading = in_a_child("bufr_feed", data, origin(data))
    assert (len(reading.drafts), len(reading.rejects)) == (10, 0)
    first = reading.drafts[0].payload
    assert first["station"] == "91648"
    assert (first["latitude_deg"], first["longitude_deg"]) == (-10.75, pytest.approx(179.5))
    assert first["wind_from_true_deg"] == 80.0
    assert first["wind_kn"] == pytest.approx(4.0 * MS, abs=0.01)
    assert first["pressure_hpa"] == 1012.2
    assert first["air_c"] == pytest.approx(27.25)


def test_a_cut_bufr_file_says_so() -> None:
    data = sample("synop_10.bufr").read_bytes()[:-30]
    reading = in_a_child("bufr_feed", data, origin(data))
    assert len(reading.drafts) == 9
    assert "cut short or damaged" in reading.rejects[0].reason


def test_the_second_swell_counts_in_the_height_of_the_whole_sea() -> None:
    """FM 13, section 2: wind waves 2 m, swells of 3 m and 1.5 m: √(2² + 3² + 1.5²) = 3.91 m."""
    (draft,) = read(
        "BBXX XTST1 16064 99498 70085 41597 52614 10111 40123 22200 20604 33020 41206 51603="
    ).drafts
    assert (draft.payload["hs_m"], draft.payload["swell_hs_m"]) == (3.91, 3.0)


def test_a_mobile_station_on_land_has_a_height_before_its_visibility() -> None:
    """FM 14 (from memory): square of Marsden, height of the station, then iRiXhVV and Nddff."""
    (draft,) = read("OOXX ABCD 16064 99498 70085 11234 00105 41598 62115 10083=").drafts
    p = draft.payload
    assert (p["wind_from_true_deg"], p["wind_kn"], p["air_c"]) == (210.0, 15.0, 8.3)
    assert p["visibility_nmi"] == pytest.approx(20_000 / 1852, abs=0.01)  # code 98
    assert p["sort"] == "land"


def test_the_days_extreme_of_a_section_whose_mark_was_lost_is_not_the_air_now() -> None:
    report = "AAXX 16064 03091 11575 82115 10083 20061 40012 {}10190 21050="
    for mark in ("333 ", ""):
        (draft,) = read(report.format(mark)).drafts
        assert (draft.payload["air_c"], draft.payload["dew_c"]) == (8.3, 6.1)
