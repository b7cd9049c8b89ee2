"""Ways by sea round land: on a coastline of our own, and over the real one where it is cut."""

from __future__ import annotations

import itertools
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely

from layers.earth.geodesy import between
from layers.earth.position import Position
from layers.earth.shore.land import Crossing, Land
from layers.forward_port.legs import coast, find_ways, ways_from
from layers.forward_port.legs.sea_route import clear, length_nmi, round_land, ways_round_land
from layers.forward_port.legs.ways_from import How, find, kept, way_to
from tests.samples import sample


class Wall:
    """A coastline that is one polygon in longitude and latitude."""

    def __init__(self, *corners: tuple[float, float]) -> None:
        self.shape = shapely.Polygon(corners)

    folder = None

    def tile(self, west: int, south: int) -> Any:
        cut = shapely.get_parts(shapely.clip_by_rect(self.shape, west, south, west + 5, south + 5))
        cut = cut[~shapely.is_empty(cut)]
        shapely.prepare(cut)
        return cut, shapely.STRtree(cut)

    def crosses(self, lat: Any, lon: Any) -> Crossing | None:
        met = shapely.intersection(self.shape, shapely.linestrings(np.column_stack((lon, lat))))
        if met.is_empty:
            return None
        first = shapely.get_coordinates(met)[0]
        return Crossing(Position(float(first[1]), float(first[0])), 0.0)


WALL: Any = Wall((-5.0, 49.0), (-4.8, 49.0), (-4.8, 51.0), (-5.0, 51.0))
WEST, EAST = Position(50.0, -6.0), Position(50.0, -4.0)


def test_where_nothing_is_in_the_way_the_way_is_straight() -> None:
    goal = Position(50.0, -6.5)
    assert round_land(WALL, WEST, goal) == (WEST, goal)


def test_the_way_goes_round_the_end_of_a_wall_and_is_nearly_the_shortest() -> None:
    found = round_land(WALL, WEST, EAST)
    assert found is not None
    assert clear(WALL, found, (WEST, EAST))
    # by hand: to the nearer corner pair at 49 or 51 N and back; both ends are as far
    south = [(50.0, -6.0), (49.0, -5.0), (49.0, -4.8), (50.0, -4.0)]
    by_hand = sum(between(Position(*a), Position(*b))[0] for a, b in itertools.pairwise(south))
    assert by_hand / 1852 <= length_nmi(found) <= 1.06 * by_hand / 1852


def test_a_place_shut_in_by_land_has_no_way() -> None:
    inside: Any = Wall((-7, 48), (-3, 48), (-3, 52), (-7, 52), (-7, 48))
    ring = shapely.Polygon(
        [(-7, 48), (-3, 48), (-3, 52), (-7, 52)], [[(-6.5, 49.5), (-5.5, 49.5), (-5.5, 50.5)]]
    )
    inside.shape = ring
    assert round_land(inside, Position(49.8, -5.8), Position(53.0, 2.0)) is None


REAL = coast.land()
PAIRS = {
    "Falmouth to the exercise": ((50.14, -5.03), (49.83, -8.5)),
    "Faslane to Malin": ((56.06, -4.83), (55.5, -7.5)),
    "Suva to Apia, over the date line": ((-17.0, 178.2), (-13.8, -171.7)),
}


@pytest.mark.skipif(REAL is None, reason="not run: the coastline is not cut in this data folder")
@pytest.mark.parametrize("name", list(PAIRS))
def test_no_way_crosses_the_coastline(name: str) -> None:
    start, goal = (Position(*place) for place in PAIRS[name])
    assert isinstance(REAL, Land)
    found = round_land(REAL, start, goal)
    assert found is not None
    assert clear(REAL, found, (start, goal))
    assert length_nmi(found) < 2.2 * between(start, goal)[0] / 1852


def test_a_strait_of_a_mile_and_a_half_is_found() -> None:
    """A wall from pole to pole but for a gap of a mile and a half: only the gap leads through."""
    gap: Any = Wall((-5, 40), (-4.8, 40), (-4.8, 60), (-5, 60))
    gap.shape = gap.shape - shapely.box(-5.1, 50.30, -4.7, 50.30 + 1.5 / 60)
    south, north = shapely.box(-30, 39, 20, 40), shapely.box(-30, 60, 20, 61)
    gap.shape = shapely.union_all([gap.shape, south, north])
    found = round_land(gap, WEST, EAST)
    assert found is not None
    assert clear(gap, found, (WEST, EAST))
    through = [p for p in found if 50.29 < p.latitude_deg < 50.34]
    assert through
    assert length_nmi(found) < 1.15 * between(WEST, EAST)[0] / 1852


def test_the_far_side_of_the_date_line_is_not_a_wall() -> None:
    wall: Any = Wall((179.0, 9.5), (179.4, 9.5), (179.4, 10.5), (179.0, 10.5))
    start, goal = Position(10.0, 178.0), Position(10.0, -179.0)
    found = round_land(wall, start, goal)
    assert found is not None
    assert clear(wall, found, (start, goal))
    assert length_nmi(found) < 1.3 * between(start, goal)[0] / 1852


def test_land_just_beyond_two_miles_of_an_end_is_seen_on_a_short_leg() -> None:
    end = Position(50.0, -6.0)
    bar: Any = Wall((-5.95, 50.036), (-5.95, 50.044), (-6.05, 50.044), (-6.05, 50.036))
    away = Position(50.047, -6.0)  # 2.8 nmi off, the bar lies at 2.2 to 2.6
    assert not clear(bar, (end, away), (end, Position(51.0, -6.0)))


def dry(found: tuple[Position, ...], ends: tuple[Position, Position]) -> bool:
    """Return whether a way keeps off land, by other means: points every 0.3 nmi asked one by one.

    What lies within two miles of either end is left out.
    """
    from layers.earth.chart.marks import Path
    from layers.earth.geodesy import densify, inverse

    lat, lon = densify([p.latitude_deg for p in found], [p.longitude_deg for p in found],
                       Path.RHUMB, 0.3 * 1852)  # fmt: skip
    kept = np.ones(len(lat), dtype=bool)
    for end in ends:
        off = inverse(end.latitude_deg, end.longitude_deg, lat, lon).distance_m
        kept &= off > 2.0 * 1852
    assert isinstance(REAL, Land)
    return not REAL.is_land(lat[kept], lon[kept]).any()


def port_pairs(many: int, seed: int) -> list[tuple[str, Position, Position]]:
    """Return pairs of ports of the World Port Index no more than 1,200 nmi apart."""
    import csv
    import gzip
    import io

    text = gzip.decompress(sample("world_port_index_pub150.csv.gz").read_bytes()).decode(
        "utf-8-sig"
    )
    ports = [
        (row["Main Port Name"], Position(float(row["Latitude"]), float(row["Longitude"])))
        for row in csv.DictReader(io.StringIO(text))
        if row["Harbor Type"].startswith("Coastal") or "Open" in row["Harbor Type"]
    ]
    rng, found = np.random.default_rng(seed), []
    while len(found) < many:
        a, b = rng.choice(len(ports), 2, replace=False)
        off = between(ports[a][1], ports[b][1])[0] / 1852
        if 20.0 < off < 1200.0:
            found.append((f"{ports[a][0]} to {ports[b][0]}", ports[a][1], ports[b][1]))
    return found


@pytest.mark.long
@pytest.mark.skipif(REAL is None, reason="not run: the coastline is not cut in this data folder")
def test_of_two_hundred_pairs_of_ports_none_crosses() -> None:
    none = []
    for name, start, goal in port_pairs(200, 2027):
        found = round_land(REAL, start, goal)
        if found is None:
            none.append(name)
            continue
        assert dry(found, (start, goal)), name
    assert len(none) <= 20, none


def test_a_berth_far_up_a_channel_of_a_cable_and_a_half_is_left_by_it() -> None:
    """A channel 0.15 nmi wide that winds: narrower than the net's cells, and never straight."""
    land: Any = Wall((-6.5, 49.5), (-5.0, 49.5), (-5.0, 50.5), (-6.5, 50.5))
    lon = np.linspace(-5.2, -4.9, 400)
    winding = shapely.LineString(np.column_stack((lon, 50.013 + 0.015 * np.sin(lon * 250.0))))
    land.shape = land.shape - winding.buffer(0.15 / 60)
    berth, away = Position(50.013 + 0.015 * np.sin(-5.2 * 250.0), -5.2), Position(50.0, -4.0)
    found = round_land(land, berth, away)
    assert found is not None
    assert clear(land, found, (berth, away))


def test_a_berth_on_a_lake_has_no_way() -> None:
    land: Any = Wall((-7, 49), (-5, 49), (-5, 51), (-7, 51))
    land.shape = land.shape - shapely.box(-6.05, 49.95, -5.95, 50.05)
    assert round_land(land, Position(50.0, -6.0), Position(50.0, -4.0)) is None


def by_hand_nmi(*places: tuple[float, float]) -> float:
    legs = itertools.pairwise(Position(*place) for place in places)
    return sum(between(one, other)[0] for one, other in legs) / 1852


GOALS = (Position(50.0, -6.5), EAST, Position(50.6, -4.3), Position(49.2, -4.1))


def test_one_run_finds_the_ways_to_many_ports_as_short_as_one_by_one() -> None:
    together = ways_round_land(WALL, WEST, GOALS)
    for goal, way in zip(GOALS, together, strict=True):
        alone = round_land(WALL, WEST, goal)
        assert way is not None
        assert alone is not None
        assert (way[0], way[-1]) == (WEST, goal)
        assert clear(WALL, way, (WEST, goal))
        assert length_nmi(way) == pytest.approx(length_nmi(alone), rel=0.02)


def kept_wall(folder: Path) -> Any:
    land: Any = Wall((-5.0, 49.0), (-4.8, 49.0), (-4.8, 51.0), (-5.0, 51.0))
    land.folder = folder
    return land


def test_ways_to_ports_are_bounds_until_they_are_found_and_follow_the_datum_in_its_cell(
    tmp_path: Path,
) -> None:
    land, datum = kept_wall(tmp_path), Position(50.01, -5.99)
    assert [way.how for way in kept(land, datum, GOALS)] == [How.STRAIGHT, *[How.NOT_YET] * 3]
    bound = kept(land, datum, GOALS)[1].nmi
    assert bound == pytest.approx(by_hand_nmi((50.01, -5.99), (50.0, -4.0)))
    find(land, datum, GOALS)
    found = kept(land, datum, GOALS)
    assert [way.how for way in found] == [How.STRAIGHT, *[How.ROUND] * 3]
    corners = (51.0, -5.0), (51.0, -4.8), (50.6, -4.3)
    north = by_hand_nmi((50.01, -5.99), *corners)
    assert north <= found[2].nmi <= 1.06 * north
    # two miles on, in the same cell of six: the same turns, nothing is searched for
    moved = kept(land, Position(50.05, -5.97), GOALS)
    north = by_hand_nmi((50.05, -5.97), *corners)
    assert moved[2].how is How.ROUND
    assert north <= moved[2].nmi <= 1.06 * north
    # a port that is told later is found beside them
    later = Position(49.9, -4.2)
    assert kept(land, datum, (*GOALS, later))[-1].how is How.NOT_YET
    find(land, datum, (later,))
    assert [way.how for way in kept(land, datum, (*GOALS, later))][1:] == [How.ROUND] * 4


def test_a_port_on_a_lake_is_told_as_without_a_way_and_asked_for_once(tmp_path: Path) -> None:
    land: Any = Wall((-7, 49), (-5, 49), (-5, 51), (-7, 51))
    land.shape = land.shape - shapely.box(-6.05, 49.95, -5.95, 50.05)
    land.folder = tmp_path
    lake, datum = Position(50.0, -6.0), Position(50.0, -4.0)
    find(land, datum, (lake,))
    (way,) = kept(land, datum, (lake,))
    assert way.how is How.NONE
    assert way.nmi == pytest.approx(between(lake, datum)[0] / 1852)


def test_a_way_to_a_datum_that_moves_in_its_cell_is_searched_for_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    land, datum = kept_wall(tmp_path), Position(50.01, -5.99)
    found = way_to(land, datum, EAST)
    assert found is not None
    assert (found[0], found[-1]) == (EAST, datum)
    monkeypatch.setattr(ways_from, "find", None)
    moved = Position(50.05, -5.97)
    found = way_to(land, moved, EAST)
    assert found is not None
    assert (found[0], found[-1]) == (EAST, moved)
    assert clear(land, found, (EAST, moved))


def test_the_program_beside_finds_what_the_layer_asks_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    land, datum = kept_wall(tmp_path), Position(50.01, -5.99)
    land.ready = lambda: True
    monkeypatch.setattr(find_ways.os, "nice", lambda _by: 0)
    coast.use(land)
    try:
        assert find_ways.main(list(ways_from.program(datum, GOALS)[1:])) == 0
        assert find_ways.main(["50.0"]) == 1
    finally:
        coast.use(None)
    assert [way.how for way in kept(land, datum, GOALS)] == [How.STRAIGHT, *[How.ROUND] * 3]


def test_half_a_file_of_ways_is_none(tmp_path: Path) -> None:
    land, datum = kept_wall(tmp_path), Position(50.01, -5.99)
    find(land, datum, (EAST,))
    (file,) = tmp_path.rglob("from_*.json")
    file.write_text(file.read_text()[:40])
    assert kept(land, datum, (EAST,))[0].how is How.NOT_YET
