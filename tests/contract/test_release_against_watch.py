"""What a release is told never contradicts the watch's: it equals it, bounds it, or is withheld."""

from __future__ import annotations

import re
from datetime import datetime
from functools import lru_cache
from typing import Any

import pytest

from demo_data.scenario import NAME, z
from layers.answer_keys import told_as
from layers.answers import answers
from layers.catalogue import BY_KEY
from layers.contract import Moment, Shown
from layers.contract.told_place import told_block
from layers.earth.block import Block
from layers.earth.chart.marks import LineMark, PointMark
from layers.earth.clock import dtg
from layers.earth.geodesy import between
from layers.earth.position import Position
from layers.earth.values import DatumValue
from layers.journal.known import Known
from layers.journal.releases.rules import OUTSIDE, WATCH
from layers.picture import Picture, hand_on
from layers.scene.release import Stamp
from layers.survivors.muster.model import PlaceSort
from layers.watch.state import state
from tests.release_pairs import TIMES, base, of_the_operation, read_picture, shown

QUICK = (TIMES[1], TIMES[4], TIMES[7])
EVERY = [pytest.param(at, id=dtg(at), marks=() if at in QUICK else pytest.mark.long)
         for at in TIMES]  # fmt: skip
Read = tuple[Picture, Known]


@lru_cache(maxsize=4)
def both(at: datetime) -> tuple[Read, Read]:
    """Return what the watch and what outsiders have of a time, made once."""
    return read_picture(base(), at, WATCH), read_picture(base(), at, OUTSIDE)


def result(made: Picture, key: str) -> Any:
    found = made.shown(key)
    assert found is not None, key
    return found.result


@pytest.mark.parametrize("at", EVERY)
def test_persons_by_place_are_the_watchs(at: datetime) -> None:
    (watch, _), (read, _) = both(at)
    if watch.shown("survivors") is None:
        assert read.shown("survivors") is None
        return
    ours, theirs = result(watch, "survivors").muster, result(read, "survivors").muster
    # a vehicle or a chamber of the plan has no name here: of those the sum is told
    for place in theirs.places:
        if place.sort not in (PlaceSort.VEHICLE, PlaceSort.CHAMBER):
            assert place.persons == ours.place(place.name).persons, place.name
    for sort in PlaceSort:
        assert sum(p.persons for p in theirs.places if p.sort is sort) == sum(
            p.persons for p in ours.places if p.sort is sort
        ), sort
    assert (theirs.pob, theirs.out, theirs.to_go, theirs.dead, theirs.not_accounted) == (
        ours.pob, ours.out, ours.to_go, ours.dead, ours.not_accounted,
    )  # fmt: skip


@pytest.mark.parametrize("at", EVERY)
def test_the_block_holds_where_the_watch_has_her_and_what_is_told_of_distances(
    at: datetime,
) -> None:
    (watch, _), (read, known) = both(at)
    datum = watch.shown("datum")
    block = told_block(known, at)
    assert block is not None
    value = hand_on(BY_KEY["datum"], read.layers["datum"])
    assert isinstance(value, DatumValue)
    assert value.where == block
    assert value.depth_m is None
    assert value.lost_at is None
    assert not value.adrift
    if datum is not None:
        assert block.contains(datum.result.position)
    ours = {s.station: s for s in result(watch, "weather").stations}
    for station in result(read, "weather").stations:
        least, most = station.over_block_nmi
        if ours[station.station].distance_nmi is not None and datum is not None:
            assert least <= between(station.position, datum.result.position)[0] / 1852 <= most
        assert station.bearing_true_deg is None
    if datum is not None and read.shown("survivors") is not None:
        for one in result(read, "survivors").hospital.hospitals:
            least, most = one.distance_nmi
            assert least <= between(one.position, datum.result.position)[0] / 1852 <= most


@pytest.mark.parametrize("at", EVERY)
def test_each_answer_equals_the_watchs_or_is_withheld(at: datetime) -> None:
    (watch, ours), (read, theirs) = both(at)
    moment = Moment(at, at)
    said = told_as(answers(watch, state(ours, moment)))
    told = told_as(answers(read, state(theirs, moment)))
    for key, found in told.items():
        if key in ("at", "as_of", "shows", "margin", "alarms"):
            continue
        if isinstance(found, dict) and found.get("form") == "withheld":
            assert set(found) <= {"form", "unit", "at", "rests_on", "told"}, key
            continue
        assert _bare(found) == _bare(said[key]), key
    assert told["margin"] == {}
    assert told["alarms"] == []


def _bare(found: Any) -> Any:
    return {k: v for k, v in found.items() if k != "rests_on"} if isinstance(found, dict) else found


@pytest.mark.parametrize("at", EVERY)
def test_the_chain_ends_when_the_ship_sails_and_says_no_other_time(at: datetime) -> None:
    (watch, _), (read, _) = both(at)
    ours = {(o.option.port, o.option.ship): o for o in result(watch, "forward_port").options}
    for way in result(read, "forward_port").options:
        full = {a.key: a for a in ours[way.option.port, way.option.ship].activities}
        if way.option.last not in full:  # before the watch let the words of the plan go
            assert way.option.last.startswith("step ")
            assert way.option.title.startswith("way ")
            assert all(step.title.startswith("step ") for step in way.activities)
            continue
        for step in way.activities:
            assert full[step.key].started_at == step.started_at
            assert full[step.key].finished_at == step.finished_at
            assert not step.key.startswith(("out-", "on-station", "descent", "first-out"))
        if way.last is not None and full[way.option.last].finished_at is not None:
            assert way.last.p50 == full[way.option.last].finished_at
        elif way.last is not None:  # a length that is not read counts as nothing: not before
            slack = 1800.0  # of the draws
            later = (full[way.option.last].finish.p50 - way.last.p50).total_seconds()
            assert later > -slack
        assert way.first_sight is None
    rows = set(result_fit(watch))
    told = {r[1:7] for r in result_fit(read) if r[-1] != "arrival withheld here"}
    assert told <= {r[1:7] for r in rows}


def result_fit(made: Picture) -> list[Any]:
    found = made.layers["forward_port"]
    assert isinstance(found, Shown)
    return list(found.tables["Fit"].rows)


@pytest.mark.parametrize("at", EVERY)
def test_what_is_withheld_is_never_said_to_be_unknown_or_none(at: datetime) -> None:
    (watch, _), (read, _) = both(at)
    for key, layer in read.layers.items():
        if isinstance(layer, Shown) and isinstance(watch.layers[key], Shown):
            for lie in ("not known", "no datum", "nobody", "no ship", "0 ships", "No sound"):
                if lie in layer.sentence:
                    assert lie in watch.layers[key].sentence, f"{key}: {layer.sentence}"


# -- and it still serves


def everything_said(at: datetime) -> str:
    return "\n".join(shown(base(), Moment(at, at)).values())


def test_a_reader_sees_that_it_is_an_exercise_the_stage_and_the_clocks() -> None:
    _, (_, known) = both(QUICK[2])
    watch = state(known, Moment(QUICK[2], QUICK[2]))
    assert watch.stage_words().startswith("SUBSUNK +2 d")
    assert [stage.stage for stage in watch.stages] == ["SUBLOOK", "SUBMISS", "SUBSUNK"]
    stamp = Stamp(title="x", exercise=NAME, moment=Moment(QUICK[2], QUICK[2]), head_seq=1,
                  head_hash="ab" * 32, release=OUTSIDE, number=3)  # fmt: skip
    said = "\n".join(stamp.lines())
    assert "EXERCISE SABLE TIDE" in said
    assert (
        "Release: outside, export 3; withheld: names of persons, medical detail, the place" in said
    )
    assert "head" not in said
    assert stamp.as_dict()["journal_head"] is None


def test_a_reader_sees_persons_by_place_and_what_was_told_of_margin_and_first_out() -> None:
    said = everything_said(QUICK[2])
    assert "Of 71 on board: 38 in the hull (forward 24, after 14)" in said
    assert "60 h to spare, after, told at 0450Z" in said
    assert "16 people at 0420Z, told at 0420Z" in said
    assert "open to 1000Z" not in said  # told to the readers of the room, not outside


def test_a_reader_sees_the_block_on_the_chart() -> None:
    _, (read, _) = both(QUICK[1])
    datum = read.layers["datum"]
    assert isinstance(datum, Shown)
    (area,) = datum.marks
    assert area.label == "area told"
    latitudes, longitudes = set(area.latitudes_deg.tolist()), set(area.longitudes_deg.tolist())
    assert {min(latitudes), max(latitudes)} == {49.5, 50.5}
    assert {min(longitudes), max(longitudes)} == {-9.0, -8.0}


def test_a_reader_sees_ports_their_fit_and_the_chain_up_to_sailing() -> None:
    (watch, _), (read, _) = both(QUICK[2])
    assert len(result_fit(read)) == len(result_fit(watch)) > 100
    found = read.layers["forward_port"]
    assert isinstance(found, Shown)
    chain = next(t for name, t in found.tables.items() if name.startswith("Chain"))
    assert len(chain.rows) > 20
    assert "Load aircraft 1" in repr(chain.rows)
    assert "was ready to sail 151340Z MAR 27; what follows is withheld here" in found.sentence
    assert {m.label for m in found.marks} >= {"Aldermouth", "Port Tressick", "Skerry Haven"}


def test_a_reader_sees_traffic_stations_forecast_windows_and_hospitals() -> None:
    _, (read, _) = both(QUICK[2])
    tracks, weather, people = (read.layers[k] for k in ("tracks", "weather", "survivors"))
    assert isinstance(tracks, Shown)
    assert len(tracks.table.rows) >= 3
    assert "NORTHERN LANTERN" in tracks.sentence  # that she takes part is no secret
    assert "places withheld here" in tracks.sentence
    assert isinstance(weather, Shown)
    assert len(weather.table.rows) == 3
    assert "nmi from the area told" in weather.sentence
    windows = next(t for name, t in weather.tables.items() if name.startswith("Working windows"))
    assert windows.rows
    assert any("middle of the area told" in name for name in weather.tables)
    assert isinstance(people, Shown)
    assert people.tables["Hospital places"].rows


# -- the four ways to work out her place from what is harmless each by itself


@pytest.mark.parametrize("at", EVERY)
def test_no_course_of_a_ship_that_takes_part_can_be_prolonged(at: datetime) -> None:
    _, (read, _) = both(at)
    names = {"NORTHERN LANTERN", "CAPE ARDIS", "SALTMARSH", "GREY HERON"}
    for layer in read.layers.values():
        if isinstance(layer, Shown):
            for mark in layer.marks:
                assert not any(subject in mark.key for subject in of_the_operation()), mark.key
                if isinstance(mark, LineMark | PointMark):
                    assert mark.label not in names, mark.key


@pytest.mark.parametrize("at", EVERY)
def test_no_arrival_gives_with_a_speed_a_circle_about_a_port(at: datetime) -> None:
    """Start and finish of the passage to her, and all that followed it, are nowhere."""
    whole = shown(base(), Moment(at, at))
    said = (
        whole["layer forward_port"] + whole["sitrep"] + whole["answers"]
    )  # a ship passes at any hour
    for actual in base().records:
        if actual.kind == "forward_port.actual" and actual.payload["activity"].startswith(
            ("out-", "on-station", "descent", "first-out")
        ):
            for name in ("started_at", "finished_at"):
                if name in actual.payload:
                    when = datetime.fromisoformat(actual.payload[name])
                    if dtg(when) not in KNOWN_OTHERWISE:
                        assert dtg(when) not in said, actual.payload
    assert "steams to the scene" not in said


KNOWN_OTHERWISE = {dtg(z(16, "0420"))}  # told by the watch, and a count ashore of that minute


@pytest.mark.parametrize("at", EVERY)
def test_no_depth_gives_a_line_on_a_chart(at: datetime) -> None:
    """Her depth is 142 m: neither it nor a seat's, a drop's or a grid's is said in metres."""
    said = everything_said(at)
    assert not re.search(r"\b1[34]\d(\.\d+)? ?m\b", said)
    assert "depth" not in "".join(re.findall(r"water_depth\w*|seat \w+ at", said))


@pytest.mark.parametrize("at", EVERY)
def test_no_time_under_water_gives_a_depth(at: datetime) -> None:
    """How long the vehicle went down is her depth over its speed."""
    _, (read, known) = both(at)
    kinds = [k for k in known.kinds if k.startswith(("survivors.sortie", "survivors.vehicle"))]
    assert kinds
    assert not known.records(*kinds)
    assert read.layers["margin"] is not None
    assert not isinstance(read.layers["margin"], Shown)


def test_the_least_block_holds_the_95_percent_and_ten_miles_round_it() -> None:
    from layers.earth.block import block_round

    found = block_round(Position(49.8333, -8.5), 133.0)
    assert found == Block(south_deg=49.5, north_deg=50.5, west_deg=-9.0, east_deg=-8.0)
    for bearing in range(0, 360, 10):
        from layers.earth.geodesy import going

        assert found.contains(going(Position(49.8333, -8.5), float(bearing), 133.0 + 18_520.0))
