"""Every line of a log ends as a record, a reject with its reason, or is counted."""

import gc
from collections import Counter
from datetime import UTC, datetime
from functools import reduce
from operator import xor

import pytest
from pyais.encode import encode_dict

from layers.contract import Origin, Reading
from layers.journal.record import Draft
from layers.tracks.feeds import ais_csv_feed, gpx_feed, nmea_feed, rtz_feed
from tests.samples import sample

RECEIVED = datetime(2026, 11, 1, 12, 0, tzinfo=UTC)


def origin(name: str = "log.nmea", *, stream: bool = False) -> Origin:
    return Origin(source=name, received_at=RECEIVED, digest="d" * 64, stream=stream)


def kinds(reading: Reading) -> Counter[str]:
    return Counter(draft.kind for draft in reading.drafts)


def line(body: str, start: str = "$") -> str:
    return f"{start}{body}*{reduce(xor, body.encode(), 0):02X}"


def tagged(sentence: str, epoch: int, group: str = "") -> str:
    body = f"g:{group},c:{epoch}" if group else f"c:{epoch}"
    return f"\\{body}*{reduce(xor, body.encode(), 0):02X}\\{sentence}"


def position(**changes: object) -> str:
    message = {
        "msg_type": 1,
        "mmsi": "299000101",
        "lat": 49.5,
        "lon": -8.25,
        "speed": 12.3,
        "course": 201.5,
        "heading": 202,
    }
    return encode_dict(message | changes, radio_channel="A", sentence_type="VDM")[0]


def test_noisy_log_gives_its_hundred_undecodable_lines_and_twenty_lone_parts():
    # 898 lines: 878 single sentences, of which SOURCES.md says that 100 cannot be decoded, and
    # the first parts of 20 messages whose second parts are not in the file.
    data = sample("ais_mixed_noisy.txt").read_bytes()
    reading = nmea_feed.read(data, origin())
    reasons = Counter(reject.reason for reject in reading.rejects)
    assert reasons == {
        "an AIS sentence with an empty payload": 100,
        "the other parts of this AIS message never came": 20,
    }
    assert kinds(reading) == {"tracks.position": 758, "tracks.static": 2}
    passed = sum(reading.passed_over.values())
    assert len(reading.drafts) + len(reading.rejects) + passed == len(data.splitlines()) == 898


def test_coast_capture_mixes_gps_and_ais_and_loses_no_line():
    data = sample("ais_nais400.log").read_bytes()
    reading = nmea_feed.read(data, origin())
    assert kinds(reading) == {"tracks.position": 554, "tracks.static": 40, "tracks.aid": 26}
    assert not reading.rejects
    assert len(reading.drafts) + sum(reading.passed_over.values()) == len(data.splitlines())
    dated = [d for d in reading.drafts if d.payload.get("time_from") == "log"]
    assert dated
    assert all(d.valid_at.year < 2026 for d in dated)


def test_gps_log_joins_the_sentences_of_one_second():
    data = sample("nmea_gps_nl.log").read_bytes()
    reading = nmea_feed.read(data, origin())
    assert kinds(reading) == {"tracks.position": 418}  # one a second; 418 GGA in the file
    assert reading.passed_over["joined to the fix of the same second"] == 417 + 417
    first = reading.drafts[0]
    assert first.valid_at == datetime(2014, 4, 3, 8, 54, 11, tzinfo=UTC)
    assert first.payload["time_from"] == "sentence"
    assert first.payload["latitude_deg"] == pytest.approx(52 + 22.3215 / 60, abs=1e-6)
    assert first.payload["speed_kn"] == pytest.approx(0.58)


@pytest.mark.parametrize(
    ("name", "reader", "positions", "static"),
    [
        ("ais_solent.csv", ais_csv_feed, 4000, 0),
        ("ais_marinecadastre_ten.csv", ais_csv_feed, 10, 10),
    ],
)
def test_csv_layouts_read_whole(name, reader, positions, static):
    reading = reader.read(sample(name).read_bytes(), origin(name))
    assert kinds(reading)["tracks.position"] == positions
    assert kinds(reading)["tracks.static"] == static
    assert not reading.rejects
    assert {d.payload["time_from"] for d in reading.drafts if d.kind == "tracks.position"} == {
        "file, no zone stated, taken as UTC"
    }


def test_csv_heading_511_is_not_a_heading():
    reading = ais_csv_feed.read(sample("ais_marinecadastre_ten.csv").read_bytes(), origin())
    second = next(d for d in reading.drafts if d.payload["subject"] == "mmsi:338029922")
    assert second.payload["heading_true_deg"] is None


@pytest.mark.parametrize(
    ("name", "reader", "points", "form"),
    [
        ("route.gpx", gpx_feed, 55, "GPX 1.0"),
        ("route_jpngo_stlaw_1.2.rtz", rtz_feed, 6, "RTZ 1.2"),
        ("route_mandatory_1.0.rtz", rtz_feed, 6, "RTZ 1.0"),
    ],
)
def test_routes_read_whole(name, reader, points, form):
    data = sample(name).read_bytes()
    assert reader.recognise(data[:65536], name) > 0.9
    reading = reader.read(data, origin(name))
    assert [d.kind for d in reading.drafts] == ["tracks.route"]
    assert len(reading.drafts[0].payload["waypoints"]) == points
    assert reading.drafts[0].payload["from_format"] == form


def test_rtz_leg_type_is_kept():
    data = sample("route_jpngo_stlaw_1.2.rtz").read_bytes()
    waypoints = rtz_feed.read(data, origin()).drafts[0].payload["waypoints"]
    assert [w["leg"] for w in waypoints][1:4] == ["rhumb line", "rhumb line", "great circle"]


def static_parts(name: str = "NORTHERN LANTERN") -> list[str]:
    message = {
        "msg_type": 5, "mmsi": "299000101", "shipname": name,
        "to_bow": 60, "to_stern": 38, "to_port": 10, "to_starboard": 10,
    }  # fmt: skip
    return encode_dict(message, radio_channel="B", sentence_type="VDM", seq_id=3)


def test_parts_in_the_wrong_order_make_one_static_report():
    sentences = static_parts()
    assert len(sentences) == 2
    text = "\n".join([sentences[1], position(), sentences[0]])
    reading = nmea_feed.read(text.encode(), origin())
    assert kinds(reading) == {"tracks.position": 1, "tracks.static": 1}
    static = next(d for d in reading.drafts if d.kind == "tracks.static").payload
    assert (static["name"], static["length_m"], static["beam_m"]) == (
        "NORTHERN LANTERN",
        98.0,
        20.0,
    )


def test_time_comes_from_the_tag_block_then_the_log_and_goes_back_to_its_first_lines():
    dated = line("GPZDA,101112.00,13,03,2027,00,00")
    text = "\n".join(
        [position(), dated, position(lat=49.6), tagged(position(lat=49.7), 1804896000)]
    )
    drafts = nmea_feed.read(text.encode(), origin()).drafts
    assert [(d.payload["time_from"], d.valid_at) for d in drafts] == [
        ("log", datetime(2027, 3, 13, 10, 11, 12, tzinfo=UTC)),
        ("log", datetime(2027, 3, 13, 10, 11, 12, tzinfo=UTC)),
        ("tag block", datetime(2027, 3, 13, 0, 0, tzinfo=UTC)),
    ]


def test_time_of_day_without_a_date_takes_the_nearest_day_and_says_so():
    sentence = line("GPGLL,4950.00,N,00830.00,W,235000,A")
    late = Origin(
        source="udp:10110", received_at=datetime(2027, 3, 14, 0, 5, tzinfo=UTC), digest="0" * 64
    )
    draft = nmea_feed.read(sentence.encode(), late).drafts[0]
    assert draft.valid_at == datetime(2027, 3, 13, 23, 50, tzinfo=UTC)
    assert draft.payload["time_from"] == "date from receiver"


def test_gga_after_midnight_does_not_go_back_a_day():
    text = "\n".join(
        [
            line("GPRMC,235959.00,A,4950.00,N,00830.00,W,10.0,090.0,130327,,,A"),
            line("GPGGA,000000.00,4950.00,N,00829.99,W,1,08,1.0,0.0,M,0.0,M,,"),
        ]
    )
    drafts = nmea_feed.read(text.encode(), origin()).drafts
    assert drafts[1].valid_at == datetime(2027, 3, 14, tzinfo=UTC)


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        (position()[:-2] + "00", "checksum"),
        (position().replace(",1,1,", ",1,3,", 1), "checksum"),
        (line("AIVDM,1,2,,A,13aGua?P00PHfERNFruh0?vN289E,0", "!"), "cannot be"),
        ("$GPRMC,999999,A,4950.0,N,00830.0,W,1,2,130327,,*00", "checksum"),
        (line("GPRMC,256199,A,4950.0,N,00830.0,W,1,2,130327,,"), ""),
        ("hello", "not an NMEA sentence"),
        ("\x00\x01\x02\x03", "not an NMEA sentence"),
        ("!" + "A" * 5000, "longer than"),
        ("\\c:12*00\\" + position()[:-2] + "00", "checksum"),
    ],
)
def test_a_bad_line_is_a_reject_and_the_next_line_still_reads(text, reason):
    reading = nmea_feed.read(f"{text}\n{position()}\n".encode(), origin())
    assert kinds(reading) == {"tracks.position": 1}
    assert len(reading.rejects) == 1
    assert reason in reading.rejects[0].reason
    assert reading.rejects[0].line == 1


BEHIND_DAMAGE = (
    "\\c:1793520000*00\\", "\\c:18048960ZZ*42\\", "\\s:r17,c:1793520000\\", "c:1793520000*51\\",
    "\\c:1793520000*51", "\\\\", "\\\xff\xfe*zz\\", "\\c:99999999999999999999*2C\\",
)  # fmt: skip


@pytest.mark.parametrize("block", BEHIND_DAMAGE)
def test_a_damaged_tag_block_costs_its_time_not_the_sentence(block):
    lines = (
        tagged(position(lat=49.5), 1793520000), block + position(lat=49.6),
        tagged(position(lat=49.7), 1793520010),
    )  # fmt: skip
    reading = nmea_feed.read("\n".join(lines).encode("latin-1"), origin())
    assert not reading.rejects
    told = [(round(d.payload["latitude_deg"], 1), d.payload["time_from"]) for d in reading.drafts]
    assert told == [(49.5, "tag block"), (49.6, "log"), (49.7, "tag block")]
    first, between, last = (d.valid_at for d in reading.drafts)
    assert first <= between <= last
    ((said, times),) = reading.doubts.items()
    assert "tag block" in said
    assert times == 1


@pytest.mark.parametrize("hurt", [0, 1])
def test_a_message_in_parts_stands_though_one_tag_block_is_damaged(hurt):
    parts = [tagged(one, 1793520000, f"{n + 1}-2-77") for n, one in enumerate(static_parts())]
    other = [tagged(one, 1793520000, f"{n + 1}-2-78") for n, one in enumerate(static_parts("B"))]
    parts[hurt] = parts[hurt].replace("-77", "-79", 1)  # its checksum fails
    reading = nmea_feed.read("\n".join([other[0], *parts, other[1]]).encode(), origin())
    assert not reading.rejects
    assert [d.payload["name"] for d in reading.drafts] == ["NORTHERN LANTERN", "B"]


def test_no_position_is_passed_over_not_drawn_at_the_pole():
    reading = nmea_feed.read(position(lat=91.0, lon=181.0).encode(), origin())
    assert not reading.drafts
    assert reading.passed_over == {"AIS position report that says it has no position": 1}


def test_void_fix_is_no_position():
    text = line("GPRMC,101112.00,V,,,,,,,130327,,,N")
    assert not nmea_feed.read(text.encode(), origin()).drafts


def test_same_sentence_twice_in_a_stream_is_two_facts_and_twice_read_is_one():
    text = position().encode()
    one = nmea_feed.read(text, origin("udp:10110", stream=True)).drafts[0]
    again = nmea_feed.read(text, origin("udp:10110", stream=True)).drafts[0]
    later = Origin(
        source="udp:10110",
        received_at=datetime(2026, 11, 1, 12, 1, tzinfo=UTC),
        digest="e" * 64,
        stream=True,
    )
    assert one.id == again.id
    assert one.id != nmea_feed.read(text, later).drafts[0].id


@pytest.mark.parametrize(
    ("data", "reason"),
    [
        (b"MMSI,LAT,LON\n1,2,3\n", "no column time"),
        (
            b"Time,MMSI,Latitude_degrees,Longitude_degrees\n2016-01-12 13:00:00,235070762,90.5,0\n",
            "out of range",
        ),
        (b"Time,MMSI,Latitude_degrees,Longitude_degrees\nyesterday,235070762,51,0\n", "not a time"),
        (
            b"Time,MMSI,Latitude_degrees,Longitude_degrees\n2016-01-12 13:00:00,abc,51,0\n",
            "not an MMSI",
        ),
        (
            b"Time,MMSI,Latitude_degrees,Longitude_degrees\n2016-01-12 13:00:00,235070762,nan,0\n",
            "not a number",
        ),
    ],
)
def test_a_bad_csv_row_says_what_where_and_what_is_accepted(data, reason):
    reading = ais_csv_feed.read(data, origin("bad.csv"))
    assert not reading.drafts
    assert reason in reading.rejects[0].reason


@pytest.mark.parametrize("mark", [b"\xef\xbb\xbf", b""])
@pytest.mark.parametrize("separator", [b",", b";", b"\t"])
def test_csv_with_a_mark_or_another_separator_reads(mark, separator):
    rows = b"Time,MMSI,Latitude_degrees,Longitude_degrees,SOG_knots\n"
    rows += b"2016-01-12 13:02:11,235070762,50.77,-1.09,5.9\n"
    reading = ais_csv_feed.read(mark + rows.replace(b",", separator), origin())
    assert reading.drafts[0].payload["speed_kn"] == 5.9


def test_gpx_with_an_entity_is_refused_whole():
    data = b'<?xml version="1.0"?><!DOCTYPE g [<!ENTITY a "b">]><gpx version="1.1">&a;</gpx>'
    reading = gpx_feed.read(data, origin("bad.gpx"))
    assert "entities" in reading.rejects[0].reason


def test_gpx_track_point_without_a_time_is_a_reject():
    data = (
        b'<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="x"><trk><trkseg>'
        b'<trkpt lat="50" lon="-8"><time>2027-03-13T10:00:00Z</time></trkpt>'
        b'<trkpt lat="50.1" lon="-8"/></trkseg></trk></gpx>'
    )
    reading = gpx_feed.read(data, origin("t.gpx"))
    assert len(reading.drafts) == len(reading.rejects) == 1
    assert "no time" in reading.rejects[0].reason


def test_rtz_waypoint_off_the_earth_is_refused_with_its_number():
    data = sample("route_mandatory_1.0.rtz").read_bytes().replace(b'"22.2433308"', b'"122.24"')
    reading = rtz_feed.read(data, origin("r.rtz"))
    assert not reading.drafts
    assert "waypoint 2" in reading.rejects[0].reason


BARE = "$GPGGA,101112.00,4950.00,N,00830.00,W,1,08,1.0,0.0,M,0.0,M,,"
BARE_DATED = "$GPRMC,101112.00,A,4950.00,N,00830.00,W,10.0,090.0,130327,,,A"


def test_own_sentence_without_checksum_is_rejected_with_what_to_do():
    """A flipped digit in a bare sentence would move the ship and nothing would show it."""
    reading = nmea_feed.read(f"{BARE}\n{line(BARE[1:])}\n".encode(), origin())
    assert kinds(reading) == {"tracks.position": 1}
    (reject,) = reading.rejects
    assert reject.line == 1
    assert "no checksum" in reject.reason
    assert "'NMEA 0183 without checksums'" in reject.reason
    assert nmea_feed.FEED_BARE.title.startswith("NMEA 0183 without checksums")


def test_a_feed_set_up_for_older_gear_takes_it_and_the_fix_says_so():
    reading = nmea_feed.FEED_BARE.read(f"{BARE_DATED}\n{BARE}\n".encode(), origin())
    assert not reading.rejects
    (draft,) = reading.drafts
    assert draft.payload["said_by"] == "RMC GGA, no checksum"
    assert draft.payload["latitude_deg"] == pytest.approx(49 + 50 / 60)
    whole = nmea_feed.FEED_BARE.read(line(BARE[1:]).encode(), origin()).drafts[0]
    assert whole.payload["said_by"] == "GGA"


@pytest.mark.parametrize("feed", [nmea_feed.FEED, nmea_feed.FEED_BARE])
def test_a_wrong_or_cut_checksum_is_never_taken(feed):
    for spoilt in (f"{BARE}*00", f"{BARE}*4", f"{BARE}*", f"{BARE}*GG"):
        reading = feed.read(spoilt.encode(), origin())
        assert not reading.drafts
        assert "checksum" in reading.rejects[0].reason


@pytest.mark.parametrize("feed", [nmea_feed.FEED, nmea_feed.FEED_BARE])
def test_an_ais_line_without_checksum_is_never_taken(feed):
    reading = feed.read(position()[:-3].encode(), origin())
    assert not reading.drafts
    assert reading.rejects[0].reason == "the checksum is wrong or missing"


def test_older_gear_is_said_by_a_person_never_told_from_the_content():
    assert nmea_feed.FEED_BARE.recognise(BARE.encode(), "gps.nmea") == 0.0
    follower = nmea_feed.FEED_BARE.follow()
    follower.take(f"{BARE_DATED}\n".encode(), origin())
    assert [d.payload["said_by"] for d in follower.end().drafts] == ["RMC, no checksum"]


def test_an_ais_message_cut_short_is_rejected_alone():
    whole = "14M9Q9OP1gNqQJVS?ehV4DnmP000"

    def line(payload: str) -> bytes:
        body = f"AIVDM,1,1,,A,{payload},0"
        parity = 0
        for character in body.encode():
            parity ^= character
        return f"!{body}*{parity:02X}\n".encode()

    cut = [line(whole[:length]) for length in range(1, 23)]  # the heading ends in the 23rd sign
    reading = nmea_feed.FEED.read(b"".join([*cut, line(whole)]), origin())
    assert len(reading.drafts) == 1
    assert [reject.line for reject in reading.rejects] == list(range(1, 23))
    assert {reject.reason for reject in reading.rejects} == {"the AIS payload is cut short"}


def test_two_names_of_one_file_at_one_place_and_time_are_two():
    # her boat on board, or places rounded to a mile: seventeen tracks had become one
    point = '<trkpt lat="49.1" lon="-8.1"><time>2027-03-15T01:00:00Z</time></trkpt>'
    tracks = "".join(
        f"<trk><name>{name}</name><trkseg>{point}</trkseg></trk>" for name in ("ORION", "BOAT 1")
    )
    head = '<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1">'
    first, second = (
        {draft.id for draft in gpx_feed.read(text.encode(), origin(name)).drafts}
        for text, name in (
            (f"{head}{tracks}</gpx>", "both.gpx"),
            (f"{head}<trk><name>ORION</name><trkseg>{point}</trkseg></trk></gpx>", "one.gpx"),
        )
    )
    assert len(first) == 2
    assert second < first  # told again in another file it is still the same fix


def test_what_a_decoder_stumbles_over_is_told_in_plain_words():
    """Message 24 with a part that ITU-R M.1371 does not define, from a public receiver's log."""
    broken = "!AIVDM,1,1,,A,H4eHhPLN000000038inPPP0P;330,0*4A\n"
    dated = line("GPZDA,120000,01,11,2026,00,00") + "\n"
    reading = nmea_feed.read((dated + broken).encode(), origin())
    (reject,) = reading.rejects
    assert reject.reason == "a part of AIS message 24 that is not defined"


def test_a_log_that_is_followed_keeps_nothing_of_what_it_has_handed_over():
    """A drop folder of many logs, each read to its end, held the last piece of every one."""
    lines = [line("GPZDA,120000,01,11,2026,00,00")]
    lines += [position(mmsi=299000100 + number) for number in range(50)]
    assert nmea_feed.FEED.follow is not None
    followers = [nmea_feed.FEED.follow() for _ in range(3)]
    gc.collect()
    before = sum(isinstance(held, Draft) for held in gc.get_objects())
    for follower in followers:
        reading = follower.take(("\n".join(lines) + "\n").encode(), origin())
        assert len(reading.drafts) == 50
    del reading
    gc.collect()
    assert sum(isinstance(held, Draft) for held in gc.get_objects()) == before
    assert followers[0].take(b"", origin()).drafts == []  # and they go on
