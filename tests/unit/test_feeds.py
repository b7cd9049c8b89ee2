"""Transports, settings, state and the feed reader, each with what goes wrong."""

from __future__ import annotations

import os
import socket
import threading
import time
import weakref
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import pytest

from layers.catalogue import KINDS
from layers.earth.errors import InputError, JournalError
from layers.earth.unswept import give_back, unswept
from layers.feeds.arrival import BackOff, Incoming
from layers.feeds.folder import FolderTransport
from layers.feeds.reader import FeedReader, FeedRunner, transport_for
from layers.feeds.settings import FeedSetting, read_settings, write_settings
from layers.feeds.sockets import TcpTransport, UdpTransport
from layers.feeds.state import FeedState, read_states, write_states
from layers.feeds.web import WebTransport
from layers.journal.store import Journal, open_journal
from tests.samples import sample

AT = datetime(2027, 3, 16, 6, 35, tzinfo=UTC)
SOON = timedelta(seconds=3)
GPS = b"$GPGGA,0635%02d,4950.0,N,00830.0,W,1,08,1.0,10.0,M,,M,,"


def gga(second: int) -> bytes:
    return summed(GPS % second)


def zda() -> bytes:
    """Return the sentence that dates a log; a file without any date asks when it was recorded."""
    return summed(b"$GPZDA,063500,16,03,2027,00,00")


def summed(body: bytes) -> bytes:
    check = 0
    for byte in body[1:]:
        check ^= byte
    return body + b"*%02X\r\n" % check


@pytest.fixture
def journal(tmp_path) -> Iterator[Journal]:
    held = open_journal(tmp_path / "j.sqlite", KINDS, clock=lambda: AT)
    yield held
    held.close()


def setting(address: str, **more: object) -> FeedSetting:
    return FeedSetting.model_validate({"name": "feed", "from": address, **more})


def runner(journal: Journal, folder: Path, made: FeedSetting) -> FeedRunner:
    return FeedRunner(made, transport_for(made, folder, 0.5), journal, threading.Event())


# -- settings ------------------------------------------------------------------------------------


def test_settings_are_written_and_read_back(tmp_path):
    made = (
        setting("https://data.example/62107.txt", every_s=600.0, format="ndbc"),
        FeedSetting.model_validate(
            {"name": 'AIS "two"', "from": "udp://0.0.0.0:10110", "on": False}
        ),
    )
    write_settings(tmp_path, made)
    *found, drop = read_settings(tmp_path)
    assert tuple(found) == made
    assert [s.way for s in made] == ["http", "udp"]
    assert drop.name == "drop folder"


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        (
            "[[feed]]\nname = 'a'\nfrom = 'ftp://x/y'",
            "feed 1, from: ftp:// is not read; accepted: a file",
        ),
        ("[[feed]]\nname = 'a'\nfrom = 'udp://x'", "has no host and port"),
        ("[[feed]]\nname = 'a'\nfrom = 'http:///x'", "has no host"),
        ("[[feed]]\nfrom = 'x'", "feed 1, name: nothing was given"),
        (
            "[[feed]]\nname = 'a'\nfrom = 'x'\nevery_s = 0.1",
            "every_s: '0.1' is too small; accepted: ",
        ),
        ("[[feed]]\nname = 'a'\nfrom = 'x'\nodd = 1", "odd: '1' is no field of this kind"),
        ("[[feed]]\nname='a'\nfrom='x'\n[[feed]]\nname='a'\nfrom='y'", "'a' is named twice"),
        ("feed = 3", "holds something else"),
        ("[[feed", "cannot be read"),
    ],
)
def test_settings_that_are_wrong_get_a_sentence(tmp_path, text, sentence):
    (tmp_path / "feeds.toml").write_text(text)
    with pytest.raises(InputError) as refused:
        read_settings(tmp_path)
    assert sentence in str(refused.value)
    assert str(refused.value).startswith("feeds.toml")


# -- folder --------------------------------------------------------------------------------------


def test_a_file_is_taken_once_and_only_when_it_is_quiet(tmp_path):
    transport = FolderTransport(tmp_path)
    path = tmp_path / "a.txt"
    path.write_text("one")
    assert transport.poll(AT) == []
    path.write_text("one two")  # still being written
    os.utime(path, ns=(1, 1))
    assert transport.poll(AT + SOON) == []
    (arrival,) = transport.poll(AT + 2 * SOON)
    assert arrival.path == path
    assert transport.poll(AT + 3 * SOON) == []
    path.write_text("three")
    assert transport.poll(AT + 4 * SOON) == []
    assert len(transport.poll(AT + 5 * SOON)) == 1


def test_files_being_written_under_another_name_are_left_alone(tmp_path):
    for name in ("a.part", "b.tmp", ".hidden", "c.txt~"):
        (tmp_path / name).write_text("x")
    (tmp_path / "folder").mkdir()
    transport = FolderTransport(tmp_path)
    transport.poll(AT)
    assert transport.poll(AT + SOON) == []


def test_a_folder_that_is_not_there_is_said(tmp_path):
    with pytest.raises(InputError, match="is not there"):
        FolderTransport(tmp_path / "none").poll(AT)


def test_a_log_that_grows_is_read_on_and_a_restart_doubles_nothing(tmp_path, journal):
    folder = tmp_path / "logs"
    folder.mkdir()
    path = folder / "ship.nmea"
    path.write_bytes(zda() + gga(1) + gga(2))
    feed = runner(journal, tmp_path, setting(str(folder)))

    def steps(running: FeedRunner) -> None:
        for _ in range(6):
            journal.set_clock(journal.now() + SOON)
            running.step()

    steps(feed)
    with path.open("ab") as file:
        file.write(gga(3) + b"nonsense\n")
    steps(feed)
    assert journal.revision() == 3
    (reject,) = journal.rejects()
    assert (reject.line, reject.text) == (5, "nonsense")
    assert feed.state.records == 3
    steps(runner(journal, tmp_path, setting(str(folder))))
    assert journal.revision() == 3


def test_lines_without_checksum_are_read_only_from_a_feed_set_up_for_them(tmp_path, journal):
    bare = zda() + b"\n".join(GPS % second for second in (0, 10, 20)) + b"\n"
    for name, format_, taken in (("strict", None, 0), ("older", "nmea-bare", 3)):
        folder = tmp_path / name
        folder.mkdir()
        (folder / f"{name}.nmea").write_bytes(bare)
        feed = runner(journal, folder, setting(str(folder), format=format_))
        feed._transport.poll(AT)
        for arrival in feed._transport.poll(AT + SOON):
            feed._take(arrival)
        feed._end()
        mine = [r for r in journal.read(["tracks.position"], journal.head()[0])
                if r.source == f"{name}.nmea"]  # fmt: skip
        assert len(mine) == taken
        assert all("no checksum" in r.payload["said_by"] for r in mine)
    assert journal.reject_counts() == {"strict.nmea": 3}


def grown(transport: FolderTransport, path: Path, content: bytes, at: datetime) -> list[Incoming]:
    """Write a file and return what the transport makes of it once it is quiet."""
    path.write_bytes(content)
    transport.poll(at)
    return transport.poll(at + SOON)


def test_a_log_replaced_by_a_longer_one_is_read_from_its_beginning(tmp_path):
    """Rotation by content: the size alone does not tell that another file stands there."""
    transport, path = FolderTransport(tmp_path), tmp_path / "ship.nmea"
    first = b"".join(gga(second) for second in range(10))
    other = b"".join(gga(second) for second in range(20, 50))
    assert grown(transport, path, first, AT)[0].first_line == 1
    (again,) = grown(transport, path, other, AT + 3 * SOON)
    assert (again.content, again.first_line) == (other, 1)
    (more,) = grown(transport, path, other + gga(55), AT + 6 * SOON)
    assert (more.content, more.first_line, more.live) == (gga(55), 31, True)


def test_a_link_out_of_the_drop_folder_is_not_followed_and_said(tmp_path, journal):
    drop, outside = tmp_path / "drop", tmp_path / "outside.nmea"
    drop.mkdir()
    outside.write_bytes(zda() + gga(1))
    (drop / "link.nmea").symlink_to(outside)
    (drop / "loop.nmea").symlink_to(drop / "loop.nmea")
    (drop / "own.nmea").write_bytes(zda() + gga(2))
    (drop / "inside.nmea").symlink_to(drop / "own.nmea")
    feed = runner(journal, drop, setting(str(drop)))
    for _ in range(6):
        journal.set_clock(journal.now() + SOON)
        feed.step()
    assert journal.revision() == 1  # the file itself; by its link it is the same fact
    assert "link out of the folder" in " ".join(feed.state.troubles())


def test_a_log_without_a_date_asks_and_what_comes_while_it_is_watched_is_now(tmp_path, journal):
    path = tmp_path / "old.nmea"
    path.write_bytes(gga(1) + gga(2))
    feed = runner(journal, tmp_path, setting(str(path)))
    for _ in range(8):
        journal.set_clock(journal.now() + SOON)
        feed.step()
    assert journal.revision() == 0
    assert ["when was this recorded?" in reject.reason for reject in journal.rejects()] == [True]
    with path.open("ab") as file:
        file.write(gga(30) + gga(31))
    for _ in range(8):
        journal.set_clock(journal.now() + SOON)
        feed.step()
    assert journal.revision() == 2


def test_a_feed_that_repeats_itself_or_runs_ahead_is_told(tmp_path, journal):
    feed = runner(journal, tmp_path, setting(str(tmp_path)))
    ahead = summed(b"$GPRMC,063500,A,4950.0,N,00830.0,W,1.0,090.0,160328,,,A")
    for number, content in enumerate([zda() + gga(1)] * 7 + [ahead]):
        origin = f"ship {number}.nmea"
        feed._take(Incoming(source=origin, received_at=journal.now(), content=content))
        if number == 6:
            assert "the last 6 times it brought nothing" in " ".join(feed.state.troubles())
    assert "1 records bear a time ahead" in " ".join(feed.state.troubles())


# -- HTTP ----------------------------------------------------------------------------------------


class Answering(BaseHTTPRequestHandler):
    """Answers as its server's list says, and keeps what it was asked."""

    def do_GET(self) -> None:
        server = self.server
        server.asked.append(dict(self.headers))  # type: ignore[attr-defined]  # set by the fixture
        status, headers, body = server.answers.pop(0)  # type: ignore[attr-defined]  # as above
        self.send_response(status)
        for name, value in headers.items():
            self.send_header(name, value)
        self.end_headers()
        if body:
            self.wfile.write(body)

    def log_message(self, *words: object) -> None:
        """Say nothing."""


@pytest.fixture
def server() -> Iterator[ThreadingHTTPServer]:
    held = ThreadingHTTPServer(("127.0.0.1", 0), Answering)
    held.answers, held.asked = [], []  # type: ignore[attr-defined]  # the test's own list
    thread = threading.Thread(target=held.serve_forever, daemon=True)
    thread.start()
    yield held
    held.shutdown()
    held.server_close()
    thread.join(5.0)


def address(server: ThreadingHTTPServer, path: str = "/62107.txt") -> str:
    return f"http://127.0.0.1:{server.server_address[1]}{path}"


def test_http_asks_only_for_what_is_new(server):
    server.answers = [
        (200, {"ETag": '"one"', "Last-Modified": "Tue, 16 Mar 2027 06:00:00 GMT"}, b"first"),
        (304, {}, b""),
    ]
    transport = WebTransport(address(server), 60.0, 0.5)
    (arrival,) = transport.poll(AT)
    assert (arrival.source, arrival.content) == ("62107.txt", b"first")
    assert transport.poll(AT + timedelta(seconds=59)) == []
    assert len(server.asked) == 1
    assert transport.poll(AT + timedelta(seconds=61)) == []
    assert server.asked[1]["If-None-Match"] == '"one"'
    assert server.asked[1]["If-Modified-Since"] == "Tue, 16 Mar 2027 06:00:00 GMT"
    transport.close()


def test_http_waits_longer_after_each_failure_and_as_long_as_it_is_told(server):
    server.answers = [(503, {}, b""), (503, {"Retry-After": "900"}, b""), (200, {}, b"x")]
    transport = WebTransport(address(server), 60.0, 0.5)
    with pytest.raises(InputError, match=r"127\.0\.0\.1 answers 503"):
        transport.poll(AT)
    assert transport.next_at == AT + timedelta(seconds=120)
    with pytest.raises(InputError, match="503"):
        transport.poll(AT + timedelta(seconds=121))
    assert transport.next_at == AT + timedelta(seconds=121 + 900)
    assert transport.failures == 2
    assert len(transport.poll(AT + timedelta(seconds=1100))) == 1
    assert transport.failures == 0
    transport.close()


def test_http_that_is_too_large_is_not_kept(server, monkeypatch):
    from layers.feeds import web

    monkeypatch.setattr(web, "LARGEST_FILE", 1_000)
    server.answers = [(200, {}, b"x" * 2_000)]
    transport = WebTransport(address(server), 60.0, 0.5)
    with pytest.raises(InputError, match="sends more than"):
        transport.poll(AT)
    transport.close()


def test_http_that_does_not_answer_is_said():
    with socket.socket() as held:
        held.bind(("127.0.0.1", 0))
        port = held.getsockname()[1]
    transport = WebTransport(f"http://127.0.0.1:{port}/x", 60.0, 0.0)
    with pytest.raises(InputError, match=r"127\.0\.0\.1 does not answer"):
        transport.poll(AT)
    transport.close()


def test_back_off_grows_to_an_hour_and_no_further():
    back_off = BackOff(60.0, 0.5)
    waits = []
    for failures in range(12):
        back_off.failures = failures
        waits.append(back_off.wait_s())
    assert waits[:3] == [60.0, 120.0, 240.0]
    assert waits[-1] == 3_600.0


def test_a_polled_buoy_adds_only_its_new_row(server, journal, tmp_path):
    rows = sample("ndbc_44013_stdmet.txt").read_bytes().splitlines(keepends=True)
    server.answers = [
        (200, {}, b"".join(rows[:2] + rows[3:10])),
        (200, {}, b"".join(rows[:2] + rows[2:10])),
    ]
    feed = runner(journal, tmp_path, setting(address(server), every_s=60.0))
    feed.step()
    assert feed.state.records == 7
    journal.set_clock(AT + timedelta(seconds=61))
    feed.step()
    assert feed.state.records == 8
    assert feed.state.formats == ["ndbc"]
    assert feed.state.stale_after_s == 7_200.0


# -- UDP and TCP ---------------------------------------------------------------------------------


def free_port() -> int:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as held:
        held.bind(("127.0.0.1", 0))
        return int(held.getsockname()[1])


def until(condition, seconds: float = 10.0) -> bool:
    """Ask again and again, for what another thread or the network brings."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if condition():
            return True
        time.sleep(0.02)
    return False


def test_udp_lines_become_records(journal, tmp_path):
    port = free_port()
    feed = runner(journal, tmp_path, setting(f"udp://127.0.0.1:{port}"))
    feed.step()  # listens now
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender:
        for second in range(5):
            sender.sendto(gga(second), ("127.0.0.1", port))
        sender.sendto(b"nonsense", ("127.0.0.1", port))

    def came() -> bool:
        feed.step()
        return feed.state.rejects == 1

    assert until(came)
    for _ in range(2):  # silent for more than five seconds: the last fix is complete
        journal.set_clock(journal.now() + timedelta(seconds=6))
        feed.step()
    assert feed.state.records == 5
    assert feed.state.error == ""
    feed._end()


def test_a_udp_port_in_use_is_said():
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as held:
        held.bind(("127.0.0.1", 0))
        transport = UdpTransport("127.0.0.1", held.getsockname()[1], "x")
        with pytest.raises(InputError, match="cannot listen on udp"):
            transport.poll(AT)


def test_tcp_lines_are_joined_and_it_calls_again():
    with socket.create_server(("127.0.0.1", 0)) as listening:
        transport = TcpTransport("127.0.0.1", listening.getsockname()[1], "x", 0.0)
        assert transport.poll(AT) == []
        caller, _ = listening.accept()
        got: list[bytes] = []

        def polled(now: datetime) -> bool:
            got.extend(arrival.content for arrival in transport.poll(now))
            return bool(got)

        caller.sendall(b"half a li")
        time.sleep(0.05)
        assert not polled(AT)
        caller.sendall(b"ne\nand more")
        assert until(lambda: polled(AT))
        assert got == [b"half a line\n"]
        caller.close()
        assert until(lambda: polled(AT) and len(got) == 2)
        assert got[1] == b"and more"
        assert transport.failures == 1
        transport.poll(AT + timedelta(seconds=60))
        again, _ = listening.accept()
        again.close()
        transport.close()


def test_an_endless_line_over_tcp_is_handed_on_not_kept():
    with socket.create_server(("127.0.0.1", 0)) as listening:
        transport = TcpTransport("127.0.0.1", listening.getsockname()[1], "x", 0.0)
        transport.poll(AT)
        caller, _ = listening.accept()
        got: list[bytes] = []

        def sent() -> bool:
            caller.sendall(b"x" * 40_000)
            got.extend(arrival.content for arrival in transport.poll(AT))
            return bool(got)

        assert until(sent)
        assert len(transport._waiting) <= 65_536
        caller.close()
        transport.close()


def test_a_tcp_server_that_is_not_there_is_said():
    transport = TcpTransport("127.0.0.1", free_port(), "x", 0.0)
    with pytest.raises(InputError, match="does not answer"):
        transport.poll(AT)
    assert transport.poll(AT) == []  # not asked again at once


# -- the reader ----------------------------------------------------------------------------------


def test_one_bad_file_never_stops_a_feed(journal, tmp_path):
    drop = tmp_path / "drop"
    feed = runner(journal, tmp_path, setting(str(drop)))
    (drop / "a_bad.nc").write_bytes(b"CDF\x01 cut short")
    (drop / "b_bad.gz").write_bytes(b"\x1f\x8b nonsense")
    (drop / "c_route.gpx").write_bytes(sample("route.gpx").read_bytes())
    feed.step()
    journal.set_clock(AT + SOON)
    feed.step()
    assert journal.revision() == 1
    assert {reject.source for reject in journal.rejects()} >= {"b_bad.gz"}
    assert feed.state.files == 3
    assert feed.state.rejects >= 2


def test_a_journal_that_cannot_be_written_is_tried_again(journal, tmp_path, monkeypatch):
    drop = tmp_path / "drop"
    feed = runner(journal, tmp_path, setting(str(drop)))
    (drop / "route.gpx").write_bytes(sample("route.gpx").read_bytes())
    feed.step()
    journal.set_clock(AT + SOON)
    tries: list[int] = []
    append = journal.append

    def locked(*words, **named):
        tries.append(1)
        if len(tries) < 3:
            raise JournalError("the journal is locked by another program")
        return append(*words, **named)

    monkeypatch.setattr(journal, "append", locked)
    monkeypatch.setattr("layers.feeds.reader.RETRY_S", 0.01)
    feed.step()
    assert len(tries) == 3
    assert feed.state.records == 1
    assert feed.state.error == ""


def test_a_transport_that_stumbles_stands_in_the_state(journal, caplog):
    class Odd:
        def poll(self, now):
            raise ZeroDivisionError("odd")

        def close(self):
            pass

    feed = FeedRunner(setting("x"), Odd(), journal, threading.Event())
    feed.step()
    # the state is for people; the fault itself is in the log
    assert feed.state.error == "its reader stumbled, and goes on; the program's log says over what"
    assert "ZeroDivisionError: odd" in caplog.text


def test_the_reader_starts_ends_and_changes_feeds(journal, tmp_path):
    reader = FeedReader(journal, tmp_path)
    one = setting(str(tmp_path / "one.txt"))
    off = FeedSetting.model_validate({"name": "off", "from": "udp://127.0.0.1:1", "on": False})
    bad = FeedSetting.model_validate({"name": "bad", "from": "x", "format": "odd"})
    reader.set_up((one, off, bad))

    def told() -> dict[str, str]:
        return {state.name: state.error for state in reader.states()}

    assert until(lambda: "is not there" in told()["feed"] and "not a kind of feed" in told()["bad"])
    assert told()["off"] == "switched off"
    reader.set_up((off,))
    assert set(told()) == {"off"}
    reader.close()
    assert not [t for t in threading.enumerate() if t.name.startswith("feed ")]


def test_state_is_written_and_read_back(tmp_path):
    state = FeedState(name="a", address="b", formats=["ndbc"], heard_at=AT, stale_after_s=60.0)
    write_states(tmp_path, [state], "trouble")
    assert read_states(tmp_path) == ([state], "trouble")
    assert not state.stale(AT + timedelta(seconds=59))
    assert state.stale(AT + timedelta(seconds=61))
    assert FeedState(name="a", address="b", formats=[], stale_after_s=1.0).stale(AT)
    (tmp_path / "feeds-state.json").write_text("{")
    assert read_states(tmp_path) == ([], "")


def test_what_a_large_file_left_is_given_back():
    """A ring of objects is freed by a sweep alone, and while a file is read none is made."""

    class Ring:
        pass

    ring = Ring()
    ring.itself = ring  # type: ignore[attr-defined]  # made to be found
    left = weakref.ref(ring)
    with unswept():
        del ring
        assert left() is not None
    give_back()
    assert left() is None
