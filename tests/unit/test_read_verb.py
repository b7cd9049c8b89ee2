"""``python -m layers read``: the agreed keys, storing, and one line when it cannot be."""

from __future__ import annotations

import json
import os

import pytest

from layers.__main__ import main
from layers.catalogue import KINDS
from layers.journal.store import open_journal
from tests.samples import sample


def answer(capsys, *words):
    status = main([*map(str, words), "--json"])
    out = capsys.readouterr()
    assert out.err == ""
    return status, json.loads(out.out)


def test_read_counts_and_stores_nothing(capsys):
    path = sample("ais_mixed_noisy.txt")
    status, said = answer(capsys, "read", path)
    assert status == 0
    (entry,) = said["files"]
    assert entry["path"] == str(path)
    assert entry["format"] == "nmea"
    assert entry["records"] == {"tracks.position": 758, "tracks.static": 2}
    assert entry["rejects"] == 120
    assert entry["reasons"]["an AIS sentence with an empty payload"] == 100


def test_read_into_a_journal_twice_adds_nothing_the_second_time(capsys, tmp_path):
    url = tmp_path / "j.sqlite"
    for new in (1500, 0):
        _, said = answer(capsys, "read", sample("ndbc_44013_stdmet.txt"), "--into", url)
        assert said["files"][0]["new"] == new
        assert said["files"][0]["records"] == {"weather.observation": 1500}
    journal = open_journal(url, KINDS, readonly=True)
    assert journal.revision() == 1500
    journal.close()


def test_a_file_of_no_known_kind_is_counted_and_the_status_is_2(capsys, tmp_path):
    odd = tmp_path / "odd.bin"
    odd.write_bytes(b"\x01\x02\x03")
    status, said = answer(capsys, "read", odd, sample("route.gpx"))
    assert status == 2
    assert [entry["format"] for entry in said["files"]] == [None, "gpx"]
    assert "not a kind of file that is known" in next(iter(said["files"][0]["reasons"]))


@pytest.mark.parametrize(
    "words",
    [
        ("--into", "mysql://x/y"),
        ("--received", "2027-03-16T06:35"),
        ("--into", "/dev/null/j.sqlite"),
    ],
)
def test_what_cannot_be_is_one_line(capsys, words):
    assert main(["read", str(sample("route.gpx")), *words]) == 2
    out = capsys.readouterr()
    assert out.out == ""
    assert out.err.count("\n") == 1
    assert "Traceback" not in out.err


def test_say_has_a_line_for_each_reason(capsys):
    assert main(["read", str(sample("ais_mixed_noisy.txt"))]) == 0
    said = capsys.readouterr().out
    assert "758 tracks.position, 2 tracks.static" in said
    assert "rejected 100: an AIS sentence with an empty payload" in said


def test_what_the_journal_turns_away_is_told(capsys, tmp_path):
    point = '<trkpt lat="49.1" lon="-8.1"><time>2999-01-01T01:00:00Z</time></trkpt>'
    ahead = tmp_path / "ahead.gpx"
    ahead.write_text(
        '<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1">'
        f"<trk><name>ORION</name><trkseg>{point}</trkseg></trk></gpx>"
    )
    main(["read", str(ahead), "--into", str(tmp_path / "j.sqlite")])
    said = capsys.readouterr().out
    assert "0 new" in said
    assert "turned away 1, as:" in said
    assert "a report from the future" in said


@pytest.mark.timeout(30)
def test_a_pipe_in_the_place_of_a_file_is_not_waited_for(capsys, tmp_path):
    os.mkfifo(tmp_path / "pipe.gpx")
    status, said = answer(capsys, "read", tmp_path / "pipe.gpx")
    assert status == 2
    assert "not a file" in str(said["files"][0]["reasons"])
