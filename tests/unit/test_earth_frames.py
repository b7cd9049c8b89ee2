"""Chart frames, graticule and scale bar at the edges of the earth."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
from pyproj import Proj

from layers.earth.chart.frames import ChartFrame, FrameName, frame_for
from layers.earth.chart.graticule import (
    Extent,
    angle_label,
    graticule,
    north_words,
    reach,
    scale_bar,
)
from layers.earth.errors import InputError
from layers.earth.position import Position

DATUM = Position(49.8333, -8.5)
CENTRES = (DATUM, Position(80.0, 179.5), Position(-80.0, -179.9), Position(0.0, 180.0))
POLES = (Position(90.0, 0.0), Position(-90.0, 30.0))


@pytest.mark.parametrize("name", FrameName)
@pytest.mark.parametrize("centre", CENTRES)
def test_centre_is_the_origin_and_unprojects_to_itself(name, centre):
    frame = ChartFrame(name, centre)
    assert frame.project(centre.latitude_deg, centre.longitude_deg) == (0.0, 0.0)
    lat, lon = frame.unproject(0.0, 0.0)
    assert float(lat) == pytest.approx(centre.latitude_deg, abs=1e-9)
    assert abs((float(lon) - centre.longitude_deg + 180.0) % 360.0 - 180.0) < 1e-8


@pytest.mark.parametrize("name", [FrameName.RANGE_TRUE, FrameName.POLAR])
@pytest.mark.parametrize("pole", POLES)
def test_poles_can_be_the_centre(name, pole):
    frame = ChartFrame(name, pole)
    lat = np.full(4, 89.0 if pole.latitude_deg > 0 else -89.0)
    x, y = frame.project(lat, [0.0, 90.0, 180.0, -90.0])
    assert np.allclose(np.hypot(x, y), np.hypot(x[0], y[0]))


def test_frames_that_have_no_pole_say_so():
    with pytest.raises(InputError, match="Mercator chart cannot be centred"):
        ChartFrame(FrameName.MERCATOR, Position(90.0, 0.0))
    with pytest.raises(InputError, match="UTM has no zone"):
        ChartFrame(FrameName.UTM, Position(-85.0, 0.0))
    with pytest.raises(InputError, match="half width"):
        ChartFrame(FrameName.POLAR, DATUM, 1.0)


def test_across_the_date_line_nothing_jumps():
    frame = frame_for(Position(60.0, 179.9))
    x, _ = frame.project(np.full(3, 60.0), [179.8, -179.9, -179.8])
    assert np.all(np.diff(x) > 0)
    assert np.ptp(x) < 30_000.0


@pytest.mark.parametrize("name", FrameName)
def test_unknown_and_unprojectable_become_nan_never_infinity(name):
    frame = ChartFrame(name, DATUM)
    lat, lon = np.meshgrid(np.linspace(-90, 90, 37), np.linspace(-180, 180, 73))
    x, y = frame.project(lat, lon)
    assert not np.isinf(x).any()
    assert not np.isinf(y).any()
    assert np.array_equal(np.isnan(x), np.isnan(y))
    assert np.isnan(frame.project(np.nan, 0.0)[0])
    assert np.isnan(frame.unproject(9e7, 9e7)[0])


def test_polar_frame_is_chosen_above_72():
    assert frame_for(Position(72.1, 0.0)).name is FrameName.POLAR
    assert frame_for(Position(-75.0, 0.0)).name is FrameName.POLAR
    assert frame_for(Position(72.0, 0.0)).name is FrameName.RANGE_TRUE


def test_convergence_of_utm_agrees_with_proj():
    # PROJ's own factors (pyproj 3.7.2), another path through the library: VERIFIED by running
    frame = ChartFrame(FrameName.UTM, DATUM)
    for place in (DATUM, Position(50.0, -11.5), Position(60.0, -6.5)):
        factors = Proj(proj="utm", zone=29, ellps="WGS84").get_factors(
            place.longitude_deg, place.latitude_deg
        )
        assert frame.convergence_deg(place) == pytest.approx(factors.meridian_convergence, abs=1e-5)
        assert frame.scale_factor(place) == pytest.approx(factors.meridional_scale, abs=1e-7)


def test_grid_north_lies_east_of_true_east_of_the_central_meridian():
    frame = ChartFrame(FrameName.UTM, Position(50.0, -8.0))  # zone 29: central meridian 9° W
    assert frame.convergence_deg(Position(50.0, -8.0)) > 0
    assert frame.convergence_deg(Position(50.0, -10.0)) < 0
    assert north_words(frame, Position(50.0, -8.0)).startswith("N (grid north 0.8° E")


def test_keys_tell_frames_apart():
    keys = {ChartFrame(name, DATUM).key for name in FrameName}
    assert len(keys) == 4
    near, far = ChartFrame(FrameName.UTM, DATUM, 1e3), ChartFrame(FrameName.UTM, DATUM, 1e5)
    assert near.key != far.key
    assert near.projection_key == far.projection_key


def test_frames_are_safe_to_share_between_threads():
    frame = ChartFrame(FrameName.UTM, DATUM)
    lat, lon = np.linspace(49, 51, 2_000), np.linspace(-9, -8, 2_000)
    expected = frame.project(lat, lon)
    with ThreadPoolExecutor(8) as pool:
        for found in pool.map(lambda _: frame.project(lat, lon), range(40)):
            assert np.array_equal(found[0], expected[0])


def extent_of(frame: ChartFrame, aspect: float = 1.0) -> Extent:
    x, y = frame.half_width_m, frame.half_width_m * aspect
    return Extent(x_min=-x, y_min=-y, x_max=x, y_max=y)


@pytest.mark.parametrize("half_width_m", [100.0, 1_000.0, 50_000.0, 2_500_000.0])
@pytest.mark.parametrize("centre", CENTRES + POLES)
def test_graticule_has_a_few_lines_from_200_m_to_5000_km(centre, half_width_m):
    frame = frame_for(centre, half_width_m=half_width_m)
    extent = extent_of(frame, 0.6)
    found = graticule(frame, extent)
    parallels = [line for line in found if line.kind == "parallel"]
    meridians = [line for line in found if line.kind == "meridian"]
    assert 2 <= len(parallels) <= 9
    assert 3 <= len(meridians) <= 20
    assert len({line.label for line in meridians}) == len(meridians)
    labelled = [line for line in found if line.label_x_m is not None]
    assert len(labelled) >= 4
    for line in labelled:
        assert extent.x_min <= line.label_x_m <= extent.x_max
        assert extent.y_min <= line.label_y_m <= extent.y_max


def test_reach_over_the_date_line_is_not_cut_in_two():
    seen = reach(frame_for(Position(0.0, 180.0)), extent_of(frame_for(Position(0.0, 180.0))))
    assert 179.0 < seen.west_deg < 180.0 < seen.east_deg < 181.0


def test_reach_with_a_pole_in_sight_is_a_whole_turn():
    frame = frame_for(Position(89.9, 0.0))
    seen = reach(frame, extent_of(frame))
    assert (seen.north_deg, seen.east_deg - seen.west_deg) == (90.0, 360.0)


@pytest.mark.parametrize(
    ("value", "kind", "label"),
    [
        (49.0 + 50 / 60, "parallel", "49°50′N"),
        (-8.5, "meridian", "008°30′W"),
        (181.0, "meridian", "179°W"),
        (-180.0, "meridian", "180°"),
        (0.0, "parallel", "0°"),
        (49.0 + 50.02 / 60, "parallel", "49°50.02′N"),
        (49.0 + 59.9999 / 60, "parallel", "50°N"),
    ],
)
def test_labels(value, kind, label):
    assert angle_label(value, kind) == label


def test_scale_bar_is_round_and_at_most_a_quarter():
    for width in (200.0, 1_500.0, 18_520.0, 100_000.0, 5_000_000.0):
        bar = scale_bar(width)
        assert width / 11.0 <= bar.chart_m <= width / 4.0 + 1e-6
        assert f"{bar.length_nmi:g}"[-1] in "1250"
    assert scale_bar(18_520.0 * 4).label == "10 nmi (18.5 km)"
    assert scale_bar(18_520.0 * 4, 2.0).length_nmi == 5.0
