"""A second start shows the last picture at once, dated, and nothing that might mislead."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from dashboard.cache import last_shown, opened, pictures
from dashboard.cache.last_shown import OLDEST, LastShown
from dashboard.cache.opened import Present
from layers.journal.releases.rules import WATCH, Release

AT = datetime(2027, 3, 16, 6, 38, tzinfo=UTC)
SOON = AT + timedelta(minutes=9)
READERS = Release(exact_position=False)


def test_it_outlives_the_server_for_each_release_by_itself(tmp_path: Path) -> None:
    path = tmp_path / "shown.json"
    first = LastShown(path)
    first.note("place readers", AT, 40)
    second = LastShown(path)
    assert second.before("place readers", SOON) == (AT, 40)
    assert second.before("", SOON) is None, "what readers were shown is not the watch's"
    assert path.stat().st_mode & 0o077 == 0


def test_once_something_newer_was_shown_it_is_over(tmp_path: Path) -> None:
    path = tmp_path / "shown.json"
    LastShown(path).note("", AT, 40)
    second = LastShown(path)
    second.note("", SOON, 44)
    assert second.before("", SOON) is None


@pytest.mark.parametrize("now", [AT - timedelta(seconds=1), AT + OLDEST + timedelta(seconds=1)])
def test_neither_a_later_time_nor_one_from_long_ago_stands(tmp_path: Path, now: datetime) -> None:
    path = tmp_path / "shown.json"
    LastShown(path).note("", AT, 40)
    assert LastShown(path).before("", now) is None


def test_a_clock_that_begins_a_little_earlier_finds_the_one_before(tmp_path: Path) -> None:
    path = tmp_path / "shown.json"
    first = LastShown(path)
    first.note("", AT, 40)
    first._written -= 60.0
    first.note("", SOON, 44)
    assert LastShown(path).before("", SOON) == (SOON, 44)
    assert LastShown(path).before("", SOON - timedelta(seconds=20)) == (AT, 40)


@pytest.mark.parametrize("content", ["", "{", "[]", '{"": 7}', '{"": ["a", 1]}'])
def test_a_broken_file_is_none(tmp_path: Path, content: str) -> None:
    path = tmp_path / "shown.json"
    path.write_text(content)
    path.chmod(0o600)
    assert LastShown(path).before("", SOON) is None


class _Book:
    def seq_at(self, at: datetime) -> int:
        return 40 if at == AT else 44


@pytest.fixture
def started(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> dict[str, bool]:
    """A server that was just started; what was shown before it; what is there already."""
    there = {"ready": False, "kept": True}
    before = LastShown(tmp_path / "shown.json")
    before.note("", AT, 40)
    held = LastShown(tmp_path / "shown.json")
    monkeypatch.setattr(last_shown, "_lasts", lambda: held)
    monkeypatch.setattr(last_shown.settings, "has_worker", lambda: True)
    monkeypatch.setattr(opened, "book", _Book)
    monkeypatch.setattr(pictures, "is_ready", lambda *_asked: there["ready"])
    monkeypatch.setattr(pictures, "is_kept", lambda *_asked: there["kept"])
    monkeypatch.setattr(pictures, "ask", lambda *_asked: None)
    return there


def here(revision: int = 44) -> Present:
    return Present(revision=revision, now=SOON, shown=SOON, told=revision)


def test_the_last_picture_stands_until_the_first_is_there(started: dict[str, bool]) -> None:
    assert last_shown.stands(here(), WATCH) == (AT, 40)
    assert last_shown.stands(here(), READERS) is None
    started["ready"] = True
    assert last_shown.stands(here(), WATCH) is None


def test_what_was_not_kept_whole_is_waited_for(started: dict[str, bool]) -> None:
    started["kept"] = False
    assert last_shown.stands(here(), WATCH) is None


def test_a_journal_that_has_fewer_records_than_were_shown_is_another(
    started: dict[str, bool],
) -> None:
    assert last_shown.stands(here(39), WATCH) is None
