"""A boat lost in the Bay of Bengal, as it is told: what was said on a line is never its channel.

The lines were written before it was looked at how they are read. None may be taken for another
fact; where one is not taken, what is asked helps.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from datetime import UTC, datetime

import pytest

from layers.catalogue import KINDS
from layers.heard import Grammar, hear
from layers.heard.record import around_journal, drafts_of
from layers.heard.result import HeardLine
from layers.journal.actor import Actor, Role
from layers.journal.store import Journal, open_journal

NOW = datetime(2026, 12, 1, 13, 0, tzinfo=UTC)
WATCH = Actor(name="watch officer", role=Role.WATCH, via="test")
BEFORE = ("boat PETREL length 70 m", "64 on board", "new ship ANIKET 1210N 08620E 240/12")


@pytest.fixture(scope="module")
def journal(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Journal]:
    made = open_journal(tmp_path_factory.mktemp("bengal") / "j.sqlite", KINDS, clock=lambda: NOW)
    for line in BEFORE:
        made.append(WATCH, drafts_of(heard(made, line), now=NOW, source="telephone",
                                     form_id=uuid.uuid4().hex))  # fmt: skip
    yield made
    made.close()


def heard(journal: Journal, line: str) -> HeardLine:
    grammar = Grammar(KINDS)
    return hear(line, grammar, around_journal(grammar, journal, NOW))


def told(journal: Journal, line: str) -> list[tuple[str, dict[str, object], str]]:
    """Return what a line becomes: kind, what it says, at what time."""
    line_ = heard(journal, line)
    assert not line_.asks, [ask.about for ask in line_.asks]
    drafts = drafts_of(line_, now=NOW, source="telephone", form_id=uuid.uuid4().hex)
    return [(d.kind, dict(d.payload), f"{d.valid_at:%H%M}") for d in drafts]


OPENINGS = (
    "telephone contact 0950: ", "UWT contact with PETREL at 0950: ", "telephone message 0950Z - ",
    "regained 0950: ", "contact regained 0950, ",
)  # fmt: skip


@pytest.mark.parametrize("opening", OPENINGS)
def test_what_was_said_on_the_telephone_is_told_of_her_at_that_time(
    journal: Journal, opening: str
) -> None:
    ((kind, said, at),) = told(journal, f"{opening}forward, 47 alive, 2 dead")
    assert (kind, at) == ("survivors.report", "0950")
    assert (said["place"], said["dead"]) == ("forward", 2)
    ((kind, said, at),) = told(journal, f"{opening}co2 2.1 percent forward at 1.6 bar abs")
    assert (kind, said["refuge"], at) == ("survivors.air", "forward", "0950")


@pytest.mark.parametrize("when", ["-10 min", "10 min ago", "at 1250Z"])
def test_how_long_ago_it_was_is_its_time_and_no_count(journal: Journal, when: str) -> None:
    ((kind, said, at),) = told(journal, f"telephone contact {when}: forward, 47 alive, 2 dead")
    assert (kind, said["persons"], at) == ("survivors.report", 49, "1250")


@pytest.mark.parametrize(
    "said",
    ["forward, 47 alive, 2 dead", "co2 2.1 percent", "hatch clear", "12 candles left",
     "list 15 port", "1.6 bar forward", "flooding aft"],
)  # fmt: skip
def test_what_was_said_on_a_line_is_never_taken_for_its_channel(
    journal: Journal, said: str
) -> None:
    for whom in ("ANIKET", "contact", "naval staff"):
        line = heard(journal, f"telephone {whom}: {said}")
        if not line.asks:
            kinds = {draft.kind for draft in drafts_of(line, now=NOW, source="t", form_id="0" * 32)}
            assert "watch.circuit" not in kinds


def test_a_circuit_is_still_told(journal: Journal) -> None:
    ((kind, said, _),) = told(journal, "circuit ANIKET: channel 16, listens every hour")
    assert (kind, said["who"], said["how"]) == (
        "watch.circuit", "ANIKET", "channel 16, listens every hour"
    )  # fmt: skip


@pytest.mark.parametrize(
    "line",
    ["telephone lost 1110", "the telephone is down since 1110", "uwt contact regained 1125Z",
     "underwater telephone weak"],
)  # fmt: skip
def test_that_the_telephone_comes_and_goes_is_a_note(journal: Journal, line: str) -> None:
    assert [kind for kind, _, _ in told(journal, line)] == ["watch.note"]


@pytest.mark.parametrize(
    ("line", "offered"),
    [
        ("diving signal from PETREL not received, due 0530Z", "overdue since 0530Z"),
        ("check report missed, due 0530", "overdue since 0530"),
        ("contact with her lost at 1214N 08641E 0230", "last known position"),
    ],
)  # fmt: skip
def test_a_signal_that_never_came_is_offered_as_what_it_means(
    journal: Journal, line: str, offered: str
) -> None:
    asks = heard(journal, line).asks
    assert [offered in ask.readings[0] for ask in asks] == [True], asks
    assert not any("not known here" in ask.about for ask in asks)


@pytest.mark.parametrize("line", ["64 souls embarked", "64 embarked", "persons embarked 64"])
def test_who_was_embarked_was_on_board(journal: Journal, line: str) -> None:
    ((kind, said, _),) = told(journal, line)
    assert (kind, said["persons"]) == ("survivors.complement", 64)


def test_one_more_is_one(journal: Journal) -> None:
    assert told(journal, "one more dead forward") == told(journal, "1 dead forward")
    assert told(journal, "2 more out from aft on deck") == told(journal, "2 out from aft on deck")


@pytest.mark.parametrize(
    ("line", "bow_down"),
    [("trim 8 bow down", 8.0), ("trimmed 8 deg bow up", -8.0), ("trim 6 by the stern", -6.0),
     ("list 15 port, trim 2.5 down by the bow", 2.5)],
)  # fmt: skip
def test_a_trim_is_told_with_its_figure_first(journal: Journal, line: str, bow_down: float) -> None:
    ((kind, said, _),) = told(journal, line)
    assert (kind, said["bow_down_deg"]) == ("survivors.lies", bow_down)


def test_a_heading_may_be_her_course_or_how_she_lies(journal: Journal) -> None:
    (ask,) = heard(journal, "heading 310").asks
    assert ask.readings == ("course 310", "she lies heading 310")


@pytest.mark.parametrize(
    "line",
    ["no more dead forward", "any more dead?", "survivors reported 1217N 08645E",
     "2 divers embarked in ANIKET", "2 medics embarked ANIKET", "helicopter embarked in ANIKET"],
)  # fmt: skip
def test_what_only_sounds_alike_makes_no_count(journal: Journal, line: str) -> None:
    hearing = heard(journal, line)
    if not hearing.asks:
        drafts = drafts_of(hearing, now=NOW, source="telephone", form_id="0" * 32)
        assert {draft.kind for draft in drafts} <= {"watch.note", "datum.sighting"}
