"""What lacks something is kept until it is told; a record is named without its number.

Written from the rule that no fact is lost and none is guessed: a line that lacks one thing is
found again by that thing's name, and goes when a record tells it whole.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from layers.__main__ import main
from layers.catalogue import KINDS
from layers.heard.record import around_journal, unfinished
from layers.journal.store import Journal, open_journal
from tests.heard_world import grammar, heard


@pytest.fixture
def journal(tmp_path: Path) -> Iterator[Journal]:
    with_people = ["52 on board", "forward 20 people", "new ship GREYFIN 4315N 00830E 090/5"]
    url = str(tmp_path / "j.sqlite")
    assert main(["hear", *with_people, "--into", url]) == 0
    journal = open_journal(url, KINDS)
    yield journal
    journal.close()


@pytest.fixture
def said(journal: Journal, tmp_path: Path) -> Callable[..., int]:
    url = str(tmp_path / "j.sqlite")
    return lambda *lines: main(["hear", *lines, "--into", url])


def kept(journal: Journal) -> list[tuple[str, tuple[str, ...]]]:
    known = around_journal(grammar(), journal, journal.now()).known
    return [(entry.value.text, entry.value.lacks) for entry in unfinished(known)]


def test_air_without_its_pressure_is_kept_by_that_name_until_it_is_told(
    journal: Journal, said: Callable[..., int]
) -> None:
    assert said("forward co2 1.6 %") == 3
    assert kept(journal) == [("forward co2 1.6 %", ("pressure",))]
    assert said("forward co2 1.6 %") == 3
    assert len(kept(journal)) == 1, "said again, it is kept once"
    assert said("forward 18 people") == 0
    assert len(kept(journal)) == 1, "another fact leaves it"
    assert said("forward co2 1.6 % at 1.2 bar abs") == 0
    assert kept(journal) == []


def test_what_is_doubtful_is_not_kept_as_if_it_only_lacked_something(
    journal: Journal, said: Callable[..., int]
) -> None:
    assert said("forward co2 1,600 at 1.2 bar") == 3
    assert said("GREYFIN second bearing 060") == 3
    assert kept(journal) == []


def test_a_record_meant_without_its_number_is_asked_with_the_newest(journal: Journal) -> None:
    around = around_journal(grammar(), journal, journal.now())
    from layers.heard import hear

    (ask,) = hear("scrap the last", grammar(), around).asks
    assert ask.readings[0].startswith("No. 4 position of a ship or aircraft: ")
    assert "GREYFIN" in ask.readings[0], "two of a kind are told apart by what they say"
    assert ask.lines[0] == "scrap 4: as heard"
    (ask,) = hear("cancel the headcount, it was after", grammar(), around).asks
    assert [way.partition(":")[0] for way in ask.readings] == ["No. 2 headcount reported"]
    (one,) = hear(ask.lines[0], grammar(), around).understood
    assert one.kind == "journal.retract"
    (ask,) = hear("number 1: 53 on board", grammar(), around).asks
    (one,) = hear(ask.lines[0], grammar(), around).understood
    assert (one.kind, one.payload["fields"]["persons"]) == ("journal.correct", 53)


def test_what_was_scrapped_is_not_offered_again(journal: Journal, said: Callable[..., int]) -> None:
    from layers.heard import hear

    assert said("scrap 4: wrong ship") == 0
    (ask,) = hear("scrap the last", grammar(), around_journal(grammar(), journal,
                                                              journal.now())).asks  # fmt: skip
    assert not [way for way in ask.readings if way.startswith("No. 4")]


def test_what_was_scrapped_is_neither_corrected_nor_scrapped_again(
    journal: Journal, said: Callable[..., int]
) -> None:
    from layers.heard import hear

    assert said("scrap 4: wrong ship") == 0
    for line in ("correct 4: 4316N 00830E", "scrap 4: told twice", "doubt 4: not sure"):
        hearing = hear(line, grammar(), around_journal(grammar(), journal, journal.now()))
        assert hearing.refused, line
        assert "No. 4 was scrapped already, by No. 5" in hearing.asks[0].about
    assert said("scrap 5: she was the right one") == 0
    around = around_journal(grammar(), journal, journal.now())
    assert hear("correct 4: 4316N 00830E", grammar(), around).understood


def test_a_headcount_and_a_bearing_are_corrected_by_their_figure_alone(
    journal: Journal, said: Callable[..., int]
) -> None:
    from layers.heard import hear

    assert said("GREYFIN bearing 215M") == 0
    around = around_journal(grammar(), journal, journal.now())
    (one,) = hear("correct 2: 18 people", grammar(), around).understood
    assert one.payload["fields"] == {"persons": 18}
    (one,) = hear("correct 5: 215T", grammar(), around).understood
    assert (one.payload["fields"]["bearing_deg"], one.payload["fields"]["sense"]) == (215, "true")


@pytest.mark.parametrize(
    ("line", "left"),
    [
        ("oil slick fresh 4315N 00830E greyfin", "fresh"),
        ("hooray sublook", "hooray"),
    ],
)
def test_words_that_nothing_knows_are_left_out_by_one_press(line: str, left: str) -> None:
    hearing = heard(line)
    (ask,) = hearing.asks
    assert f"(left out: {left})" in ask.readings[0]
    assert heard(ask.lines[0]).understood


@pytest.mark.parametrize(
    "line",
    ["oil slick gone 4315N 00830E greyfin", "wrong sublook", "sublook should 1230Z",
     "oil slick maybe 4315N 00830E greyfin"],
)  # fmt: skip
def test_no_word_that_turns_the_rest_round_is_left_out(line: str) -> None:
    assert not any(ask.readings for ask in heard(line).asks)


def test_the_boats_own_name_adds_nothing_and_makes_no_ship() -> None:
    told = heard("boat KAWAU; KAWAU course 215 speed 6; oil 4315N 00830E by greyfin KAWAU")
    assert not told.asks, [ask.about for ask in told.asks]
    assert [one.kind for one in told.understood] == [
        "survivors.boat", "datum.intended_movement", "datum.sighting",
    ]  # fmt: skip
    # from her, to her: whose bearing, whose course would it be?
    assert heard("boat KAWAU; bearing 060T from KAWAU by greyfin").asks


def test_compartments_of_two_words_in_a_list() -> None:
    told = heard("compartments fore ends, control room and motor room; motor room 12 people")
    assert [one.payload.get("name") for one in told.understood[:3]] == [
        "fore ends", "control room", "motor room",
    ]  # fmt: skip
    assert told.understood[3].payload["place"] == "motor room"


def test_a_vehicles_hour_that_was_told_is_not_called_untold(
    journal: Journal, said: Callable[..., int], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert said("rescue vehicle takes 12, round trip 5 hours", "vehicle ready in 6 h") in (0, 3)
    capsys.readouterr()
    assert main(["answers", "--json", "--journal", str(tmp_path / "j.sqlite")]) == 0
    dive = json.loads(capsys.readouterr().out)["dive"]
    assert dive["open"] is None
    assert "no limits of the lifts" in dive["because"], "what is lacking is the plan, not the hour"
