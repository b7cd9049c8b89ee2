"""Lines of an invented incident in the Gulf of Alaska, written before they were tried.

Late, short, contradicting: what stood on the plot by then is told in ``BEFORE``; each line must
come to what was meant, or be asked, and none to another fact.
"""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from layers.commands import hear as command
from layers.heard import hear
from layers.heard.record import around_journal
from layers.journal.naming import address
from layers.journal.store import Journal, open_journal
from tests.heard_world import grammar, verdict

NOW = datetime(2026, 11, 30, 7, 20, tzinfo=UTC)
BEFORE = (
    "boat SCOTER", "compartments: fore ends, control room, motor room",
    "last known 58-41N 148-52W at 2205 yesterday give or take 3 miles",
    "new cutter KESTREL BAY", "KESTREL BAY 5822N 14905W 0320",
    "new ship SHE'S A KEEPER", "SHE'S A KEEPER 58 50.2N 148 30W 0330", "new aircraft RAVEN 6",
)  # fmt: skip


@pytest.fixture(scope="module")
def journal(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Journal]:
    into = address(str(tmp_path_factory.mktemp("heard") / "plot.sqlite"))
    command.run(Namespace(text=list(BEFORE), at="2026-11-30T03:40Z", journal=None, into=into,
                          exercise="COLD LANTERN", json=False, all_the_same=False))  # fmt: skip
    opened = open_journal(into, grammar().kinds, create=False, readonly=True)
    yield opened
    opened.close()


@pytest.mark.parametrize(
    ("line", "kind", "fields"),
    [
        ("scoter is 66m long", "survivors.boat", {"length_m": 66.0}),
        ("52 onboard scoter incl 4 riders", "survivors.complement", {"persons": 52}),
        ("shes a keeper heard banging 0334", "datum.heard", {"observer": "SHE'S A KEEPER"}),
        ("15 cans lioh left motor room", "survivors.stores", {"refuge": "motor room"}),
        ("three men in a raft 5836N 14858W raven 6", "datum.sighting", {"persons": 3}),
        ("2 bodies 5836N 14859W raven 6 0530", "datum.sighting", {"what": "body"}),
        ("raft picked up by kestrel bay 0610, 3 alive", "survivors.move",
         {"to_place": "picked up"}),
        ("wind backed 030 28 kts kestrel bay 0330", "weather.observation",
         {"wind_from_true_deg": 30.0, "wind_kn": 28.0}),
        ("families told at 0430 that she is overdue", "watch.told_outside",
         {"told": "she is overdue"}),
        ("hospital ST INNOCENT 5748N 15224W 8 beds 2 recompression", "survivors.hospital",
         {"hospital": "ST INNOCENT", "stretcher_places": 8, "recompression_places": 2}),
    ],
)  # fmt: skip
def test_a_tired_line_comes_to_what_was_meant(
    line: str, kind: str, fields: dict[str, object], journal: Journal
) -> None:
    hearing = hear(line, grammar(), around_journal(grammar(), journal, NOW))
    assert not hearing.asks, [ask.about for ask in hearing.asks]
    (one,) = hearing.understood
    assert one.kind == kind
    assert {name: one.payload[name] for name in fields} == fields


@pytest.mark.parametrize(
    "line",
    ["was heading sw about 5 kts", "kestral bay making 14 kts to the datum", "tapped out: 31 alive",
     "control room 12, motor room 19, 3 of them hurt",
     "they say fore ends went first, 40 left aboard",
     "mantis broken, 24 hrs", "last contact was 2150 not 2205", "datum is 5835N 14856W",
     "whales heard by kestrel bay 0540", "kestrel bay 5833N 14857W 0915",
     "2 more out of motor room",
     "forecast wind 050 40 kts at 1500", "no it was 5833N 14855W"],
)  # fmt: skip
def test_what_is_not_plain_is_asked_and_never_taken(line: str, journal: Journal) -> None:
    hearing = hear(line, grammar(), around_journal(grammar(), journal, NOW))
    assert verdict(hearing) in ("asked", "refused")
    assert not hearing.understood


def test_a_value_put_right_in_passing_offers_the_record_that_says_it(journal: Journal) -> None:
    around = around_journal(grammar(), journal, NOW)
    (ask,) = hear("last contact was 2150 not 2205", grammar(), around).asks
    assert len(ask.lines) == 1
    assert "last known position" in ask.readings[0]
    (one,) = hear(ask.lines[0], grammar(), around).understood
    assert one.kind == "journal.correct"
    assert "2150" in one.words


@pytest.mark.parametrize(
    ("line", "name", "seats"),
    [
        ("MANTIS 12 seats, 5 h cycle", "MANTIS", 12),
        ("mantis takes 9", "MANTIS", 9),
        ("IBIS 12 seats, 5 h cycle, ready 300900Z", "IBIS", 12),
    ],
)
def test_of_two_vehicles_the_one_that_is_named_is_meant(
    tmp_path: Path, line: str, name: str, seats: int
) -> None:
    # each is a place where people are, too: that name of it once made a third vehicle of no name
    into = address(str(tmp_path / "plot.sqlite"))
    told = ["vehicle MANTIS 14 seats, 5.5 h", "vehicle IBIS 10 seats, 6 h cycle"]
    command.run(Namespace(text=told, at="2026-11-30T03:40Z", journal=None, into=into,
                          exercise="COLD LANTERN", json=False, all_the_same=False))  # fmt: skip
    opened = open_journal(into, grammar().kinds, create=False, readonly=True)
    try:
        (made,) = hear(line, grammar(), around_journal(grammar(), opened, NOW)).understood
    finally:
        opened.close()
    assert (made.payload["name"], made.payload["seats"]) == (name, seats)
