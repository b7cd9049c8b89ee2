"""A name that a person types and that looks like another is refused, of whatever kind it is.

Every kind of the exercise that names something is typed again with its name made to look the same
by other letters (Unicode Technical Standard 39: look-alikes of other scripts, no width; I, small L
and 1, O and nought by eye).
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest

from demo_data.load import demo_journal
from demo_data.scenario import DEMO_NOW
from layers.catalogue import KINDS
from layers.earth.errors import AskedFirst, InputError
from layers.earth.said.alike import looks
from layers.journal.actor import Actor, Role
from layers.journal.record import Draft, Record, form_identity
from layers.journal.store import Journal, open_journal
from layers.journal.words.look_alikes import named

HAND = Actor(name="duty officer", role=Role.WATCH)
NOW = DEMO_NOW + timedelta(minutes=5)
TWINS = str.maketrans({
    "A": "\u0410", "E": "\u0415", "o": "\u043e", "a": "\u0430", "e": "\u0435", "1": "l", "I": "l",
    "O": "0", "T": "\u0422", "P": "\u0420", "c": "\u0441",
})  # fmt: skip
# of each of these something of the exercise is named: they can not be left out
MUST = {
    "survivors.boat", "survivors.vehicle", "survivors.chamber", "datum.searcher", "tracks.vessel",
    "forward_port.port", "survivors.hospital", "weather.station", "datum.object", "watch.task",
    "watch.in_charge", "transponders.drop", "survivors.ship", "forward_port.ship", "survivors.lift",
}  # fmt: skip


def twin(name: str) -> str:
    """Return a name that looks the same and is another; with a gap of no width at the least."""
    made = name.translate(TWINS)
    return made if made != name else f"{name[:1]}\u200b{name[1:]}"


def last_of_each() -> dict[str, Record]:
    return {
        record.kind: record
        for record in demo_journal(DEMO_NOW)[0].records
        if not KINDS[record.kind].columns and not record.kind.startswith("journal.")
        and list(named(record.payload))
    }  # fmt: skip


NAMED = last_of_each()


@pytest.fixture(scope="module")
def journal(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Journal]:
    made = open_journal(tmp_path_factory.mktemp("apart") / "j.sqlite", KINDS, clock=lambda: NOW)
    for name in {said for one in NAMED.values() for _, said in named(one.payload)}:
        made.append(HAND, [draft("watch.task", {"who": name, "what": "stand by"}, name)])
    yield made
    made.close()


def draft(kind: str, payload: dict[str, Any], about: str) -> Draft:
    return Draft(kind=kind, payload=payload, valid_at=NOW, heard_at=NOW, source="hand",
                 identity=form_identity(f"{kind} {about}"), answered=())  # fmt: skip


def test_every_sort_of_name_that_people_type_is_tried() -> None:
    assert set(NAMED) >= MUST, MUST - set(NAMED)


@pytest.mark.parametrize("kind", sorted(NAMED))
def test_a_name_that_looks_like_another_is_refused_and_both_are_said(
    journal: Journal, kind: str
) -> None:
    whole = dict(NAMED[kind].payload)
    before = journal.revision()
    for field, name in named(whole):
        assert looks(twin(name)) == looks(name)
        with pytest.raises(InputError) as told:
            _typed(journal, draft(kind, {**whole, field: twin(name)}, f"{field} twin"), twin(name))
        assert not isinstance(told.value, AskedFirst)
        assert "looks like" in str(told.value), str(told.value)
        assert name in str(told.value)
    assert journal.revision() == before


def _typed(journal: Journal, one: Draft, name: str) -> None:
    """Type a record; where its own kind has something against it, by a kind that has nothing."""
    try:
        journal.append(HAND, [one])
    except InputError as reason:
        if "looks like" in str(reason):
            raise
        journal.append(HAND, [draft("watch.task", {"who": name, "what": "stand by"}, name)])


def test_the_name_itself_and_one_that_looks_different_are_taken(journal: Journal) -> None:
    names = sorted({said for one in NAMED.values() for _, said in named(one.payload)})
    assert len(names) > 30
    for name in names:  # none of the exercise's own names looks like another
        journal.append(HAND, [draft("watch.task", {"who": name, "what": "go on"}, name)])
    journal.append(HAND, [draft("watch.task", {"who": "SOMEBODY ELSE", "what": "go on"}, "other")])


def test_a_slip_that_was_taken_back_or_is_mended_stands_in_nobodys_way(journal: Journal) -> None:
    def told(name: str, **more: Any) -> Draft:
        return draft("watch.task", {"who": name, "what": "wait", **more}, name)

    slip = told("KESTREI 1")
    journal.append(HAND, [slip])
    mend = {"target": slip.id, "reason": "slip", "fields": {"who": "KESTREl 1"}}
    journal.append(HAND, [draft("journal.correct", mend, "mend")])
    with pytest.raises(InputError, match="looks like KESTREl 1"):
        journal.append(HAND, [told("KESTREI l")])
    journal.append(HAND, [draft("journal.retract", {"target": slip.id, "reason": "no"}, "back")])
    journal.append(HAND, [told("KESTREI l")])


def test_what_a_feed_brings_is_taken_and_told_apart_where_it_is_shown(journal: Journal) -> None:
    feed = Actor(name="feed reader", role=Role.FEED, via="feed")
    one = draft("tracks.static", {"subject": "mmsi:235000101", "name": "0SPREY"}, "feed 1")
    two = draft("tracks.static", {"subject": "mmsi:235000102", "name": "OSPREY"}, "feed 2")
    before = journal.revision()
    journal.append(feed, [one, two])
    assert journal.revision() > before
