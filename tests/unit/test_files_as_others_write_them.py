"""Standard forms as other software writes them: the variations of its trade, by the standards.

Each file is written here from the published form: NMEA 0183 4.x (from memory), CF 1.11, RFC 7946
and its forerunner of 2008, IEC 61174, XML 1.0. Expected values are those that were put in.
"""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from functools import reduce
from operator import xor
from pathlib import Path
from typing import Any

import gsw
import netCDF4
import numpy as np
import pytest
from pyais.encode import encode_dict

from layers.contract import Origin, Reading
from layers.ingest import read_content
from layers.tracks.feeds import ais_csv_feed, map_feed, nmea_feed, rtz_feed
from layers.transponders.sound import ctd_feed, profile_csv_feed
from layers.weather.feeds import ndbc_feed, netcdf_feed
from layers.weather.forecast.fields import unpacked

AT = datetime(2027, 3, 16, 6, 35, tzinfo=UTC)


def origin(name: str, **more: Any) -> Origin:
    return Origin(source=name, received_at=AT, digest="d" * 64, **more)


def sentence(body: str) -> str:
    return f"${body}*{reduce(xor, body.encode(), 0):02X}\r\n"


FIX = "4930.1234,N,00815.5678,W"


@pytest.mark.parametrize(
    "body",
    [f"GPRMC,101112.00,A,{FIX},12.3,201.5,130327,,,S", f"GPGLL,{FIX},101112.00,A,S",
     f"GPGGA,101112.00,{FIX},8,08,0.9,5.2,M,47.0,M,,"],
)  # fmt: skip
def test_a_receiver_that_simulates_has_no_fix(body: str) -> None:
    reading = nmea_feed.read(sentence(body).encode(), origin("a.log", stream=True))
    assert reading.drafts == []
    assert ["simulates" in reject.reason for reject in reading.rejects] == [True]


def test_a_place_reckoned_without_satellites_says_so() -> None:
    body = f"GPRMC,101112.00,A,{FIX},12.3,201.5,130327,,,E"
    (draft,) = nmea_feed.read(sentence(body).encode(), origin("a.log")).drafts
    assert draft.payload["said_by"] == "RMC reckoned"


def test_the_first_line_after_a_byte_order_mark_dates_the_log() -> None:
    log = sentence(f"GNRMC,101112.00,A,{FIX},12.3,201.5,130327,3.1,W,A,V") + sentence(
        f"GNGGA,101113.00,{FIX},1,08,0.9,5.2,M,47.0,M,,"
    )
    got: list[Reading] = []
    read_content(b"\xef\xbb\xbf" + log.encode(), "a.log", AT, got.append)
    drafts = [draft for reading in got for draft in reading.drafts]
    first = datetime(2027, 3, 13, 10, 11, 12, tzinfo=UTC)
    assert [d.valid_at for d in drafts] == [first, first + timedelta(seconds=1)]


ROUTE = """<?xml version="1.0" encoding="{0}"?>
<route version="1.0" xmlns="http://www.cirm.org/RTZ/1/0"><routeInfo routeName="T"/><waypoints>
<defaultWaypoint radius="0.5"><leg geometryType="Orthodrome"/></defaultWaypoint>
<waypoint id="1"><position lat="50.5" lon="-8"/></waypoint>
<waypoint id="2"><position lat="50.75" lon="-7.5"/></waypoint>
<waypoint id="3"><position lat="51" lon="-7"/><leg geometryType="Loxodrome"/></waypoint>
</waypoints></route>"""


def test_a_route_in_utf_16_is_whole() -> None:
    got: list[Reading] = []
    read_content(ROUTE.format("UTF-16").encode("utf-16"), "r.rtz", AT, got.append)
    (draft,) = [draft for reading in got for draft in reading.drafts]
    assert [p["latitude_deg"] for p in draft.payload["waypoints"]] == [50.5, 50.75, 51.0]


def test_the_default_waypoints_leg_holds_where_a_leg_says_nothing() -> None:
    (draft,) = rtz_feed.read(ROUTE.format("UTF-8").encode(), origin("r.rtz")).drafts
    legs = [point["leg"] for point in draft.payload["waypoints"]]
    assert legs == ["great circle", "great circle", "rhumb line"]


def area(system: str | None) -> bytes:
    box = [[-60.0, 49.0], [-70.0, 49.0], [-70.0, 50.0], [-60.0, 49.0]]
    held: dict[str, Any] = {"type": "Feature", "properties": {"name": "B"},
                            "geometry": {"type": "Polygon", "coordinates": [box]}}  # fmt: skip
    whole: dict[str, Any] = {"type": "FeatureCollection", "features": [held]}
    if system is not None:
        whole["crs"] = {"type": "name", "properties": {"name": system}}
    return json.dumps(whole).encode()


@pytest.mark.parametrize(
    ("system", "read"),
    [(None, True), ("urn:ogc:def:crs:OGC:1.3:CRS84", True), ("urn:ogc:def:crs:EPSG::4326", True),
     ("EPSG:4326", True), ("urn:ogc:def:crs:EPSG::3857", False), ("EPSG:25832", False)],
)  # fmt: skip
def test_a_map_file_in_metres_is_not_read_as_degrees(system: str | None, read: bool) -> None:
    """GeoJSON of 2008 let a file name another system; few metres look like degrees."""
    reading = map_feed.read(area(system), origin("a.geojson", meant="area"))
    assert (len(reading.drafts), len(reading.rejects)) == ((1, 0) if read else (0, 1))
    if not read:
        assert "WGS 84" in reading.rejects[0].reason


def waves(path: Path, units: str, numbers: list[float], calendar: str) -> Reading:
    with netCDF4.Dataset(path, "w") as file:
        for name, unit, values in (
            ("time", units, numbers), ("lat", "degrees_north", [51.0, 50.0, 49.0]),
            ("lon", "degrees_east", [351.0, 352.0, 353.0, 354.0]),
        ):  # fmt: skip
            file.createDimension(name, len(values))
            axis = file.createVariable(name, "f8", (name,))
            axis.units = unit
            axis[:] = values
        file["time"].calendar = calendar
        height = file.createVariable("h", "f4", ("time", "lat", "lon"))
        height.standard_name, height.units = "sea_surface_wave_significant_height", "m"
        height[:] = np.arange(12 * len(numbers)).reshape(len(numbers), 3, 4) / 10.0
    return netcdf_feed.read(path.read_bytes(), origin("w.nc"))


@pytest.mark.parametrize(
    ("since", "calendar"),
    [("0001-01-01 00:00:00", "proleptic_gregorian"), ("1900-12-31 00:00:00", "standard"),
     ("1858-11-17", "Gregorian"), ("1-1-1 00:00:00", "standard")],
)  # fmt: skip
def test_days_since_long_ago_are_days(tmp_path: Path, since: str, calendar: str) -> None:
    """The mixed calendar of CF has no 5 to 14 October 1582 (CF 1.11, 4.4.1)."""
    year, month, day = (int(part) for part in since.split()[0].split("-"))
    days = float((datetime(2027, 3, 16) - datetime(year, month, day)).days)  # noqa: DTZ001  days of a calendar, in no zone
    if (year, calendar) == (1, "standard"):
        days += 2.0  # 1 January of the year 1 of the older calendar is 30 December of ours
    reading = waves(tmp_path / "w.nc", f"days since {since}", [days, days + 0.25], calendar)
    (blob,) = reading.blobs.values()
    grid = unpacked(blob)
    told = np.asarray(grid.times_us).astype("datetime64[us]")
    assert told[0] == np.datetime64("2027-03-16T00:00")
    assert told[1] == np.datetime64("2027-03-16T06:00")
    assert grid.values[0, 2, 0, 0] == pytest.approx(0.0)  # 51 N 9 W, the first as written
    assert grid.values[0, 0, 3, 0] == pytest.approx(1.1, abs=0.01)  # 49 N 6 W


def test_a_calendar_without_real_dates_is_refused_in_plain_words(tmp_path: Path) -> None:
    reading = waves(tmp_path / "w.nc", "days since 2000-01-01", [9795.0, 9796.0], "360_day")
    assert reading.drafts == []
    assert "no real dates" in reading.rejects[0].reason
    assert "python" not in "".join(reject.reason for reject in reading.rejects)


CAST = """* Sea-Bird SBE 9 Data File:
* NMEA Latitude = 49 30.00 N
* NMEA Longitude = 008 15.00 W
* NMEA UTC (Time) = Mar 15 2027 10:11:12
# nquan = 3
# name 0 = depSM: Depth [salt water, m]
# name 1 = t090C: Temperature [ITS-90, deg C]
# name 2 = sal00: Salinity, Practical [PSU]
# bad_flag = -9.990e-29
*END*
       2.000     12.5000     35.1000
      10.500     12.4000     35.1100
     100.250      9.7500     35.3000
"""


def test_a_cast_with_decimal_commas_is_the_same_cast() -> None:
    head, figures = CAST.split("*END*")
    point = ctd_feed.read(CAST.encode(), origin("a.cnv"))
    comma = ctd_feed.read((head + "*END*" + figures.replace(".", ",")).encode(), origin("a.cnv"))
    assert comma.drafts[0].payload == point.drafts[0].payload
    assert comma.drafts[0].payload["depth_m"] == [2.0, 10.5, 100.25]
    assert comma.rejects == point.rejects == []


def cast(names: dict[str, tuple[float | str, ...]], place: str = "") -> Reading:
    """Return what is read of a cast with these columns, each figure eleven letters wide."""
    head = CAST[: CAST.index("# name 0")].replace("nquan = 3", f"nquan = {len(names)}")
    if place:
        head = "".join(x for x in head.splitlines(True) if "itude" not in x) + place
    head += "".join(f"# name {n} = {name}\n" for n, name in enumerate(names))
    rows = zip(*names.values(), strict=True)
    text = head + "*END*\n" + "".join("".join(f"{v!s:>11}" for v in row) + "\n" for row in rows)
    return ctd_feed.read(text.encode("latin-1"), origin("x.cnv"))


HUNDRED_DBAR_M = float(-gsw.z_from_p(100.0, 49.5))
SALT = {"sal00: Salinity, Practical [PSU]": (34.1, 34.2, 34.3)}
WARM = {"t090C: Temperature [ITS-90, deg C]": (13.5, 12.5, 11.5)}


@pytest.mark.parametrize(
    ("column", "figures", "metres"),
    [  # 100 dbar at 49.5° by TEOS-10's own routine; a pound per square inch is 0.6894757 dbar
        ("prDM: Pressure, Digiquartz [db]", (10.0, 50.0, 100.0), HUNDRED_DBAR_M),
        ("prDE: Pressure, Digiquartz [psi]", (10.0, 50.0, 145.0377), HUNDRED_DBAR_M),
        ("prDE: Pressure, Digiquartz", (10.0, 50.0, 145.0377), HUNDRED_DBAR_M),
        ("depSF: Depth [salt water, ft]", (10.0, 50.0, 328.084), 100.0),
        ("depSM: Depth [salt water, m]", (10.0, 50.0, 100.0), 100.0),
    ],
)
def test_a_casts_pressure_and_depth_are_in_the_unit_of_their_column(
    column: str, figures: tuple[float, ...], metres: float
) -> None:
    (draft,) = cast({column: figures} | WARM | SALT).drafts
    assert draft.payload["depth_m"][-1] == pytest.approx(metres, abs=0.02)


def test_a_casts_pressure_in_a_unit_that_is_not_known_is_refused() -> None:
    (reject,) = cast({"prDM: Pressure [kgf/cm^2]": (1.0, 5.0, 9.0)} | WARM | SALT).rejects
    assert "kgf/cm^2" in reject.reason


def test_fahrenheit_and_microsiemens_of_a_cast_are_honoured() -> None:
    deep = {"prDM: Pressure, Digiquartz [db]": (10.0, 50.0, 100.0)}
    hot = {"t090F: Temperature [ITS-90, deg F]": (59.0, 55.4, 50.0)}
    (draft,) = cast(deep | hot | SALT).drafts
    assert draft.payload["temperature_c"] == pytest.approx([15.0, 13.0, 10.0])
    # PSS-78's own definition: 42.914 mS/cm at 15 °C and no pressure is 35
    fresh = {
        "t090C: T [ITS-90, deg C]": (15.0,) * 3,
        "c0uS/cm: Conductivity [uS/cm]": (42914.0,) * 3,
    }
    surface = {"prDM: Pressure, Digiquartz [db]": (0.0, 0.1, 0.2)}
    (draft,) = cast(surface | fresh).drafts
    assert draft.payload["salinity"][0] == pytest.approx(35.0, abs=0.01)


def test_figures_of_a_cast_that_touch_are_told_apart_by_their_width() -> None:
    deep = {"prDM: Pressure, Digiquartz [db]": (10.0, 50.0, 100.0)}
    odd = {"c0: Counts": ("-1.49312e+04", "-1.49312e+04", "-1.49312e+04")}
    wide = {name: tuple(str(v)[:11] for v in held) for name, held in odd.items()}
    reading = cast(deep | WARM | wide | SALT)
    assert reading.rejects == []
    assert reading.drafts[0].payload["salinity"] == [34.1, 34.2, 34.3]


def test_a_casts_place_written_half_first_is_its_place() -> None:
    deep = {"prDM: Pressure, Digiquartz [db]": (10.0, 50.0, 100.0)}
    place = "** Latitude: N 44 41.3\n** Longitude: W 063 38.3\n"
    (draft,) = cast(deep | WARM | SALT, place).drafts
    held = (draft.payload["latitude_deg"], draft.payload["longitude_deg"])
    assert held == pytest.approx((44.688333, -63.638333), abs=1e-6)


def test_a_profile_measured_only_on_the_way_up_is_a_profile() -> None:
    deep = {"prDM: Pressure, Digiquartz [db]": (100.0, 50.0, 10.0)}
    (draft,) = cast(deep | WARM | SALT).drafts
    assert draft.payload["temperature_c"] == [11.5, 12.5, 13.5]
    assert any("way up" in note for note in draft.payload["notes"])


def test_a_buoys_wind_in_knots_is_in_knots_however_it_is_written() -> None:
    for word in ("kt", "kts", "kn", "knots"):
        text = f"#YY MM DD hh mm WDIR WSPD GST\n#yr mo dy hr mn degT {word} {word}\n"
        reading = ndbc_feed.read((text + "2027 03 16 05 50 230 20 25\n").encode(), origin("44013"))
        assert reading.rejects == []
        payload = reading.drafts[0].payload
        assert (payload["wind_kn"], payload["gust_kn"]) == (20.0, 25.0)


HEADS = "MMSI,Time,Lat,Lon,SOG"
ROW = "235000101,2027-03-15T10:31:00Z,57.1,-10.2,5.0"


def table(*lines: str, **more: Any) -> Reading:
    return ais_csv_feed.read("\n".join((*lines, "")).encode(), origin("ships.csv", **more))


def fixes(reading: Reading) -> list[tuple[float, float, float | None]]:
    return [
        (p["latitude_deg"], p["longitude_deg"], p["speed_kn"])
        for p in (d.payload for d in reading.drafts if d.kind == "tracks.position")
    ]


def test_the_hemisphere_in_a_column_of_its_own_is_the_sign_of_the_place() -> None:
    heads = "MMSI,Time,Lat,N/S,Lon,E/W,SOG"
    row = "235000101,2027-03-15T10:31:00Z,{},{},{},{},5.0"
    read = table(heads, row.format(57.1, "N", 10.2, "W"), row.format(33.5, "S", 18.25, "E"))
    assert fixes(read) == [(57.1, -10.2, 5.0), (-33.5, 18.25, 5.0)]
    # a sign and a letter, another letter, or none: which half of the earth is not said
    for cells in ((-57.1, "S", 10.2, "W"), (57.1, "W", 10.2, "N"), (57.1, "", 10.2, "W")):
        read = table(heads, row.format(*cells))
        assert (read.drafts, len(read.rejects)) == ([], 1), cells


def test_places_as_people_write_them_in_a_table_are_the_same_place() -> None:
    row = "235000101,2027-03-15T10:{:02d}:00Z,{},{},5.0"
    ways = [("57.1N", "10.2W"), ("5706.0N", "01012.0W"), ("57°06'N", "10°12'W"),
            ("57-06.0N", "010-12.0W"), ("N57.1", "W10.2"), ("57.1", "\u221210.2")]  # fmt: skip
    read = table(HEADS, *(row.format(n, *way) for n, way in enumerate(ways)))
    assert fixes(read) == [(57.1, -10.2, 5.0)] * len(ways)


def test_degrees_without_the_minutes_of_the_next_column_are_no_place() -> None:
    read = table("MMSI,Time,Lat_deg,Lat_min,Lon_deg,Lon_min",
                 "235000101,2027-03-15T10:31:00Z,57,6.0,-10,12.0")  # fmt: skip
    assert read.drafts == []
    assert "degrees and minutes of two columns" in read.rejects[0].reason


@pytest.mark.parametrize("rows", [1, 60_000])
def test_units_in_a_row_below_the_heads_hold_for_the_whole_file(rows: int) -> None:
    # 5 m/s is 9.7192 kn (1 kn = 1852 m in an hour); 60,000 rows are read in several pieces
    body = "\n".join(
        f"235000101,{(AT - timedelta(seconds=n)).isoformat()},57.1,-10.2,5.0" for n in range(rows)
    )
    text = f"{HEADS}\n,UTC,degrees_north,degrees_east,m s-1\n{body}\n"
    found: set[float | None] = set()
    count = 0

    def got(reading: Reading) -> None:
        nonlocal count
        count += len(reading.drafts)
        found.update(draft.payload.get("speed_kn") for draft in reading.drafts)
        assert reading.rejects == []

    read_content(text.encode(), "ships.csv", AT, got)
    assert (found, count) == ({9.7192}, rows)


def test_two_columns_of_one_name_that_differ_say_nothing() -> None:
    read = table(f"{HEADS},Lat,Lon", f"{ROW},57.1,-10.2", f"{ROW},50.1,-8.2")
    assert fixes(read) == [(57.1, -10.2, 5.0)]
    assert [r.reason for r in read.rejects] == ["two columns of latitude that differ: 57.1, 50.1"]
    read = table(f"{HEADS},Latitude", f"{ROW},50.1")
    assert read.drafts == []


def test_a_second_file_behind_the_first_is_not_read_by_the_heads_of_the_first() -> None:
    other = "MMSI,Time,Lon,Lat,SOG"
    read = table(HEADS, ROW, other, "235000102,2027-03-15T10:31:00Z,-10.2,57.1,5.0")
    assert fixes(read) == [(57.1, -10.2, 5.0)]
    assert [(r.line, "two files in one" in r.reason) for r in read.rejects] == [(3, True)]
    # the same heads once more are no harm
    read = table(HEADS, ROW, HEADS, ROW.replace("10:31", "10:32"))
    assert len(fixes(read)) == 2
    assert read.rejects == []


def test_what_was_not_measured_costs_its_cell_and_not_the_row() -> None:
    marks = ("-", "NA", "n/a", "///", "NaN", "")
    read = table(HEADS, *(ROW.replace("5.0", mark).replace("10:31", f"10:{n}1")
                          for n, mark in enumerate(marks)))  # fmt: skip
    assert fixes(read) == [(57.1, -10.2, None)] * len(marks)


def test_the_clock_of_twelve_hours_has_two_twelves() -> None:
    told = {
        "12:05:00 AM": (0, 5),
        "1:15 am": (1, 15),
        "12:05:00 PM": (12, 5),
        "1:15:30 PM": (13, 15),
    }
    for text, (hour, minute) in told.items():
        read = table(HEADS, ROW.replace("2027-03-15T10:31:00Z", f"03/15/2027 {text}"))
        at = read.drafts[0].valid_at
        assert (at.day, at.hour, at.minute) == (15, hour, minute), text


@pytest.mark.parametrize(
    "place", ["4930.1234,,00815.5678,W", "4930.1234,N,00815.5678,", "00815.5678,W,4930.1234,N"]
)
def test_a_fix_without_its_hemispheres_is_not_on_the_equator(place: str) -> None:
    body = f"GPRMC,101112.00,A,{place},12.3,201.5,150327,,,A"
    reading = nmea_feed.read(sentence(body).encode(), origin("a.log"))
    assert reading.drafts == []
    assert [r.reason for r in reading.rejects] == ["RMC without N or S, or without E or W"]


def test_two_receivers_in_one_log_are_not_joined_into_one_fix() -> None:
    one = sentence(f"GPRMC,101112.00,A,{FIX},12.3,201.5,150327,,,A")
    far = sentence("GNRMC,101112.00,A,5030.1234,N,00815.5678,W,12.3,201.5,150327,,,A")
    reading = nmea_feed.read((one + far).encode(), origin("a.log"))
    assert [round(d.payload["latitude_deg"], 4) for d in reading.drafts] == [49.5021]
    assert "two receivers" in reading.rejects[0].reason


def test_positions_on_another_datum_than_the_charts_are_not_taken_until_it_ends() -> None:
    rmc = "GPRMC,1011{}.00,A,{},12.3,201.5,150327,,,A"
    text = (
        sentence("GPDTM,999,X,2.0,N,1.0,W,0.0,W84") + sentence(rmc.format(12, FIX))
        + sentence("GPDTM,W84,,0.0,N,0.0,E,0.0,W84") + sentence(rmc.format(13, FIX))
    )  # fmt: skip
    reading = nmea_feed.read(text.encode(), origin("a.log"))
    assert [d.valid_at.second for d in reading.drafts] == [13]
    assert [r.line for r in reading.rejects] == [2]


@pytest.mark.parametrize(
    "body",
    [f"GPRMC,101112.00,A,{FIX},12.3,201.5,150327,,,M",
     f"GPGGA,101112.00,{FIX},7,08,0.9,5.2,M,47.0,M,,"],
)  # fmt: skip
def test_a_position_that_somebody_typed_in_says_so(body: str) -> None:
    reading = nmea_feed.read(sentence(body).encode(), origin("a.log", stream=True))
    assert [d.payload["said_by"][4:] for d in reading.drafts] == ["typed in"]


def _static(mmsi: int, name: str) -> list[str]:
    fields = {"type": 5, "mmsi": mmsi, "shipname": name, "imo": 9074729, "ship_type": 70}
    return encode_dict(fields, radio_channel="A", sentence_type="VDM", seq_id=3)


def test_parts_of_two_messages_minutes_apart_are_not_one_message() -> None:
    def heard(text: str, at: datetime) -> str:
        tag = f"c:{int(at.timestamp())}"
        return f"\\{tag}*{reduce(xor, tag.encode(), 0):02X}\\{text}\n"

    one, other = _static(235000101, "ONE"), _static(235000102, "OTHER")
    early = AT - timedelta(minutes=20)
    text = heard(one[0], early) + heard(other[1], AT - timedelta(minutes=10))
    reading = nmea_feed.read(text.encode(), origin("a.log"))
    assert (reading.drafts, len(reading.rejects)) == ([], 2)
    text = heard(one[0], early) + heard(one[1], early + timedelta(seconds=2))
    assert len(nmea_feed.read(text.encode(), origin("a.log")).drafts) == 1


def test_transponders_without_a_number_are_not_one_ship() -> None:
    fields = {"type": 1, "mmsi": 0, "lat": 57.1, "lon": -10.2, "speed": 3.0}
    text = encode_dict(fields, radio_channel="A", sentence_type="VDM")[0]
    reading = nmea_feed.read(text.encode(), origin("a.log", stream=True))
    assert reading.drafts == []
    assert ["MMSI 0" in said for said in reading.passed_over] == [True]


ABOUT = "# time: 2027-03-15T10:00Z\n# latitude: 57.1\n# longitude: -10.2\n"


def profile(text: str) -> Reading:
    return profile_csv_feed.read((ABOUT + text).encode(), origin("cast.csv"))


def test_two_casts_in_one_table_are_not_one_cast() -> None:
    rows = "Cast,Depth (m),Temperature (C)\n1,0,12\n1,50,11\n{},0,11.5\n{},60,10.5\n"
    reading = profile(rows.format(2, 2))
    assert reading.drafts == []
    assert "several casts in one table (1; 2)" in reading.rejects[0].reason
    assert profile(rows.format(1, 1)).drafts[0].payload["depth_m"] == [0.0, 50.0, 60.0]


def test_a_column_of_a_cast_that_is_not_used_is_named() -> None:
    reading = profile("Depth (m),Temperature (C),Salinity (kg/kg)\n0,12,0.035\n50,11,0.035\n")
    payload = reading.drafts[0].payload
    assert payload["salinity_kind"] is None
    assert payload["notes"] == ["columns not used: salinity (kg/kg)"]


def test_two_depths_of_one_name_in_a_cast_are_no_depth() -> None:
    reading = profile("Depth (m),Depth (m),Temperature (C)\n0,5,12\n50,55,11\n")
    assert reading.drafts == []


def test_scans_that_the_file_itself_marks_bad_are_not_used() -> None:
    # the processing of a cast marks scans taken while the ship rolled; the mark is bad_flag
    names = ("prDM: Pressure [db]", "t090C: Temperature [ITS-90, deg C]", "flag: 0")
    head = "* Sea-Bird SBE 9 Data File:\n# nquan = 3\n"
    head += "".join(f"# name {n} = {name}\n" for n, name in enumerate(names))
    head += "# start_time = Mar 15 2027 10:00:00 [NMEA time, header]\n"
    head += "# bad_flag = -9.990e-29\n*END*\n"
    rows = " 2.0 12.0 0.0\n 10.0 25.0 -9.990e-29\n 50.0 11.0 0.0\n"
    reading = ctd_feed.read((head + rows).encode(), origin("a.cnv"))
    payload = reading.drafts[0].payload
    assert payload["temperature_c"] == [12.0, 11.0]
    assert "1 scans marked bad in the file set aside" in payload["notes"]
    assert "it states no place in a form that can be read" in payload["notes"]


AREA = {"type": "Polygon", "coordinates": [
    [[-9.0, 49.0], [-8.0, 49.0], [-8.0, 50.0], [-9.0, 49.0]],
    [[-8.5, 49.2], [-8.4, 49.2], [-8.4, 49.3], [-8.5, 49.2]]]}  # fmt: skip
RING = "<LinearRing><coordinates>{}</coordinates></LinearRing>"
HOLED_KML = (
    '<kml xmlns="http://www.opengis.net/kml/2.2"><Placemark><name>A</name><Polygon>'
    f"<outerBoundaryIs>{RING.format('-9,49 -8,49 -8,50 -9,49')}</outerBoundaryIs>"
    f"<innerBoundaryIs>{RING.format('-8.5,49.2 -8.4,49.2 -8.4,49.3 -8.5,49.2')}</innerBoundaryIs>"
    "</Polygon></Placemark></kml>"
)


@pytest.mark.parametrize("text", [json.dumps(AREA), HOLED_KML])
def test_the_hole_of_an_area_is_not_filled_without_a_word(text: str) -> None:
    reading = map_feed.read(text.encode(), origin("a.map", meant="area"))
    assert reading.drafts == []
    assert ["has a hole" in reject.reason for reject in reading.rejects] == [True]
    whole = json.dumps({"type": "Polygon", "coordinates": AREA["coordinates"][:1]})
    assert len(map_feed.read(whole.encode(), origin("a.map", meant="area")).drafts) == 1


def test_shapes_in_a_collection_are_read_and_those_of_no_known_kind_are_counted() -> None:
    line = {"type": "LineString", "coordinates": [[-9.0, 49.0], [-8.0, 49.5]]}
    text = json.dumps({"type": "GeometryCollection", "geometries": [line, {"type": "Curve"}]})
    reading = map_feed.read(text.encode(), origin("a.geojson", meant="route"))
    assert [draft.kind for draft in reading.drafts] == ["tracks.route"]
    assert reading.passed_over == {"shape of a kind that is not read in a file of routes": 1}
    above = HOLED_KML.partition("<Placemark>")[0]
    track = above + "<Placemark><name>B</name><Track><when/></Track></Placemark></kml>"
    reading = map_feed.read(track.encode(), origin("a.kml", meant="route"))
    assert "1 times and 0 places" in reading.rejects[0].reason


def test_the_day_in_a_column_of_its_own_belongs_to_the_time() -> None:
    row = "235000101,{},57.1,-10.2,5.0"
    for cells in ("2027-03-15,10:31:00", "15/03/2027,10:31", "03/15/2027,10:31:00 AM",
                  "15.03.2027,2027-03-15T10:31Z"):  # fmt: skip
        read = table("MMSI,Date,Time,Lat,Lon,SOG", row.format(cells))
        at = read.drafts[0].valid_at
        assert at == datetime(2027, 3, 15, 10, 31, tzinfo=UTC), cells


def test_a_latitude_in_degrees_east_is_no_latitude() -> None:
    row = "235000101,2027-03-15T10:31:00Z,57.1,-10.2,5.0"
    for lat, lon, kept in (("degrees_north", "degrees_east", 1), ("°N", "°E", 1),
                           ("degrees_east", "degrees_north", 0), ("°N", "°W", 0)):  # fmt: skip
        assert len(table(f"MMSI,Time,Lat [{lat}],Lon [{lon}],SOG", row).drafts) == kept
        below = table("MMSI,Time,Lat,Lon,SOG", f",UTC,{lat},{lon},kn", row)
        assert len(below.drafts) == kept


def test_the_number_of_a_station_ashore_or_of_a_buoy_is_no_ships() -> None:
    # ITU-R M.585: 00MID… a coast station (a spreadsheet drops its zeros), 99MID… an aid
    for mmsi in ("002350001", "2350001", "992351001"):
        read = table(HEADS, ROW.replace("235000101", mmsi))
        assert (read.drafts, read.rejects) == ([], [])
        assert any("not of a ship" in said for said in read.passed_over)


def test_a_second_file_is_not_read_in_a_later_piece_either() -> None:
    # 2 MB are one piece; the second file begins in the first piece and fills the second
    body = "".join(
        f"235000101,{(AT - timedelta(seconds=n)).isoformat()},57.1,-10.2,5.0\n" for n in range(9)
    )
    other = "".join(
        f"235000102,{(AT - timedelta(seconds=n)).isoformat()},-10.2,57.1,5.0\n"
        for n in range(50_000)
    )
    found: list[Reading] = []
    text = f"{HEADS}\n{body}MMSI,Time,Lon,Lat,SOG\n{other}"
    read_content(text.encode(), "ships.csv", AT, found.append)
    drafts = [draft for reading in found for draft in reading.drafts]
    assert {draft.payload["subject"] for draft in drafts} == {"mmsi:235000101"}
    assert len(drafts) == 9


def test_a_speed_that_no_ship_can_say_is_left_out_and_told() -> None:
    read = table(HEADS, ROW.replace(",5.0", ",124"), ROW.replace(",5.0", ",102.3"))
    assert [speed for _, _, speed in fixes(read)] == [None, None]
    assert read.doubts == {"speed beyond 102.3, which none is: left out": 1}
