"""The feeds of all rooms are seen in all rooms, and taken over by one press."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest
import sqlalchemy as sa

from layers.catalogue import KINDS
from layers.earth.errors import InputError
from layers.feeds.__main__ import Loop
from layers.feeds.reader import FeedReader
from layers.feeds.rooms import READERS, forget, take_over, tell, told
from layers.feeds.settings import FeedSetting, read_settings, write_settings
from layers.feeds.state import FeedState
from layers.journal import naming
from layers.journal.copies.copied import copy_zip
from layers.journal.integrity.chain import verify
from layers.journal.store import Journal, open_journal

BUOY = FeedSetting.model_validate({"name": "buoy", "from": "/srv/south/buoy.txt"})


@pytest.fixture
def journal(tmp_path: Path) -> Journal:
    return open_journal(tmp_path / "journal.sqlite", KINDS)


def _in(room: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(naming.ROOM, room)
    monkeypatch.setenv(naming.SERVER, f"plot-{room.lower()}:8501")


def test_what_one_room_reads_is_told_in_the_other_with_its_trouble(
    tmp_path: Path, journal: Journal, monkeypatch: pytest.MonkeyPatch
) -> None:
    _in("South", monkeypatch)
    folder = tmp_path / "south"
    folder.mkdir()
    write_settings(folder, [BUOY])
    loop = Loop(
        FeedReader(journal, folder), folder,
        tell=lambda states, own, trouble: tell(journal, states, own, trouble),
    )  # fmt: skip
    loop.step()
    loop._reader.close()
    _in("North", monkeypatch)
    (south,) = told(open_journal(tmp_path / "journal.sqlite", KINDS, readonly=True))
    assert (south.room, south.server, south.gone) == ("South", "plot-south:8501", False)
    assert [each.name for each in south.settings] == ["buoy"]  # not its own drop folder
    assert {each.name for each in south.states} == {"buoy", "drop folder"}


def test_a_reader_that_is_not_heard_for_half_a_minute_is_gone(
    journal: Journal, monkeypatch: pytest.MonkeyPatch
) -> None:
    _in("South", monkeypatch)
    state = FeedState(name="buoy", address="/x", formats=[], error="the server does not answer")
    tell(journal, [state], [BUOY])
    with journal.engine.begin() as connection:
        early = READERS.c.at_us - 45_000_000
        connection.execute(READERS.update().values(at_us=early))
    (south,) = told(journal)
    assert south.gone
    assert not south.ended
    assert timedelta(seconds=44) < south.age < timedelta(seconds=90)
    assert south.states[0].troubles() == ["the server does not answer"]
    tell(journal, [state], [BUOY], ended=True)
    assert told(journal)[0].ended
    forget(journal, south.server)
    assert told(journal) == []


def test_a_feed_is_taken_over_by_one_press_and_only_once(tmp_path: Path) -> None:
    write_settings(tmp_path, [FeedSetting.model_validate({"name": "buoy", "from": "/srv/other"})])
    made = take_over(tmp_path, BUOY)
    assert made.name == "buoy 2"  # another feed is called so here
    assert BUOY.address in {each.address for each in read_settings(tmp_path)}
    with pytest.raises(InputError, match="read here already"):
        take_over(tmp_path, BUOY)


def test_the_table_is_in_no_hash_and_in_no_copy_and_an_old_journal_has_none(
    journal: Journal,
) -> None:
    assert told(journal) == []
    assert not sa.inspect(journal.engine).has_table("feed_readers")
    before = journal.head()
    tell(journal, [], [BUOY])
    assert journal.head() == before
    assert verify(journal).intact
    assert b"/srv/south" not in copy_zip(journal, ("x",))
