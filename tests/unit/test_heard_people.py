"""How people, stores and those in charge are told by voice, written from two invented incidents.

A rider is carried beyond the crew: whether a count holds him is asked, since either is said.
"""

from __future__ import annotations

import re
from argparse import Namespace
from dataclasses import replace
from pathlib import Path

import pytest

from layers.commands import hear as command
from layers.heard import hear
from layers.journal.naming import address
from layers.journal.words.heard import Name
from tests.heard_world import grammar, heard, world


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
        # nobody was told to be on the surface: they are some of those not heard of
        assert one.payload["from_place"] == "not accounted for"
        assert one.payload["to_place"] == "picked up"
        assert "not heard of until now" in one.words
        assert sum(group["persons"] for group in one.payload["groups"]) == persons
        assert "TENACE" in one.payload["reason"]
    else:
        assert one.payload["persons"] == persons
        assert one.kind == "survivors.report"


@pytest.mark.parametrize(
    "line",
    ["picked up 2 from the water by TENACE 1230", "TENACE picked up 2 from the water 1230",
     "2 picked up from the water by TENACE 1230", "2 pulled from the water by TENACE 1230",
     "TENACE picked up 2 from the surface at 1230"],
)  # fmt: skip
def test_who_picked_up_how_many_is_told_in_any_order(line: str) -> None:
    hearing = heard(line)
    assert not hearing.asks, [ask.about for ask in hearing.asks]
    (one,) = hearing.understood
    # nobody was told to be in the water: they are some of those not heard of, as from a raft
    assert one.payload["from_place"] == "not accounted for"
    assert one.payload["to_place"] == "picked up"
    assert [group["persons"] for group in one.payload["groups"]] == [2]
    assert one.payload["reason"] == "picked up by TENACE"
    assert "fitness not known" in one.words, "nobody said how they are"


def test_who_is_picked_up_though_nobody_told_them_in_the_water_is_one_not_heard_of(
    tmp_path: Path,
) -> None:
    """Nothing is refused for want of a report that somebody saw them there before."""
    journal = address(str(tmp_path / "try.sqlite"))
    lines = ["43 on board", "new ship TENACE", "TENACE picked up 2 from the water"]
    answer = command.run(
        Namespace(text=lines, at="2026-11-29T11:00Z", journal=None, into=journal,
                  all_the_same=False, exercise="TRY", json=False)
    )  # fmt: skip
    said = command.say(answer)
    assert "moved 2 people from the water picked up by TENACE" in said
    assert "not heard of until now" in said
    assert "?:" not in said


def test_a_body_that_was_picked_up_is_no_survivor_and_from_where_is_asked() -> None:
    (one,) = heard("TENACE picked up 1 dead from the water 1230").understood
    assert one.payload["to_place"] == "picked up"
    assert [group["fitness"] for group in one.payload["groups"]] == ["dead"]
    hearing = heard("TENACE picked up 2 1230")
    assert not hearing.understood
    assert "from where" in hearing.asks[0].about


def test_a_ship_on_a_course_at_a_speed_and_what_the_boat_was_told() -> None:
    (one,) = heard("TENACE 4310N 00820E 270 at 12 knots").understood
    assert (one.payload["course_true_deg"], one.payload["speed_kn"]) == (270.0, 12.0)
    (one,) = heard("told boat vehicle dives at first light").understood
    assert one.kind == "watch.promised"
    assert one.words.startswith("told the boat: vehicle dives")


def test_listening_on_a_hydrophone_and_several_bangs_are_what_they_are() -> None:
    (one,) = heard("nothing heard on hydrophone by TENACE 1030 to 1130").understood
    assert one.kind == "datum.not_heard"
    assert one.payload["by"] == "tapping"
    (one,) = heard("explosions heard by TENACE 1155").understood
    assert (one.kind, one.payload["what"]) == ("datum.loss_time", "explosions")


def test_two_kinds_of_stores_in_one_line_are_asked_counted_or_used() -> None:
    hearing = heard("forward 30 canisters, 20 candles")
    assert not hearing.understood
    (ask,) = hearing.asks
    told = [[one.kind for one in heard(way).understood] for way in ask.lines]
    assert sorted(told) == [["survivors.stores"] * 2, ["survivors.stores", "survivors.stores_used"]]
    (one,) = heard("forward used 3 candles 1230").understood
    assert one.kind == "survivors.stores_used"


def test_a_flooding_compartment_is_asked_how_much_an_hour() -> None:
    for line in ("forward flooding", "forward making water at 1212"):
        hearing = heard(line)
        assert not hearing.understood
        assert not hearing.notes
        assert [ask.lack for ask in hearing.asks] == ["how much an hour"]


@pytest.mark.parametrize(
    ("line", "place", "state"),
    [
        ("forward flooded", "forward", "flooded"), ("aft is dry", "after", "dry"),
        ("engine room flooded 1240Z", "engine room", "flooded"),
        ("Engine Room DRY", "Engine Room", "dry"),
        ("compartment engine room dry", "engine room", "dry"),
        ("compartment 4 flooded", "compartment 4", "flooded"),
        ("compartment B flooded to the deckhead", "compartment B", "flooded"),
        ("dry motor room", "motor room", "dry"),
    ],
)  # fmt: skip
def test_a_compartment_is_told_dry_or_flooded_whether_she_is_known_to_have_it_or_not(
    line: str, place: str, state: str
) -> None:
    hearing = heard(line)
    assert not hearing.asks, [ask.about for ask in hearing.asks]
    told = hearing.understood[-1]
    assert (told.kind, told.payload) == ("survivors.water", {"refuge": place, "state": state})
    new = [one.payload["name"] for one in hearing.understood[:-1]]
    assert new == ([] if place in ("forward", "after") else [place])


@pytest.mark.parametrize(
    "line",
    [
        "new compartment",
        "compartment",
        "engine room not dry",
        "boat flooded",
        "all compartments dry",
        "motor room not flooded",
    ],
)
def test_what_is_said_otherwise_of_water_makes_no_compartment_dry_or_flooded(line: str) -> None:
    assert not heard(line).understood


def test_a_compartment_that_may_be_a_slip_is_asked_and_the_answer_tells_it() -> None:
    hearing = heard("torpedo compartment flooded")
    (line,) = (way for ask in hearing.asks for way in ask.lines)
    assert [one.kind for one in heard(line).understood] == ["survivors.place", "survivors.water"]


@pytest.mark.parametrize(
    ("line", "there"),
    [
        ("aft 27 alive 1 dead 3 injured", (28, 1, 3)), ("aft 27 alive, 1 dead", (28, 1, None)),
        ("27 alive 1 dead aft", (28, 1, None)), ("aft 3 injured 1 dead 27 alive", (28, 1, 3)),
        ("aft: 27 alive, 3 of them injured, 1 dead", (28, 1, 3)),
        ("aft twenty seven alive one dead three injured", (28, 1, 3)),
        ("headcount aft alive 27 injured 3 dead 1", (28, 1, 3)),
        ("aft 28 people 1 dead counted in", (28, 1, None)),
        ("aft 27 people 1 dead besides", (28, 1, None)),
    ],
)  # fmt: skip
def test_alive_and_dead_in_one_place_are_one_headcount_of_all_who_are_there(
    line: str, there: tuple[int, int, int | None]
) -> None:
    hearing = heard(line)
    assert not hearing.asks, [ask.about for ask in hearing.asks]
    (told,) = hearing.understood
    assert told.kind == "survivors.report"
    assert told.payload["place"] == "after"
    assert (told.payload["persons"], told.payload["dead"], told.payload.get("injured")) == there


def test_whether_the_dead_are_counted_in_is_asked_where_nobody_said_alive() -> None:
    for line in ("aft 28 people, 1 dead", "aft 28 people, 1 of them dead"):
        hearing = heard(line)
        assert not hearing.understood
        told = [heard(way).understood[0].payload["persons"] for way in hearing.asks[0].lines]
        assert told == [28, 29]


def test_who_is_told_alive_on_board_does_not_change_how_many_sailed() -> None:
    assert not heard("27 alive on board").understood


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


@pytest.mark.parametrize("line", ["motor room 12 people", "control room co2 1.6 % at 1.2 bar abs"])
def test_the_first_place_of_her_own_is_taken_new_and_a_further_one_asked(line: str) -> None:
    hearing = heard(line)
    assert not hearing.asks, [ask.about for ask in hearing.asks]
    assert hearing.understood[0].kind == "survivors.place"
    assert "new here" in hearing.understood[0].words
    more = heard(f"new compartment torpedo room; {line}")
    assert more.asks, "it may be a slip of the pen, or another name of one that is told"
    assert len(more.understood) == 1


@pytest.mark.parametrize("word", ["aft", "forward", "fwd"])
def test_a_ready_made_place_that_went_with_the_first_own_one_is_offered_anew(word: str) -> None:
    hers = tuple(n for n in world().names if n.sort != "refuge")
    around = replace(world(), names=(*hers, Name(text="control room", sort="refuge",
                                                 key="control room")))  # fmt: skip
    line = f"{word} 20 people"
    (ask,) = hear(line, grammar(), around).asks
    assert ask.readings == (f"new compartment {word}",)
    told = hear(ask.lines[0], grammar(), around)
    assert not told.asks, [one.about for one in told.asks]
    assert [one.kind for one in told.understood] == ["survivors.place", "survivors.report"]


def test_a_name_that_may_be_hers_or_a_ships_is_asked_which() -> None:
    for line in ("CORVINA course 215 speed 8", "HALCON course 215"):
        nothing = hear(line, grammar(), replace(world(), names=()))
        assert not nothing.understood
        (ask,) = nothing.asks
        assert {way.split()[0] for way in ask.readings} == {"new", "boat"}
    nothing = hear("SALINO to the datum at 14 kn", grammar(), replace(world(), names=()))
    assert {way.split()[0] for way in nothing.asks[0].readings} == {"new", "port"}


def test_a_value_that_can_be_two_things_of_a_record_is_asked_which() -> None:
    (ask,) = heard("correct 3: 215T").asks  # No. 3 is a ship's position
    told = [heard(way).understood[0].payload["fields"] for way in ask.lines]
    assert told == [{"course_true_deg": 215.0}, {"heading_true_deg": 215.0}]


def test_where_the_datum_is_meant_as_a_place_the_ships_are_offered() -> None:
    (ask,) = heard("sea 3 m at datum").asks
    assert "moves" in ask.about
    (one,) = heard(ask.lines[0]).understood
    assert one.payload["hs_m"] == 3.0
    assert one.payload["station"] in ask.readings[0]


def test_a_force_behind_a_point_is_offered_as_force_and_as_knots() -> None:
    # WMO code table 1100: force 6 is 22 to 27 knots
    (ask,) = heard("wind SW 6 at TENACE").asks
    told = [heard(way).understood[0].payload for way in ask.lines]
    assert [(one["wind_from_true_deg"], one["wind_kn"]) for one in told] == [
        (225.0, 24.5), (225.0, 6.0)]  # fmt: skip


def test_a_count_that_differs_from_the_one_before_says_so_when_it_is_read_back() -> None:
    (one,) = heard("55 on board").understood
    assert "told before: 60" in one.words
    assert "told before" not in heard("60 on board").understood[0].words


def test_so_long_ago_is_when_they_were_told() -> None:
    for line in ("told the families at -10 min: overdue", "told outside press 10 min ago: overdue"):
        (one,) = heard(line).understood
        assert f"{one.valid_at:%H%M}" == "1242"
        assert one.payload["told"] == "overdue"


def test_a_slip_in_who_holds_an_office_is_asked() -> None:
    hearing = heard("OSC is ETNACE")
    assert not hearing.understood
    assert heard(hearing.asks[0].lines[0]).understood[0].payload["who"] == "TENACE"


def test_a_wind_that_is_told_twice_and_differs_is_asked() -> None:
    assert heard("TENACE wind 310/26 beaufort 9").asks
    (one,) = heard("TENACE wind 310/43 beaufort 9").understood
    assert one.payload["wind_kn"] == 43.0


def test_a_course_of_a_ship_and_another_of_nobody_are_asked_whose() -> None:
    for line in ("TENACE 4310N 00820E 240/12, course 215 speed 6",
                 "course 100 TENACE position 4310N 00820E, making 9 knots on 075"):  # fmt: skip
        hearing = heard(line)
        assert not hearing.understood, line
        assert hearing.asks


def test_a_slip_in_a_places_name_makes_no_new_place() -> None:
    for line in ("orward compartment volume 420 m3", "18 men in theaft compartment",
                 "focward compartment 31 people"):  # fmt: skip
        assert not heard(line).understood, line


def test_what_comes_beside_a_count_is_never_left_out_of_it() -> None:
    for line in ("52 on board plus 2", "52 on board plus", "crew 52 including captain",
                 "52 on board and 3 more"):  # fmt: skip
        hearing = heard(line)
        assert not hearing.understood, line
        for way in (way for ask in hearing.asks for way in ask.lines):
            assert not any(u.kind == "survivors.complement" for u in heard(way).understood), way
    (one,) = heard("12 people forward including 3 injured").understood
    assert (one.payload["persons"], one.payload["injured"]) == (12, 3)


@pytest.mark.parametrize(
    "line", ["coordinator is not TENACE", "SMC is unknown", "OSC is TENACE or GREYFIN",
             "coordinator is nobody yet", "OSC is no longer TENACE", "in charge OSC: to be told"],
)  # fmt: skip
def test_who_is_not_surely_in_charge_is_asked(line: str) -> None:
    assert not heard(line).understood
    assert heard(line).asks


@pytest.mark.parametrize(
    ("line", "kind", "fields"),
    [
        ("last heard from her 1130 in 43 20 N 008 40 E, good to a mile", "datum.lkp",
         {"sigma_m": 1852.0 / 2.4477}),  # one sigma of a 95 % radius: sqrt(-2 ln 0.05)
        ("should have reported at 1214", "datum.intended_movement",
         {"report_due": "2026-11-28T12:14:00+00:00"}),
        ("she lies at 160 metres, heading 320, list 8 to starboard", "survivors.lies",
         {"heading_true_deg": 320.0, "list_deg": 8.0, "depth_m": 160.0}),
    ],
)  # fmt: skip
def test_what_a_watch_says_in_passing_is_taken_and_read_back_in_order(
    line: str, kind: str, fields: dict[str, object]
) -> None:
    hearing = heard(line)
    assert not hearing.asks, [ask.about for ask in hearing.asks]
    (told,) = hearing.understood
    assert told.kind == kind
    for name, value in fields.items():
        assert told.payload[name] == (
            pytest.approx(value, rel=1e-4) if isinstance(value, float) else value
        )
    if kind == "survivors.lies":
        assert re.search(r"list 8 ?° to starboard", told.words)


def test_a_boat_that_is_named_is_no_ship_and_a_boat_that_sinks_is_not_named() -> None:
    (told,) = heard("boat is KINGKLIP, 64 metres long").understood
    assert (told.kind, told.payload["name"]) == ("survivors.boat", "KINGKLIP")
    # 47 souls are those on board, so the whole line is told
    both = heard("boat is KINGKLIP, 64 metres long, 47 souls").understood
    assert [one.kind for one in both] == ["survivors.boat", "survivors.complement"]
    assert (both[0].payload["name"], both[1].payload["persons"]) == ("KINGKLIP", 47)
    asks = heard("boat is KINGKLIP, 64 metres long, 47 spares").asks
    assert any("is that her name" in ask.about for ask in asks)
    assert not any("new ship" in way for ask in asks for way in ask.lines)
    assert not heard("boat is sinking").understood


def test_sunk_declared_is_asked_and_the_answer_is_the_stage() -> None:
    (line,) = (way for ask in heard("sunk declared 1230").asks for way in ask.lines)
    (told,) = heard(line).understood
    assert (told.kind, told.payload["stage"]) == ("watch.stage", "SUBSUNK")
