"""Quick and slow layers in processes of their own, and layers that wait for the next step."""

from __future__ import annotations

import subprocess
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

import layers.picture as making
from layers import alarming
from layers.catalogue import BY_KEY, KINDS, LAYERS
from layers.contract import Moment, Shown, Unavailable
from layers.earth.table import Table
from layers.journal.record import Draft, form_identity
from layers.journal.releases.rules import with_cuts
from layers.journal.store import Journal, open_journal
from layers.picture import ROUGH, Picture, picture, prompt_kinds
from layers.results import Results
from layers.worker import Errands, Worker, WorkerPart, keys_of
from tests.journals import NOW, WATCH, Clock
from tests.unit.test_margin_unknown import air, level

STEP = timedelta(seconds=300)
START = NOW.replace(minute=5, second=0, microsecond=0)
# whose steps are told by hand below; a layer that is added is not among them
BY_HAND = {"weather", "datum", "transponders", "forward_port", "tracks", "survivors", "margin"}


@pytest.fixture
def clock() -> Clock:
    return Clock(START)


@pytest.fixture
def journal(tmp_path: Path, clock: Clock) -> Iterator[Journal]:
    opened = open_journal(tmp_path / "j.sqlite", KINDS, clock=clock)
    yield opened
    opened.close()


@pytest.fixture
def results(tmp_path: Path, journal: Journal) -> Results:
    return Results(tmp_path, journal.key)


@pytest.fixture
def computed(monkeypatch: pytest.MonkeyPatch) -> Counter[str]:
    """Count how often each layer is computed."""
    counts: Counter[str] = Counter()
    real = making.show_layer

    def counting(layer: Any, *rest: Any) -> Any:
        counts[layer.key] += 1
        return real(layer, *rest)

    monkeypatch.setattr(making, "show_layer", counting)
    return counts


def add(journal: Journal, kind: str, **payload: Any) -> None:
    at = journal.now()
    identity = form_identity(f"{kind} {at.isoformat()}")
    journal.append(WATCH, [Draft(kind=kind, payload=payload, valid_at=at, heard_at=at,
                                 source="watch", identity=identity)])  # fmt: skip


def keys(journal: Journal) -> dict[str, str]:
    return keys_of(journal, Moment(journal.now(), journal.now()))


def changed(journal: Journal, before: dict[str, str]) -> set[str]:
    return {layer for layer, key in keys(journal).items() if key != before[layer]}


def moved(journal: Journal) -> None:
    add(journal, "tracks.position", subject="mmsi:299000101", latitude_deg=49.8, longitude_deg=-8.5)


def bearing(journal: Journal) -> None:
    add(journal, "datum.bearing", observer="GREY HERON", latitude_deg=49.5, longitude_deg=-9.0,
        bearing_deg=42.0, sense="true", sigma_deg=3.0)  # fmt: skip


def told(found: Shown | Unavailable) -> tuple[str, ...]:
    """Return what a reader is told, grids and all: their text shows every value that counts."""
    if isinstance(found, Unavailable):
        return (found.reason,)
    return found.sentence, repr(found.table), repr(found.marks)


def test_a_minute_alone_leaves_the_patient_layers_as_they_are(
    journal: Journal, clock: Clock
) -> None:
    bearing(journal)
    before = keys(journal)
    clock.at += timedelta(minutes=1)
    assert changed(journal, before) & BY_HAND == {"weather", "tracks", "survivors"}
    clock.at += STEP
    assert changed(journal, before) == set(before)


def test_a_ships_report_is_taken_in_by_tracks_at_once_and_by_the_plan_at_its_next_step(
    journal: Journal, clock: Clock
) -> None:
    bearing(journal)
    clock.at += timedelta(seconds=10)
    before = keys(journal)
    clock.at += timedelta(seconds=10)
    moved(journal)
    assert changed(journal, before) & BY_HAND == {"tracks"}
    clock.at += STEP
    assert "forward_port" in changed(journal, before)


def test_evidence_moves_the_datum_and_all_that_rests_on_it_at_once(
    journal: Journal, clock: Clock
) -> None:
    moved(journal)
    clock.at += timedelta(seconds=10)
    before = keys(journal)
    clock.at += timedelta(seconds=10)
    bearing(journal)
    needs_it = {layer.key for layer in LAYERS if "datum.bearing" in prompt_kinds(layer)}
    assert changed(journal, before) == needs_it
    assert needs_it >= {"datum", "tracks", "survivors", "forward_port", "margin"}


def test_what_is_kept_is_what_anybody_would_compute_later(
    journal: Journal, results: Results, clock: Clock
) -> None:
    bearing(journal)
    first = picture(journal, Moment(clock(), clock()), journal.revision(), kept=results)
    clock.at += timedelta(minutes=2)
    moved(journal)
    clock.at += timedelta(minutes=1)
    later = Moment(clock(), clock())
    afresh = picture(journal, later, journal.revision())
    kept = picture(journal, later, journal.revision(), kept=results)
    for key in ("datum", "forward_port"):
        once = told(first.layers[key])
        assert told(afresh.layers[key]) == told(kept.layers[key]) == once
        assert told(results[keys_of(journal, later)[key]]) == once


def test_a_layer_waits_only_for_what_it_needs() -> None:
    for layer in LAYERS:
        assert set(layer.patient) <= set(layer.needs)
        for need in set(layer.needs) - set(layer.patient):
            assert set(prompt_kinds(BY_KEY[need])) <= set(prompt_kinds(layer))


def test_each_part_computes_its_own_layers_and_none_twice(
    journal: Journal, results: Results, computed: Counter[str]
) -> None:
    bearing(journal)
    Worker(journal, results, part=WorkerPart.QUICK).step()
    assert set(computed) == set(WorkerPart.QUICK.layers)
    Worker(journal, results, part=WorkerPart.SLOW).step()
    assert set(computed) == {layer.key for layer in LAYERS}
    assert max(computed.values()) == 1


def test_one_record_makes_only_the_layers_of_its_kind_work(
    journal: Journal, results: Results, clock: Clock, computed: Counter[str]
) -> None:
    bearing(journal)
    clock.at += timedelta(seconds=1)
    worker = Worker(journal, results)
    worker.step()
    computed.clear()
    clock.at += timedelta(seconds=1)
    moved(journal)
    worker.step()
    assert computed == {"tracks": 1}


def test_the_slow_part_is_asked_apart(journal: Journal, results: Results, clock: Clock) -> None:
    bearing(journal)
    earlier = Moment(clock() - timedelta(hours=1), clock() - timedelta(hours=1))
    results.ask(earlier, slow=True)
    assert results.wanted() is None
    assert results.wanted(slow=True) == (earlier, with_cuts(""), None)
    assert results.wanted(slow=True) is None


def test_an_alarm_is_judged_again_when_the_margin_has_come(
    journal: Journal, results: Results, monkeypatch: pytest.MonkeyPatch
) -> None:
    bearing(journal)
    quick = Worker(journal, results, part=WorkerPart.QUICK)
    judged: list[Any] = []
    monkeypatch.setattr(quick._alarms, "raise_due", lambda made, _earlier: judged.append(made))
    quick.step()
    assert not quick.step()
    assert "margin" not in judged[-1].layers
    Worker(journal, results, part=WorkerPart.SLOW).step()
    assert quick.step()
    assert isinstance(judged[-1].layers["margin"], Unavailable)
    assert len(judged) == 2


def test_what_comes_now_does_not_wait_for_the_picture_of_an_hour_ago(
    journal: Journal, results: Results, clock: Clock
) -> None:
    bearing(journal)
    add(journal, "watch.alarm_rule", sort="ETA slipped", limit=30.0)
    ago = clock() - timedelta(hours=1)
    names = [keys_of(journal, Moment(ago, ago))[key] for key in WorkerPart.QUICK.layers]
    quick = Worker(journal, results, part=WorkerPart.QUICK)
    quick.step()
    assert not results.there(names), "the quick layers of now would have waited for it"
    Worker(journal, results, part=WorkerPart.SLOW).step()  # it need not rest for that
    assert results.there(names)
    compared: list[Any] = []
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(alarming, "judge", lambda _rules, _now, before: compared.append(before) or [])
        clock.at += timedelta(minutes=1)
        quick.step()
    assert [one.at for one in compared] == [ago]


def test_a_first_look_is_there_before_the_margin_and_says_that_it_is_rough(
    journal: Journal, results: Results
) -> None:
    for kind, payload in (
        ("survivors.complement", {"part": "sailing list", "persons": 30}),
        ("survivors.move", {"from_place": "not accounted for", "to_place": "after",
                            "groups": [{"persons": 30, "fitness": "walking"}], "reason": "told"}),
        ("survivors.air", air("after")),
        ("survivors.compartment", {"refuge": "after", "free_volume_m3": 400.0}),
        ("survivors.level", level()),
    ):  # fmt: skip
        add(journal, kind, **payload)
    there: list[tuple[str, bool]] = []
    put = Results.__setitem__

    def noting(self: Results, key: str, value: Any) -> None:
        if isinstance(value, Shown) and hasattr(value.result, "rough"):
            there.append((key, value.result.rough))
        put(self, key, value)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Results, "__setitem__", noting)
        Worker(journal, results).step()
    whole = keys(journal)["margin"]
    assert there == [(whole + ROUGH, True), (whole, False)]
    rough, fine = results[whole + ROUGH], results[whole]
    assert isinstance(rough, Shown)
    assert isinstance(fine, Shown)
    assert "refining" in rough.sentence
    assert "refining" not in fine.sentence
    alone = [one.result.outlook.of("after").alone_h.p50 for one in (rough, fine)]
    assert alone[0] == pytest.approx(alone[1], rel=0.1)


def test_what_a_layer_wants_worked_out_beside_everything_is_started_one_at_a_time(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    begun: list[list[str]] = []
    wanted = [("a.module", "1")]
    ended: list[int | None] = [None]

    class Program:
        def __init__(self, words: list[str], **_more: object) -> None:
            begun.append(words[1:])

        def poll(self) -> int | None:
            return ended[0]

    monkeypatch.setattr(subprocess, "Popen", Program)
    layer = replace(BY_KEY["datum"], errand=lambda _result: wanted[0])
    monkeypatch.setitem(BY_KEY, "datum", layer)
    errands, empty = Errands(), Table(heads=(), rows=())
    shown = Shown(result=object(), marks=(), table=empty, sentence="", tables={})
    made = Picture(moment=Moment(START, START), upto_seq=0, layers={"datum": shown})
    errands.send(made)
    wanted[0] = ("a.module", "2")
    errands.send(made)
    assert begun == [["-m", "a.module", "1"]]  # the first is under way
    ended[0] = 0
    errands.send(made)
    errands.send(made)  # done, and not asked for again at every picture
    assert begun == [["-m", "a.module", "1"], ["-m", "a.module", "2"]]
    wanted[0] = ()
    errands.send(made)
    assert len(begun) == 2
