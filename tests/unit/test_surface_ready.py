"""Mass escape now: what stands ready at the surface this hour against those who may come up."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from layers.contract import Moment
from layers.survivors.muster.muster import muster
from layers.survivors.muster.ready import OLD, SurfaceReady, surface_ready
from tests.survivors_journal import AT, Told
from tests.unit.lift_cases import chamber


def boat() -> Told:
    told = Told()
    told.complement("sailing list", 71)
    told.move("not accounted for", "forward", [(24, "walking")])
    told.move("not accounted for", "after", [(30, "walking")])
    told.move("not accounted for", "deck", [(5, "walking")])
    return told


def ready(told: Told, held_by: str, hours: float = 0.0, **more: Any) -> None:
    told.add("survivors.ready", {"held_by": held_by, **more}, hours)


def looked(told: Told, hours: float = 1.0) -> SurfaceReady:
    at = AT + timedelta(hours=hours)
    known = told.known()
    return surface_ready(known, at, muster(known, Moment(at, at)))


def count(found: SurfaceReady, what: str) -> int | None:
    return next(one.count for one in found.things if one.what == what)


def test_all_in_the_hull_and_all_not_heard_of_may_come_up_and_nobody_else() -> None:
    found = looked(boat())
    assert found.may_come_up == 24 + 30 + (71 - 24 - 30 - 5)
    assert found.not_heard_of == 12


def test_what_nobody_told_is_not_known_and_never_none() -> None:
    found = looked(boat())
    assert [one.count for one in found.things] == [None] * 4
    assert found.short("raft_places") is None
    told = boat()
    ready(told, "NORTHERN LANTERN", raft_places=40, doctors=1)
    some = looked(told)
    assert count(some, "raft_places") == 40
    assert count(some, "boats") is None
    assert some.short("raft_places") == 66 - 40


def test_ships_add_up_and_each_ships_last_word_counts() -> None:
    told = boat()
    ready(told, "NORTHERN LANTERN", raft_places=40, boats=1)
    ready(told, "SALTMARSH", raft_places=30)
    ready(told, "NORTHERN LANTERN", 0.5, raft_places=25, boats=0)
    found = looked(told)
    assert count(found, "raft_places") == 25 + 30
    assert count(found, "boats") == 0  # told as none: that is known
    (rafts,) = (one for one in found.things if one.what == "raft_places")
    assert rafts.held_by == ("NORTHERN LANTERN", "SALTMARSH")
    assert rafts.told_at == AT  # as old as the oldest of what it adds up
    before = looked(told, 0.25)
    assert count(before, "raft_places") == 40 + 30


def test_what_was_told_long_ago_is_marked_old() -> None:
    told = boat()
    ready(told, "SALTMARSH", raft_places=30)
    hours = OLD.total_seconds() / 3600.0
    assert not next(one.old for one in looked(told, hours - 0.1).things if one.count)
    assert next(one.old for one in looked(told, hours + 0.1).things if one.count)


def test_chambers_count_by_the_places_free_now() -> None:
    told = boat()
    for name, more in (
        ("chamber 1", {}),
        ("chamber 2", {"state": "fitting out"}),
        ("chamber 3", {"planned": False}),
        ("chamber 4", {"available_at": AT + timedelta(days=1)}),
    ):
        told.add("survivors.chamber", chamber(name, **more).model_dump(mode="json"))
    assert count(looked(told), "chamber_places") == 16  # 18 less two attendants
    told.add("survivors.place", {"name": "chamber 1", "sort": "chamber"})
    told.move("deck", "chamber 1", [(5, "walking")])
    assert count(looked(told), "chamber_places") == 11  # by places, not by whole chambers
    ready(told, "SALTMARSH", chamber_places=4)
    assert count(looked(told), "chamber_places") == 4  # a person's own word comes first


def test_a_disputed_word_does_not_count() -> None:
    told = boat()
    key = told.add("survivors.ready", {"held_by": "SALTMARSH", "raft_places": 300})
    told.opinion("journal.dispute", key, 0.1)
    assert count(looked(told), "raft_places") is None
