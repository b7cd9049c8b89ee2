"""The panels of the feeds page through Streamlit's own test runner, on a small journal."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

from dashboard.panels import health
from layers import incidents
from layers.catalogue import KINDS
from layers.feeds import rooms
from layers.feeds.settings import FeedSetting, read_settings
from layers.feeds.state import FeedState, write_states
from layers.ingest import read_content
from layers.journal import naming
from layers.journal.actor import Actor, Role
from layers.journal.known import Known
from layers.journal.releases.rules import Release
from layers.journal.store import open_journal

BUOY_HEADS = (
    "#YY MM DD hh mm WDIR WSPD GST WVHT DPD APD MWD PRES ATMP WTMP DEWP VIS PTDY TIDE\n"
    "#yr mo dy hr mn degT m/s m/s m sec sec degT hPa degC degC degC nmi hPa ft\n"
)
AT = datetime(2027, 3, 16, 6, 35, tzinfo=UTC)
GPS = b"$GPGGA,063%d00,4950.0,N,00830.0,W,1,08,1.0,10.0,M,,M,,"


def _page(folder: str, writable: bool) -> None:
    from datetime import UTC, datetime
    from pathlib import Path
    from types import SimpleNamespace

    from dashboard.panels.feeds import (
        rejects as feeds_rejects,
        settings as feeds_settings,
        state as feeds_state,
    )
    from layers.catalogue import KINDS
    from layers.journal.actor import Actor, Role
    from layers.journal.known import Known
    from layers.journal.releases.rules import Release
    from layers.journal.store import open_journal

    journal = open_journal(Path(folder) / "j.sqlite", KINDS)
    seen: Any = SimpleNamespace(
        journal=journal,
        now=datetime(2027, 3, 16, 9, 35, tzinfo=UTC),
        writable=writable,
        release=Release(),
        pen=journal,
        actor=Actor(name="AB", role=Role.WATCH, room="North"),
        known=Known(journal, KINDS, journal.revision(), datetime(2027, 3, 16, 9, 35, tzinfo=UTC)),
    )
    feeds_state.show(seen)
    feeds_rejects.show(seen)
    feeds_settings.show(seen)
    journal.close()


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    monkeypatch.setenv("MUSTERPLOT_DATA_FOLDER", str(tmp_path))
    monkeypatch.setenv("MUSTERPLOT_DATABASE_URL", str(tmp_path / "j.sqlite"))
    monkeypatch.setenv(naming.SERVER, "plot-north:8501")
    st.cache_resource.clear()
    journal = open_journal(tmp_path / "j.sqlite", KINDS, clock=lambda: AT)
    actor = Actor(name="feed reader", role=Role.FEED)

    def keep(reading) -> None:
        journal.append(actor, reading.drafts, rejects=reading.rejects, blobs=reading.blobs)

    lines = b""
    for minute in range(3):
        body = GPS % minute
        check = 0
        for byte in body[1:]:
            check ^= byte
        lines += body + b"*%02X\n" % check
    read_content(lines + b"<b>broken line\n", "ship.nmea", AT, keep)
    incidents.claim(journal, tmp_path / "j.sqlite")
    journal.close()
    return tmp_path


def place(folder: Path) -> Path:
    return incidents.folder_of(folder / "j.sqlite")


def run(folder: Path, writable: bool = True) -> AppTest:
    app = AppTest.from_function(_page, args=(str(folder), writable), default_timeout=120).run()
    assert not app.exception, app.exception
    return app


def html(app: AppTest) -> str:
    return " ".join(str(part.proto.body) for part in app.get("html"))


def test_a_source_shows_its_age_and_that_it_is_stale(folder):
    text = html(run(folder))
    assert "ship.nmea" in text
    assert "160635Z MAR 27" in text  # when it was read
    assert "160632Z MAR 27" in text  # the newest of what was observed, from which its age counts
    assert "3 h 03" in text
    assert "STALE" in text
    assert "feed reader is not running" in text


def test_rejects_are_listed_with_source_line_text_and_reason(folder):
    app = run(folder)
    row = re.search(r"<td>ship.nmea</td><td>4</td><td>(.+?)</td><td>(.+?)</td>", html(app))
    assert row is not None
    assert "&lt;b&gt;broken line" in row[1]  # it is text, whatever stands in it
    assert row[2]


def test_a_feed_in_trouble_says_why_and_when_it_is_asked_again(folder):
    now = AT + timedelta(hours=3)
    state = FeedState(
        name="buoy <1>", address="https://x/y", formats=["ndbc"], heard_at=AT, records=12,
        rejects=3, error="x does not answer", next_at=now + timedelta(minutes=4),
        stale_after_s=7_200.0,
    )  # fmt: skip
    write_states(place(folder), [state], "feeds.toml: cannot be read")
    text = html(run(folder))
    assert "buoy &lt;1&gt; (ndbc)" in text
    assert "x does not answer; asked again in 4 min" in text
    assert "feeds.toml: cannot be read" in text


def test_a_feed_is_set_up_and_taken_out(folder):
    app = run(folder)
    app.text_input[0].set_value("buoy 62107")
    app.text_input[1].set_value("ftp://nowhere/x")
    app.button[0].click()
    app.run()
    assert "ftp:// is not read; accepted: a file or folder" in app.error[0].value
    assert app.text_input[0].value == "buoy 62107"  # what was typed is kept
    app.text_input[1].set_value("https://data.example/62107.txt")
    app.button[0].click()
    app.run()
    assert [s.name for s in read_settings(place(folder))] == ["buoy 62107", "drop folder"]
    app = run(folder)
    app.button[1].click()
    app.run()
    assert [s.name for s in read_settings(place(folder))] == ["drop folder"]


def test_a_reader_sees_and_cannot_change(folder):
    app = run(folder, writable=False)
    assert not app.button
    assert "Reading only" in app.caption[0].value


def test_a_feed_of_another_room_is_seen_with_its_trouble_and_taken_over_by_one_press(
    folder, monkeypatch
):
    journal = open_journal(folder / "j.sqlite", KINDS)
    state = FeedState(name="ship's AIS", address="udp://0.0.0.0:10110", formats=[], error="no line")
    setting = FeedSetting.model_validate({"name": "ship's AIS", "from": "udp://0.0.0.0:10110"})
    monkeypatch.setenv(naming.SERVER, "plot-south:8501")
    monkeypatch.setenv(naming.ROOM, "South")
    rooms.tell(journal, [state], [setting])
    monkeypatch.setenv(naming.SERVER, "plot-north:8501")
    app = run(folder)
    assert "room South (plot-south:8501): read there" in html(app)
    assert "no line" in html(app)
    with journal.engine.begin() as connection:
        connection.execute(rooms.READERS.update().values(at_us=rooms.READERS.c.at_us - 60_000_000))
    st.cache_resource.clear()
    app = run(folder)
    assert "GONE, last heard 6" in html(app)
    assert "nobody reads ship&#x27;s AIS" in html(app)
    next(each for each in app.button if each.label == "Read ship's AIS here").click().run()
    assert [s.name for s in read_settings(place(folder))] == ["ship's AIS", "drop folder"]
    assert "nobody reads" not in html(app)
    (note,) = journal.log(upto_seq=journal.revision(), kinds=("watch.note",))
    assert "room South" in note.payload["text"]


def test_the_count_of_fresh_feeds_goes_by_what_was_observed_not_by_when_it_was_read(folder):
    """A feed asked a minute ago that brings a report of years ago is not fresh."""
    journal = open_journal(folder / "j.sqlite", KINDS, clock=lambda: AT)
    feed = Actor(name="feed reader", role=Role.FEED, via="feed")
    measured = "240 12.0 15.0 3.1 9.0 6.1 250 1008.1 8.1 9.2 4.0 MM MM MM"
    for source, day in (("44013.txt", "2014 03 16"), ("44029.txt", "2027 03 16")):
        text = BUOY_HEADS + "".join(f"{day} {hour} 20 {measured}\n" for hour in ("06", "05"))
        read_content(
            text.encode(), source, AT,
            lambda found: journal.append(feed, found.drafts, rejects=found.rejects),
        )  # fmt: skip
    seen: Any = SimpleNamespace(
        release=Release(),
        now=AT + timedelta(minutes=1),
        revision=journal.revision(),
        known=Known(journal, KINDS, journal.revision(), AT),
    )
    fresh, whole, oldest = health.counts(seen)
    journal.close()
    assert (fresh, whole) == (2, 3)  # the ship's log of the exercise's morning is one more
    assert oldest is not None
    assert (oldest[1], oldest[0] > timedelta(days=4_000)) == ("44013.txt", True)
