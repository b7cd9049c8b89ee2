"""Land from a small made-up coast (quick), and from the whole one (long)."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from layers.earth.chart.frames import FrameName, frame_for
from layers.earth.errors import InputError
from layers.earth.position import Position
from layers.earth.shore import land_cut
from layers.earth.shore.land import ATTRIBUTION, Land, detail_for
from layers.scene.land_metres import land_levels

# an island with a lake, 1.5° wide over a tile's edge; one that the date line cuts; a polar cap
ISLAND = shapely.Polygon(
    [(4.0, 50.0), (5.5, 50.0), (5.5, 51.0), (4.0, 51.0), (4.0, 50.0)],
    [[(4.4, 50.4), (4.4, 50.6), (4.6, 50.6), (4.6, 50.4), (4.4, 50.4)]],
)
EAST_OF_LINE = shapely.box(-180.0, 60.0, -179.0, 61.0)
WEST_OF_LINE = shapely.box(179.0, 60.0, 180.0, 61.0)
CAP = shapely.box(-180.0, -90.0, 180.0, -80.0)
SPECK = shapely.box(10.0, 50.0, 10.001, 50.001)


@pytest.fixture
def land(tmp_path, monkeypatch):
    everything = np.array([ISLAND, EAST_OF_LINE, WEST_OF_LINE, CAP, SPECK], dtype=object)
    monkeypatch.setattr(land_cut, "load", lambda: everything)
    folder = tmp_path / "coast"
    assert not Land(folder).ready()
    land_cut.cut(folder)
    return Land(folder)


SOUTH = shapely.box(10.0, -34.0, 40.0, 12.0)  # as far south of the work as Africa goes


@pytest.mark.parametrize("name", list(FrameName))
def test_a_sheet_of_the_world_draws_no_coast_where_there_is_none(tmp_path, monkeypatch, name):
    # L30: Mercator at 2,700 nmi ended Africa with a drawn coast at about 4 degrees south
    monkeypatch.setattr(land_cut, "load", lambda: np.array([ISLAND, SOUTH], dtype=object))
    land_cut.cut(tmp_path / "coast")
    frame = frame_for(Position(70.0 if name is FrameName.POLAR else 49.8, -8.5), name, 25_000.0)
    for level in land_levels(Land(tmp_path / "coast"), frame):
        for run in level["coast"]:
            x, y = np.array(run).reshape(-1, 2).cumsum(axis=0).T * level["unit_m"]
            latitude, longitude = frame.unproject(x, y)
            for place in shapely.points(longitude, latitude):
                assert min(place.distance(ISLAND.boundary), place.distance(SOUTH.boundary)) < 0.1
        if level["half_m"] > 5e6 and name in (FrameName.RANGE_TRUE, FrameName.MERCATOR):
            runs = [np.array(run).reshape(-1, 2).cumsum(axis=0) for run in level["fill"]]
            ends = [frame.unproject(*(run.T * level["unit_m"]))[0].min() for run in runs]
            assert min(ends) == pytest.approx(-34.0, abs=0.1)


def test_before_it_is_cut_there_is_no_land_and_a_reason(tmp_path):
    land = Land(tmp_path / "nothing")
    assert "has not been cut yet" in land.reason()
    assert land.rings(0, 40, 10, 60, "full") == []
    assert not land.is_land([50.5], [4.2]).any()
    assert land.crosses([50.5, 50.5], [3.0, 6.0]) is None


def test_cutting_leaves_only_whole_files(land):
    names = sorted(path.name for path in land.folder.iterdir())
    assert names == ["full.npy", "full.npz", "medium.npz", "overview.npz", "ready.json"]
    assert land.ready()
    assert land.reason() == ""


def test_rings_are_cut_at_the_rectangle(land):
    ((lat, lon),) = land.rings(4.7, 50.2, 5.2, 50.8, "full")
    assert (lat.min(), lat.max()) == pytest.approx((50.2, 50.8))
    assert (lon.min(), lon.max()) == pytest.approx((4.7, 5.2))


def test_a_lake_is_let_in_by_a_slit(land):
    ((lat, lon),) = land.rings(0, 40, 9, 60, "full")
    assert shapely.Polygon(np.column_stack((lon, lat))).area == pytest.approx(1.5 - 0.04)


def test_coast_leaves_out_where_the_rectangle_cut(land):
    lines = land.coast(4.7, 50.2, 9.0, 60.0, "full")
    for lat, lon in lines:
        along_west = np.abs(lon - 4.7) < 1e-9
        assert not np.any(along_west[:-1] & along_west[1:])
        assert lat.max() <= 51.0 + 1e-9
    assert land.coast(-180, -90, 180, -85, "full") == []  # the cap's own sides are no coast


def test_specks_give_way_at_small_scale(land):
    assert len(land.rings(9.9, 49.9, 10.1, 50.1, "full")) == 1
    assert land.rings(9.9, 49.9, 10.1, 50.1, "overview") == []
    assert [detail_for(w) for w in (1e4, 5e5, 5e6)] == ["full", "medium", "overview"]


def test_rectangle_over_the_date_line_comes_in_one_piece(land):
    for west, east in ((178.0, -178.0), (178.0, 182.0), (-182.0, -178.0)):
        rings = land.rings(west, 59.0, east, 62.0, "full")
        assert len(rings) == 2
        lon = np.concatenate([ring[1] for ring in rings])
        assert np.ptp(lon) == pytest.approx(2.0)


def test_long_edges_are_cut_so_that_a_projection_can_bend_them(land):
    ((lat, lon),) = land.rings(-180, -90, 180, -70, "overview")
    assert np.hypot(np.diff(lat), np.diff(lon)).max() <= 0.5 + 1e-9


def test_is_land(land):
    lat = [50.5, 50.5, 50.5, 60.5, 60.5, -85.0, -90.0, 90.0, np.nan, 50.5]
    lon = [4.2, 4.5, 5.2, 179.5, -179.5, 0.0, 0.0, 0.0, 0.0, 364.2]
    expected = [True, False, True, True, True, True, True, False, False, True]
    assert land.is_land(lat, lon).tolist() == expected


def test_a_line_that_comes_on_land_says_where_and_how_far(land):
    found = land.crosses([50.2, 50.2], [3.0, 7.0])
    assert found is not None
    assert found.position.longitude_deg == pytest.approx(4.0, abs=1e-3)
    assert found.distance_m == pytest.approx(71_460, rel=2e-3)  # 1° of longitude at 50.2° N


def test_a_line_that_keeps_clear(land):
    assert land.crosses([52.0, 52.0], [3.0, 7.0]) is None
    assert land.crosses([50.45, 50.55], [4.45, 4.55]) is None  # on the lake


def test_lines_over_the_date_line(land):
    over = land.crosses([60.5, 60.5], [178.0, -178.0])
    assert over is not None
    assert over.position.longitude_deg == pytest.approx(179.0, abs=1e-6)
    back = land.crosses([60.5, 60.5], [-178.0, 178.0])
    assert back is not None
    assert back.position.longitude_deg == pytest.approx(-179.0, abs=1e-6)
    assert land.crosses([62.0, 62.0], [178.0, -178.0]) is None


def test_a_folder_that_cannot_be_made_gets_a_sentence(tmp_path):
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(InputError, match="cannot be kept in"):
        Land(tmp_path / "file" / "coast").build()


@pytest.mark.long
def test_the_whole_coast_is_cut_in_a_process_of_its_own(tmp_path):
    land = Land(tmp_path / "coast")
    told: list[float] = []
    land.build(lambda fraction, _text: told.append(fraction))
    assert told == sorted(told)
    assert told[-1] == 1.0
    # the Lizard, the open sea, Cork, the Caspian Sea, the South Pole, the North Pole
    lat, lon = [50.0, 49.8, 52.0, 42.0, -90.0, 90.0], [-5.2, -8.5, -8.7, 51.0, 0.0, 0.0]
    assert land.is_land(lat, lon).tolist() == [True, False, True, False, True, False]
    found = land.crosses([49.8333, 51.69], [-8.5, -3.0])
    assert found is not None
    assert found.position.longitude_deg == pytest.approx(-4.676, abs=0.01)  # Pembrokeshire
    assert isinstance(found.position, Position)
    assert "OpenStreetMap" in ATTRIBUTION
