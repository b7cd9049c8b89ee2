"""The next incident is begun by one act; nothing of one incident is ever in another.

Written from the rule that two incidents on one computer share nothing but the computer: a file
dropped for one, a feed set up for one, a result kept for one is not there in the other.
"""

from __future__ import annotations

import zipfile
from argparse import Namespace
from datetime import timedelta
from pathlib import Path

import pytest

from dashboard.server import opening
from layers import incidents
from layers.__main__ import main as layers_main
from layers.catalogue import KINDS
from layers.contract import Moment
from layers.earth.errors import AskedFirst, InputError
from layers.feeds.__main__ import Loop
from layers.feeds.reader import FeedReader
from layers.feeds.settings import FeedSetting, read_settings, write_settings
from layers.journal.actor import Actor, Role
from layers.journal.copies.reopened import reopen
from layers.journal.known import Known
from layers.journal.naming import FOLDER, default_url
from layers.journal.record import Draft, form_identity
from layers.journal.store import Journal, open_journal
from layers.stands_open import stands_open_in
from layers.watch.closing import STANDS_OPEN
from layers.watch.state import state

WATCH = Actor(name="AB", role=Role.WATCH, room="North")
# the sentence GGA of the NMEA 0183 examples: a fix of one's own ship
FIX = b"$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A\n"


@pytest.fixture
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "data"
    folder.mkdir()
    monkeypatch.setenv(FOLDER, str(folder))
    monkeypatch.delenv("MUSTERPLOT_DATABASE_URL", raising=False)
    return folder


def _open(path: Path | str, name: str = "Operation") -> Journal:
    journal = open_journal(path, KINDS, name=name)
    incidents.claim(journal, path)
    return journal


def _note(journal: Journal, text: str) -> None:
    now = journal.now()
    draft = Draft(
        kind="watch.note", payload={"text": text}, valid_at=now, heard_at=now, source="AB",
        identity=form_identity(text),
    )  # fmt: skip
    journal.append(WATCH, [draft])


def _read_a_while(journal: Journal, url: Path | str, steps: int = 3) -> Loop:
    """Let the feed reader's own transports look at what lies in this incident's drop folder."""
    from layers.feeds.folder import FolderTransport

    folder = incidents.folder_of(url)
    loop = Loop(FeedReader(journal, folder), folder, closed=lambda: incidents.is_closed(journal))
    for setting in read_settings(folder):
        transport = FolderTransport(Path(setting.address), make=True)
        at = journal.now()
        for step in range(steps):
            for arrival in transport.poll(at + timedelta(seconds=3 * step)):
                content = arrival.content or (arrival.path.read_bytes() if arrival.path else b"")
                _note(journal, content.decode())
    return loop


def test_two_journals_in_one_folder_share_no_drop_folder_no_feed_no_result(data: Path) -> None:
    first, second = data / "journal.sqlite", data / "second.sqlite"
    _open(first).close()
    other = _open(second, "Second")
    place, beside = incidents.folder_of(first), incidents.folder_of(second)
    assert place != beside
    assert place.is_relative_to(data)
    assert beside.is_relative_to(data)
    assert not place.is_relative_to(beside)
    assert not beside.is_relative_to(place)
    (place / "drop").mkdir()
    (place / "drop" / "old_ships.nmea").write_bytes(FIX)
    write_settings(place, [FeedSetting.model_validate({"name": "buoy", "from": "/srv/buoy"})])
    (data / "drop").mkdir()
    (data / "drop" / "older_ships.nmea").write_bytes(FIX)  # of a program before this rule
    assert [one.name for one in read_settings(beside)] == ["drop folder"]
    _read_a_while(other, second)
    assert other.revision() == 0
    assert incidents.left_behind() == data / "drop"


def test_a_journal_made_anew_under_an_old_name_finds_nothing_of_the_old(data: Path) -> None:
    path = data / "journal.sqlite"
    _open(path).close()
    place = incidents.folder_of(path)
    (place / "drop").mkdir()
    (place / "drop" / "old_ships.nmea").write_bytes(FIX)
    (place / "waiting-0123.json").write_text("[]")
    for each in data.glob("journal.sqlite*"):
        each.unlink()
    again = _open(path, "Another")
    _read_a_while(again, path)
    assert again.revision() == 0
    assert not list(place.glob("waiting-*.json"))
    assert (place / "of-another-1" / "drop" / "old_ships.nmea").exists()  # set aside, never lost


def test_the_next_incident_is_one_act_that_closes_and_archives_the_last(
    data: Path, tmp_path: Path
) -> None:
    path = data / "journal.sqlite"
    last = _open(path, "Longship")
    _note(last, "said by telephone")
    begun = incidents.begin(
        "Next: trawler", KINDS, exercise=False, last=last, by=WATCH, left_open=("task of A: look",)
    )
    assert begun.archive is not None
    with zipfile.ZipFile(begun.archive) as packed:
        assert b"said by telephone" in packed.read("records.jsonl")
        assert b"task of A: look" in packed.read("records.jsonl")
    opened = reopen(begun.archive, tmp_path / "opened.sqlite", KINDS)
    assert opened.head() == last.head()
    assert incidents.is_closed(last)
    assert default_url() == begun.url
    fresh = open_journal(begun.url, KINDS)
    assert (fresh.name, fresh.exercise, fresh.revision()) == ("Next: trawler", False, 0)
    held = {each.name: each for each in incidents.incidents(begun.url)}
    assert held["Longship"].closed_at is not None
    assert held["Next: trawler"].in_use
    assert incidents.find("longship").url == str(path.resolve())


def _three_on_board(journal: Journal) -> None:
    now = journal.now()
    for kind, payload in (
        ("survivors.complement", {"part": "sailing list", "persons": 3}),
        ("survivors.report", {"place": "forward", "persons": 1}),
    ):
        draft = Draft(
            kind=kind, payload=payload, valid_at=now, heard_at=now, source="AB",
            identity=form_identity(kind),
        )  # fmt: skip
        journal.append(WATCH, [draft])


def test_an_incident_that_people_still_wait_in_is_closed_by_no_slip_of_the_hand(
    data: Path, tmp_path: Path
) -> None:
    path = data / "journal.sqlite"
    last = _open(path, "Longship")
    _three_on_board(last)
    hand = Actor(name="AB", role=Role.WATCH, room="North", server="plot-1")
    left = stands_open_in(last)
    assert left == ("persons in the hull: 1", "persons not heard of: 2")
    with pytest.raises(AskedFirst, match="not heard of: 2: the incident is closed"):
        incidents.begin("Trawler", KINDS, exercise=False, last=last, by=hand, left_open=left)
    assert not incidents.is_closed(last)
    assert {each.name for each in incidents.incidents(path)} == {"Longship"}  # nothing was begun
    begun = incidents.begin("Trawler", KINDS, exercise=False, last=last, by=hand, left_open=left,
                            answered=(STANDS_OPEN,))  # fmt: skip
    assert begun.archive is not None
    with zipfile.ZipFile(begun.archive) as packed:
        assert b"persons not heard of: 2" in packed.read("records.jsonl")
    # who closed it, in which room, is said; and what comes after that is counted
    now = last.now()
    known = Known(last, KINDS, last.revision(), now)
    assert state(known, Moment(now, now)).stage_words().endswith(" by AB, room North")
    _note(last, "one of them walked in")
    held = {each.name: each for each in incidents.incidents(begun.url)}
    assert held["Longship"].since_closed == 1


def test_the_command_asks_too_and_lists_the_people(data: Path) -> None:
    last = _open(data / "journal.sqlite", "Longship")
    _three_on_board(last)
    last.close()
    words = ["incidents", "--journal", str(data / "journal.sqlite"), "--next", "Trawler"]
    assert layers_main(words) != 0
    assert layers_main([*words, "--all-the-same"]) == 0
    journal = open_journal(data / "journal.sqlite", KINDS, readonly=True)
    (closed,) = journal.read(["watch.closed"], journal.revision())
    assert "persons in the hull: 1" in closed.payload["left_open"]


def test_the_start_with_the_next_incident_asks_too(data: Path) -> None:
    last = _open(data / "journal.sqlite", "Longship")
    _three_on_board(last)
    last.close()
    asked = Namespace(
        journal=None, incident=None, next=True, keep=False, all_the_same=False, name="Trawler",
        exercise=None, room="North", empty=True,
    )  # fmt: skip
    with pytest.raises(AskedFirst, match="not heard of: 2"):
        opening.url_for(asked)
    asked.all_the_same = True
    assert opening.url_for(asked) == asked.begun.url
    journal = open_journal(data / "journal.sqlite", KINDS, readonly=True)
    (closed,) = journal.read(["watch.closed"], journal.revision())
    assert "persons not heard of: 2" in closed.payload["left_open"]


def test_kept_beside_is_not_closed_and_can_be_opened_again(data: Path) -> None:
    last = _open(data / "journal.sqlite", "Long one")
    _note(last, "goes on")
    begun = incidents.begin("Short one", KINDS, exercise=True, last=last, by=WATCH, close=False)
    assert begun.archive is None
    assert not incidents.is_closed(last)
    assert {each.name for each in incidents.incidents()} == {"Long one", "Short one"}
    again = incidents.begin("Short one", KINDS, exercise=True)  # of one name, of two places
    assert again.url != begun.url
    with pytest.raises(InputError, match="several incidents"):
        incidents.find("Short one")
    with pytest.raises(InputError, match="no incident called"):
        incidents.find("Nobody")
    with pytest.raises(InputError, match="has no name"):
        incidents.begin("  ", KINDS, exercise=False)


def test_a_place_that_holds_records_is_refused(data: Path) -> None:
    last = _open(data / "journal.sqlite", "Old")
    _note(last, "an old fact")
    with pytest.raises(InputError, match="holds 'Old' already"):
        incidents.begin("New", KINDS, exercise=False, url=str(data / "journal.sqlite"))


def test_nothing_is_read_into_a_closed_incident_by_itself(data: Path) -> None:
    path = data / "journal.sqlite"
    journal = _open(path)
    _note(journal, "one")
    loop = _read_a_while(journal, path)
    loop.step()
    assert [state.name for state in loop._reader.states()] == ["drop folder"]
    incidents.begin("Next", KINDS, exercise=False, last=journal, by=WATCH)
    loop.step()
    assert loop._reader.states() == []
    loop._reader.close()
