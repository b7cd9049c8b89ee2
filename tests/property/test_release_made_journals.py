"""The same over journals made up from nothing: what is seen is drawn once, what is hidden twice."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings, strategies as st

from demo_data.scenario import z
from layers.contract import Moment
from layers.journal.known import ListShelf
from layers.journal.record import Record
from layers.journal.releases.rules import OUTSIDE, Release
from tests.release_pairs import differences, in_order, record, shown

START = z(13, "0700")
SPAN_S = 20 * 3600
WORDS = st.text("abc 49°50′N8", min_size=1, max_size=12).filter(str.strip)
NAMES = st.sampled_from(["A. Person", "Able Seaman Two", "Dr Three"])
SHIPS = ("mmsi:299000901", "mmsi:299000902")
TRAFFIC = "mmsi:299000911"
# she may lie anywhere in here and the block told stays the same
WITHIN = {"latitude_deg": st.floats(49.7, 49.95), "longitude_deg": st.floats(-8.75, -8.3)}
BLOCK = {"south_deg": 49.0, "north_deg": 50.5, "west_deg": -9.5, "east_deg": -7.5}
Drawn = tuple[str, int, Mapping[str, Any]]  # kind, seconds from the start, payload


def at(kind: str, payload: Mapping[str, st.SearchStrategy[Any]]) -> st.SearchStrategy[Drawn]:
    """Return a record of a kind at any second of the span."""
    return st.tuples(st.just(kind), st.integers(0, SPAN_S), st.fixed_dictionaries(dict(payload)))


def place(within: Mapping[str, st.SearchStrategy[float]] = WITHIN) -> dict[str, Any]:
    return {name: each.map(lambda v: round(v, 4)) for name, each in within.items()}


SEEN = st.lists(
    st.one_of(
        at("watch.stage", {"stage": st.sampled_from(["SUBLOOK", "SUBMISS", "SUBSUNK"]),
                           "basis": st.just("as said")}),
        at("weather.station", {"station": st.sampled_from(["B1", "B2"]), "name": st.just("buoy"),
                               "sort": st.just("buoy"), "latitude_deg": st.just(49.5),
                               "longitude_deg": st.just(-9.0)}),
        at("weather.observation", {"station": st.sampled_from(["B1", "B2"]),
                                   "sort": st.just("buoy"), "wind_kn": st.floats(0, 60),
                                   "hs_m": st.floats(0, 9)}),
        at("tracks.position", {"subject": st.just(TRAFFIC), "latitude_deg": st.floats(49, 51),
                               "longitude_deg": st.floats(-9, -7), "speed_kn": st.just(9.0),
                               "course_true_deg": st.just(80.0)}),
        at("survivors.hospital", {"hospital": st.just("infirmary"), "latitude_deg": st.just(51.8),
                                  "longitude_deg": st.just(-8.3), "stretcher_places": st.just(4),
                                  "source": st.just("port")}),
    ),
    max_size=12,
)  # fmt: skip
HIDDEN = st.lists(
    st.one_of(
        at("datum.lkp", {**place(), "sigma_m": st.floats(100, 9000), "reported_by": NAMES}),
        at("datum.heard", {**place(), "observer": NAMES, "within_m": st.floats(2000, 9000)}),
        at("datum.sighting", {**place(), "what": WORDS, "object_type": st.just("buoy"),
                              "sigma_m": st.floats(500, 5000), "observer": NAMES}),
        at("weather.place_of_work", {**place(), "reason": WORDS}),
        at("weather.observation", {"station": st.just("SHIP"), "sort": st.just("ship"), **place(),
                                   "wind_kn": st.floats(0, 60)}),
        at("tracks.position", {"subject": st.sampled_from(SHIPS), **place(),
                               "speed_kn": st.floats(0, 15),
                               "course_true_deg": st.floats(0, 359)}),
        at("survivors.craft", {"craft": st.just("helo"), "sort": st.just("helicopter"), **place(),
                               "speed_kn": st.just(120.0), "seats": st.integers(0, 9),
                               "stretchers": st.integers(0, 3), "source": WORDS}),
        at("survivors.in_water", {"group": WORDS, "persons": st.integers(1, 9),
                                  "since": st.just("2027-03-13T08:00:00Z"),
                                  "clothing": st.just("not known")}),
        at("watch.task", {"who": WORDS, "what": WORDS}),
        at("watch.decision", {"what": WORDS, "reasons": WORDS, "decided_by": NAMES}),
        at("watch.note", {"text": WORDS}),
        at("tracks.route", {"name": WORDS, "waypoints": st.just(
            [{"latitude_deg": 51.0, "longitude_deg": -8.0},
             {"latitude_deg": 49.8, "longitude_deg": -8.5}])}),
    ),
    max_size=14,
)  # fmt: skip
MOVES = st.lists(
    st.tuples(st.integers(3600, SPAN_S), st.sampled_from(["forward", "after", "deck"]),
              st.integers(1, 4)),
    max_size=4,
)  # fmt: skip


@st.composite
def twins(draw: st.DrawFn) -> tuple[ListShelf, ListShelf, list[Moment]]:
    """Return two journals that differ only in what outsiders may not see, and when to look."""
    seen, moves = draw(SEEN), draw(MOVES)
    journals = []
    for _ in range(2):
        hidden = draw(HIDDEN)
        persons = [_move(draw, *each) for each in moves]
        journals.append(_journal(draw, [*seen, *persons], hidden))
    looks = draw(st.lists(st.integers(0, SPAN_S + 7200), min_size=1, max_size=2))
    times = [START + timedelta(seconds=each) for each in looks]
    later = START + timedelta(seconds=SPAN_S + 7200)
    return (
        *journals,
        [m for t in times for m in (Moment(t, t), Moment(later, t), Moment(t, later))],
    )  # type: ignore[return-value]  # two journals


def _move(draw: st.DrawFn, second: int, to: str, persons: int) -> Drawn:
    """Return a move of so many persons in whatever state, with whatever names."""
    group = {
        "persons": persons,
        "fitness": draw(st.sampled_from(["walking", "injured", "stretcher", "unknown"])),
        "names": draw(st.lists(NAMES, max_size=persons)),
    }
    payload = {"from_place": "not accounted for", "to_place": to, "groups": [group],
               "reason": draw(WORDS)}  # fmt: skip
    return ("survivors.move", second, payload)


def _journal(draw: st.DrawFn, seen: list[Drawn], hidden: list[Drawn]) -> ListShelf:
    fixed: list[Drawn] = [
        ("watch.place_told", 10, BLOCK),
        ("survivors.complement", 20, {"part": "sailing list", "persons": 40}),
        *(("tracks.vessel", 30, {"subject": s, "name": f"SHIP {s[-1]}", "role": "search ship"})
          for s in SHIPS),
    ]  # fmt: skip
    records = [_made(n, each) for n, each in enumerate([*fixed, *seen])]
    secret = [_made(1000 + n, each) for n, each in enumerate(hidden)]
    said = [
        record("journal.dispute", START + timedelta(seconds=draw(st.integers(0, SPAN_S))),
               {"target": target.id, "reason": draw(WORDS)}, str(n))
        for n, target in enumerate(secret)
        if draw(st.booleans())
    ]  # fmt: skip
    said = [each for each, target in zip(said, secret, strict=False)
            if each.recorded_at >= target.recorded_at]  # fmt: skip
    return in_order([*records, *secret, *said], {})


def _made(number: int, drawn: Drawn) -> Record:
    kind, second, payload = drawn
    when: datetime = START + timedelta(seconds=second)
    return record(kind, when, dict(payload), str(number))


def check(pair: tuple[ListShelf, ListShelf, list[Moment]], release: Release) -> None:
    one, other, looks = pair
    for moment in looks:
        found = differences(shown(one, moment, release), shown(other, moment, release))
        assert not found, f"{moment}: {found[0]}"


SLOW = [HealthCheck.too_slow, HealthCheck.data_too_large]


@given(twins())
@settings(max_examples=6, deadline=None, suppress_health_check=SLOW, derandomize=True)
def test_made_journals_look_the_same(pair: tuple[ListShelf, ListShelf, list[Moment]]) -> None:
    check(pair, OUTSIDE)


@pytest.mark.long
@given(twins())
@settings(max_examples=150, deadline=None, suppress_health_check=SLOW)
def test_many_made_journals_look_the_same(
    pair: tuple[ListShelf, ListShelf, list[Moment]],
) -> None:
    check(pair, OUTSIDE)
