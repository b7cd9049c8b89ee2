"""Nothing wrong is taken, nothing right refused, nothing recorded twice: by cause, on made lines.

Each case is written from the code's published form, not from the reader: ITU-R M.1371 and IMO
SN.1/Circ.289 for AIS, IEC 61174 for routes, RFC 7946 for map files (from memory).
"""

from __future__ import annotations

import io
import json
import zipfile
from datetime import UTC, date, datetime, timedelta
from functools import reduce
from operator import xor

import numpy as np
import pytest
from pyais.encode import encode_dict

from layers.contract import Origin, Reading
from layers.earth import plausible
from layers.ingest import FileTold, read_content
from layers.tracks.feeds import ais_csv_feed, nmea_feed, rtz_feed
from layers.tracks.heard_ais import is_call
from layers.weather.forecast.sound import set_aside

AT = datetime(2026, 11, 28, 12, 0, tzinfo=UTC)
PLACED = {"mmsi": "299000101", "lat": 49.5, "lon": -8.25}


def origin(name: str = "log.nmea", **more: object) -> Origin:
    return Origin(source=name, received_at=AT, digest="d" * 64, **more)  # type: ignore[arg-type]  # fields by their names


def sentence(**fields: object) -> str:
    return encode_dict(PLACED | fields, radio_channel="A", sentence_type="VDM")[0]


def position(**fields: object) -> str:
    moving = {"msg_type": 1, "speed": 12.3, "course": 201.5, "heading": 202}
    return sentence(**(moving | fields))


def line(body: str) -> str:
    return f"${body}*{reduce(xor, body.encode(), 0):02X}"


def log(*lines: str, **more: object) -> Reading:
    return nmea_feed.read("\n".join(lines).encode(), origin(**more))


def kinds(reading: Reading) -> list[str]:
    return [draft.kind for draft in reading.drafts]


def test_a_file_without_any_date_asks_and_a_told_time_dates_it():
    reading = log(position(), position(lat=49.6))
    assert reading.asks.startswith("when was this recorded? 2 facts")
    assert reading.to_keep().drafts == []
    told = AT - timedelta(days=3000)
    answered = log(position(), recorded_at=told)
    assert (answered.asks, answered.drafts[0].valid_at) == ("", told)


UNSET = ["c:12", "c:315964800"]  # 1970, and the first day of GPS


@pytest.mark.parametrize("unset", ["GPRMC,000100.00,A,4930.000,N,00815.000,W,5.0,090.0,060180,,,A",
                                   "GPZDA,000100.00,06,01,1980,00,00"])  # fmt: skip
def test_a_clock_that_is_not_set_dates_nothing(unset: str):
    """Before it has heard a satellite a receiver counts from where its clock begins."""
    alone = log(line(unset), position())
    assert alone.asks.startswith("when was this recorded?")
    assert alone.to_keep().drafts == []
    dated = log(line(unset), position(), line("GPZDA,051500.00,18,06,2012,00,00"))
    assert {draft.valid_at.date() for draft in dated.drafts} == {date(2012, 6, 18)}
    heard = log(line(unset), position(), stream=True)
    assert {draft.valid_at.year for draft in heard.drafts} == {AT.year}


@pytest.mark.parametrize("stamp", UNSET)
def test_a_stamp_of_a_clock_that_is_not_set_is_no_time(stamp: str):
    tagged = f"\\{stamp}*{reduce(xor, stamp.encode(), 0):02X}\\{position()}"
    assert log(tagged).asks.startswith("when was this recorded?")
    (draft,) = log(tagged, line("GPZDA,051500.00,18,06,2012,00,00")).drafts
    assert draft.valid_at == datetime(2012, 6, 18, 5, 15, tzinfo=UTC)


def test_a_row_of_1970_in_a_table_of_ships_is_refused_and_the_rest_stays():
    rows = ("299000101,1970-01-01T00:00:12Z,49.5,-8.25", "299000102,2012-06-18T04:00Z,49.5,-8.25")
    data = "\n".join(("mmsi,time,lat,lon", *rows, "")).encode()
    reading = ais_csv_feed.read(data, origin("ships.csv"))
    assert [draft.payload["subject"] for draft in reading.drafts] == ["mmsi:299000102"]
    assert ["a clock that is not set" in reject.reason for reject in reading.rejects] == [True]


def test_a_base_station_dates_the_lines_before_and_after_it():
    base = sentence(msg_type=4, year=2012, month=6, day=18, hour=4, minute=5, second=6)
    reading = log(position(), base, position(lat=49.6))
    assert [d.valid_at for d in reading.drafts] == [datetime(2012, 6, 18, 4, 5, 6, tzinfo=UTC)] * 2
    assert reading.asks == ""


@pytest.mark.parametrize(
    "form",
    ["{},d-109,S2105,r003669946,1325394060", "1325394060 {}", "2012-01-01T05:01:00Z {}"],
)
def test_a_receivers_own_time_beside_the_sentence_is_its_time(form):
    (draft,) = log(form.format(position())).drafts
    assert draft.valid_at == datetime(2012, 1, 1, 5, 1, tzinfo=UTC)  # 1,325,376,000 s to 2012
    assert draft.payload["time_from"] == "receiver's stamp"


def test_a_day_over_twelve_beside_one_line_tells_which_figure_is_the_day_in_all():
    reading = log(f"29/11/2026 10:00:00 {position()}", f"03/12/2026 10:00:00 {position(lat=49.6)}")
    assert (reading.asks, reading.rejects) == ("", [])
    assert [draft.valid_at for draft in reading.drafts] == [
        datetime(2026, 11, 29, 10, tzinfo=UTC), datetime(2026, 12, 3, 10, tzinfo=UTC)
    ]  # fmt: skip
    assert reading.drafts[0].payload["time_from"] == "receiver's stamp, taken as UTC"


def test_a_date_that_can_be_two_days_asks_and_about_when_answers_it():
    lines = [f"03/04/2026 10:00:00 {position()}"]
    reading = log(*lines)
    assert "two ways (03/04/2026 10:00:00" in reading.asks
    assert reading.to_keep().drafts == []
    for told, day in ((datetime(2026, 4, 5, tzinfo=UTC), (4, 3)),
                      (datetime(2026, 3, 2, tzinfo=UTC), (3, 4))):  # fmt: skip
        answered = log(*lines, recorded_at=told)
        (draft,) = answered.drafts
        assert (answered.asks, draft.valid_at) == ("", datetime(2026, *day, 10, tzinfo=UTC))


def test_a_date_that_can_be_two_days_is_the_one_near_now_where_it_is_heard_now():
    now = datetime(2026, 4, 3, 12, tzinfo=UTC)
    heard = Origin(source="udp", received_at=now, digest="d" * 64, stream=True)
    body = f"04/03/2026 11:59:58 {position()}\n".encode()
    (draft,) = nmea_feed.read(body, heard).drafts
    assert draft.valid_at == datetime(2026, 4, 3, 11, 59, 58, tzinfo=UTC)


def test_days_first_and_months_first_in_one_log_are_refused_not_mixed():
    reading = log(f"29/11/2026 10:00:00 {position()}", f"11/29/2026 10:00:00 {position()}")
    assert reading.drafts == []
    assert ["the day first" in reject.reason for reject in reading.rejects] == [True, True]


def test_sixty_minutes_of_arc_are_no_place():
    when = line("GPZDA,100000.00,28,11,2026,00,00")
    for place in ("5799.001,N,00815.000,W", "5736.001,N,00860.000,W"):
        reading = log(when, line(f"GPGGA,100001.00,{place},1,08,0.9,12.0,M,47.0,M,,"))
        assert reading.drafts == []
        assert ["minutes of arc" in reject.reason for reject in reading.rejects] == [True]


def test_the_same_second_of_another_day_is_another_fix():
    fix = "100000.00,A,5736.000,N,00815.000,W,10.0,090.0"
    reading = log(*(line(f"GPRMC,{fix},{day}1126,,,A") for day in (27, 28)))
    assert [draft.valid_at.day for draft in reading.drafts] == [27, 28]


def test_a_receiver_that_repeats_itself_says_each_sentence_once():
    reading = log(*[line("GPRMC,100000.00,A,5736.000,N,00815.000,W,10.0,090.0,281126,,,A")] * 40)
    (draft,) = reading.drafts
    assert draft.payload["said_by"] == "RMC"


def station_time(year: int) -> str:
    when = {"year": year, "month": 11, "day": 28, "hour": 10, "minute": 5, "second": 7}
    return sentence(msg_type=4, **when)


def test_a_base_station_far_from_the_rest_of_the_log_is_told_and_not_used():
    reading = log(station_time(2026), position(), station_time(2012), position(lat=49.6))
    assert {draft.valid_at.year for draft in reading.drafts} == {2026}
    assert ["NOV 12, far from the rest" in said for said in reading.doubts] == [True]


def test_letters_that_no_sentence_has_cost_their_line_and_not_the_log():
    body = b"AIVDM,2,1,\xb5,A,55P5TL01VIaAL@7W,0"
    spoilt = b"!" + body + b"*%02X" % reduce(xor, body, 0)
    reading = nmea_feed.read(spoilt + b"\n" + position().encode(), origin(stream=True))
    assert (kinds(reading), len(reading.rejects)) == (["tracks.position"], 1)


def test_lawful_empty_sentences_are_no_rejects():
    reading = log(
        line("HEHDT,,T"), line("GPZDA,,,,,,"), line("AISSD,a,b"), line("GPVTG,,T,,M,,N,,K")
    )
    assert reading.rejects == []
    assert sum(reading.passed_over.values()) == 4


def test_calls_for_help_and_wreck_marks_are_kept():
    stamp = line("GPZDA,101112.00,13,03,2026,00,00")
    sart = position(mmsi="970012345", status=14)
    text = sentence(msg_type=14, mmsi="970012345", text="SART ACTIVE")
    mark = sentence(msg_type=21, mmsi="992351000", name="WRECK A", aid_type=4, virtual_aid=1)
    reading = log(stamp, sart, text, mark)
    assert sorted(kinds(reading)) == [
        "tracks.aid", "tracks.position", "tracks.safety_text", "tracks.safety_text",
    ]  # fmt: skip
    assert (
        next(d for d in reading.drafts if d.kind == "tracks.position").payload["nav_status"] == 14
    )
    assert is_call("mmsi:970012345", "SART ACTIVE")
    assert not is_call("mmsi:970012345", "SART TEST")
    assert not is_call("mmsi:235000001", "BUOY OFF STATION")


def test_weather_sent_by_ais_is_an_observation_and_not_available_is_no_value():
    met = sentence(
        msg_type=8, dac=1, fid=31, day=28, hour=11, minute=50, wspeed=22, wgust=127, wdir=230,
        airtemp=9.5, dewpoint=50.1, pressure=1004, waveheight=2.4, waveperiod=63, wavedir=360,
        cspeed=25.5, watertemp=50.1, salinity=51.0, visibility=12.7, swellheight=25.5,
    )  # fmt: skip
    (draft,) = log(met, stream=True).drafts
    values = draft.payload
    assert (draft.kind, draft.valid_at) == ("weather.observation", AT - timedelta(minutes=10))
    assert (values["wind_kn"], values["wind_from_true_deg"], values["hs_m"]) == (22.0, 230.0, 2.4)
    assert not {"gust_kn", "dew_c", "mean_period_s", "sea_c", "current_kn", "salinity_psu"} & {
        *values
    }


HEAD = "MMSI,BaseDateTime,LAT,LON,SOG,COG,Heading,VesselName\n"
ROWS = [f"235070{n:03d},2016-01-12T13:0{n}:11,50.7{n}6667,-1.0{n}293,5.{n},157.8,158,SHIP {n}\n"
        for n in range(9)]  # fmt: skip


def test_the_same_fixes_in_another_file_are_the_same_facts():
    """Shuffled, with other line ends, overlapping, and its rows twice in one file."""
    whole = {d.id for d in ais_csv_feed.read((HEAD + "".join(ROWS)).encode(), origin("a")).drafts}
    for text in (
        HEAD + "".join(reversed(ROWS)),
        (HEAD + "".join(ROWS)).replace("\n", "\r\n"),
        HEAD + "".join(ROWS[3:] + ROWS[3:]),
    ):
        other = Origin(source="b", received_at=AT + timedelta(days=1), digest="e" * 64)
        assert {d.id for d in ais_csv_feed.read(text.encode(), other).drafts} <= whole


def test_a_row_cut_short_is_refused_not_read_as_another_number():
    cut = HEAD + ROWS[0] + ROWS[1][: ROWS[1].index("-1.0") + 2]
    reading = ais_csv_feed.read(cut.encode(), origin("a.csv"))
    assert kinds(reading) == ["tracks.position", "tracks.static"]
    assert "cut short" in reading.rejects[0].reason


RTZ = """<route xmlns="http://www.cirm.org/RTZ/1/1" version="1.1"><routeInfo routeName="R"/>
<waypoints><waypoint id="1"><position lat="50" lon="-8"/></waypoint>
<waypoint id="2"><position lat="50.5" lon="-8"/><leg speedMax="18"/></waypoint></waypoints>
<schedules><schedule id="1"><manual><scheduleElement waypointId="1" etd="2026-11-28T10:00:00Z"/>
<scheduleElement waypointId="2" eta="2026-11-28T{0}" speed="20.0"/>
<scheduleElement waypointId="9" speed="12"/></manual></schedule></schedules></route>"""


def table(heads: str, *rows: str, **more: object) -> Reading:
    return ais_csv_feed.read("\n".join((heads, *rows, "")).encode(), origin("t.csv", **more))


@pytest.mark.parametrize(
    ("head", "figure", "knots"),
    [  # a knot is 1,852 m an hour (International Hydrographic Conference, 1929)
        ("sog (m/s)", "5", 9.7192), ("Speed [m/s]", "5", 9.7192), ("speed_mps", "5", 9.7192),
        ("sog (km/h)", "18.52", 10.0), ("speed_kmh", "18.52", 10.0), ("speed (mph)", "10", 8.6898),
        ("SOG", "5.5", 5.5), ("sog [kn]", "5.5", 5.5), ("SOG_knots", "5.5", 5.5),
        ("speed over ground (knots)", "5.5", 5.5), ("speed (knots/10)", "55", 5.5),
    ],
)  # fmt: skip
def test_the_unit_in_a_head_is_honoured(head: str, figure: str, knots: float):
    reading = table(f"mmsi,time,lat,lon,{head}", f"299000101,2026-11-28T10:00Z,49.5,-8.2,{figure}")
    assert reading.rejects == []
    assert reading.drafts[0].payload["speed_kn"] == pytest.approx(knots, abs=1e-4)


def test_a_unit_that_is_not_known_costs_its_column_and_is_said():
    reading = table("mmsi,time,lat,lon,sog (furlongs)", "299000101,2026-11-28T10:00Z,49.5,-8.2,5")
    assert reading.drafts[0].payload["speed_kn"] is None
    assert ["'furlongs'" in reject.reason for reject in reading.rejects] == [True]


@pytest.mark.parametrize(
    ("heads", "row", "at"),
    [  # the layouts of open archives, and the plain words of exports
        ("# Timestamp,Type of mobile,MMSI,Latitude,Longitude,SOG,COG,Heading",
         "31/12/2015 23:59:59,Class A,299000101,49.5,-8.25,10.4,94.4,97",
         datetime(2015, 12, 31, 23, 59, 59, tzinfo=UTC)),
        ("sourcemmsi,navigationalstatus,speedoverground,courseoverground,trueheading,lon,lat,t",
         "299000101,0,10.4,94.4,97,-8.25,49.5,1443650402",
         datetime(2015, 9, 30, 22, 0, 2, tzinfo=UTC)),
        ("mmsi;imo_nr;date_time_utc;lon;lat;sog;cog;true_heading;nav_status",
         "299000101;0;2013-06-30 23:59:58;-8.25;49.5;10.4;94.4;97;0",
         datetime(2013, 6, 30, 23, 59, 58, tzinfo=UTC)),
        ("MMSI,BaseDateTime,LAT,LON,SOG,COG,Heading",
         "299000101,2017-02-01T20:05:07,49.5,-8.25,10.4,94.4,97",
         datetime(2017, 2, 1, 20, 5, 7, tzinfo=UTC)),
        ("mmsi\ttimestamp\tlatitude (deg)\tlongitude (deg)\tspeed_knots\tcourse (deg)\theading",
         "299000101\t1325394060123\t49.5\t-8.25\t10.4\t94.4\t97",
         datetime(2012, 1, 1, 5, 1, 0, 123000, tzinfo=UTC)),
    ],
)  # fmt: skip
def test_tables_of_ships_are_read_whatever_their_heads_are_called(heads, row, at):
    reading = table("# an export of today", heads, row) if heads[0] != "#" else table(heads, row)
    assert reading.rejects == []
    (draft,) = reading.drafts
    wanted = {"subject": "mmsi:299000101", "latitude_deg": 49.5, "longitude_deg": -8.25,
              "speed_kn": 10.4, "course_true_deg": 94.4, "heading_true_deg": 97.0}  # fmt: skip
    assert (draft.valid_at, {k: draft.payload[k] for k in wanted}) == (at, wanted)


def test_dates_of_a_table_that_can_be_two_days_ask_and_one_over_twelve_settles_all():
    heads, row = "mmsi,time,lat,lon", "299000101,{},49.5,-8.25"
    asked = table(heads, row.format("03/04/2026 10:00"))
    assert "two ways (03/04/2026 10:00" in asked.asks
    told = table(
        heads, row.format("03/04/2026 10:00"), recorded_at=datetime(2026, 4, 1, tzinfo=UTC)
    )
    assert (told.asks, told.drafts[0].valid_at.month) == ("", 4)
    settled = table(heads, row.format("03/04/2026 10:00"), row.format("04/13/2026 10:00"))
    assert (settled.asks, settled.drafts[0].valid_at.month) == ("", 3)
    mixed = table(heads, row.format("13/04/2026 10:00"), row.format("04/13/2026 10:00"))
    assert (mixed.drafts, len(mixed.rejects)) == ([], 1)


@pytest.mark.parametrize("text", ["2026-11-28", "28/11/2026", "10:00:00"])
def test_a_day_without_an_hour_is_no_time_of_a_fix(text):
    reading = table("mmsi,time,lat,lon", f"299000101,{text},49.5,-8.25")
    assert (reading.drafts, len(reading.rejects)) == ([], 1)


def test_times_of_a_places_own_clock_are_not_taken_as_utc():
    reading = table("mmsi,time (CET),lat,lon", "299000101,2026-11-28T10:00,49.5,-8.25")
    assert reading.drafts == []
    assert "'CET', not UTC" in reading.rejects[0].reason


def test_a_station_ashore_and_a_place_not_available_are_no_fix_and_no_reject():
    heads = "# Timestamp,Type of mobile,MMSI,Latitude,Longitude,SOG"
    reading = table(heads, "31/12/2015 23:59:59,Base Station,2990001,49.5,-8.25,",
                    "31/12/2015 23:59:59,AtoN,992991234,49.5,-8.25,",
                    "31/12/2015 23:59:59,Class A,299000101,91.0,181.0,0.0")  # fmt: skip
    assert (reading.drafts, reading.rejects) == ([], [])
    assert sum(n for what, n in reading.passed_over.items() if what != "column heads") == 3


def test_a_long_table_below_comments_keeps_its_heads_in_every_piece():
    rows = "".join(
        f"299000{n % 900 + 100},2026-11-28T{n // 3600 % 24:02d}:{n // 60 % 60:02d}:{n % 60:02d}Z,"
        f"49.{n:06d},-8.25\n"
        for n in range(60_000)
    )
    got: list[Reading] = []
    text = "# exported by a station\n# of the coast\nmmsi,time,lat,lon\n" + rows
    read_content(text.encode(), "long.csv", AT, got.append)
    assert sum(len(reading.drafts) for reading in got) == 60_000
    assert sum(len(reading.rejects) for reading in got) == 0


def test_a_route_keeps_its_schedule_and_a_limit_is_no_plan():
    reading = rtz_feed.read(RTZ.format("11:30:00Z").encode(), origin("r.rtz"))
    first, second = reading.drafts[0].payload["waypoints"]
    assert (first["etd"], second["eta"]) == ("2026-11-28T10:00:00Z", "2026-11-28T11:30:00Z")
    assert second["speed_kn"] == 20.0
    assert ["no waypoint has that id" in reject.reason for reject in reading.rejects] == [True]


@pytest.mark.parametrize(
    ("good", "bad", "told"),
    [('waypoint id="2"', 'waypoint id="1"', "id '1' stands there twice"),
     ("2026-11-28T11", "2026-02-30T11", "'2026-02-30T11:30:00Z' is not a time"),
     ('speedMax="18"', 'speedMax="18" geometryType="Straightest"', "taken as a rhumb line"),
     ('<waypoint id="2">', "<waypoint>", "waypoint 2 has no id"),
     ('<waypoint id="2">', '<waypoint id="2" revision="-3">', "revision '-3', which is none")],
)  # fmt: skip
def test_a_slip_in_a_route_is_told_and_the_route_stays(good: str, bad: str, told: str):
    sound = RTZ.format("11:30:00Z")
    assert good in sound
    reading = rtz_feed.read(sound.replace(good, bad).encode(), origin("r.rtz"))
    assert [len(draft.payload["waypoints"]) for draft in reading.drafts] == [2]
    assert any(told in reject.reason for reject in reading.rejects)
    assert not any(told in r.reason for r in rtz_feed.read(sound.encode(), origin("r.rtz")).rejects)


def test_a_schedule_that_arrives_before_it_leaves_is_told_and_left_out():
    reading = rtz_feed.read(RTZ.format("09:30:00Z").encode(), origin("r.rtz"))
    assert "eta" not in reading.drafts[0].payload["waypoints"][1]
    assert any("before the time that stands before it" in r.reason for r in reading.rejects)


def test_a_schedule_that_asks_for_a_speed_no_ship_has_is_told_and_left_out():
    # 49N to 50N is 60 nmi: in half an hour 120 kn, in five hours 12 kn
    for arrives, kept in (("10:30", False), ("15:00", True)):
        reading = rtz_feed.read(
            f"""<?xml version="1.0"?><route version="1.0" xmlns="http://www.cirm.org/RTZ/1/0">
            <routeInfo routeName="T"/><waypoints>
            <waypoint id="1"><position lat="49" lon="-8"/></waypoint>
            <waypoint id="2"><position lat="49.5" lon="-8"/></waypoint>
            <waypoint id="3"><position lat="50" lon="-8"/></waypoint></waypoints>
            <schedules><schedule id="1"><manual>
            <scheduleElement waypointId="1" etd="2027-03-16T10:00:00Z"/>
            <scheduleElement waypointId="3" eta="2027-03-16T{arrives}:00Z"/>
            </manual></schedule></schedules></route>""".encode(),
            origin("t.rtz"),
        )
        (draft,) = reading.drafts
        assert ("eta" in draft.payload["waypoints"][2]) is kept
        assert ["60 kn over 60 nmi" in reject.reason for reject in reading.rejects] == (
            [] if kept else [True]
        )


def test_what_a_zip_holds_is_not_told_from_its_packed_bytes():
    """A small file is stored in a zip as it is, so that the whole looks like what is inside."""
    kml = (
        '<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.2"><Placemark><name>P</name>'
        "<Point><coordinates>-12.1,57.2,0</coordinates></Point></Placemark></kml>"
    )
    fixes = "mmsi,time,lat,lon\n299000101,2026-11-28T10:00Z,49.5,-8.25\n"
    for name, inner, content, asks in (("k.kmz", "doc.kml", kml, True),
                                       ("t.zip", "t.csv", fixes, False)):  # fmt: skip
        held = io.BytesIO()
        with zipfile.ZipFile(held, "w", zipfile.ZIP_STORED) as archive:
            archive.writestr(inner, content)
        got: list[Reading] = []
        summary = read_content(held.getvalue(), name, AT, got.append)
        assert sum(outcome.rejects for outcome in summary.outcomes) == 0
        assert any(outcome.asks for outcome in summary.outcomes) is asks


@pytest.mark.parametrize(
    ("inside", "todo"),
    [("<NetworkLink><Link><href>https://example.org/a.kml</href></Link></NetworkLink>",
      "save that one"),
     ("<Placemark><name>P</name></Placemark>", "no point, line or polygon")],
)  # fmt: skip
def test_a_map_file_without_a_shape_says_what_it_holds_and_what_to_do(inside: str, todo: str):
    kml = (
        '<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.2" '
        f'xmlns:gx="http://www.google.com/kml/ext/2.2"><Document>{inside}</Document></kml>'
    )
    got: list[Reading] = []
    read_content(kml.encode(), "a.kml", AT, got.append)
    (reject,) = got[0].rejects
    assert todo in reject.reason


def test_a_map_file_is_what_a_person_says_it_is():
    shapes = json.dumps({"type": "FeatureCollection", "features": [
        {"type": "Feature", "properties": {"name": "Box"}, "geometry": {"type": "Polygon",
         "coordinates": [[[-8, 49], [-7, 49], [-7, 50], [-8, 49]]]}},
        {"type": "Feature", "properties": {"what": "slick", "object_type": "OIL", "sigma_m": 200,
         "observer": "A", "time": "2026-11-28T10:00Z"},
         "geometry": {"type": "Point", "coordinates": [-8.5, 49.25]}},
        {"type": "Feature", "properties": {}, "geometry": {"type": "Point", "coordinates": [1, 2]}},
    ]}).encode()  # fmt: skip
    found = {}
    for meant in ("", "area", "evidence", "route"):
        got: list[Reading] = []
        summary = read_content(shapes, "m.json", AT, got.append, told=FileTold(meant=meant))
        found[meant] = (dict(summary.outcomes[0].records), summary.outcomes[0].rejects)
    assert found[""] == ({}, 0)
    assert found["area"] == ({"tracks.area": 1}, 0)
    assert found["evidence"] == ({"datum.sighting": 1}, 1)  # the second point says nothing
    assert found["route"] == ({}, 0)


@pytest.mark.parametrize(
    ("field", "value", "odd"),
    [
        ("wind_kn", 194.4, True),
        ("wind_kn", 97.2, False),
        ("air_c", -89.9, True),
        ("hs_m", 19.0, False),
        ("hs_m", 19.1, True),
        ("pressure_hpa", 869.0, True),
        ("sea_c", 38.0, True),
    ],
)
def test_beyond_what_was_ever_found_is_doubtful(field, value, odd):
    """Records of the WMO archive (from memory): 870 hPa, 19.0 m, -89.2 °C; 185 kn (US NHC)."""
    assert bool(plausible.doubt(field, value)) is odd


def test_a_fix_at_zero_zero_and_a_ship_at_ninety_knots_are_doubtful():
    fix = {"subject": "mmsi:299000101", "latitude_deg": 0.0, "longitude_deg": 0.0}
    assert "0 N 0 E" in plausible.doubts_of("tracks.position", fix)["latitude_deg"]
    fast = fix | {"latitude_deg": 50.0, "speed_kn": 90.0}
    assert list(plausible.doubts_of("tracks.position", fast)) == ["speed_kn"]
    assert plausible.doubts_of("tracks.position", fast | {"subject": "mmsi:111232506"}) == {}


def test_a_grid_in_the_wrong_unit_or_never_filled_is_not_used():
    reading = Reading()
    shape = (1, 5, 6)
    held = set_aside(
        {
            "air_c": np.full(shape, -272.0),
            "hs_m": np.zeros(shape),
            "pressure_hpa": np.where(np.arange(30).reshape(shape) == 7, 9999.0, 1010.0),
        },
        origin("f.grib"),
        reading,
    )
    assert list(held) == ["pressure_hpa"]
    assert np.isnan(held["pressure_hpa"]).sum() == 1
    assert len(reading.rejects) == 2
    assert sum(reading.doubts.values()) == 1


@pytest.mark.parametrize(
    ("content", "seems"),
    [(b'{"a": [1, 2]}', "JSON without records"), (b"%PDF-1.7 x", "a PDF"),
     (b"MSG,3,1,1,4CA2D1,1,2026/11/28\n" * 3, "aircraft positions"),
     (b"name,colour,shape\na,b,c\n", "a table whose heads are"), (b"<foo><bar/></foo>", "XML"),
     (b"#\tName\tAmplitude\tPhase\tDescription\n1\tM2\t0.1\t59\tlunar constituent\n",
      "tidal constants; type them for the port"),
     (b"TAF XYZZ 160500Z 1606/1712 27045G65KT 9999 BKN010=\n", "forecasts for airfields (TAF)"),
     (b"Date Time, Prediction\n2023-08-29 00:00,0.761\n", "predicted heights of the tide"),
     (b"Filename = a.ladcp\r\nFields = z:u:v\r\n   0    9.2  -19.1\r\n", "currents measured over")],
)  # fmt: skip
def test_a_file_of_no_known_kind_is_told_what_it_seems_to_be_in_one_short_sentence(content, seems):
    got: list[Reading] = []
    read_content(content, "x", AT, got.append)
    (reject,) = got[0].rejects
    assert seems in reject.reason
    assert len(reject.reason) < 450
