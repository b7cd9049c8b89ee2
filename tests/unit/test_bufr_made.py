"""BUFR as other centres write it, made from the WMO's templates (Manual on Codes, vol. I.2).

Every value that is expected here was put into the message by the encoder, in the template's unit.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import pytest

from layers.contract import Reading
from layers.ingest import all_feeds, read_content
from tests.bufr_made import Made, made_and_read

KN = 1852.0 / 3600.0
AT = datetime(2027, 3, 16, 6, 0, tzinfo=UTC)
WHEN = {"#1#year": 2027, "#1#month": 3, "#1#day": 16, "#1#hour": 6, "#1#minute": 0}
PLACE = {"#1#latitude": 49.83, "#1#longitude": -8.5}
SHORT, LONG, LONGER = (
    "inputShortDelayedDescriptorReplicationFactor",
    "inputDelayedDescriptorReplicationFactor",
    "inputExtendedDelayedDescriptorReplicationFactor",
)
FLIGHT = WHEN | {
    "#1#aircraftFlightNumber": "XX129", "#1#latitude": 39.68, "#1#longitude": 0.86,
    "#1#windDirection": 229, "#1#windSpeed": 35.5, "#1#airTemperature": 223.6, "#1#height": 10_700,
}  # fmt: skip
BALLOON = WHEN | PLACE | {
    "#1#blockNumber": 3, "#1#stationNumber": 808, "#1#windSpeed": 5.0, "#1#windDirection": 200,
    "#1#airTemperature": 283.1, "#1#pressure": 100_500, "#2#windSpeed": 60.0,
}  # fmt: skip
SHIP = WHEN | PLACE | {
    "#1#shipOrMobileLandStationIdentifier": "XTST1", "#1#windSpeed": 14.0, "#1#windDirection": 260,
    "#1#airTemperature": 284.25, "#1#pressureReducedToMeanSeaLevel": 99_870,
    "#1#horizontalVisibility": 18_520, "#1#oceanographicWaterTemperature": 285.35,
    "#1#depthBelowWaterSurface": 5.0,
}  # fmt: skip
CHAIN = WHEN | PLACE | {
    "#1#marineObservingPlatformIdentifier": 4400513, "#1#pressureReducedToMeanSeaLevel": 100_240,
    "#1#depthBelowWaterSurface": 20, "#2#oceanographicWaterTemperature": 284.0,
    "#2#depthBelowWaterSurface": 60, "#3#oceanographicWaterTemperature": 280.0,
}  # fmt: skip


def buoy(**more: float) -> Made:
    """Return what a moored buoy of 3 15 008 says, with a spectrum of three bands."""
    values = WHEN | PLACE | {"#1#marineObservingPlatformIdentifier": 6200107, "#1#dataBuoyType": 18}
    for band, (frequency, direction) in enumerate(((0.002, 244), (0.09, 150), (0.3, 300)), 1):
        values[f"#{band}#wavebandCentralFrequency"] = frequency
        values[f"#{band}#meanDirectionFromWhichWavesAreComing"] = direction
        values[f"#{band}#principalDirectionFromWhichWavesAreComing"] = direction
    values |= {"#1#significantWaveHeight": 3.4, "#1#averageWavePeriod": 6.5,
               "#1#spectralPeakWavePeriod": 9.7}  # fmt: skip
    values |= {f"#1#{name}": value for name, value in more.items()}
    return Made(31, 315008, values, {SHORT: [0, 0, 1, 1, 0, 0, 0], LONG: [3]})


def ship(**waves: float) -> Made:
    """Return what a ship of 3 08 009 says: directions 0 22 001 to 003, two swells always there."""
    told = {key.replace("first_", "#1#").replace("second_", "#2#"): v for key, v in waves.items()}
    return Made(1, 308009, SHIP | told, {LONG: [1]})


DRIFTER = {SHORT: [1, 0, 0, 0], LONG: [2]}
MESSAGES = {
    "one flight": Made(4, 311001, FLIGHT),
    "two flights packed": Made(4, 311001, FLIGHT, head={"numberOfSubsets": 2, "compressedData": 1}),
    "balloon": Made(2, 309052, BALLOON, {LONGER: [3], LONG: [0]}),
    "buoy": buoy(directionFromWhichDominantWavesAreComing=160),
    "buoy, no direction": buoy(),
    "old number": Made(31, 308003, WHEN | PLACE | {
        "#1#buoyOrPlatformIdentifier": 62017, "#1#windSpeedAt10M": 10.0,
        "#1#windDirectionAt10M": 230}),
    "waves and a swell": ship(
        first_wavesDirection=250, first_periodOfWaves=8, first_heightOfWaves=4.0,
        first_windWavesDirection=260, first_periodOfWindWaves=6, first_heightOfWindWaves=2.0,
        first_swellWavesDirection=310, first_periodOfSwellWaves=13, first_heightOfSwellWaves=3.5),
    "two swells": ship(
        first_heightOfWindWaves=2.0, first_periodOfWindWaves=6,
        first_heightOfSwellWaves=3.0, first_periodOfSwellWaves=12, first_swellWavesDirection=300,
        second_heightOfSwellWaves=1.5, second_periodOfSwellWaves=16,
        second_swellWavesDirection=200),
    "mast": Made(31, [301011, 301012, 301021, 1087, 7032, 11001, 11002, 7032, 11001, 11002],
        WHEN | PLACE | {
            "#1#marineObservingPlatformIdentifier": 6200107,
            "#1#heightOfSensorAboveLocalGroundOrDeckOfMarinePlatform": 80.0,
            "#1#windDirection": 10, "#1#windSpeed": 25.0,
            "#2#heightOfSensorAboveLocalGroundOrDeckOfMarinePlatform": 10.0,
            "#2#windDirection": 20, "#2#windSpeed": 15.0}),
    "airfield": Made(0, 307011, WHEN | PLACE | {
        "#1#icaoLocationIndicator": "XYZZ", "#1#windDirection": 290, "#1#windSpeed": 5.0,
        "#1#airTemperature": 292.2, "#1#dewpointTemperature": 285.2,
        "#1#altimeterSettingQnh": 101_320}),
    "soil": Made(0, [301001, 301011, 301012, 301021, 12030], WHEN | PLACE | {
        "#1#blockNumber": 11, "#1#stationNumber": 406, "#1#soilTemperature": 278.9}),
    "ships packed": Made(1, 308009, SHIP | {
        "#1#shipOrMobileLandStationIdentifier": [f"XT{i:03d}" for i in range(120)],
        "#1#latitude": [40.0 + i / 10 for i in range(120)],
        "#1#windSpeed": [float(i % 40) for i in range(120)],
        "#1#swellWavesDirection": 310, "#1#heightOfSwellWaves": [i / 10 for i in range(120)]},
        {LONG: [1]}, {"numberOfSubsets": 120, "compressedData": 1}),
    "ships not packed": Made(1, [301011, 301012, 301021, 1011, 11001, 11002], {
        f"#{number}#{name.removeprefix('#1#')}": value for number in range(1, 31)
        for name, value in (WHEN | PLACE | {
            "shipOrMobileLandStationIdentifier": f"XT{number:03d}",
            "windSpeed": float(number), "windDirection": 260.0}).items()},
        head={"numberOfSubsets": 30}),
    "no names packed": Made(1, [301011, 301012, 301021, 22042], WHEN | {
        "#1#latitude": [40.0 + i / 10 for i in range(120)], "#1#longitude": -8.5,
        "#1#oceanographicWaterTemperature": 285.0},
        head={"numberOfSubsets": 120, "compressedData": 1}),
    "drifter": Made(31, 315009, CHAIN | {"#1#oceanographicWaterTemperature": 286.4}, DRIFTER),
    "drifter, depths only": Made(31, 315009, CHAIN, DRIFTER),
}  # fmt: skip


@pytest.fixture(scope="module")
def made() -> dict[str, tuple[bytes, Reading]]:
    return made_and_read(MESSAGES, AT)


@pytest.fixture(scope="module")
def readings(made: dict[str, tuple[bytes, Reading]]) -> dict[str, Reading]:
    return {name: reading for name, (_, reading) in made.items()}


def only(reading: Reading) -> dict[str, Any]:
    assert reading.rejects == []
    (draft,) = reading.drafts
    assert draft.valid_at == AT
    return dict(draft.payload)


@pytest.mark.parametrize("name", ["one flight", "two flights packed"])
def test_an_airliner_is_no_ship(readings: dict[str, Reading], name: str) -> None:
    """Table D 3 11 001, category 4: what is measured at flight level is no surface report."""
    assert readings[name].drafts == []
    (reject,) = readings[name].rejects
    assert "aircraft" in reject.reason
    assert "surface" in reject.reason


def test_a_balloon_is_no_land_station(readings: dict[str, Reading]) -> None:
    """Table D 3 09 052, category 2; its first level lies near the ground, the next do not."""
    assert readings["balloon"].drafts == []
    assert ["upper air" in reject.reason for reject in readings["balloon"].rejects] == [True]


def test_a_buoys_waves_come_from_its_dominant_direction_and_it_is_a_buoy(
    readings: dict[str, Reading],
) -> None:
    """A band of the spectrum is none of the whole sea's; category 31 is no ship."""
    found = only(readings["buoy"])
    assert (found["station"], found["sort"]) == ("6200107", "buoy")
    assert found["wave_from_true_deg"] == 160.0
    assert (found["hs_m"], found["mean_period_s"], found["tp_s"]) == (3.4, 6.5, 9.7)


def test_a_buoy_without_a_dominant_direction_has_none(readings: dict[str, Reading]) -> None:
    assert "wave_from_true_deg" not in only(readings["buoy, no direction"])


def test_a_buoy_by_its_old_number_has_a_name(readings: dict[str, Reading]) -> None:
    found = only(readings["old number"])
    assert (found["station"], found["sort"]) == ("62017", "buoy")
    assert found["wind_kn"] == pytest.approx(10.0 / KN, abs=0.006)


def test_a_ships_waves_and_one_swell_are_read_with_their_directions(
    readings: dict[str, Reading],
) -> None:
    found = only(readings["waves and a swell"])
    assert (found["station"], found["sort"]) == ("XTST1", "ship")
    assert (found["hs_m"], found["wave_from_true_deg"]) == (4.0, 250.0)
    assert (found["wind_wave_hs_m"], found["wind_wave_from_true_deg"]) == (2.0, 260.0)
    assert (found["swell_hs_m"], found["swell_tp_s"]) == (3.5, 13.0)
    assert found["swell_from_true_deg"] == 310.0
    assert found["wind_kn"] == pytest.approx(14.0 / KN, abs=0.006)
    assert (found["air_c"], found["sea_c"], found["pressure_hpa"]) == (11.1, 12.2, 998.7)
    assert found["visibility_nmi"] == 10.0


def test_seas_seen_apart_make_one_height_and_the_second_swell_counts(
    readings: dict[str, Reading],
) -> None:
    """The whole sea's energy is the sum: √(2² + 3² + 1.5²) = 3.91 m."""
    found = only(readings["two swells"])
    assert (found["swell_hs_m"], found["swell_from_true_deg"]) == (3.0, 300.0)
    assert found["hs_m"] == 3.91


def test_of_a_drifters_levels_the_one_at_the_surface_is_the_seas(
    readings: dict[str, Reading],
) -> None:
    """3 15 009: a temperature without a depth stands before those of a chain with depths."""
    found = only(readings["drifter"])
    assert (found["station"], found["sort"]) == ("4400513", "buoy")
    assert (found["sea_c"], found["pressure_hpa"]) == (13.25, 1002.4)


def test_a_temperature_from_the_depth_is_not_the_surfaces(readings: dict[str, Reading]) -> None:
    assert "sea_c" not in only(readings["drifter, depths only"])


def test_of_winds_at_several_heights_the_one_at_ten_metres_counts(
    readings: dict[str, Reading],
) -> None:
    """Table B 0 07 032 holds for what follows it; WMO-No. 8: surface wind is that at 10 m."""
    found = only(readings["mast"])
    assert found["wind_kn"] == pytest.approx(15.0 / KN, abs=0.01)
    assert (found["wind_from_true_deg"], "10 m" in found["note"]) == (20.0, True)


def test_an_airfields_report_is_known_by_its_location_indicator(
    readings: dict[str, Reading],
) -> None:
    """Table D 3 07 011: a METAR in BUFR bears no number, only 0 01 063."""
    found = only(readings["airfield"])
    assert (found["station"], found["sort"]) == ("XYZZ", "airfield")
    assert found["wind_kn"] == pytest.approx(5.0 / KN, abs=0.006)
    assert (found["wind_from_true_deg"], found["air_c"], found["dew_c"]) == (290.0, 19.05, 12.05)
    assert found["pressure_hpa"] == 1013.2


def test_a_message_without_anything_of_use_is_told_so(readings: dict[str, Reading]) -> None:
    """A message has no line; what was measured there is of no use to the plot."""
    assert readings["soil"].drafts == []
    (reject,) = readings["soil"].rejects
    assert reject.reason == "message 1: nothing of use here was measured"


def test_every_packed_ship_has_her_own_values_and_what_all_share(
    readings: dict[str, Reading],
) -> None:
    """Compressed: an element is packed as one value of all, or one for each subset (vol. I.2)."""
    assert readings["ships packed"].rejects == []
    found = [dict(draft.payload) for draft in readings["ships packed"].drafts]
    assert [one["station"] for one in found] == [f"XT{i:03d}" for i in range(120)]
    for i, one in enumerate(found):
        assert one["latitude_deg"] == pytest.approx(40.0 + i / 10, abs=1e-5)
        assert one["wind_kn"] == pytest.approx((i % 40) / KN, abs=0.006)
        assert one["swell_hs_m"] == pytest.approx(i / 10, abs=0.006)
        assert (one["longitude_deg"], one["swell_from_true_deg"]) == (-8.5, 310.0)
        assert one.get("wind_from_true_deg") == (None if i % 40 == 0 else 260.0)  # calm has none


def test_reports_that_are_not_packed_keep_their_own_values(readings: dict[str, Reading]) -> None:
    found = [dict(draft.payload) for draft in readings["ships not packed"].drafts]
    assert [one["station"] for one in found] == [f"XT{i:03d}" for i in range(1, 31)]
    assert [one["wind_kn"] for one in found] == pytest.approx(
        [number / KN for number in range(1, 31)], abs=0.006
    )


def test_a_file_of_seven_thousand_packed_points_ends_in_its_own_reason_not_in_its_time(
    made: dict[str, tuple[bytes, Reading]],
) -> None:
    """As an analysis of the sea's temperature is sent: 60 messages of 120 points without a name."""
    (feed,) = [feed for feed in all_feeds() if feed.key == "bufr"]
    got: list[Reading] = []
    read_content(made["no names packed"][0] * 60, "sea.bufr", AT, got.append, feed=feed)
    reasons = [reject.reason for reading in got for reject in reading.rejects]
    assert sum(len(reading.drafts) for reading in got) == 0
    assert len(reasons) == 60
    assert reasons[6] == (
        "message 7, each of its 120 subsets: it names no station, by number, "
        "sign or WIGOS identifier"
    )


def test_seven_thousand_packed_ships_are_all_read(
    made: dict[str, tuple[bytes, Reading]],
) -> None:
    (feed,) = [feed for feed in all_feeds() if feed.key == "bufr"]
    got: list[Reading] = []
    read_content(made["ships packed"][0] * 60, "ships.bufr", AT, got.append, feed=feed)
    assert [reject.reason for reading in got for reject in reading.rejects] == []
    assert sum(len(reading.drafts) for reading in got) == 7_200
