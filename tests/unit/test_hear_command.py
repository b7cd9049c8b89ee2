"""``python -m layers hear``: keys, statuses, and what is recorded."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from layers.__main__ import main
from layers.catalogue import KINDS
from layers.journal.store import open_journal

AT = "2026-11-28T12:52:00+00:00"


def told(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, dict[str, object]]:
    status = main(["hear", *words, "--json"])
    return status, json.loads(capsys.readouterr().out)


def test_understood_is_0_with_kind_time_payload_and_words(
    capsys: pytest.CaptureFixture[str],
) -> None:
    status, answer = told(capsys, "sublook 1230Z", "--at", AT)
    assert status == 0
    (one,) = answer["understood"]  # type: ignore[misc]  # JSON, as the command writes it
    assert one["kind"] == "watch.stage"
    assert one["valid_at"] == "2026-11-28T12:30:00Z"
    assert one["payload"]["stage"] == "SUBLOOK"
    assert one["words"].startswith("stage SUBLOOK")
    assert (answer["asks"], answer["note"]) == ([], False)


def test_asked_is_3_refused_is_2_a_note_is_0(capsys: pytest.CaptureFixture[str]) -> None:
    status, answer = told(capsys, "lkp 4320N 00840E 1044Z within 3,704 m", "--at", AT)
    assert status == 3
    assert answer["asks"][0]["readings"] == ["3704 m", "3.7040 m"]  # type: ignore[index]  # JSON, as the command writes it
    assert told(capsys, "sublook 1400Z", "--at", AT)[0] == 2
    status, answer = told(capsys, "captain has been told", "--at", AT)
    assert (status, answer["note"]) == (0, True)


def test_without_a_journal_a_name_is_taken_as_said(capsys: pytest.CaptureFixture[str]) -> None:
    status, answer = told(capsys, "tenace 4310n 00820e 240/12", "--at", AT)
    assert status == 0
    assert answer["understood"][-1]["payload"]["subject"] == "TENACE"  # type: ignore[index]  # JSON, as the command writes it


def test_people_in_the_water_are_in_it_since_the_hour_that_was_told(
    capsys: pytest.CaptureFixture[str],
) -> None:
    _, answer = told(capsys, "3 people in the water 1215Z", "--at", AT)
    (one,) = answer["understood"]  # type: ignore[misc]  # JSON, as the command writes it
    assert one["payload"]["since"].startswith("2026-11-28T12:15:00")
    assert "since then" in one["words"]
    assert "since now" not in one["words"]


def test_what_is_asked_first_is_recorded_when_it_is_meant_so(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    into = str(tmp_path / "j.sqlite")
    told(capsys, "20 on board", "--into", into)
    told(capsys, "sublook", "--into", into)
    status, answer = told(capsys, "alert ended", "--into", into)
    assert status == 2
    assert "persons not heard of: 20" in answer["asks"][0]["about"]  # type: ignore[index]  # JSON, as the command writes it
    assert told(capsys, "alert ended", "--into", into, "--all-the-same")[0] == 0


def test_into_records_and_says_the_numbers(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    url = str(tmp_path / "j.sqlite")
    lines = ("lkp 4320N 00840E -30 min within 2 nmi; 52 on board", "TENACE 4310N 00820E 240/12",
             "TENACE bearing 060M", "captain has been told", "scrap 5: wrong ship")  # fmt: skip
    status, answer = told(capsys, *lines, "--into", url, "--exercise", "TRY")
    assert status == 0
    assert [one["seq"] for one in answer["understood"]] == [1, 2, 3, 4, 5, 7]  # type: ignore[attr-defined]  # JSON, as the command writes it
    journal = open_journal(url, KINDS, create=False, readonly=True)
    try:
        kinds = [record.kind for record in reversed(journal.log(upto_seq=99))]
        assert journal.exercise
    finally:
        journal.close()
    assert kinds == [
        "datum.lkp", "survivors.complement", "tracks.vessel", "tracks.position", "datum.bearing",
        "watch.note", "journal.retract",
    ]  # fmt: skip


def test_what_the_journal_refuses_is_said_and_the_rest_is_kept(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    url = str(tmp_path / "j.sqlite")
    status, answer = told(capsys, "14 out from aft on deck", "sublook", "--into", url)
    assert status == 2
    assert "persons on board" in str(answer["asks"]) or "complement" in str(answer["asks"])
    assert [one["kind"] for one in answer["understood"]] == ["watch.stage"]  # type: ignore[attr-defined]  # JSON, as the command writes it


def test_two_journals_are_one_too_many(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["hear", "sublook", "--journal", "a", "--into", "b"]) == 2
    assert "two journals" in capsys.readouterr().err
