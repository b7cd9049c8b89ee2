from __future__ import annotations

import json
from datetime import timedelta
from itertools import pairwise
from pathlib import Path

import pytest

from demo_data import load as loading, scenario
from layers.__main__ import main
from layers.catalogue import KINDS
from layers.contract import Moment
from layers.earth.errors import InputError
from layers.journal.integrity.chain import verify
from layers.journal.store import open_journal
from layers.picture import picture
from tests.journals import Clock


def test_the_files_of_the_exercise_are_right() -> None:
    assert loading.faults() == []


def test_nothing_is_recorded_before_it_was_heard() -> None:
    items = loading.load().items
    assert items
    assert all(item.recorded_at >= item.draft.heard_at for item in items)
    assert all(a.recorded_at <= b.recorded_at for a, b in pairwise(items))


def test_the_journal_takes_the_whole_exercise_and_gives_the_same_picture(tmp_path: Path) -> None:
    journal = open_journal(tmp_path / "e.sqlite", KINDS, exercise=True, clock=Clock())
    count = loading.fill(journal)
    shelf, upto = loading.demo_journal()
    assert count == upto == journal.revision()
    assert journal.exercise
    assert journal.now() == scenario.DEMO_NOW
    assert verify(journal).intact
    moment = Moment(scenario.DEMO_NOW, scenario.DEMO_NOW)
    keys = ("tracks",)
    stored, in_memory = picture(journal, moment, upto, keys), picture(shelf, moment, upto, keys)
    for key, shown in stored.layers.items():
        assert getattr(shown, "sentence", shown) == getattr(
            in_memory.layers[key], "sentence", in_memory.layers[key]
        )
    journal.close()


def test_filling_twice_adds_nothing(tmp_path: Path) -> None:
    journal = open_journal(tmp_path / "e.sqlite", KINDS, exercise=True, clock=Clock())
    loading.fill(journal)
    assert loading.fill(journal) == 0
    journal.close()


def test_the_player_appends_what_is_due_and_resumes(tmp_path: Path) -> None:
    clock = Clock()
    journal = open_journal(tmp_path / "e.sqlite", KINDS, exercise=True, clock=clock)
    loading.fill(journal, scenario.TELEPHONE)
    player = loading.Player(journal)
    due = [i for i in loading.load().items if i.recorded_at > scenario.TELEPHONE]
    first = due[0].recorded_at
    clock.at += first - scenario.TELEPHONE
    assert player.play() == sum(i.recorded_at == first for i in due)
    clock.at += timedelta(hours=2)
    resumed = loading.Player(journal).play()
    assert resumed == sum(first < i.recorded_at <= first + timedelta(hours=2) for i in due)
    assert player.play() == 0
    journal.close()


def test_a_wrong_record_of_the_exercise_is_named_by_its_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "x").mkdir()
    row = {"id": "1", "kind": "journal.retract", "valid_at": "2027-03-15T00:00Z"}
    (tmp_path / "x" / "records.jsonl").write_text("\n" + json.dumps(row))
    monkeypatch.setattr(scenario, "FOLDER", tmp_path)
    with pytest.raises(InputError, match=r"x/records.jsonl line 2: .*heard_at"):
        loading.load.__wrapped__()


@pytest.mark.parametrize("verb", ["verify", "picture"])
def test_the_verbs_answer_for_the_exercise(verb: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([verb, "--demo", "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    if verb == "verify":
        assert answer["intact"]
        assert answer["first_bad"] is None
        assert answer["records"] > 0
    else:
        assert answer["as_of"] == "2027-03-16T06:35:00Z"
        assert answer["pob"] == scenario.POB
        assert sum(answer["by_place"].values()) == scenario.POB


def test_a_verb_says_in_one_line_what_is_wrong(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["picture", "--demo", "--layer", "nonsense"]) == 2
    assert capsys.readouterr().err.count("\n") == 1
    assert main(["verify", "--journal", "none/there.sqlite"]) == 2
    assert "is not there" in capsys.readouterr().err


def test_no_craft_of_the_exercise_is_faster_than_its_own_card_says() -> None:
    told = [item.draft for item in loading.load().items]
    cards = {
        draft.payload["name"]: draft.payload["max_speed_kn"]
        for draft in told
        if draft.kind == "tracks.vessel" and draft.payload.get("max_speed_kn") is not None
    }
    crafts = [draft.payload for draft in told if draft.kind == "survivors.craft"]
    both = [craft for craft in crafts if craft["craft"] in cards]
    assert both
    assert [c["craft"] for c in both if c["speed_kn"] > cards[c["craft"]]] == []
