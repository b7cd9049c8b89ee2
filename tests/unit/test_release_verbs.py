"""The command line reads for a release as every screen does."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from layers.__main__ import main

AT = ["--demo", "--as-of", "160635Z MAR 27"]


def test_the_picture_of_a_release_says_which_and_tells_no_place(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["picture", *AT, "--release", "outside", "--json"]) == 0
    said = capsys.readouterr().out
    told = json.loads(said)
    assert told["release"] == "outside"
    assert told["withheld"].endswith("the place of the DISSUB")
    assert told["layers"]["margin"]["form"] == "withheld"
    assert "49°50.0" not in said


def test_a_snapshot_of_a_release_needs_a_centre_until_a_block_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "plot.csv"
    words = ["snapshot", str(out), *AT, "--release", "outside"]
    assert main(words) == 2
    assert "no datum to centre" in capsys.readouterr().err
    assert main([*words, "--centre", "50N 008W"]) == 0
    text = out.read_text("utf-8-sig")
    assert "Release: outside" in text
    assert "49.8332" not in text


def test_an_unknown_release_is_refused_in_one_line(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["answers", *AT, "--release", "friends"]) == 2
    assert "'friends' is no release" in capsys.readouterr().err
