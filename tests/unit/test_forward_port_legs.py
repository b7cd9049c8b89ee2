"""Legs: from which fix, how old, at which speed; the sea, the coast, where it is when."""

from datetime import timedelta

import numpy as np
import pytest

from layers.catalogue import KINDS
from layers.earth.chart.marks import Freshness, PointMark, Symbol
from layers.earth.errors import InputError, RecordRefused
from layers.earth.geodesy import between
from layers.earth.position import Position
from layers.earth.values import Conditions, ShipState, TracksValue, WeatherValue
from layers.forward_port import LAYER
from layers.forward_port.legs import coast
from layers.forward_port.legs.passage import ahead_of, over_network, passage
from layers.forward_port.legs.sea_speed import kept_speed_kn
from layers.journal.actor import Actor, Role
from layers.journal.store import open_journal
from tests.unit.forward_port_cases import NOW, ZERO, activity, actual, hours, option, result, row

WEST, EAST = Position(50.0, -10.0), Position(50.0, -7.0)
SEA = {"points": [
    {"latitude_deg": 50.0, "longitude_deg": -10.0}, {"latitude_deg": 50.0, "longitude_deg": -7.0}
]}  # fmt: skip


class Field:
    """A sea that is the same everywhere."""

    def __init__(self, current=(0.0, 0.0), wind=(0.0, 0.0)):
        self.current, self.wind = current, wind

    def conditions(self, latitudes_deg, longitudes_deg, at_us):
        one = np.ones(len(latitudes_deg))
        return Conditions(
            wind_east_m_s=self.wind[0] * one,
            wind_north_m_s=self.wind[1] * one,
            wind_sigma_m_s=one,
            current_east_m_s=self.current[0] * one,
            current_north_m_s=self.current[1] * one,
            current_sigma_m_s=one,
            hs_m=one,
            hs_sigma_m=one,
            tp_s=one,
        )


def ship_at(place, minutes_ago=10, speed=12.0, stale=False):
    state = ShipState(
        name="SHIP",
        role="support ship",
        position=place,
        fixed_at=NOW - timedelta(minutes=minutes_ago),
        course_true_deg=90.0,
        speed_kn=speed,
        heading_true_deg=90.0,
        stale=stale,
    )
    return TracksValue(ships=(state,))


def passage_drafts(**leg):
    return [
        option(),
        activity("steam", hours=None, leg="way"),
        activity("out", ["steam"], hours=(0.0, 0.0, 0.0)),
        row("leg", key="way", mode="sea", **(SEA | {"speed_kn": 10.0} | leg)),
    ]


def leg_of(found):
    return next(a.leg for a in found.options[0].activities if a.leg is not None)


def test_passage_in_a_calm_is_distance_over_speed():
    done = passage([WEST, EAST], ZERO, 10.0, None, None, "leg")
    assert done.hours == pytest.approx(done.distance_nmi / 10.0)


@pytest.mark.parametrize(("current_kn", "speed"), [(2.0, 12.0), (-2.0, 8.0)])
def test_current_along_the_way_adds_to_the_speed(current_kn, speed):
    field = Field(current=(current_kn * 1852 / 3600, 0.0))
    done = passage([WEST, EAST], ZERO, 10.0, None, field, "leg")
    assert done.hours == pytest.approx(done.distance_nmi / speed, rel=1e-6)


def test_current_across_the_way_costs_what_the_triangle_says():
    field = Field(current=(0.0, 6.0 * 1852 / 3600))
    done = passage([WEST, EAST], ZERO, 10.0, None, field, "leg")
    assert done.hours == pytest.approx(done.distance_nmi / 8.0, rel=1e-3)  # 6-8-10


def test_a_ship_with_no_speed_is_refused_by_name():
    with pytest.raises(InputError, match="leg way: no speed"):
        passage([WEST, EAST], ZERO, None, None, None, "leg way")
    each = result(passage_drafts(speed_kn=None)).options[0]
    assert "leg way: no speed" in each.problem


def test_under_way_the_rest_is_reckoned_from_the_last_fix():
    started = actual("steam", started_at=ZERO)
    half = Position(50.0, -8.5)
    found = result([*passage_drafts(ship="SHIP"), started], tracks=ship_at(half))
    leg = leg_of(found)
    assert leg.distance_nmi == pytest.approx(between(half, EAST)[0] / 1852, rel=1e-3)
    assert "from the fix of 130950Z MAR 27, 10 min old" in leg.said
    assert "at 12.0 kn (her speed at the fix)" in leg.said
    steam = next(a for a in found.options[0].activities if a.key == "steam")
    expected = hours(NOW) - 1 / 6 + leg.distance_nmi / 12.0
    assert hours(steam.finish.p50) == pytest.approx(expected, rel=0.05)


def test_before_she_sails_the_whole_way_counts_from_its_start():
    leg = leg_of(result(passage_drafts(ship="SHIP"), tracks=ship_at(Position(50.0, -8.5))))
    assert leg.fix_at is None
    assert "from 50°00.0′N 010°00.0′W" in leg.said


def test_stale_fix_is_said_and_its_speed_not_used():
    started = actual("steam", started_at=ZERO)
    ship = ship_at(Position(50.0, -8.5), minutes_ago=50, stale=True)
    leg = leg_of(result([*passage_drafts(ship="SHIP"), started], tracks=ship))
    assert "50 min old, stale" in leg.said
    assert "at 10.0 kn (planned)" in leg.said


def test_rest_of_a_route_leaves_out_what_is_behind():
    route = (Position(50, -10), Position(50, -9), Position(51, -9), Position(51, -8))
    assert ahead_of(Position(50.5, -8.95), route) == (Position(50.5, -8.95), *route[2:])


def test_sea_forecast_lengthens_the_passage():
    ship = row(
        "ship", name="SHIP", length_m=98.0, draught_m=6.0, displacement_t=6400.0, waterline_m=90.0
    )
    weather = WeatherValue(field=Field(wind=(-14.0, 0.0)), series_at_datum=None, windows=())
    calm = leg_of(result([*passage_drafts(ship="SHIP"), ship]))
    rough = leg_of(result([*passage_drafts(ship="SHIP"), ship], weather=weather))
    assert rough.hours > 1.1 * calm.hours
    assert "sea not known, calm assumed" in calm.said


def test_network_route_has_both_its_end_legs(monkeypatch):
    # The two ends lie miles from the network; without them the way would not begin or end there.
    start, goal = Position(51.84, -8.27), Position(49.8333, -8.5)
    points, ends = over_network(start, goal)
    assert points[0] == start
    assert points[-1] == goal
    assert ends > 20.0
    monkeypatch.setattr(coast, "_HELD", coast._Held())
    coast.use(None)  # without a coastline there is no way of our own
    assert "end legs" in leg_of(result(passage_drafts(network=True))).said


def test_imported_route_is_sailed_by_its_name():
    waypoints = [
        {"latitude_deg": 50.0, "longitude_deg": -10.0},
        {"latitude_deg": 51.0, "longitude_deg": -9.0},
        {"latitude_deg": 50.0, "longitude_deg": -7.0},
    ]
    route = row("tracks.route", name="north about", waypoints=waypoints, from_format="RTZ 1.2")
    leg = leg_of(result([*passage_drafts(points=[], route="north about"), route]))
    assert "by route north about" in leg.said
    assert leg.latitudes_deg.max() == pytest.approx(51.0)


def test_route_that_is_not_there_is_refused_by_name():
    each = result(passage_drafts(points=[], route="nowhere")).options[0]
    assert "no route 'nowhere' is known" in each.problem


class _Land:
    """A coast along 8°30′W, for the test."""

    def ready(self):
        return True

    def crosses(self, latitudes_deg, longitudes_deg):
        from layers.earth.shore.land import Crossing

        over = np.flatnonzero(longitudes_deg > -8.5)
        if not len(over):
            return None
        place = Position(float(latitudes_deg[over[0]]), float(longitudes_deg[over[0]]))
        return Crossing(place, 1852.0 * 50)


def test_route_over_land_is_said_kills_and_is_refused_in_the_form():
    coast.use(_Land())
    try:
        found = result(passage_drafts())
        assert "comes on land" in leg_of(found).on_land
        assert any("comes on land" in words for words in found.options[0].kills)
        with pytest.raises(InputError, match="comes on land at 50°00"):
            coast.refuse_over_land([WEST, EAST], "route to scene")
    finally:
        coast.use(None)


def test_without_a_coastline_the_leg_says_it_was_not_tested():
    coast.use(None)
    assert not leg_of(result(passage_drafts())).coast_tested
    assert LAYER.tables(result(passage_drafts()))["Legs"].rows[0][-1] == "not tested"


def test_expected_position_stands_on_the_leg_in_a_style_of_its_own():
    drafts = [*passage_drafts(), actual("steam", started_at=ZERO)]
    found = result(drafts, NOW, NOW + timedelta(hours=4))
    mark = next(m for m in LAYER.marks(found) if m.key == "expected steam")
    assert isinstance(mark, PointMark)
    assert mark.symbol is Symbol.DEAD_RECKONING
    assert mark.freshness is Freshness.EXPECTED
    assert -9.5 < mark.position.longitude_deg < -8.3
    assert "not a fix" in mark.tooltip


def test_every_mark_has_a_tooltip_and_a_source():
    port = row("port", name="P", latitude_deg=50.0, longitude_deg=-7.0)
    for mark in LAYER.marks(result([*passage_drafts(), port])):
        assert mark.tooltip
        assert mark.source


@pytest.mark.parametrize("off_bow", [0.0, 45.0, 90.0, 180.0])
@pytest.mark.parametrize("displacement_t", [5_000.0, 20_000.0])
def test_the_harder_it_blows_the_slower_she_goes(off_bow: float, displacement_t: float) -> None:
    """To 35 m/s, beyond the formula's range too: never faster, and a gale on the beam costs."""
    wind = np.linspace(0.0, 35.0, 71)
    kept = kept_speed_kn(
        13.0, wind, np.full(71, off_bow), displacement_t=displacement_t, block_coefficient=0.65,
        waterline_m=75.0,
    )  # fmt: skip
    assert np.all(np.diff(kept) <= 1e-9)
    if displacement_t == 5_000.0:
        assert kept[60] < 9.0  # 30 m/s
    assert np.all(kept >= 0.3 * 13.0 - 1e-9)


def test_a_swell_costs_without_the_wind_that_made_it() -> None:
    """Hs 6 m is the probable wave of Beaufort 8 to 9; unknown waves count as the wind's."""
    one = {"displacement_t": 5_000.0, "block_coefficient": 0.65, "waterline_m": 75.0}
    light = np.array([1.5])
    calm = kept_speed_kn(13.0, light, np.array([90.0]), np.array([0.2]), **one)
    swell = kept_speed_kn(13.0, light, np.array([90.0]), np.array([6.0]), **one)
    unknown = kept_speed_kn(13.0, light, np.array([90.0]), np.array([np.nan]), **one)
    assert swell[0] < 0.75 * calm[0]
    assert unknown[0] >= calm[0] > 12.5


@pytest.mark.parametrize(
    ("leg", "taken"),
    [
        ({"mode": "sea"}, False),
        ({"mode": "sea", "points": SEA["points"][:1]}, False),
        ({"mode": "flight", "ship": "ORYX"}, False),
        ({"mode": "sea", "to_datum": True}, False),
        ({"mode": "sea", "points": SEA["points"][:1], "to_datum": True}, True),
        ({"mode": "sea", **SEA}, True),
        ({"mode": "sea", "route": "to sea"}, True),
        ({"mode": "road", "road": "coast road"}, True),
    ],
)
def test_a_leg_to_nowhere_is_refused_when_it_is_typed(leg, taken, tmp_path):
    journal = open_journal(str(tmp_path / "plot.sqlite"), KINDS, clock=lambda: NOW)
    watch, draft = Actor(name="watch", role=Role.WATCH), row("leg", key="one", **leg)
    if taken:
        assert journal.append(watch, [draft]).records
    else:
        with pytest.raises(RecordRefused, match="fewer than two places"):
            journal.append(watch, [draft])
    journal.close()
