"""Lines of an invented incident off Valdivia, in the Pacific, written before they were tried.

Heard late and short, in an officer's own words: each must come to what was meant, or be asked with
an answer that helps, and none to another fact. What stood on the plot is told in ``BEFORE``. Where
a bearing is told *from* something afloat it is the ship's own place by it, as the Standard Marine
Communication Phrases have it (A.918(22), General), and not the bearing of what floats.
"""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

import pytest

from layers.commands import hear as command
from layers.heard import HeardLine, hear
from layers.heard.record import around_journal
from layers.journal.naming import address
from layers.journal.store import Journal, open_journal
from tests.heard_world import grammar, verdict

NOW = datetime(2026, 12, 1, 9, 52, tzinfo=UTC)
BEFORE = (
    "boat TONINA", "46 on board", "lkp 3948S 07420W at 0310Z within 3 miles",
    "new ship PUDU", "PUDU 3936S 07325W 285/14", "new ship GUANAY", "GUANAY 3955S 07402W stopped",
    "new aircraft HURON 3", "rescue vehicle MINKE 16 seats cycle 5.5 h",
    "forward headcount 17, aft headcount 24",
)  # fmt: skip


@pytest.fixture(scope="module")
def journal(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Journal]:
    into = address(str(tmp_path_factory.mktemp("heard") / "plot.sqlite"))
    command.run(Namespace(text=list(BEFORE), at="2026-12-01T09:00Z", journal=None, into=into,
                          exercise="COLD SHELF", json=False, all_the_same=False))  # fmt: skip
    opened = open_journal(into, grammar().kinds, create=False, readonly=True)
    yield opened
    opened.close()


def heard(line: str, journal: Journal) -> HeardLine:
    return hear(line, grammar(), around_journal(grammar(), journal, NOW))


def at(hour: int, minute: int) -> datetime:
    return NOW.replace(hour=hour, minute=minute)


@pytest.mark.parametrize(
    ("line", "kind", "fields", "when"),
    [
        ("GUANAY picks up tapping", "datum.heard", {"observer": "GUANAY"}, NOW),
        ("GUANAY picked up tapping 0920", "datum.heard", {"observer": "GUANAY"}, at(9, 20)),
        ("nine in raft 1", "survivors.in_water",
         {"persons": 9, "group": "raft 1", "clothing": "in a raft"}, NOW),
        ("9 people in life raft number 3 0840", "survivors.in_water",
         {"persons": 9, "group": "raft 3", "clothing": "in a raft"}, at(8, 40)),
        ("4 out from aft in the water 0835", "survivors.move",
         {"from_place": "after", "to_place": "on the surface",
          "groups": [{"persons": 4, "fitness": "unknown"}]}, at(8, 35)),
        ("next of kin told at 0730 that she is overdue", "watch.told_outside",
         {"told": "she is overdue", "whom": "families' office"}, at(7, 30)),
        ("families informed 0850 that four are out", "watch.told_outside",
         {"told": "four are out", "whom": "families' office"}, at(8, 50)),
        ("media were told at 0900: a boat is overdue", "watch.told_outside",
         {"told": "a boat is overdue", "whom": "press"}, at(9, 0)),
    ],
)  # fmt: skip
def test_a_line_as_it_is_said_comes_to_what_was_meant(
    line: str, kind: str, fields: dict[str, Any], when: datetime, journal: Journal
) -> None:
    hearing = heard(line, journal)
    assert not hearing.asks, [ask.about for ask in hearing.asks]
    (one,) = hearing.understood
    assert (one.kind, one.valid_at) == (kind, when)
    assert {name: one.payload[name] for name in fields} == fields


@pytest.mark.parametrize(
    "line", ["nine in raft 1, six in raft 2", "rafts: nine in raft 1, six in raft 2"]
)
def test_each_raft_of_a_list_keeps_its_own_number(line: str, journal: Journal) -> None:
    told = heard(line, journal).understood
    assert [(one.payload["persons"], one.payload["group"]) for one in told] == [
        (9, "raft 1"), (6, "raft 2"),
    ]  # fmt: skip


@pytest.mark.parametrize(
    "line",
    [
        "GUANAY to 3940S 07422W",
        "GUANAY diverted to 3940S 07422W",
        "PUDU proceeding to 3940S 07422W at 14 knots",
        "HURON 3 heading for 3940S 07422W",
        "GUANAY was at 3942S 07420W",
        "GUANAY bearing 335T 2.1 miles from the buoy",
        "GUANAY bears 335T from the raft",
        "GUANAY on task",
        "PUDU delayed 2 h",
        "HURON 3 airborne from Valdivia at 0702, on scene 0735",
        "forecast wind 225 30 kn sea 4 m at 1800",
        "two not heard of",
        "5 missing",
        "unconscious 3, burns 2",
        "charts give 140 m at the spot",
        "GUANAY diverting from 4010S 07330W at 16 knots",
        "four out of aft 0835",
    ],
)
def test_what_is_not_plain_is_asked_with_an_answer_to_press(line: str, journal: Journal) -> None:
    hearing = heard(line, journal)
    assert verdict(hearing) == "asked"
    assert not hearing.understood
    assert any(ask.readings for ask in hearing.asks)


@pytest.mark.parametrize(
    ("line", "offered"),
    [
        # where she bears from the buoy is hers; the other way round is 180 degrees from it
        ("GUANAY bearing 335T 2.1 miles from the buoy", "buoy bearing 335T 2.1 miles from GUANAY"),
        ("charts give 140 m at the spot", "she lies depth 140 m"),
        ("unconscious 3, burns 2", "headcount stretcher cases 3, injured 2"),
        ("forward 17 people 3 unconscious 2 burned",
         "forward 17 people 3 stretcher cases 2 injured"),
        ("GUANAY diverting from 4010S 07330W at 16 knots", "GUANAY at 4010S 07330W at 16 knots"),
        ("GUANAY on task", "task GUANAY: on task"),
        ("o2 candles 14 left fwd", "14 o2 candles left fwd"),
        ("GUANAY was at 3942S 07420W", "GUANAY was at 3942S 07420W now"),
        ("four out of aft 0835", "4 out of aft 0835 in the water"),
    ],
)  # fmt: skip
def test_the_answer_that_was_meant_is_among_those_offered(
    line: str, offered: str, journal: Journal
) -> None:
    assert offered in [way for ask in heard(line, journal).asks for way in ask.lines]


@pytest.mark.parametrize("line", ["GUANAY on task", "PUDU delayed 2 h", "two not heard of"])
def test_what_no_record_holds_says_what_to_say_instead(line: str, journal: Journal) -> None:
    (ask,) = heard(line, journal).asks
    assert f"note: {line}" in ask.lines
    assert len(ask.about) > len(line) + len(": say it")


@pytest.mark.parametrize(
    "line",
    ["4 people in raft 2 3940S 07423W seen by GUANAY", "aft pressure up by 0.1 bar",
     "wind easing 180/15 at GUANAY by 1400"],
)  # fmt: skip
def test_nothing_that_turns_the_rest_round_is_offered_to_be_left_out(
    line: str, journal: Journal
) -> None:
    ways = [way for ask in heard(line, journal).asks for way in ask.readings]
    assert not [way for way in ways if "left out" in way]


def test_the_number_of_a_raft_is_never_how_many_are_in_it(journal: Journal) -> None:
    hearing = heard("4 people in raft 2 3940S 07423W seen by GUANAY", journal)
    offered = [heard(way, journal) for ask in hearing.asks for way in ask.lines]
    counts = {one.payload.get("persons", 4) for told in (hearing, *offered)
              for one in told.understood}  # fmt: skip
    assert counts <= {4}


def test_a_ship_that_was_somewhere_is_there_at_the_time_that_is_told(journal: Journal) -> None:
    (one,) = heard("GUANAY was at 3942S 07420W 0915", journal).understood
    assert (one.kind, one.valid_at) == ("tracks.position", at(9, 15))


def test_what_a_ship_is_seen_from_still_tells_of_it(journal: Journal) -> None:
    (one,) = heard("raft bearing 335T 2.1 miles from GUANAY", journal).understood
    assert one.kind == "datum.sighting"
    # by hand: 2.1 nmi on 335 from 39 55.0 S 74 02.0 W is 1.90' north and 0.89 nmi west, 1.16'
    assert one.payload["latitude_deg"] == pytest.approx(-(39 + 53.10 / 60), abs=0.001)
    assert one.payload["longitude_deg"] == pytest.approx(-(74 + 3.16 / 60), abs=0.001)
