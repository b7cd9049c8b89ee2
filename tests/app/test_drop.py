"""The place to drop a file, through Streamlit's own test runner, on a small journal."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace

import pytest
from streamlit.testing.v1 import AppTest

from layers.catalogue import KINDS
from layers.journal.store import open_journal

AT = datetime(2027, 3, 16, 6, 35, tzinfo=UTC)
GOOD = b"$GPGGA,%02d3000,4950.0,N,00830.0,W,1,08,1.0,10.0,M,,M,,"
TITLE = "position of a ship or aircraft"


def _page(folder: str, role: str) -> None:
    from datetime import UTC, datetime
    from pathlib import Path
    from types import SimpleNamespace
    from typing import Any

    from dashboard.tools import drop
    from layers.catalogue import KINDS
    from layers.journal.actor import Actor, Role
    from layers.journal.store import open_journal

    now = datetime(2027, 3, 16, 6, 35, tzinfo=UTC)
    journal = open_journal(Path(folder) / "j.sqlite", KINDS, clock=lambda: now)
    actor = Actor(name="watch officer 1", role=Role[role], room="North", server="plot-1:8501")
    seen: Any = SimpleNamespace(pen=journal, actor=actor, writable=role == "WATCH", now=now)
    drop.show(seen)
    journal.close()


def _checked(line: bytes) -> bytes:
    checksum = 0
    for byte in line[1:]:
        checksum ^= byte
    return line + b"*%02X" % checksum


DATED = _checked(b"$GPZDA,023000,16,03,2027,00,00")
LOG = (
    b"\r\n".join([DATED, *(_checked(GOOD % hour) for hour in (3, 4, 5)), GOOD % 6 + b"*00"])
    + b"\r\n"
)


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("MUSTERPLOT_DATA_FOLDER", str(tmp_path))
    open_journal(tmp_path / "j.sqlite", KINDS, clock=lambda: AT).close()
    return tmp_path


def _run(folder: Path, role: str = "WATCH") -> AppTest:
    app = AppTest.from_function(_page, args=(str(folder), role), default_timeout=60)
    return app.run()


def _said(app: AppTest) -> str:
    return "\n".join(str(element.body) for element in app.get("html"))


def _counts(folder: Path) -> tuple[int, int]:
    journal = open_journal(folder / "j.sqlite", KINDS)
    found = len(journal.read(["tracks.position"], journal.revision())), len(journal.rejects())
    journal.close()
    return found


def _drop(app: AppTest, name: str, content: bytes) -> AppTest:
    app.get("file_uploader")[0].set_value([(name, content, "application/octet-stream")])
    return app.run()


def test_every_line_of_a_dropped_file_is_accounted_for(folder: Path) -> None:
    app = _drop(_run(folder), "ship.log", LOG)
    assert not app.exception
    assert "ship.log" in _said(app)
    assert TITLE in _said(app)
    assert "checksum" in _said(app)
    assert _counts(folder) == (3, 1)


def test_a_dropped_file_is_signed_with_who_dropped_it_and_in_which_room(folder: Path) -> None:
    _drop(_run(folder), "ship.log", LOG)
    journal = open_journal(folder / "j.sqlite", KINDS)
    authors = {r.author for r in journal.read(["tracks.position"], journal.revision())}
    journal.close()
    assert authors == {"watch officer 1, room North (plot-1:8501)"}


def test_the_same_file_twice_is_recorded_once(folder: Path) -> None:
    _drop(_run(folder), "ship.log", LOG)
    app = _drop(_run(folder), "again.log", LOG)
    assert "already there" in _said(app)
    assert _counts(folder)[0] == 3


def test_a_log_without_a_date_asks_when_it_was_recorded_and_is_then_kept(folder: Path) -> None:
    """Nothing of it is on the plot before somebody has said when it was true."""
    undated = b"\r\n".join(_checked(GOOD % hour) for hour in (3, 4)) + b"\r\n"
    app = _drop(_run(folder), "old.log", undated)
    assert _counts(folder)[0] == 0
    assert any("when was this recorded?" in caption.value for caption in app.caption)
    (typed,) = [field for field in app.text_input if field.label == "Recorded at"]
    typed.set_value("2027-03-14T05:00Z")
    (send,) = [button for button in app.button if button.label == "Read it again"]
    app = send.click().run()
    assert not app.exception
    journal = open_journal(folder / "j.sqlite", KINDS)
    kept = journal.read(["tracks.position"], journal.revision())
    journal.close()
    assert [f"{record.valid_at:%d %H%M}" for record in kept] == ["14 0330", "14 0430"]
    assert {record.payload["time_from"] for record in kept} == {"told"}


def test_what_nobody_can_read_is_said_and_the_page_stands(folder: Path) -> None:
    app = _drop(_run(folder), "<b>x</b>.bin", bytes(range(256)) * 4)
    assert not app.exception
    assert "<b>x</b>" not in _said(app)  # a name from outside is text, never markup
    assert "&lt;b&gt;x&lt;/b&gt;" in _said(app)
    assert _counts(folder)[0] == 0


def test_a_reader_is_offered_no_place_to_drop(folder: Path) -> None:
    app = _run(folder, "READER")
    assert not app.get("file_uploader")
    assert "Reading only" in app.caption[0].value


def test_files_past_the_limit_are_named_and_read_when_asked_again(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from dashboard.tools import drop

    monkeypatch.setattr(drop, "MOST_FILES", 2)
    at_s = [100.0]
    monkeypatch.setattr(drop, "time", SimpleNamespace(monotonic=lambda: at_s[0]))
    app = _run(folder)
    files = [
        (f"{hour}.log", DATED + b"\r\n" + _checked(GOOD % hour), "text/plain")
        for hour in (1, 2, 3, 4, 5)
    ]
    app.get("file_uploader")[0].set_value(files)
    app.run()
    assert "Not read yet, 3 of the files: 3.log, 4.log, 5.log." in _said(app)
    assert "in 60 s" in _said(app)
    assert _counts(folder)[0] == 2
    for read in (4, 5):
        at_s[0] += 61.0
        app.button[0].click().run()
        assert _counts(folder)[0] == read
    assert "Not read yet" not in _said(app)
    assert not app.button
