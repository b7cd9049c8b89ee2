"""How people, stores and those in charge are told by voice, written from two invented incidents.

A rider is carried beyond the crew: whether a count holds him is asked, since either is said.
"""

from __future__ import annotations

import pytest

from tests.heard_world import heard


@pytest.mark.parametrize(
    ("line", "part", "persons"),
    [
        ("41 on board including three riders", "all on board", 41),
        ("crew of 38 plus 3 riders", "all on board", 41),
        ("38 on board and in addition 3 trainees", "all on board", 41),
        ("3 riders besides the crew", "riders", 3),
    ],
)
def test_riders_are_counted_in_or_besides(line: str, part: str, persons: int) -> None:
    hearing = heard(line)
    assert not hearing.asks, [ask.about for ask in hearing.asks]
    (one,) = hearing.understood
    assert (one.payload["part"], one.payload["persons"]) == (part, persons)


def test_riders_alone_are_asked_and_each_answer_says_which() -> None:
    hearing = heard("3 riders")
    assert not hearing.understood
    (ask,) = hearing.asks
    counted_in, besides = (heard(way) for way in ask.lines)
    assert not counted_in.understood, "how many are on board in all is still not told"
    assert besides.understood[0].payload == {"part": "riders", "persons": 3}
    assert not heard("3 riders on board").understood


@pytest.mark.parametrize(
    ("line", "persons"),
    [("3 men picked up from the raft by TENACE 1230", 3), ("forward 14 alive", 14),
     ("picked up from the raft by TENACE 3 men 1230", 3), ("all hands forward", 60),
     ("TENACE picked up two survivors from the life raft 1230", 2)],
)  # fmt: skip
def test_people_as_they_are_told_at_sea(line: str, persons: int) -> None:
    hearing = heard(line)
    assert not hearing.asks, [ask.about for ask in hearing.asks]
    (one,) = hearing.understood
    if "picked" in line:
        assert (one.payload["from_place"], one.payload["to_place"]) == (
            "on the surface", "picked up")  # fmt: skip
        assert sum(group["persons"] for group in one.payload["groups"]) == persons
        assert "TENACE" in one.payload["reason"]
    else:
        assert one.payload["persons"] == persons
        assert one.kind == "survivors.report"


def test_two_kinds_of_stores_in_one_line_are_two_counts_and_none_used() -> None:
    hearing = heard("forward 30 canisters, 20 candles")
    assert [one.kind for one in hearing.understood] == ["survivors.stores"] * 2
    assert all("candles" in one.words or "canisters" in one.words for one in hearing.understood)
    (one,) = heard("forward 20 candles").understood
    assert one.kind == "survivors.stores"
    (one,) = heard("forward used 3 candles 1230").understood
    assert one.kind == "survivors.stores_used"


def test_a_flooded_compartment_is_asked_how_much_an_hour() -> None:
    for line in ("forward flooded", "forward flooded at 1212"):
        hearing = heard(line)
        assert not hearing.understood
        assert not hearing.notes
        assert [ask.lack for ask in hearing.asks] == ["how much an hour"]


@pytest.mark.parametrize(
    ("line", "office", "who"),
    [
        ("coordinator is MRCC VALDORA", "rescue coordinator", "MRCC VALDORA"),
        ("OSC is TENACE", "on-scene coordinator", "TENACE"),
        ("in charge OSC TENACE", "on-scene coordinator", "TENACE"),
        ("SMC is the flotilla duty officer since 1230", "search and rescue mission coordinator",
         "the flotilla duty officer"),
    ],
)  # fmt: skip
def test_who_is_in_charge_can_be_told(line: str, office: str, who: str) -> None:
    hearing = heard(line)
    assert not hearing.asks, [ask.about for ask in hearing.asks]
    (one,) = hearing.understood
    assert (one.kind, one.payload["office"], one.payload["who"]) == ("watch.in_charge", office, who)
    if "since" in line:
        assert f"{one.valid_at:%H%M}" == "1230"


def test_who_is_in_charge_without_an_office_offers_the_offices() -> None:
    (ask,) = heard("in charge: Captain Orne").asks
    (one,) = heard(ask.lines[ask.readings.index("OSC")]).understood
    assert one.payload == {"office": "on-scene coordinator", "who": "Captain Orne"}


def test_an_hour_alone_is_when_they_were_told_and_not_what() -> None:
    for line in ("families told 1215", "told the press: 1215"):
        hearing = heard(line)
        assert not hearing.understood
        assert "what" in hearing.asks[0].about


@pytest.mark.parametrize(
    ("line", "least", "most"),
    [("speed 4 to 7", 4.0, 7.0), ("speed between 4 and 7 knots", 4.0, 7.0),
     ("speed four to seven knots", 4.0, 7.0), ("course 215 speed 12-15 kn", 12.0, 15.0)],
)  # fmt: skip
def test_a_speed_between_two_is_told_as_both(line: str, least: float, most: float) -> None:
    (one,) = heard(line).understood
    assert (one.payload["speed_min_kn"], one.payload["speed_max_kn"]) == (least, most)


def test_a_ships_speed_between_two_is_never_hers() -> None:
    (one,) = heard("TENACE 4310N 00820E course 120 speed 8 to 10").understood
    assert (one.kind, one.payload["speed_kn"]) == ("tracks.position", 9.0)


def test_what_is_due_in_so_long_is_due_from_now() -> None:
    # now is 1252Z
    for line, due in (("report due in 30 minutes", "13:22"),
                      ("report due in half an hour", "13:22"),
                      ("report due in two hours", "14:52")):  # fmt: skip
        (one,) = heard(line).understood
        assert one.payload["report_due"][11:16] == due
    assert heard("tapping heard by TENACE in 30 minutes").refused
