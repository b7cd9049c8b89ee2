"""Objects of search as they are told in life: a type in one's own words, found, joined, split."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from layers.catalogue import KINDS
from layers.contract import Moment
from layers.datum.adrift.adrift import state_words
from layers.datum.adrift.drift import sample_field, unknown_words
from layers.datum.adrift.leeway import BY_KEY
from layers.datum.adrift.objects import ToldObject, nearest_types, objects, suspended
from layers.earth.errors import AskedFirst, RecordRefused
from layers.earth.plane import Plane
from layers.journal.actor import Actor, Role
from layers.journal.known import Known
from layers.journal.record import Draft, form_identity
from layers.journal.store import Journal, open_journal
from layers.picture import picture

WATCH = Actor(name="AB", role=Role.WATCH, room="North")
RAFT = "raft, deep ballast"


@pytest.fixture
def journal(tmp_path: Path) -> Journal:
    return open_journal(tmp_path / "j.sqlite", KINDS)


class Teller:
    """Tells one thing after the other, a minute apart."""

    def __init__(self, journal: Journal) -> None:
        self.journal, self.began = journal, journal.now() - timedelta(hours=3)
        self.count = 0

    def __call__(self, kind: str, answered: tuple[str, ...] = (), **payload: Any) -> str:
        self.count += 1
        at = self.began + timedelta(minutes=self.count)
        draft = Draft(
            kind=f"datum.{kind}", payload=payload, valid_at=at, heard_at=at, source="by voice",
            identity=form_identity(f"told {self.count}"), answered=answered,
        )  # fmt: skip
        return self.journal.append(WATCH, [draft]).records[0].id

    def seen(self, name: str, at: tuple[float, float], **more: Any) -> str:
        return self(
            "sighting", what=name, object_type=RAFT, observer="TENACE", object=name,
            latitude_deg=at[0], longitude_deg=at[1], sigma_m=300.0, leak="not of her", **more,
        )  # fmt: skip

    def held(self) -> dict[str, ToldObject]:
        now = self.journal.now()
        known = Known(self.journal, KINDS, self.journal.revision(), now)
        return {each.entry.value.name: each for each in objects(known, now)}


@pytest.fixture
def tell(journal: Journal) -> Teller:
    return Teller(journal)


@pytest.mark.parametrize(
    ("said", "row"),
    [
        ("liferaft", "raft"),
        ("life raft, deep ballast, 20 persons", "raft, deep ballast, 15-25 persons"),
        ("life raft for 6 persons, deep ballast", "raft, deep ballast, 4-6 persons"),
        ("person in water, immersion suit", "person in water, survival suit"),
        ("body", "person in water, deceased"),
    ],
)
def test_a_type_in_ones_own_words_is_refused_by_the_objects_name_with_the_nearest(
    tell: Teller, said: str, row: str
) -> None:
    with pytest.raises(RecordRefused) as refused:
        tell("object", name="group C", object_type=said, persons=4)
    assert "group C" in str(refused.value)
    offered = nearest_types(said)
    assert set(offered) <= set(BY_KEY)
    assert any(each.startswith(row) for each in offered)
    assert row in str(refused.value)


def test_a_later_word_on_an_object_takes_nothing_away(tell: Teller) -> None:
    left = tell.journal.now() - timedelta(hours=5)
    tell("object", name="raft 1", object_type=RAFT, persons=12, left_dissub_from=left.isoformat())
    tell("object", name="raft 1", object_type=RAFT, still_sought=False)
    (raft,) = tell.held().values()
    assert raft.entry.value.persons == 12
    assert raft.entry.value.left_dissub_from == left
    assert not raft.still_sought


def test_found_says_by_whom_and_how_many_and_it_is_sought_no_more(tell: Teller) -> None:
    tell("object", name="raft 1", object_type=RAFT, persons=12)
    tell.seen("raft 1", (49.8, -8.4))
    tell("object_found", object="raft 1", by="TENACE", alive=11, dead=1,
         latitude_deg=49.9, longitude_deg=-8.3)  # fmt: skip
    (raft,) = tell.held().values()
    assert not raft.still_sought
    assert "by TENACE: 11 alive, 1 dead" in state_words(raft)
    tell("object", name="raft 2", object_type=RAFT, persons=3)
    tell("object_found", object="raft 2", by="TENACE", alive=2, all_of_it=False)
    assert tell.held()["raft 2"].still_sought


def test_a_search_is_suspended_for_one_object_by_somebody_and_taken_up_again(
    tell: Teller,
) -> None:
    tell("object", name="raft 1", object_type=RAFT)
    tell("object", name="buoy", object_type="drifts with the water alone")
    tell("search_suspended", object="raft 1", by="MRCC duty officer", reason="nothing for 5 days")
    held = tell.held()
    assert not held["raft 1"].still_sought
    assert held["buoy"].still_sought
    assert "suspended" in state_words(held["raft 1"])
    assert "MRCC duty officer: nothing for 5 days" in state_words(held["raft 1"])
    tell("search_suspended", object="raft 1", by="MRCC duty officer", resumed=True)
    assert tell.held()["raft 1"].still_sought
    tell("search_suspended", by="MRCC duty officer")  # for the boat herself
    now = tell.journal.now()
    known = Known(tell.journal, KINDS, tell.journal.revision(), now)
    assert set(suspended(known, now)) == {"DISSUB"}


def test_a_name_near_a_known_one_is_asked_and_never_counted_for_nobody(tell: Teller) -> None:
    raft = tell("object", name="raft 1", object_type=RAFT)
    with pytest.raises(AskedFirst, match="raft one") as asked:
        tell.seen("raft one", (49.8, -8.4))
    assert asked.value.about == (raft,)
    with pytest.raises(AskedFirst, match="no object of search called 'grup B'"):
        tell("object_found", object="grup B", by="TENACE", alive=3)
    with pytest.raises(AskedFirst):
        tell("object", name="raft one", object_type=RAFT)
    tell("object", name="raft one", object_type=RAFT, answered=(raft,))  # it is another
    assert set(tell.held()) == {"raft 1", "raft one"}


def test_a_letter_that_looks_like_a_figure_makes_no_other_raft(tell: Teller) -> None:
    tell("object", name="raft 1", object_type=RAFT)
    for slip in ("raft l", "RAFT I", "raft  one"):
        with pytest.raises(AskedFirst, match="one that there is: 'raft 1'"):
            tell("object", name=slip, object_type=RAFT)
    tell("object", name="raft 2", object_type=RAFT)  # another number is another raft


def test_found_a_second_time_or_with_more_than_it_held_is_asked(tell: Teller) -> None:
    tell("object", name="raft 1", object_type=RAFT, persons=6)
    with pytest.raises(AskedFirst, match="9 are found, and raft 1 was told to hold 6"):
        tell("object_found", object="raft 1", by="TENACE", alive=8, dead=1)
    tell("object_found", object="raft 1", by="TENACE", alive=2, dead=1, all_of_it=False)
    first = tell("object_found", object="raft 1", by="TENACE", alive=3)  # the rest of them
    with pytest.raises(AskedFirst, match="found already, by TENACE: 3 alive, 0 dead"):
        tell("object_found", object="raft 1", by="SIRIUS", alive=4, dead=1)
    tell("object_found", (first,), object="raft 1", by="SIRIUS", alive=4, dead=1)
    found = tell.held()["raft 1"].found
    assert found is not None
    assert found.value.by == "SIRIUS"


def test_two_that_are_one_are_not_joined_back(tell: Teller) -> None:
    tell("object", name="raft 1", object_type=RAFT)
    tell("object", name="light", object_type=RAFT)
    tell("objects_joined", object="light", into="raft 1", reason="one light seen twice")
    with pytest.raises(RecordRefused, match="one already, called raft 1"):
        tell("objects_joined", object="raft 1", into="light")
    assert set(tell.held()) == {"raft 1"}


def test_two_that_are_one_count_together_and_what_is_split_keeps_what_was_seen(
    tell: Teller,
) -> None:
    tell("object", name="orange thing", object_type=RAFT)
    tell("object", name="raft 1", object_type=RAFT, persons=6)
    first = tell.seen("orange thing", (49.8, -8.4))
    second = tell.seen("raft 1", (49.81, -8.41))
    tell("objects_joined", object="orange thing", into="raft 1", reason="the same paddle")
    (raft,) = tell.held().values()
    known = Known(tell.journal, KINDS, tell.journal.revision(), tell.journal.now())
    assert [e.id for e in raft.told(known.entries("datum.sighting"))] == [first, second]
    tell("object", name="swimmer", object_type="person in water, wet suit", split_from="raft 1")
    third = tell.seen("raft 1", (49.82, -8.42))
    known = Known(tell.journal, KINDS, tell.journal.revision(), tell.journal.now())
    held = tell.held()
    assert [e.id for e in held["swimmer"].told(known.entries("datum.sighting"))] == [first, second]
    assert third in [e.id for e in held["raft 1"].told(known.entries("datum.sighting"))]


class _WindOnly:
    """Wind everywhere, current nowhere: a buoy that tells the wind and nothing else."""

    def conditions(self, lat: Any, lon: Any, at_us: Any) -> Any:
        from types import SimpleNamespace

        n = len(np.atleast_1d(lat))
        none, some = np.full(n, np.nan), np.ones(n)
        return SimpleNamespace(
            current_east_m_s=none, current_north_m_s=none, current_sigma_m_s=none,
            wind_east_m_s=9.7 * some, wind_north_m_s=3.5 * some, wind_sigma_m_s=1.5 * some,
        )  # fmt: skip


def test_wind_is_known_though_current_is_not() -> None:
    at = int(datetime(2027, 3, 14, tzinfo=UTC).timestamp() * 1e6)
    plane = Plane(49.8, -8.4)
    found = sample_field(_WindOnly(), plane, (0.0, 0.0), 20_000.0, at, at + 3_600_000_000)  # type: ignore[arg-type]  # a stand-in with what is asked of it
    assert (found.unknown_current, found.unknown_wind) == (1.0, 0.0)
    assert found.wind_sigma_m_s == pytest.approx(1.5)
    said = unknown_words(found.unknown_current, found.unknown_wind)
    assert said == "no current is known for 100% of it"


def test_what_was_found_drifts_about_on_no_chart(tell: Teller) -> None:
    tell("lkp", latitude_deg=49.8, longitude_deg=-8.4, sigma_m=1_000.0, reported_by="TENACE")
    tell("object", name="raft 1", object_type=RAFT, persons=12)
    tell.seen("raft 1", (49.8, -8.4))
    tell("object_found", object="raft 1", by="TENACE", alive=12,
         latitude_deg=49.9, longitude_deg=-8.3)  # fmt: skip
    now = tell.journal.now()
    shown = picture(tell.journal, Moment(now, now), tell.journal.revision(), ("datum",))
    keys = {mark.key for mark in shown.layers["datum"].marks}  # type: ignore[union-attr]  # this case has one
    assert "found-raft 1" in keys
    assert not {key for key in keys if key in ("drift-raft 1", "where-raft 1", "adrift-raft 1")}
