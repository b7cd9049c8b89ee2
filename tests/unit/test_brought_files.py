"""Files of others: one bad sentence, shape or point costs itself, and no half figure is told.

The cases are from a trial with public files that were not among the samples; the forms are those
of the published standards, named beside each.
"""

from __future__ import annotations

import json
import re
from datetime import UTC, datetime
from functools import reduce
from operator import xor
from typing import Any

import gpxpy
import pytest
from pyais.encode import encode_dict

from layers.contract import Origin, Reading
from layers.tracks.feeds import ais_csv_feed, gpx_feed, map_feed, nmea_feed, rtz_feed
from layers.transponders.sound import ctd_feed, profile_csv_feed
from layers.weather.feeds import ndbc_feed, synop_feed
from layers.weather.feeds.lines import station_of_source
from tests.samples import sample

AT = datetime(2026, 12, 1, 12, 0, tzinfo=UTC)
EPOCH = 1_796_033_730  # 2026-11-30 10:15:30 UTC
M_S_PER_KN = 1852.0 / 3600.0
RMC = "GPRMC,101530.00,A,4948.0000,N,00830.0000,W,5.5,215.0,301126,,,A"


def origin(name: str, meant: str = "") -> Origin:
    return Origin(source=name, received_at=AT, digest="d" * 64, meant=meant)


def summed(body: str, start: str = "$") -> str:
    return f"{start}{body}*{reduce(xor, body.encode(), 0):02X}"


def tag(body: str) -> str:
    return f"\\{body}*{reduce(xor, body.encode(), 0):02X}\\"


def log(*lines: str) -> Reading:
    return nmea_feed.read("\n".join(lines).encode() + b"\n", origin("a.nmea"))


def payloads(reading: Reading, kind: str) -> list[dict[str, Any]]:
    return [dict(draft.payload) for draft in reading.drafts if draft.kind == kind]


def ais(**message: Any) -> str:
    (line,) = encode_dict(message, radio_channel="A", sentence_type="VDM")
    return line


def letters(**message: Any) -> str:
    """Return the six-bit letters of a message, those of all its sentences in one."""
    whole = encode_dict(message, radio_channel="A", sentence_type="VDM")
    return "".join(line.split(",")[5] for line in whole)


WEATHER = {
    "msg_type": 8, "mmsi": "002320001", "dac": 1, "fid": 31, "lat": 49.8, "lon": -6.3, "day": 30,
    "hour": 10, "minute": 10, "wspeed": 35, "wgust": 45, "wdir": 230, "airtemp": 11.2,
    "dewpoint": 8.5, "pressure": 1001, "waveheight": 4.5, "waveperiod": 9, "wavedir": 240,
    "swellheight": 3.5, "swellperiod": 11, "swelldir": 250, "cspeed": 1.5, "cdir": 90,
    "watertemp": 12.8, "salinity": 35, "visibility": 5.0,
}  # fmt: skip
SIZE = {"to_bow": 50, "to_stern": 50, "to_port": 8, "to_starboard": 8}
MESSAGES = (
    WEATHER,
    {"msg_type": 5, "mmsi": "235000001", "shipname": "SHIP ONE", "callsign": "AB1",
     "ship_type": 70, **SIZE},
    {"msg_type": 9, "mmsi": "111235501", "lat": 49.8, "lon": -8.5, "speed": 135, "course": 215.4,
     "alt": 300, "second": 30},
    {"msg_type": 14, "mmsi": "972123456", "text": "MOB ACTIVE"},
    {"msg_type": 18, "mmsi": "235000018", "lat": 49.8, "lon": -8.5, "speed": 7.7, "course": 10.0,
     "heading": 11, "second": 30},
    {"msg_type": 19, "mmsi": "235000019", "lat": 49.82, "lon": -8.5, "speed": 7.7, "course": 10.0,
     "heading": 11, "second": 30, "shipname": "CLASS B", "ship_type": 36, **SIZE},
    {"msg_type": 21, "mmsi": "992351001", "lat": 49.84, "lon": -8.5, "name": "WRECK MARK",
     "aid_type": 16, "virtual_aid": 1, "off_position": 1},
    {"msg_type": 24, "partno": 0, "mmsi": "235000018", "shipname": "CLASS B"},
    {"msg_type": 24, "partno": 1, "mmsi": "235000018", "ship_type": 36, "callsign": "CB18", **SIZE},
    {"msg_type": 27, "mmsi": "235000027", "lat": 49.83, "lon": -8.5, "speed": 12, "course": 359},
)  # fmt: skip


@pytest.mark.parametrize("message", MESSAGES, ids=lambda m: f"{m['msg_type']}")
def test_of_an_ais_message_cut_anywhere_nothing_is_told_that_the_whole_does_not_tell(
    message: dict[str, Any],
) -> None:
    """Its checksum is right: the receiver made it of what it heard. Half of a figure's bits is
    another figure (a sea of 4.5 m was told as 1.1 m, 35 kn of wind as 4), and no cut costs the
    other lines of the log."""
    whole = letters(**message)
    fix = summed(RMC)

    def told(cut: str) -> list[tuple[str, dict[str, Any]]]:
        reading = log(fix, tag(f"c:{EPOCH}") + summed(f"AIVDM,1,1,,A,{cut},0", "!"))
        facts = [(draft.kind, dict(draft.payload)) for draft in reading.drafts]
        assert ("tracks.position", "RMC") in {(k, p.get("said_by")) for k, p in facts}
        assert facts[1:] or reading.rejects or reading.passed_over
        return [fact for fact in facts if fact[1].get("said_by") != "RMC"]

    full = told(whole)
    assert full
    for length in range(1, len(whole)):
        for kind, payload in told(whole[:length]):
            (same,) = [held for name, held in full if name == kind]
            if kind == "tracks.safety_text":  # a text's beginning is still its beginning
                assert same["text"].startswith(payload["text"])
            else:
                assert payload == same


def test_one_message_that_lacks_its_place_does_not_cost_the_log() -> None:
    short = summed(f"AIVDM,1,1,,A,{letters(**WEATHER)[:16]},0", "!")
    reading = log(summed(RMC), short, ais(msg_type=1, mmsi="235000001", lat=49.8, lon=-8.5))
    assert len(payloads(reading, "tracks.position")) == 2
    assert [reject.reason for reject in reading.rejects] == ["the AIS payload is cut short"]


@pytest.mark.parametrize(
    ("second", "said_by"),
    [(30, "AIS {}"), (60, "AIS {}"), (61, "AIS {} typed in"), (62, "AIS {} reckoned"),
     (63, "AIS {}, her receiver out of order")],
)  # fmt: skip
@pytest.mark.parametrize("kind", [1, 3, 9, 18, 19])
def test_an_ais_place_that_no_satellites_gave_says_so(kind: int, second: int, said_by: str) -> None:
    """ITU-R M.1371-5, table 48 (from memory): 61 typed in, 62 reckoned, 63 inoperative."""
    message = {"msg_type": kind, "mmsi": "235000034", "lat": 49.85, "lon": -8.5, "second": second}
    lines = encode_dict(message, radio_channel="A", sentence_type="VDM")
    fixes = payloads(log(summed(RMC), *lines), "tracks.position")
    assert {fix["said_by"] for fix in fixes} == {"RMC", said_by.format(kind)}


def test_a_stamp_in_any_zone_and_before_a_tag_block_dates_the_sentence() -> None:
    one, two, three, four = (
        ais(msg_type=1, mmsi=f"23500000{n}", lat=49.8, lon=-8.5) for n in range(1, 5)
    )
    reading = log(
        f"{EPOCH + 5}{tag(f's:VENDOR,q:u,c:{EPOCH}')}{one}",
        f"[2026-11-30T12:15:30+02:00] {two}",
        f"{tag('s:A')}{tag(f'c:{EPOCH}')}{three}",  # two tag blocks (NMEA 0183 4.10, from memory)
        f"{tag(f'c:{EPOCH}')} {four}",
        tag("g:1-1-1,s:A"),  # a tag block alone
    )
    assert reading.rejects == []
    assert {draft.valid_at.timestamp() for draft in reading.drafts} == {EPOCH}
    assert len(reading.drafts) == 4
    assert reading.passed_over["tag block without a sentence"] == 1


def test_parts_are_joined_by_the_group_of_either_form() -> None:
    """NMEA 4.10 writes the group g:1-2-77, IEC 62320-1 1G2:77 (from memory)."""
    message = {"msg_type": 5, "mmsi": "235000001", "shipname": "SHIP ONE", "ship_type": 70, **SIZE}
    other = message | {"mmsi": "235000002", "shipname": "SHIP TWO"}
    lines = [encode_dict(m, radio_channel="A", sentence_type="VDM", seq_id=1) for m in
             (message, other)]  # fmt: skip
    (a, b), (c, d) = lines
    for first, second in (("1G2:{}", "2G2:{}"), ("g:1-2-{}", "g:2-2-{}")):
        reading = log(
            *(tag(f"c:{EPOCH}," + form.format(number)) + line
              for form, number, line in ((first, 77, a), (first, 78, c), (second, 77, b),
                                         (second, 78, d)))
        )  # fmt: skip
        assert [p["name"] for p in payloads(reading, "tracks.static")] == ["SHIP ONE", "SHIP TWO"]
        assert reading.rejects == []


SENTENCES = (
    RMC,
    "GPGGA,101539.00,4947.9300,N,00830.0700,W,1,08,1.0,12.0,M,48.0,M,,",
    "GPGLL,4947.9800,N,00830.0200,W,101532.00,A,A",
    "GNGNS,101531.00,4947.9900,N,00830.0100,W,AAN,14,0.8,12.0,48.0,,,S",
    "GPVTG,214.0,T,216.0,M,5.4,N,10.0,K,A",
    "HEHDT,214.5,T",
    "GPZDA,101541.00,30,11,2026,00,00",
    "GPDTM,W72,,0.0,N,0.0,E,0.0,W84",
)
JUNK = ("X", "-1", "abc", "99999999", "49.5.5", "1e5", "nan", "inf", "25:00", "246060", "0x10", " ")
LANGUAGE = re.compile(r"could not convert|invalid literal|not valid DDDMM|<class|NoneType|Error")


def test_no_field_of_a_sentence_costs_the_log_or_is_answered_in_a_languages_words() -> None:
    """Each field of each sentence that is read, with what cannot stand there."""
    count = 0
    for body in SENTENCES:
        fields = body.split(",")
        for place in range(1, len(fields)):
            for junk in JUNK:
                damaged = ",".join([*fields[:place], junk, *fields[place + 1 :]])
                reading = log(summed(RMC), summed(damaged), summed(RMC.replace("101530", "101550")))
                count += 1
                said = [reject.reason for reject in reading.rejects] + list(reading.doubts)
                assert not any(LANGUAGE.search(words) for words in said), said
                fixes = payloads(reading, "tracks.position")
                # what lies off WGS 84 after a datum is told is refused, and only that
                assert len(fixes) >= (1 if body.startswith("GPDTM") else 2), damaged
                for fix in fixes:
                    course, speed = fix.get("course_true_deg"), fix.get("speed_kn")
                    assert course is None or course == 215.0 or course == 214.0, damaged
                    assert speed is None or 0.0 <= speed < 1200.0, damaged
    assert count == 12 * sum(len(body.split(",")) - 1 for body in SENTENCES)


def test_a_course_that_is_none_is_left_out_and_told_and_the_place_stands() -> None:
    reading = log(summed(RMC.replace(",215.0,", ",4947,")))
    (fix,) = payloads(reading, "tracks.position")
    assert (fix["latitude_deg"], fix["speed_kn"], fix["course_true_deg"]) == (49.8, 5.5, None)
    assert list(reading.doubts) == ["a course of 4947 is none: left out, the place stands"]


@pytest.mark.parametrize(
    ("modes", "said_by"),
    [("AAN", "GNS"), ("NNR", "GNS"), ("EN", "GNS reckoned"), ("MM", "GNS typed in")],
)
def test_a_fix_of_several_systems_of_satellites_is_a_fix(modes: str, said_by: str) -> None:
    """NMEA 0183, GNS (from memory): a letter for each system, N where it gives no fix."""
    body = f"GNGNS,101531.00,4947.9900,N,00830.0100,W,{modes},14,0.8,12.0,48.0,,"
    (_, fix) = payloads(log(summed(RMC), summed(body)), "tracks.position")
    assert fix["latitude_deg"] == pytest.approx(49 + 47.99 / 60.0, abs=1e-7)
    assert fix["said_by"] == said_by


def test_a_fix_of_no_system_is_none_and_a_simulated_one_neither() -> None:
    body = "GNGNS,101531.00,4947.9900,N,00830.0100,W,{},14,0.8,12.0,48.0,,"
    reading = log(summed(RMC), *(summed(body.format(modes)) for modes in ("NNN", "", "SN")))
    assert len(payloads(reading, "tracks.position")) == 1
    assert reading.passed_over["the receiver says it has no fix"] == 2
    assert "simulates" in reading.rejects[0].reason


def test_an_archives_words_for_nothing_are_no_call_sign_and_an_aircraft_may_be_fast() -> None:
    """Danish public archive: "Unknown" and "Undefined" stand where nothing was said, latitude 91
    where there is no place. ITU-R M.585: 111 begins the number of a search aircraft."""
    rows = [
        "# Timestamp,Type of mobile,MMSI,Latitude,Longitude,SOG,COG,Callsign,Name",
        "30/11/2026 00:00:00,Class A,219000001,55.704,10.702,11.2,123.4,Unknown,",
        "30/11/2026 00:00:10,Class B,219000002,91.000000,0.000000,0.0,,Unknown,Undefined",
        "30/11/2026 00:00:20,SAR Airborne,111219501,55.8,11.1,135.0,200.0,Unknown,",
        "30/11/2026 00:00:30,Class A,219000003,55.8,11.1,135.0,200.0,OXYZ,SHIP ONE",
    ]
    reading = ais_csv_feed.read("\n".join(rows).encode() + b"\n", origin("a.csv"))
    assert [p["speed_kn"] for p in payloads(reading, "tracks.position")] == [11.2, 135.0, None]
    assert [(p["name"], p["call_sign"]) for p in payloads(reading, "tracks.static")] == [
        ("SHIP ONE", "OXYZ")
    ]
    assert reading.rejects == []
    assert reading.passed_over["AIS position report that says it has no position"] == 1


def gpx(*points: str) -> bytes:
    held = "".join(points)
    return (
        '<?xml version="1.0"?><gpx version="1.0" creator="x" '
        'xmlns="http://www.topografix.com/GPX/1/0"><trk><name>TUG</name><trkseg>'
        f"{held}</trkseg></trk></gpx>"
    ).encode()


GOOD = '<trkpt lat="49.80" lon="-8.50"><time>2026-11-30T10:00:00Z</time></trkpt>'


@pytest.mark.parametrize(
    ("point", "says"),
    [
        ('<trkpt lat="49,79" lon="-8,51"><time>2026-11-30T10:05:00Z</time></trkpt>',
         "'49,79, -8,51' is not a position"),
        ('<trkpt lon="-8.51"><time>2026-11-30T10:05:00Z</time></trkpt>', "is not a position"),
        ('<trkpt lat="49.79" lon="-8.51"><time>30.11.2026 10:05</time></trkpt>',
         "'30.11.2026 10:05' is not a time"),
        ('<trkpt lat="49.79" lon="-8.51"><time>2026-11-30</time></trkpt>', "is not a time"),
        ('<trkpt lat="49.79" lon="-8.51"><time>1980-01-06T00:00:00Z</time></trkpt>',
         "from a clock that is not set"),
        ('<trkpt lat="nan" lon="-8.51"><time>2026-11-30T10:05:00Z</time></trkpt>',
         "is not a position"),
    ],
)  # fmt: skip
def test_a_bad_point_of_a_track_costs_itself_and_says_which(point: str, says: str) -> None:
    reading = gpx_feed.read(gpx(GOOD, point), origin("a.gpx"))
    assert len(reading.drafts) == 1
    (reject,) = reading.rejects
    assert says in reject.reason
    assert "point 2" in reject.reason


def test_what_a_track_says_beside_place_and_time_is_its_own_affair() -> None:
    odd = GOOD.replace("<time>", "<ele>n/a</ele><hdop>?</hdop><time>")
    small = GOOD.replace("T10:00:00Z", "t10:01:00z")  # RFC 3339: small letters are the same
    reading = gpx_feed.read(gpx(odd, small), origin("a.gpx"))
    assert [draft.valid_at.minute for draft in reading.drafts] == [0, 1]
    assert reading.rejects == []


def test_a_public_route_is_read_as_another_library_reads_it() -> None:
    data = sample("route.gpx").read_bytes()
    theirs = gpxpy.parse(data.decode()).routes[0].points
    (draft,) = gpx_feed.read(data, origin("route.gpx")).drafts
    ours = draft.payload["waypoints"]
    assert [(p["latitude_deg"], p["longitude_deg"], p["name"]) for p in ours] == [
        (p.latitude, p.longitude, p.name or "") for p in theirs
    ]


def kml(inside: str) -> bytes:
    return (
        '<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.2" '
        f'xmlns:gx="http://www.google.com/kml/ext/2.2"><Document>{inside}</Document></kml>'
    ).encode()


def ring(name: str, corners: str) -> str:
    return (
        f"<Placemark><name>{name}</name><Polygon><outerBoundaryIs><LinearRing><coordinates>"
        f"{corners}</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark>"
    )


def test_a_shape_whose_coordinates_are_none_costs_itself() -> None:
    square = "-8,49,0 -7,49,0 -7,50,0 -8,50,0 -8,49,0"
    bad = kml(ring("A 1", square) + ring("A 2", square.replace(",", ", ")))
    reading = map_feed.read(bad, origin("a.kml", "area"))
    assert [draft.payload["name"] for draft in reading.drafts] == ["A 1"]
    assert "'A 2'" in reading.rejects[0].reason
    features = [
        {"type": "Feature", "properties": {"name": name},
         "geometry": {"type": "Polygon", "coordinates": [[[-8, 49], [-7, south], [-7, 50]]]}}
        for name, south in (("B 1", 49), ("B 2", None))
    ]  # fmt: skip
    data = json.dumps({"type": "FeatureCollection", "features": features}).encode()
    reading = map_feed.read(data, origin("b.geojson", "area"))
    assert [draft.payload["name"] for draft in reading.drafts] == ["B 1"]
    assert "'B 2'" in reading.rejects[0].reason


@pytest.mark.parametrize("sigma", ["inf", "-5", "0", "500 m", "nan"])
def test_evidence_with_an_error_that_is_none_costs_itself(sigma: str) -> None:
    said = {"what": "raft", "object_type": "liferaft", "observer": "AIRCRAFT 1",
            "time": "2026-11-30T10:15:00z"}  # fmt: skip
    features = [
        {"type": "Feature", "properties": said | {"sigma_m": held},
         "geometry": {"type": "Point", "coordinates": [-8.5, 49.8]}} for held in (sigma, 500)
    ]  # fmt: skip
    data = json.dumps({"type": "FeatureCollection", "features": features}).encode()
    reading = map_feed.read(data, origin("e.geojson", "evidence"))
    assert [draft.payload["sigma_m"] for draft in reading.drafts] == [500.0]
    assert "no error in metres" in reading.rejects[0].reason


def test_one_area_drawn_in_two_forms_is_one_fact() -> None:
    """Another export begins at another corner, goes round the other way and rounds."""
    corners = [(-8.000001, 49.0), (-7.0, 49.0), (-7.0, 50.0), (-8.0, 50.0)]

    def geojson(held: list[tuple[float, float]]) -> bytes:
        shape = {"type": "Polygon", "coordinates": [[*held, held[0]]]}
        return json.dumps(
            {"type": "Feature", "properties": {"name": "SEARCH A"}, "geometry": shape}
        ).encode()

    drawn = kml(ring("SEARCH A", "-8.0,49.0,0 -7.0,49.0,0 -7.0,50.0,0 -8.0,50.0,0 -8.0,49.0,0"))
    files = {
        "a.geojson": geojson(corners),
        "b.geojson": geojson(corners[2:] + corners[:2]),
        "c.geojson": geojson(corners[::-1]),
        "d.kml": drawn,
    }
    found = {
        draft.identity
        for name, data in files.items()
        for draft in map_feed.read(data, origin(name, "area")).drafts
    }
    assert len(found) == 1
    moved = geojson([(-8.1, 49.0), *corners[1:]])
    assert map_feed.read(moved, origin("e.geojson", "area")).drafts[0].identity not in found


TRACK = (
    "<Placemark><name>TUG</name><gx:Track>"
    "<when>2026-11-30T10:00:00Z</when><when>2026-11-30T11:01:00+01:00</when>"
    "<when>2026-11-30T10:02:00</when><when>2026-11-30T10:03:00Z</when>"
    "<gx:coord>-8.5 49.8 0</gx:coord><gx:coord>-8.51 49.79</gx:coord>"
    "<gx:coord>-8.52 49.78 0</gx:coord><gx:coord></gx:coord>"
    "</gx:Track></Placemark>"
)


def test_a_kml_track_with_its_times_is_a_track_and_the_same_as_its_gpx() -> None:
    """OGC 12-007r2, Track: the first time to the first place. No zone, no time; no place, none."""
    reading = map_feed.read(kml(TRACK), origin("a.kml"))
    assert reading.asks == ""
    assert [(d.payload["latitude_deg"], d.payload["longitude_deg"]) for d in reading.drafts] == [
        (49.8, -8.5),
        (49.79, -8.51),
    ]
    assert [draft.valid_at.minute for draft in reading.drafts] == [0, 1]
    reasons = [reject.reason for reject in reading.rejects]
    assert "point 3" in reasons[0]
    assert "no time zone" in reasons[0]
    assert "point 4" in reasons[1]
    assert "is not a place" in reasons[1]
    second = '<trkpt lat="49.79" lon="-8.51"><time>2026-11-30T10:01:00Z</time></trkpt>'
    same = gpx_feed.read(gpx(GOOD, second), origin("a.gpx"))
    assert [d.identity for d in same.drafts] == [d.identity for d in reading.drafts]


def test_a_kml_track_of_unequal_times_and_places_is_refused_and_the_shapes_still_ask() -> None:
    uneven = TRACK.replace("<when>2026-11-30T10:00:00Z</when>", "")
    square = ring("A 1", "-8,49,0 -7,49,0 -7,50,0 -8,49,0")
    reading = map_feed.read(kml(uneven + square), origin("a.kml"))
    assert reading.drafts == []
    assert "3 times and 4 places" in reading.rejects[0].reason
    assert "1 polygon" in reading.asks


def test_a_small_z_is_utc_in_a_schedule_too() -> None:
    """The public test files of RTZ write it so; RFC 3339 lets either."""
    route = """<?xml version="1.0"?><route xmlns="http://www.cirm.org/RTZ/1/2" version="1.2">
    <routeInfo routeName="R"/><waypoints>
    <waypoint id="1"><position lat="36.48" lon="140.63"/></waypoint>
    <waypoint id="2"><position lat="36.46" lon="140.65"/></waypoint></waypoints>
    <schedules><schedule id="1"><manual><scheduleElement waypointId="1"
    etd="2020-02-18T00:00:00z"/></manual></schedule></schedules></route>"""
    reading = rtz_feed.read(route.encode(), origin("r.rtz"))
    assert reading.rejects == []
    assert reading.drafts[0].payload["waypoints"][0]["etd"] == "2020-02-18T00:00:00Z"


BOTTLES = """* Sea-Bird SBE 9 Data File:
* NMEA Latitude = 60 52.00 N
* NMEA Longitude = 005 21.69 E
* NMEA UTC (Time) = Oct 03 2025  03:27:12
{heads}
  Position        Time
{rows}
"""
MEANS = (
    ("35.0375", "8.3820", "71.2345", "210.123", "464.665"),
    ("34.9100", "7.5000", "75.2345", "220.123", "200.000"),
)


@pytest.mark.parametrize("numbered", [False, True])
@pytest.mark.parametrize("oxygen", ["Sbeox0PS", "Sbeox0ML/L"])
def test_bottles_are_read_where_long_heads_run_together_or_each_has_a_number(
    numbered: bool, oxygen: str
) -> None:
    """Columns of eleven letters, right-aligned, as the form's own program writes them; the oxygen
    before the pressure was once taken for it."""
    names = ("Sal00", "T090C", oxygen, "Sbeox0Mm/Kg", "PrDM")
    number = "     Bottle" if numbered else ""
    heads = f"    Bottle{number}        Date" + "".join(f"{name:>11}" for name in names)
    rows = [
        f"{place:>7}{f'{474_818 - place:>14}' if numbered else '   '} Oct 03 2025"
        + "".join(f"{figure:>11}" for figure in means)
        + " (avg)"
        for place, means in enumerate(MEANS, start=1)
    ]
    data = BOTTLES.format(heads=heads, rows="\n".join(rows)).encode()
    assert ctd_feed.recognise(data, "a.btl") > 0.9
    reading = ctd_feed.read(data, origin("a.btl"))
    assert reading.rejects == []
    (draft,) = reading.drafts
    # 200.000 and 464.665 dbar at 61 N are 198.0 and 459.7 m (UNESCO 44, within a decimetre)
    assert draft.payload["depth_m"] == pytest.approx([198.0, 459.7], abs=0.1)
    assert list(draft.payload["temperature_c"]) == [7.5, 8.382]
    assert list(draft.payload["salinity"]) == [34.91, 35.0375]


def test_bottles_under_other_heads_are_refused_not_shifted() -> None:
    heads = "    Bottle        Date      Sal00      T090C       PrDM       Scan"
    rows = [f"      {n}    Oct 03 2025" + "".join(f"{f:>11}" for f in m) + " (avg)"
            for n, m in enumerate(MEANS, start=1)]  # fmt: skip
    data = BOTTLES.format(heads=heads, rows="\n".join(rows)).encode()
    reading = ctd_feed.read(data, origin("a.btl"))
    assert reading.drafts == []
    assert "4 heads stand over 5 figures" in reading.rejects[0].reason


CAST = """depth_m;sound_speed_m_s;time;latitude;longitude
0;1508,2;2026-11-30T10:00Z;49,8;-8,5
50;1500,4;2026-11-30T10:00Z;49,8;-8,5
"""


def test_a_cast_may_say_its_time_and_place_in_every_row_but_only_one_of_each() -> None:
    (draft,) = profile_csv_feed.read(CAST.encode(), origin("c.csv")).drafts
    assert (draft.valid_at.hour, draft.payload["latitude_deg"]) == (10, 49.8)
    assert draft.payload["longitude_deg"] == -8.5
    two = CAST.replace("T10:00Z;49,8;-8,5\n5", "T09:00Z;49,8;-8,5\n5")
    reading = profile_csv_feed.read(two.encode(), origin("c.csv"))
    assert reading.drafts == []
    assert "does not say when" in reading.rejects[0].reason


LATEST = """\
#STN     LAT      LON  YYYY MM DD hh mm WDIR WSPD   GST WVHT  DPD APD MWD   PRES  PTDY  ATMP  WTMP  DEWP  VIS   TIDE
#text    deg      deg   yr mo day hr mn degT  m/s   m/s   m   sec sec degT   hPa   hPa  degC  degC  degC  nmi     ft
13010   0.01     0.00  2016 06 29 19 00 190   5.1    MM   MM  MM   MM  MM     MM    MM  25.9  27.3    MM   MM     MM
22101  37.24   126.02  2016 06 29 19 00 170   3.0    MM  1.2   7   MM  MM 1010.1    MM  19.8  18.2    MM   MM     MM
"""  # noqa: E501 - as it is published


def test_the_table_of_the_latest_of_all_stations_gives_each_its_place() -> None:
    reading = ndbc_feed.read(LATEST.encode(), origin("latest_obs.txt"))
    assert reading.rejects == []
    assert [
        (p["station"], p["latitude_deg"], p["longitude_deg"], p["wind_kn"], p["sea_c"])
        for p in payloads(reading, "weather.observation")
    ] == [
        ("13010", 0.01, 0.0, pytest.approx(5.1 / M_S_PER_KN, abs=0.01), 27.3),
        ("22101", 37.24, 126.02, pytest.approx(3.0 / M_S_PER_KN, abs=0.01), 18.2),
    ]
    alone = (
        "#YY  MM DD hh mm WDIR WSPD WVHT DPD PRES ATMP WTMP\n"
        "#yr  mo dy hr mn degT m/s m sec hPa degC degC\n"
        "2016 06 29 19 00 170 3.0 1.2 7 1010.1 19.8 18.2\n"
    )
    (same,) = ndbc_feed.read(alone.encode(), origin("22101.txt")).drafts
    assert same.identity == reading.drafts[1].identity


@pytest.mark.parametrize(
    ("name", "station"),
    [("44013.txt", "44013"), ("44013h2005.txt", "44013"), ("46022w2019.txt.gz", "46022"),
     ("pilm4h2010.txt", "PILM4"), ("buoy2026.txt", "BUOY2026")],
)  # fmt: skip
def test_a_buoys_file_of_the_past_is_of_the_same_buoy(name: str, station: str) -> None:
    """NDBC names them station, a letter for the kind, year (its historical data pages)."""
    assert station_of_source(name) == station


def test_a_garbled_group_of_a_synoptic_report_costs_itself() -> None:
    text = "AAXX 30121\n03808 41597 52228 1O108 20085 40110=\n"
    reading = synop_feed.read(text.encode(), origin("s.txt"))
    (payload,) = payloads(reading, "weather.observation")
    assert (payload["dew_c"], payload["pressure_hpa"]) == (8.5, 1011.0)
    assert "air_c" not in payload
    assert "'1O108'" in reading.rejects[0].reason
