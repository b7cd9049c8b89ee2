"""Each kind says what a release sees of it, and each rule is needed: without it a pair differs."""

from __future__ import annotations

import copy
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from demo_data.scenario import DEMO_END, z
from layers.catalogue import KINDS, LAYERS
from layers.contract.told_place import told_block
from layers.earth.errors import InputError
from layers.journal.kinds import OPINION_NAMES, Kind, Payload, ruled
from layers.journal.known import Known, ListShelf
from layers.journal.record import Record
from layers.journal.releases.released import ReleaseShelf, read_as
from layers.journal.releases.rules import OUTSIDE, WHOLE, Release, only
from layers.picture import prompt_kinds, relevant_kinds
from tests.release_pairs import base, in_order, of_the_operation, record

NAMELESS = Release()
AT = z(16, "0400")
SAMPLES: dict[str, dict[str, Any]] = {
    "watch.withholding": {"audience": "readers", "reason": "press asks about 49-50N"},
    "watch.clock": {"how": "set", "reason": "lunch"},
    "watch.place_told": {"south_deg": 49.5, "north_deg": 50.5, "west_deg": -9.0, "east_deg": -8.0,
                         "reason": "she lies at 49-50N"},
    "watch.let_go": {"kinds": ["forward_port.option"], "reason": "she lies at 49-50N"},
}  # fmt: skip


class Ice(Payload):
    """A payload of a kind that nobody gave a rule."""

    latitude_deg: float
    note: str = ""


def test_every_kind_has_a_rule() -> None:
    assert not [name for name, kind in KINDS.items() if kind.release is None]


@pytest.mark.parametrize("release", [OUTSIDE, NAMELESS, Release(names=True, medical=False)])
def test_a_kind_that_declares_nothing_is_withheld_from_all_but_the_watch(release: Release) -> None:
    kinds = {**KINDS, "ice.report": Kind(name="ice.report", title="ice", model=Ice)}
    berg = Record(
        seq=1, id="a" * 32, kind="ice.report", version=1, valid_at=AT, heard_at=AT, recorded_at=AT,
        source="s", author="a", payload={"latitude_deg": 49.5, "note": "a berg"},
    )  # fmt: skip
    shelf = ListShelf([berg])
    assert read_as(shelf, kinds, Release(names=True)).read(["ice.report"], 9) == [berg]
    hidden = read_as(shelf, kinds, release)
    assert hidden.read(["ice.report"], 9) == []
    assert hidden.read_ids([berg.id], 9) == []
    assert hidden.last_seq(["ice.report"], 9) == 0
    assert not Known(hidden, kinds, 9, AT).entries("ice.report")


def test_a_field_that_its_rule_does_not_name_is_withheld() -> None:
    kinds = {"ice.report": Kind(name="ice.report", title="ice", model=Ice,
                                release=only("latitude_deg"))}  # fmt: skip
    berg = Record(
        seq=1, id="a" * 32, kind="ice.report", version=1, valid_at=AT, heard_at=AT, recorded_at=AT,
        source="s", author="a", payload={"latitude_deg": 49.5, "note": "a berg"},
    )  # fmt: skip
    read = read_as(ListShelf([berg]), kinds, OUTSIDE).read(["ice.report"], 9)
    assert [r.payload for r in read] == [{"latitude_deg": 49.5}]
    assert [(r.author, r.source) for r in read] == [("", "source 1")]


def test_a_rule_of_no_kind_and_of_no_field_is_refused() -> None:
    kinds = (Kind(name="ice.report", title="ice", model=Ice),)
    with pytest.raises(InputError, match=r"'ice\.berg', which is no kind"):
        ruled(kinds, {"ice.berg": WHOLE})
    with pytest.raises(InputError, match="'colour'"):
        ruled(kinds, {"ice.report": only("colour")})


ALL_CUTS = [OUTSIDE, NAMELESS, Release(medical=False), Release(exact_position=False)]


@pytest.mark.parametrize("release", ALL_CUTS, ids=lambda release: release.cuts)
def test_what_is_seen_of_a_record_is_a_record_of_its_kind(release: Release) -> None:
    """A payload with fields taken out still passes its kind's own check."""
    whole = base()
    read = Known(read_as(whole, KINDS, release), KINDS, len(whole.records), DEMO_END)
    for name, kind in KINDS.items():
        if not kind.columns and name not in OPINION_NAMES:
            read.entries(name)


def test_no_layer_reads_what_the_watch_tells_one_audience() -> None:
    """Results are shared between releases with the same rules, whoever they are for."""
    assert not [layer.key for layer in LAYERS if "watch.told" in relevant_kinds(layer)]


def test_no_moment_follows_from_rows_that_are_hidden_by_subject() -> None:
    for layer in LAYERS:
        if layer.patient:
            bulk = [k for k in prompt_kinds(layer) if KINDS[k].columns]
            assert not [k for k in bulk if (rule := KINDS[k].release) and rule.hides], layer.key


# -- each rule has a pair that differs when it is taken away


def first(kind: str, having: Callable[[Mapping[str, Any]], bool] = lambda p: True) -> Record:
    """Return a record of a kind: of the exercise, or a sample."""
    for each in base().records:
        if each.kind == kind and having(each.payload):
            return each
    return record(kind, AT, SAMPLES.get(kind, {}))


def changed(each: Record, **fields: Any) -> Record:
    """Return a record that says something else."""
    return replace(each, payload={**copy.deepcopy(dict(each.payload)), **fields})


Pair = tuple[list[Record], list[Record]]


def _swapped(one: Record, other: Record) -> Pair:
    """Return the exercise's plan and ships with one record, and with the other in its place."""
    rest = [r for r in base().records if r.id != one.id and r.kind in CONTEXT]
    return [*rest, one], [*rest, other]


CONTEXT = {
    "tracks.vessel", "forward_port.leg", "forward_port.activity", "forward_port.option",
    "survivors.complement", "survivors.place", "survivors.move",
}  # fmt: skip


def pair_of(name: str) -> Pair:
    """Return two journals that differ only in what the rule of a kind takes out."""
    kind = KINDS[name]
    rule = kind.release
    assert rule is not None
    if name in OPINION_NAMES:
        target = first("datum.lkp")
        about = {"target": target.id, "reason": "doubted", "fields": {"sigma_m": 9.0}}
        return [target, record(name, AT, about)], [target]
    if rule.gone(OUTSIDE):
        one = first(name)
        return [one], []
    if name == "survivors.move":
        # the last one: nobody moves on from there in another state than before
        one = [r for r in base().records if r.kind == name
               and r.payload["from_place"] != r.payload["to_place"]][-1]  # fmt: skip
        groups = [{**group, "fitness": "stretcher"} for group in one.payload["groups"]]
        return _swapped(one, changed(one, groups=groups))
    if name == "survivors.report":
        one = first(name)
        return [one], [changed(one, stretcher=one.payload["persons"], walking=None, injured=None)]
    if name == "tracks.position":
        one = first(name, lambda p: p["subject"] == "mmsi:299000101")
        return _swapped(one, changed(one, latitude_deg=one.payload["latitude_deg"] + 0.1))
    if name == "weather.observation":
        one = changed(first(name), sort="ship", station="SHIP 1")
        return [one], [changed(one, latitude_deg=49.9, longitude_deg=-8.4)]
    if name == "forward_port.leg":
        one = first(name, lambda p: p["key"].endswith("-scene"))
        points = copy.deepcopy(one.payload["points"])
        points[-1]["latitude_deg"] += 0.1
        return _swapped(one, changed(one, points=points))
    if name == "forward_port.activity":
        one = first(name, lambda p: p["key"] == "descent")
        return _swapped(one, changed(one, likely_h=2.2))
    if name == "forward_port.actual":
        one = first(name, lambda p: p["activity"] == "out-lantern-aldermouth")
        return _swapped(one, changed(one, started_at="2027-03-15T13:58:00Z"))
    if name == "forward_port.choice":
        one = first(name)
        return _swapped(one, changed(one, reason="she lies at 49-50N"))
    if name == "forward_port.clearance":
        one = first(name)
        return _swapped(one, changed(one, by="A. Person"))
    if name == "forward_port.option":
        one = first(name)
        return _swapped(one, changed(one, title="LANTERN to 49-50N"))
    field = next(f for f in kind.model.model_fields if f not in (rule.shows or ()))
    one = first(name)
    return [changed(one, **{field: "said one"})], [changed(one, **{field: "said other"})]


def as_read(records: list[Record], name: str, kinds: Mapping[str, Kind]) -> Any:
    """Return all that a release reads of a kind."""
    shelf = in_order(records, {})
    read = ReleaseShelf(shelf, kinds, OUTSIDE)
    upto_seq = len(shelf.records)
    kind = kinds[name]
    if not kind.columns:
        return [(r.payload, r.valid_at, r.source) for r in read.read([name], upto_seq)]
    columns = read.read_columns(kind, upto_seq)
    return {n: v.tolist() for n, v in columns.items() if n not in ("seq", "id")}


NEEDED = [n for n, k in KINDS.items() if k.release is not None and not k.release.whole]


@pytest.mark.parametrize("name", NEEDED)
def test_a_pair_differs_when_the_rule_is_taken_away(name: str) -> None:
    one, other = pair_of(name)
    assert as_read(one, name, KINDS) == as_read(other, name, KINDS)
    # an opinion follows its target: taken away is then the rule of what it is about
    about = "datum.lkp" if name in OPINION_NAMES else name
    without = {**KINDS, about: replace(KINDS[about], release=WHOLE)}
    assert as_read(one, name, without) != as_read(other, name, without)


def test_names_are_taken_out_of_moves_where_names_are_withheld() -> None:
    one = first("survivors.move")
    groups = [{**group, "names": ["A. Person"]} for group in one.payload["groups"]]
    shelf = in_order([changed(one, groups=groups)], {})
    read = read_as(shelf, KINDS, NAMELESS).read(["survivors.move"], 1)
    assert "A. Person" not in repr(read)
    assert "A. Person" in repr(
        read_as(shelf, KINDS, Release(names=True)).read(["survivors.move"], 1)
    )
    said = {"target": one.id, "reason": "spelling", "fields": {"groups": groups}}
    corrected = in_order([one, record("journal.correct", AT + timedelta(hours=1), said)], {})
    known = Known(read_as(corrected, KINDS, NAMELESS), KINDS, 2, AT + timedelta(hours=2))
    assert "A. Person" not in repr(known.entries("survivors.move"))


# -- the side doors: what is put in after the rule, or counts what lies between


def test_a_correction_does_not_bring_the_withheld_back() -> None:
    report = first("survivors.report")
    said = {"target": report.id, "reason": "misheard at 49-50N", "fields": {"stretcher": 1},
            "source": "Dr A. Person"}  # fmt: skip
    shelf = in_order([report, record("journal.correct", AT, said)], {})
    known = Known(read_as(shelf, KINDS, OUTSIDE), KINDS, 2, AT)
    (entry,) = known.entries("survivors.report")
    assert entry.value.stretcher is None
    assert not entry.corrected  # nothing that is seen was corrected
    assert known.last_seq(["survivors.report"]) == 1
    assert "Person" not in repr(known.entries("survivors.report"))


def test_a_correction_of_what_is_seen_is_seen_and_says_nothing_else() -> None:
    report = first("survivors.report")
    persons = report.payload["persons"] + 1
    said = {"target": report.id, "reason": "at 49-50N", "fields": {"persons": persons}}
    shelf = in_order([report, record("journal.correct", AT, said)], {})
    known = Known(read_as(shelf, KINDS, OUTSIDE), KINDS, 2, AT)
    (entry,) = known.entries("survivors.report")
    assert entry.value.persons == persons
    assert entry.corrected
    assert "49-50N" not in repr(entry)


def test_a_time_that_is_corrected_counts_for_who_reads_a_release_too() -> None:
    report = first("survivors.report")
    earlier = report.valid_at - timedelta(hours=3)
    said = {"target": report.id, "reason": "clock", "fields": {},
            "valid_at": earlier.isoformat()}  # fmt: skip
    shelf = in_order([report, record("journal.correct", AT, said)], {})
    known = Known(read_as(shelf, KINDS, OUTSIDE), KINDS, 2, AT)
    assert [e.record.valid_at for e in known.entries("survivors.report")] == [earlier]


def test_a_fix_that_turns_out_to_be_of_a_hidden_ship_goes() -> None:
    other = first("tracks.position", lambda p: p["subject"] not in of_the_operation())
    vessels = [r for r in base().records if r.kind == "tracks.vessel"]
    said = {"target": other.id, "reason": "it was LANTERN", "fields": {"subject": "mmsi:299000101"}}
    shelf = in_order([*vessels, other, record("journal.correct", AT, said)], {})
    known = Known(read_as(shelf, KINDS, OUTSIDE), KINDS, len(shelf.records), AT)
    assert known.columns("tracks.position")["subject"].tolist() == []
    assert known.latest("tracks.position")["subject"].tolist() == []


def test_who_looks_back_gets_the_block_in_force_then() -> None:
    whole = base()
    read = read_as(whole, KINDS, OUTSIDE)
    early = z(13, "1200")
    known = Known(read, KINDS, whole.seq_at(early), early)
    assert str(told_block(known, early)) == "48°30′N to 50°30′N, 011°00′W to 007°30′W"
    late = z(14, "1200")
    now = Known(read, KINDS, whole.seq_at(late), late)
    assert str(told_block(now, late)) == "49°30′N to 50°30′N, 009°00′W to 008°00′W"
    assert told_block(now, early) == told_block(known, early)
    assert told_block(now, z(13, "0900")) is None


def test_the_watch_lets_words_go_and_nothing_before() -> None:
    whole = base()
    read = read_as(whole, KINDS, OUTSIDE)
    before, after = z(13, "1130"), z(13, "1230")
    titles = [
        {r.payload["title"] for r in read.read(["forward_port.activity"], whole.seq_at(at))}
        for at in (before, after)
    ]
    assert "Load aircraft 1" not in titles[0]
    assert "step 1" in titles[0]
    assert "Load aircraft 1" in titles[1]


def test_no_figure_goes_with_the_words_that_are_let_go() -> None:
    option = first("forward_port.option")
    assert option.payload["alongside_from"]
    said = record("watch.let_go", AT, {"target": option.id})
    rest = [r for r in base().records if r.kind in CONTEXT and r.id != option.id]
    shelf = in_order([*rest, option, said], {})
    read = read_as(shelf, KINDS, OUTSIDE).read(["forward_port.option"], len(shelf.records))
    payload = next(r.payload for r in read if r.payload["key"] == option.payload["key"])
    assert payload["title"] == option.payload["title"]
    assert "alongside_from" not in payload


def test_what_is_told_to_one_audience_is_not_read_by_another() -> None:
    whole = base()
    upto_seq = len(whole.records)
    told = {
        audience: [r.payload["answer"] for r in read_as(
            whole, KINDS, replace(OUTSIDE, audience=audience)).read(["watch.told"], upto_seq)]
        for audience in ("outside", "readers", "wall")
    }  # fmt: skip
    assert told == {"outside": ["margin", "first out"], "readers": ["dive"], "wall": []}
