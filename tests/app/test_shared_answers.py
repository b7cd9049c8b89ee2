"""What all viewers share is never mixed up between them: what is withheld from one stays so."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import product
from pathlib import Path

import pytest
import streamlit as st

from dashboard import view
from dashboard.cache import kept, opened, pictures
from dashboard.panels import health
from demo_data.scenario import DEMO_NOW
from layers import alive
from layers.contract import Moment, Shown, Unavailable
from layers.journal.actor import Actor, Role
from layers.journal.record import Draft
from layers.journal.store import Journal
from layers.picture import Picture
from layers.scene.release import WATCH, Release

RELEASES = [
    Release(names=names, medical=medical, exact_position=exact, to=to)
    for names, medical, exact, to in product((True, False), (True, False), (True, False), "ab")
]
OFFICER = Actor(name="watch officer", role=Role.WATCH)


@pytest.fixture
def whole(data_folder: Path) -> Picture:
    assert data_folder
    here = opened.present()
    return pictures.shared_picture(here.shown, here.shown, here.revision)


def question(text: str) -> Draft:
    return Draft(
        kind="watch.question", payload={"what": text, "asked_of": "the boat"},
        valid_at=DEMO_NOW, heard_at=DEMO_NOW,
        source="watch officer", identity=f"form:{text}",
    )  # fmt: skip


def read(release: Release) -> Picture:
    here = opened.present()
    return pictures.shared_picture(here.shown, here.shown, here.revision, release)


def test_no_release_is_given_what_another_may_see(whole: Picture) -> None:
    bare = Release(names=False, medical=False, exact_position=False)
    everything = Release(names=True)
    for release in (*RELEASES, *reversed(RELEASES), everything, bare, everything, bare):
        made = read(release)
        place, margin = made.shown("datum"), made.shown("margin")
        assert (place is not None) is release.exact_position
        assert (margin is not None) is (release.exact_position and release.medical)
        muster = made.shown("survivors")
        assert muster is not None
        assert muster.result.muster.counts_only is not release.medical
        if release.guarded:
            assert not any(m.source for s in made.layers.values() if isinstance(s, Shown)
                           for m in s.marks)  # fmt: skip


def test_releases_with_the_same_rules_share_results(whole: Picture) -> None:
    bare = [Release(medical=False, exact_position=False, to=to) for to in ("press", "family")]
    one, other = map(read, bare)
    assert all(one.layers[key] is other.layers[key] for key in one.layers)
    # what withholds names alone takes from the watch whatever names nobody
    named = read(Release())
    for key in ("datum", "weather", "tracks", "margin"):
        assert named.layers[key] is whole.layers[key], key
    assert named.layers["survivors"] is not whole.layers["survivors"]


def test_what_was_worked_out_later_never_stands_in_for_an_earlier_time(whole: Picture) -> None:
    margin, at = whole.shown("margin"), whole.moment.at
    assert margin is not None
    lasts, minute = kept.Lasts(most=2), timedelta(minutes=1)
    lasts.note("margin", Moment(at, at), margin)
    for ahead, stands in ((-1, False), (0, True), (10, True), (30, True), (31, False)):
        then = at + ahead * minute
        assert (lasts.before("margin", Moment(then, then)) is margin) is stands, ahead
    assert lasts.before("margin", Moment(at + 10 * minute, at)) is None  # hindsight
    assert lasts.before("margin", Moment(at, at + 10 * minute)) is None  # expected
    assert lasts.before("datum", Moment(at, at)) is None
    newer = replace(margin, sentence="newer")
    lasts.note("margin", Moment(at + minute, at + minute), newer)
    assert lasts.before("margin", Moment(at + 2 * minute, at + 2 * minute)) is newer


def test_who_looks_back_is_not_shown_the_margin_of_now(
    whole: Picture, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert whole.shown("margin") is not None
    monkeypatch.setattr(pictures, "worker_lives", lambda: True)  # it does, and is not done yet
    back = whole.moment.at - timedelta(hours=9)
    found = pictures.shared_picture(back, back).layers["margin"]
    assert isinstance(found, Unavailable)
    assert "being worked out" in found.reason


def test_now_stands_still_for_a_minute_and_moves_with_a_record(
    data_folder: Path, journal: Journal, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert data_folder
    monkeypatch.setattr(opened, "book", lambda: journal)  # whose clock this test may set
    before = opened.present()
    journal.set_clock(DEMO_NOW + timedelta(minutes=10, seconds=3))
    still = opened.present()
    assert still.shown == DEMO_NOW + timedelta(minutes=10)
    assert still.revision == before.revision
    journal.set_clock(DEMO_NOW + timedelta(minutes=10, seconds=20))
    journal.append(OFFICER, [question("who heard the knocking?")])
    journal.set_clock(DEMO_NOW + timedelta(minutes=10, seconds=40))
    moved = opened.present()
    assert moved.revision == still.revision + 1
    # the record counts at once, and the moment is its own
    assert moved.shown == journal.recorded_at(moved.revision)
    assert still.shown < moved.shown <= moved.now
    assert journal.seq_at(moved.shown) == moved.revision
    journal.set_clock(DEMO_NOW + timedelta(minutes=11, seconds=1))
    assert opened.present().shown == DEMO_NOW + timedelta(minutes=11)


def test_a_page_takes_what_its_frame_found_once_and_no_wall_takes_it(
    data_folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert data_folder
    looked: list[bool] = []

    def look(*, wall: bool) -> object:
        looked.append(wall)
        return object()

    monkeypatch.setattr(view, "_look", look)
    found = view.look()
    assert view.current() is found
    assert view.current() is not found  # a second page of the same run looks for itself
    found = view.look()
    assert view.current(wall=True) is not found  # what the watch sees is not for the wall
    assert view.current() is not found
    assert looked == [False, False, False, True, False]


def test_who_starts_is_no_fault_and_who_came_and_went_is_one(
    whole: Picture, data_folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from types import SimpleNamespace

    assert data_folder
    assert isinstance(whole.layers["weather"], Shown)
    monkeypatch.setattr(pictures.settings, "has_worker", lambda: True)
    seen = SimpleNamespace(journal=opened.book(), release=WATCH)
    now = datetime.now(UTC)
    pictures._first_asked.clear()
    assert health.sentences(seen) == []  # type: ignore[arg-type]  # only the journal is asked
    alive.beat(pictures.settings.incident_folder(), "feeds", now + timedelta(seconds=1), "")
    assert health.sentences(seen) == []  # type: ignore[arg-type]  # a stand-in with what is asked of it
    monkeypatch.setattr(alive, "_runs", lambda _pid: False)  # it was killed
    assert [text.partition(",")[0] for text in health.sentences(seen)] == [  # type: ignore[arg-type]  # a stand-in with what is asked of it
        "The feed reader is gone"
    ]
    assert pictures.worker_lives()  # it may still come
    monkeypatch.setattr(pictures, "COMES_WITHIN", timedelta(0))
    assert "The computing process is not running" not in health.sentences(seen)  # type: ignore[arg-type]  # a stand-in with what is asked of it
    monkeypatch.setattr(pictures, "SAID_AFTER", timedelta(0))
    assert health.sentences(seen)[-1] == "The computing process is not running"  # type: ignore[arg-type]  # a stand-in with what is asked of it
    assert not pictures.worker_lives()
    alive.end(pictures.settings.incident_folder(), "feeds")
    st.cache_resource.clear()
