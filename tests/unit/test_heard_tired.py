"""A tired watch officer's lines: whose time, whose bearing, which record, how sure.

Written from two invented incidents worked by voice (a Norwegian Sea and a Mozambique Channel
boat) before they were run: what was taken for another fact there must be asked or told right.
"""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import timedelta

import pytest

from layers.heard import hear
from tests.heard_world import NOW, grammar, heard, world


@pytest.mark.parametrize(
    ("line", "kind", "field", "value"),
    [
        ("told the boat at 1210: vehicle dives 1600", "watch.promised", "told",
         "vehicle dives 1600"),
        ("1210 told the boat: vehicle dives 1600", "watch.promised", "told", "vehicle dives 1600"),
        ("custody LIMPET 1210: crane gang", "forward_port.held", "what", "LIMPET"),
        ("1210 custody LIMPET: crane gang", "forward_port.held", "held_by", "crane gang"),
        ("told outside press 1210: overdue, no more", "watch.told_outside", "whom", "press"),
        ("told outside the families' office at 12:10: 52 on board", "watch.told_outside", "whom",
         "families' office"),
        ("port told Savona 1210: LIMPET comes tonight, accepts", "forward_port.told_coming",
         "port_or_hospital", "Savona"),
    ],
)  # fmt: skip
def test_a_time_beside_who_was_told_is_when_that_was(
    line: str, kind: str, field: str, value: str
) -> None:
    hearing = heard(line)
    assert not hearing.asks, [ask.about for ask in hearing.asks]
    (one,) = hearing.understood
    assert (one.kind, one.payload[field]) == (kind, value)
    assert f"{one.valid_at:%H%M}" == "1210"
    assert "expects_at" not in one.payload, "when she was told is not when she expects it"


def test_a_time_that_ends_what_was_told_is_asked_whose_it_is() -> None:
    for line in ("custody LIMPET: crane gang at Aldermouth 1210",
                 "told outside press: 52 on board, no news 1210"):  # fmt: skip
        (ask,) = heard(line).asks
        of_telling, of_text = (heard(way).understood for way in ask.lines)
        assert f"{of_telling[0].valid_at:%H%M}" == "1210"
        assert of_text[0].valid_at == NOW
        assert any("1210" in str(value) for value in of_text[0].payload.values())
    # what lies ahead, and what a word binds to the text, can be of the text alone
    for line in ("told the boat: vehicle dives 1600", "told outside press: overdue since 1044"):
        assert not heard(line).asks, line


def test_several_records_in_one_scrap_are_several_scraps() -> None:
    for line, numbers in (("scrap 12 and 14: told twice", [12, 14]), ("scrap 12, 14", [12, 14]),
                          ("scrap 12 to 14: told twice", [12, 13, 14])):  # fmt: skip
        hearing = heard(line)
        assert not hearing.understood, "one of them alone is not what was said"
        (ask,) = hearing.asks
        named = [f"scrap {number}" for number in numbers]
        told = heard(ask.lines[0]).understood
        assert [one.plain.split(":")[0] for one in told] == named
    (one,) = heard("scrap 14: 2 ships, not one").understood
    assert one.kind == "journal.retract"
    (one,) = heard("correct 12, 1150Z").understood
    assert f"{one.payload['valid_at']}"[11:16] == "11:50"


@pytest.mark.parametrize(
    "line",
    ["forward 26 canisters 30 people", "forward 42 canisters 20 candles", "forward empty",
     "forward at least 30 people", "forward flooding 2 tons an hour", "forward pressure 9 metres",
     "submiss expected 1300", "forecast wind 200/35 sea 4 m TENACE",
     "rescue vehicle MANTA 14 seats, cycle 5 and a half furlongs"],
)  # fmt: skip
def test_no_answer_to_press_tells_what_nobody_said(line: str) -> None:
    hearing = heard(line)
    assert not hearing.understood
    for way in (way for ask in hearing.asks for way in ask.lines):
        said = heard(way).understood
        assert not any(one.kind == "survivors.report" and one.payload["persons"] in (26, 42)
                       for one in said), way  # fmt: skip
        assert not any(one.kind == "survivors.lift_order" for one in said), way
        assert not any(one.kind in ("watch.stage", "weather.observation") for one in said), way
        assert not any(5.0 in one.payload.values() for one in said), way
    if line.startswith("forward"):
        assert not any("goes first" in way for ask in hearing.asks for way in ask.readings)


@pytest.mark.parametrize(
    "line",
    ["TENACE relays GREYFIN bearing 205T 1150", "TENACE reports GREYFIN bearing 205T 1150",
     "TENACE has GREYFIN bearing 205T 1150", "GREYFIN by TENACE: bearing 205T 1150",
     "GREYFIN bearing 205T from TENACE 1150", "TENACE reports from GREYFIN bearing 205T 1150"],
)  # fmt: skip
def test_somebody_elses_bearing_is_offered_of_both_or_of_none(line: str) -> None:
    hearing = heard(line)
    assert not hearing.understood
    told = {one.payload.get("observer") for ask in hearing.asks for way in ask.lines
            for one in heard(way).understood if one.kind == "datum.bearing"}  # fmt: skip
    assert told in (set(), {"TENACE", "GREYFIN"}), told


def test_two_ships_bearings_in_one_line_are_never_crossed() -> None:
    ways = [way for ask in heard("TENACE bearing 200T GREYFIN bearing 215T 1155").asks
            for way in ask.lines]  # fmt: skip
    assert ways
    for way in ways:
        for one in heard(way).understood:
            if one.kind == "datum.bearing":
                pair = (one.payload["observer"], one.payload["bearing_deg"])
                assert pair in (("TENACE", 200.0), ("GREYFIN", 215.0)), way


def test_what_two_ships_heard_is_offered_of_both() -> None:
    (ask,) = heard("TENACE and GREYFIN heard tapping 1148").asks
    told = heard(ask.lines[0]).understood
    assert [one.payload["observer"] for one in told] == ["TENACE", "GREYFIN"]
    assert {f"{one.valid_at:%H%M}" for one in told} == {"1148"}


@pytest.mark.parametrize(
    ("said", "written"),
    [
        ("range two thousand five hundred yards from TENACE", "range 2500 yd from TENACE"),
        ("range one thousand five yards from TENACE", "range 1005 yd from TENACE"),
        ("range two thousand and fifty yards from TENACE", "range 2050 yd from TENACE"),
        ("boat length two hundred and ten feet", "boat length 210 ft"),
        ("rescue vehicle MANTA 14 seats, cycle five and a half hours",
         "rescue vehicle MANTA 14 seats, cycle 5.5 h"),
        ("rescue vehicle MANTA 14 seats, cycle 5 1/2 hours",
         "rescue vehicle MANTA 14 seats, cycle 5.5 h"),
        ("rescue vehicle MANTA 14 seats, cycle 5h30",
         "rescue vehicle MANTA 14 seats, cycle 5.5 h"),
        ("rescue vehicle MANTA 14 seats, cycle 5 hours 20 minutes",
         "rescue vehicle MANTA 14 seats, cycle 320 min"),
        ("range a mile and a half from TENACE", "range 1.5 nmi from TENACE"),
        ("range twenty one and three quarter miles from TENACE", "range 21.75 nmi from TENACE"),
        ("sublook at zero six hundred", "sublook 0600"),
        ("sublook at zero nine hundred thirty", "sublook 0930"),
        ("one hundred and seven on board", "107 on board"),
    ],
)  # fmt: skip
def test_a_number_spoken_in_parts_is_one_number(said: str, written: str) -> None:
    one, other = heard(said), heard(written)
    assert not one.asks, [ask.about for ask in one.asks]
    assert [(u.kind, u.payload, u.valid_at) for u in one.understood] == [
        (u.kind, u.payload, u.valid_at) for u in other.understood
    ]
    assert one.understood


def test_a_number_that_is_none_is_asked_and_not_joined() -> None:
    for line in ("range one hundred twenty three four yards from TENACE",
                 "range three hundred thousand yards from TENACE"):  # fmt: skip
        assert heard(line).asks, line
        assert not heard(line).understood, line
    (one,) = heard("searcher TENACE search speed 12 kn sweep width 1 nmi endurance 6 h").understood
    assert one.payload["endurance_h"] == 6.0


NMI = 1852.0
WITHIN = 2.4477  # 95 % of a round normal error lie within so many sigma


def test_a_ship_that_told_no_way_may_be_far_from_an_old_fix() -> None:
    # her fix is of 1242; the bearing of 1152 is 50 min before it: at 10 kn 8.3 nmi, 95 %
    (one,) = heard("TENACE bearing 215T 1152").understood
    assert one.payload["position_sigma_m"] * WITHIN / NMI == pytest.approx(8.3 + 0.13, abs=0.1)
    assert "within 8.5 nmi" in one.words
    # with her course and speed she is run on: 10 % of 10 nmi
    ships = tuple(replace(n, course_true_deg=90.0, speed_kn=12.0) if n.text == "TENACE" else n
                  for n in world().names)  # fmt: skip
    (one,) = hear("TENACE bearing 215T 1152", grammar(), replace(world(), names=ships)).understood
    assert one.payload["position_sigma_m"] == pytest.approx(100.0 + 0.1 * 10.0 * NMI, rel=0.02)
    # told to be stopped, she is where she was
    ships = tuple(replace(n, speed_kn=0.0) if n.text == "TENACE" else n for n in world().names)
    (one,) = hear("TENACE bearing 215T 1152", grammar(), replace(world(), names=ships)).understood
    assert one.payload["position_sigma_m"] == pytest.approx(100.0)


def test_what_is_seen_by_bearing_and_distance_is_as_sure_as_both() -> None:
    at = f"{NOW - timedelta(minutes=10):%H%M}"
    (near,) = heard(f"TENACE flare bearing 240T range 1 nmi {at}").understood
    (far,) = heard(f"TENACE flare bearing 240T range 9 nmi {at}").understood
    assert near.payload["sigma_m"] * WITHIN == pytest.approx(0.5 * NMI, rel=0.25)
    # a tenth of 9 nmi along, 2 degrees across: more than 1.9 nmi, 95 %
    across = 9.0 * math.radians(2.0)
    least = math.hypot(0.9, across) * WITHIN
    assert far.payload["sigma_m"] * WITHIN / NMI >= least
    (old,) = heard("TENACE flare bearing 240T range 1 nmi 1152").understood
    assert old.payload["sigma_m"] * WITHIN / NMI > 8.0, "her own place is no better than that"


def test_what_is_said_to_be_about_so_is_less_sure() -> None:
    (sure,) = heard("TENACE bearing 200T 1242").understood
    (about,) = heard("TENACE bearing about 200T 1242").understood
    assert about.payload["sigma_deg"] >= 2.0 * sure.payload["sigma_deg"]
    (told,) = heard("TENACE bearing about 200T 1242 plus or minus 3").understood
    assert told.payload["sigma_deg"] == 3.0
    (sure,) = heard("oil 4315.2N 00830.1E seen by RESCUE 21 at 1230").understood
    (about,) = heard("oil about 4315.2N 00830.1E seen by RESCUE 21 at 1230").understood
    assert about.payload["sigma_m"] >= 2.0 * sure.payload["sigma_m"]
    # a count that nobody counted is not recorded unasked
    for line in ("about 57 on board", "forward about 30 people"):
        hearing = heard(line)
        assert not hearing.understood, line
        (ask,) = hearing.asks
        (one,) = heard(ask.lines[0]).understood
        assert {57, 30} & set(v for v in one.payload.values() if isinstance(v, int))


def test_the_key_that_opens_the_box_is_no_part_of_the_line() -> None:
    assert [one.kind for one in heard("/52 on board").understood] == ["survivors.complement"]
    assert heard("//sublook").understood


def test_a_bang_tells_when_she_was_lost_and_a_bearing_of_it_where() -> None:
    (one,) = heard("explosion heard by TENACE 1152").understood
    assert one.kind == "datum.loss_time"
    assert one.payload["earliest"] == one.payload["latest"]
    assert one.payload["earliest"][11:16] == "11:52"
    assert one.payload["chance_wrong"] >= 0.2, "somebody else's bang is not rare"
    assert "another's" in one.words
    (one,) = heard("explosion heard by TENACE bearing 200T 1152").understood
    assert (one.kind, one.payload["by"]) == ("datum.bearing", "explosion")
    assert one.payload["chance_wrong"] >= 0.2
    assert heard("TENACE heard a bang").asks, "without its time it tells nothing"
    (sure,), (about,) = (heard(line).understood for line in (
        "TENACE heard a bang 1152", "TENACE heard a bang about 1152"))  # fmt: skip
    assert about.payload["sigma_s"] > sure.payload["sigma_s"]
