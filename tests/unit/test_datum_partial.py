"""What real evidence has: ranges of sound, depths, variation, long tracks, loose searches.

Each case is written from the text of what is asked, with its figure worked by hand or by a general
library; the source stands beside it.
"""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from pygeomag import GeoMag
from pyproj import Geod
from scipy.stats import norm

from dashboard.panels.datum.from_track import moved, payload
from dashboard.panels.datum.plan import _nothing_seen, _sent_payload
from dashboard.tools.forms.choices import offered
from layers.contract import Moment
from layers.datum.before.base import base_of
from layers.datum.before.prior import States, from_track
from layers.datum.compute import compute
from layers.datum.evidence.builders import BUILDERS
from layers.datum.evidence.not_seen import not_seen_term
from layers.datum.lines.fix_lines import line_of
from layers.datum.model import (
    Bearing,
    IntendedMovement,
    LastKnownPosition,
    Range,
    TimeDifference,
)
from layers.datum.reports import reports, setting_of
from layers.datum.search.model import NegativeSearch
from layers.earth.plane import Plane
from layers.earth.position import Position
from layers.earth.values import HearingRange, ShipState, TranspondersValue
from layers.journal.known import Entry
from tests.unit.test_datum_plan import EVIDENCE, plan_of, searcher
from tests.unit.test_datum_reports import LKP, PIM, POST, START, answer, known

GEOD = Geod(ellps="WGS84")
NMI = 1852.0
PLANE = Plane(49.83, -8.5)


class Flat:
    """A sea bed of one depth everywhere."""

    def __init__(self, depth_m):
        self.depth = depth_m

    def depth_m(self, latitudes_deg, longitudes_deg):
        return np.full(np.shape(latitudes_deg), self.depth)


def with_net(*facts, depth_grid=None, hearing=(), hours=20.0):
    found, _ = known(("datum.lkp", 0.0, LKP), ("datum.intended_movement", 0.0, PIM), *facts)
    at = START + timedelta(hours=hours)
    net = TranspondersValue(profile=None, depth_grid=depth_grid, hearing=hearing)
    return compute(found, {"transponders": net}, Moment(at, at))


def test_a_time_difference_has_one_error_in_the_datum_and_in_the_fix():
    told = POST | {
        "second_latitude_deg": 49.9, "second_longitude_deg": -8.0, "earlier_by_s": 20.0,
        "sigma_s": 0.02, "position_sigma_m": 0.0,
    }  # fmt: skip
    value = TimeDifference(**told)
    fix = line_of(value, START, None)
    # by hand: 0.02 s is 30 m; 1 % of 30 km, for no profile is at hand, is 300 m
    assert fix.sigma == pytest.approx(np.hypot(30.0, 300.0), rel=1e-6)
    result, _ = answer(("datum.time_difference", 14.0, told))
    state = States(np.zeros(1), np.zeros(1), np.zeros(1))
    setting = type("S", (), {"plane": PLANE, "profile": None, "prior": None,
                             "seconds": lambda self, at: 0.0})()  # fmt: skip
    term = BUILDERS["datum.time_difference"](value, START, setting).likelihood
    assert float(term.residual_m(state)[1][0]) == pytest.approx(fix.sigma, rel=1e-6)
    assert result.evidence[0].state == "counts"


def test_a_slant_range_with_no_depth_told_takes_it_from_the_depth_grid():
    slant = POST | {"slant_range_m": 3_000.0, "sigma_m": 34.0, "chance_wrong": 0.02}
    ring = with_net(("datum.range", 14.0, slant), depth_grid=Flat(2_500.0)).evidence[0]
    # the observer lies at 5 m: sqrt(3000^2 - 2495^2), by hand 1,666 m
    assert ring.drawn.range_m[0] == pytest.approx(1_665.8, abs=1.0)
    assert "depth grid" in ring.says
    plain = with_net(("datum.range", 14.0, slant)).evidence[0]
    assert "taken as horizontal, no depth given" in plain.says
    value = Range(**slant)
    assert value.object_depth_m is None


@pytest.mark.parametrize(("lat", "lon"), [(82.0, -95.0), (86.0, 140.0), (49.7, -8.6)])
def test_a_magnetic_bearing_carries_the_doubt_of_the_variation(lat, lon):
    value = Bearing(latitude_deg=lat, longitude_deg=lon, observer="X", bearing_deg=10.0,
                    sense="magnetic", sigma_deg=1.0)  # fmt: skip
    field = GeoMag(coefficients_file="wmm/WMM_2025.COF").calculate(
        glat=lat, glon=lon, alt=0.0, time=2027.2
    )
    # WMM2025 error model: 0.26 deg and 5417 nT over the horizontal field (WMM report, MEMORY)
    doubt = np.hypot(0.26, 5_417.0 / field.h)
    line = line_of(value, START, None)
    assert line.sigma == pytest.approx(np.hypot(1.0, doubt), rel=0.02)
    as_true = line_of(value.model_copy(update={"sense": "true"}), START, None)
    assert as_true.sigma == pytest.approx(1.0)


def meridian_m(lat):
    """Return the length of the meridian from the equator, by the geodesic library."""
    return float(GEOD.inv(0.0, 0.0, 0.0, lat)[2]) * np.sign(lat)


def isometric(lat):
    """Return the isometric latitude on the ellipsoid, radians (Bowditch, meridional parts)."""
    p, e = np.radians(lat), np.sqrt(GEOD.es)
    return np.arctanh(np.sin(p)) - e * np.arctanh(e * np.sin(p))


@pytest.mark.parametrize(
    ("lat", "nmi"), [(50.0, 60.0), (60.0, 300.0), (70.0, 300.0), (82.0, 300.0), (-55.0, 600.0),
                     (20.0, 1_500.0)]
)  # fmt: skip
def test_a_course_and_a_length_are_a_rhumb_line_all_along(lat, nmi):
    course = 65.0 if lat < 75.0 else 100.0
    due = START + timedelta(hours=30)
    movement = IntendedMovement(course_true_deg=course, length_nmi=nmi, speed_min_kn=8.0,
                                speed_max_kn=9.0, report_due=due)  # fmt: skip
    lkp = LastKnownPosition(latitude_deg=lat, longitude_deg=-9.0, sigma_m=500.0, reported_by="X")
    plane = Plane(lat, -9.0)
    prior = from_track(plane, lkp, START, movement)
    # between two vertices she is drawn on a straight line of the plane: its middle, every vertex
    xs = np.concatenate([prior.x_m, 0.5 * (prior.x_m[1:] + prior.x_m[:-1])])
    ys = np.concatenate([prior.y_m, 0.5 * (prior.y_m[1:] + prior.y_m[:-1])])
    lats, lons = plane.unproject(xs, ys)
    turn = np.radians(course)
    for la, lo in zip(lats, lons, strict=True):
        # the longitude at which the rhumb line crosses this latitude
        there = -9.0 + np.degrees(np.tan(turn) * (isometric(la) - isometric(lat)))
        east_nmi = (lo - there) * 60.0 * np.cos(np.radians(la))
        # across the line: what is off east, seen square to the course
        assert abs(east_nmi * np.cos(turn)) < 0.1


def seen_share(value, x, y):
    term = not_seen_term(value, PLANE).term
    return 1.0 - term(States(np.array(x, float), np.array(y, float), np.zeros(len(x))))


def corners(*places):
    found = [PLANE.position(float(x), float(y)) for x, y in places]
    return tuple({"latitude_deg": p.latitude_deg, "longitude_deg": p.longitude_deg} for p in found)


def test_random_search_counts_its_effort_where_it_was_steered_not_on_the_way_home():
    # a ladder of ten legs, 20 km long and 2 km apart, sweep width 2 km: coverage 1 in its box;
    # then 60 km home to the south-west
    rungs = []
    for k in range(10):
        ends = (0.0, 20e3) if k % 2 == 0 else (20e3, 0.0)
        rungs += [(ends[0], 2e3 * k), (ends[1], 2e3 * k)]
    home = [*rungs, (-40e3, -40e3)]
    value = NegativeSearch(searcher="A", waypoints=corners(*home), sweep_width_m=2_000.0,
                           pod_curve="random", started_at=START)  # fmt: skip
    rng = np.random.default_rng(1)
    inside = seen_share(value, rng.uniform(3e3, 17e3, 400), rng.uniform(2e3, 16e3, 400))
    # Koopman's random law at coverage 1, 1 - 1/e
    assert inside.mean() == pytest.approx(1.0 - np.exp(-1.0), abs=0.06)
    beside = seen_share(value, [15e3, 20e3, -35e3], [-20e3, -25e3, 5e3])
    assert beside.max() < 0.02


def test_an_area_told_by_two_corners_counts_inside_by_its_spacing_and_not_outside():
    value = NegativeSearch(searcher="A", area=corners((0, 0), (20e3, 10e3)), spacing_m=2_000.0,
                           sweep_width_m=2_000.0, started_at=START)  # fmt: skip
    found = seen_share(value, [10e3, 2e3, -3e3, 10e3], [5e3, 9e3, 5e3, 12e3])
    # inverse cube law at coverage 1: 0.78991 (Koopman, by integration); 0.99 of it is counted
    assert found[:2] == pytest.approx(0.99 * 0.78991, abs=1e-3)
    assert found[2:] == pytest.approx(0.0, abs=1e-9)
    round_one = NegativeSearch(searcher="A", area=corners((0, 0)), radius_m=5_000.0,
                               spacing_m=4_000.0, sweep_width_m=2_000.0,
                               started_at=START)  # fmt: skip
    # coverage 0.5: 0.46912
    assert seen_share(round_one, [0, 4.9e3, 5.2e3], [0, 0, 0]) == pytest.approx(
        [0.99 * 0.46912, 0.99 * 0.46912, 0.0], abs=1e-3
    )


def test_what_was_sent_and_saw_nothing_counts_as_it_was_valued():
    _, plan = plan_of(("datum.searcher", 16.0, searcher("A")))
    item = plan.planned[0]
    sent = _sent_payload(plan, item)
    assert [w["latitude_deg"] for w in sent["waypoints"]] == pytest.approx(
        [t.position.latitude_deg for t in item.pattern.turns], abs=1e-6
    )
    assert sent["pos"] == item.pos
    facts, _ = known(*EVIDENCE, ("datum.search_sent", 16.0, sent))
    entry = facts.entries("datum.search_sent")[0]
    nothing = _nothing_seen(entry, "searched, nothing seen")
    ends = (item.ends - START).total_seconds() / 3_600.0
    result, _ = answer(*EVIDENCE, ("datum.negative_search", ends, nothing), hours=ends + 0.1)
    told = next(e for e in result.evidence if e.kind == "datum.negative_search")
    # the very legs, read back from what was sent, would have seen her as the plan said
    assert told.agreement.startswith("would have seen her with ")
    assert int(told.agreement.split()[-1].rstrip("%")) == pytest.approx(100 * item.pos, abs=2.5)


PINGER = HearingRange(
    source="distress pinger", listener="listener", listener_depth_m=10.0, source_depth_m=None,
    merit_db=100.0, absorption_db_km=9.0, fluctuation_db=6.0, direct_to_m=None, range_50_m=3_000.0,
)  # fmt: skip


def silent(**other):
    began = (START + timedelta(hours=14)).isoformat()
    return ("datum.not_heard", 15.0, {"latitude_deg": 49.75, "longitude_deg": -8.6,
            "observer": "EAR", "by": "pinger", "started_at": began, "sounding_chance": 0.9,
            "chance_wrong": 0.0} | other)  # fmt: skip


def test_not_heard_takes_the_range_of_the_water_and_leaves_room_for_its_doubt():
    result = with_net(silent(), hearing=(PINGER,))
    item = result.evidence[0]
    assert "distress pinger" in item.says
    assert "1.6 nmi" in item.says
    # sonar equation by hand: at 1 km 60 dB + 9 dB of loss, 31 dB to spare: heard; at 8 km 150 dB
    # of loss, 50 too many: silent all the same; 3 km: 97 dB, as likely as not
    from layers.datum.evidence.silent import DOUBT_DB, SilentTerm, WouldHear

    wide = replace(PINGER, fluctuation_db=float(np.hypot(6.0, DOUBT_DB)))
    at = PLANE.position(0.0, 0.0)
    term = SilentTerm(
        heard=WouldHear(plane=PLANE, latitude_deg=at.latitude_deg, longitude_deg=at.longitude_deg,
                        hearing=wide), sounding=0.9,
    )  # fmt: skip
    missed = term(States(np.array([1e3, 3e3, 8e3]), np.zeros(3), np.zeros(3)))
    assert missed[0] == pytest.approx(0.1, abs=0.01)
    assert 0.4 < missed[1] < 0.7
    assert missed[2] > 0.99


class Ridge:
    """A listener that hears to 6 km, but nothing behind a rise to the north."""

    sources, listeners = ("distress pinger",), ("listener",)

    def would_hear(self, source, listener, place, at_us, latitudes_deg, longitudes_deg):
        azimuth, _, metres = GEOD.inv(
            np.full(len(latitudes_deg), place.longitude_deg),
            np.full(len(latitudes_deg), place.latitude_deg), longitudes_deg, latitudes_deg,
        )  # fmt: skip
        heard = (np.asarray(metres) < 6_000.0) & (np.abs(np.asarray(azimuth)) > 45.0)
        found = np.tile(np.where(heard, 1.0, 0.0), (len(at_us), 1))
        found[0] = np.nan  # the wind of the first hour is not known: it says nothing
        return found


def test_not_heard_is_read_over_the_seabed_and_the_hours_listened():
    found, _ = known(("datum.lkp", 0.0, LKP), ("datum.intended_movement", 0.0, PIM), silent())
    at = START + timedelta(hours=20)
    net = TranspondersValue(profile=None, listening=Ridge())
    base = base_of(found, at)
    setting = setting_of(found, base, net, at)
    built = reports(found, base, setting, net, at)
    x, y = base.plane.point(49.75, -8.6)
    places = np.array([(0.0, 3e3), (3e3, 0.0), (0.0, -3e3), (5.5e3, 0.0), (12e3, 0.0)])
    states = States(x + places[:, 0], y + places[:, 1], np.zeros(5))
    missed = built[0].term.likelihood(states)
    # by hand: behind the rise nothing is learnt; to the east and south 0.9 of four hours in five;
    # at 5.5 km it may be out of reach, at 12 km it is
    assert missed == pytest.approx([1.0, 0.28, 0.28, 0.52, 1.0], abs=0.01)
    assert "over the seabed there" in built[0].evidence.says


class TwoShips:
    """A sonar ship that hears to 6 km, and a trawler that hears to 2 km."""

    sources, listeners = ("distress pinger",), ("SONAR SHIP", "TRAWLER")

    def would_hear(self, source, listener, place, at_us, latitudes_deg, longitudes_deg):
        metres = GEOD.inv(
            np.full(len(latitudes_deg), place.longitude_deg),
            np.full(len(latitudes_deg), place.latitude_deg), longitudes_deg, latitudes_deg,
        )[2]  # fmt: skip
        reach = 6_000.0 if listener == "SONAR SHIP" else 2_000.0
        return np.tile(np.where(np.asarray(metres) < reach, 1.0, 0.0), (len(at_us), 1))


@pytest.mark.parametrize("net", ["sonar equation", "over the seabed"])
@pytest.mark.parametrize(
    ("observer", "seen"), [("SONAR SHIP", True), ("TRAWLER", False), ("A YACHT", False)]
)
def test_silence_proves_what_those_ears_would_have_heard_and_of_a_stranger_the_least(
    net, observer, seen
):
    """3.5 km off: within a sonar ship's reach, beyond a trawler's, and nobody knows a yacht's."""
    report = silent(observer=observer)
    found, _ = known(("datum.lkp", 0.0, LKP), ("datum.intended_movement", 0.0, PIM), report)
    at = START + timedelta(hours=20)
    keen = replace(PINGER, listener="SONAR SHIP", merit_db=140.0)
    deaf = replace(PINGER, listener="TRAWLER", merit_db=60.0)
    held = TranspondersValue(profile=None, hearing=(keen, deaf))
    if net == "over the seabed":
        held = TranspondersValue(profile=None, listening=TwoShips())
    base = base_of(found, at)
    built = reports(found, base, setting_of(found, base, held, at), held, at)
    x, y = base.plane.point(49.75, -8.6)
    missed = built[0].term.likelihood(States(np.array([x + 3_500.0]), np.array([y]), np.zeros(1)))
    assert (missed[0] < 0.5) == seen, missed
    assert seen or missed[0] > 0.9


@pytest.mark.parametrize("net", ["sonar equation", "over the seabed"])
def test_not_heard_by_a_listener_whose_place_is_doubtful_is_the_mean_over_his_places(net):
    """A buoy that drifted for hours: 3 km about the place told, against drawn places of it."""
    own = {"position_sigma_m": 3_000.0}
    found, _ = known(("datum.lkp", 0.0, LKP), ("datum.intended_movement", 0.0, PIM),
                     silent(**own))  # fmt: skip
    at = START + timedelta(hours=20)
    held = TranspondersValue(profile=None, hearing=(PINGER,))
    if net == "over the seabed":
        held = TranspondersValue(profile=None, listening=Ridge())
    base = base_of(found, at)
    built = reports(found, base, setting_of(found, base, held, at), held, at)
    x, y = base.plane.point(49.75, -8.6)
    places = np.array([(3e3, 0.0), (0.0, -6e3), (9e3, 0.0), (0.0, -20e3)])
    states = States(x + places[:, 0], y + places[:, 1], np.zeros(4))
    east, north = 3_000.0 * np.random.default_rng(9).standard_normal((2, 100_000))
    for mine, place in zip(built[0].term.likelihood(states), places, strict=True):
        dx, dy = place[0] - east, place[1] - north
        metres = np.hypot(dx, dy)
        if net == "sonar equation":  # spreading and 9 dB a km, 6 dB and 10 dB of doubt
            loss = 20.0 * np.log10(np.maximum(metres, 1.0)) + 9.0 * metres / 1_000.0
            heard = norm.cdf((100.0 - loss) / np.hypot(6.0, 10.0))
        else:  # to 6 km to a factor of 1.5, four hours in five, and nothing to the north
            clear = np.abs(np.degrees(np.arctan2(dx, dy))) > 45.0
            reach = [metres * factor < 6_000.0 for factor in (1 / 1.5, 1.0, 1.5)]
            heard = 0.8 * np.mean([clear & near for near in reach], axis=0)
        assert mine == pytest.approx(1.0 - 0.9 * heard.mean(), abs=0.035), (net, place)


def test_not_heard_without_a_range_known_is_set_aside_and_asks():
    item = with_net(silent(by="hull tapping"), hearing=(PINGER,)).evidence[0]
    assert item.state == "set aside"
    assert "how far hull tapping would have been heard is not known" in item.why
    typed = with_net(silent(by="hull tapping", within_m=4_000.0)).evidence[0]
    assert typed.state == "counts"
    assert "as typed" in typed.says


def at_sea(name, x_nmi, hours, **other):
    return ShipState(**({
        "name": name, "role": "search ship", "fixed_at": START + timedelta(hours=hours),
        "position": Position(49.7, -8.9 + x_nmi / 60.0 / np.cos(np.radians(49.7))),
        "course_true_deg": 90.0, "speed_kn": 12.0, "heading_true_deg": None, "stale": False,
    } | other))  # fmt: skip


def test_a_searcher_is_planned_from_her_track_when_that_is_newer_than_what_was_told():
    facts, _ = known(("datum.searcher", 16.0, searcher("TENACE")))
    entries: list[Entry] = list(facts.entries("datum.searcher"))
    now = START + timedelta(hours=18)
    found = moved(entries, (at_sea("Tenace", 20.0, 17.9),), now)
    assert [round(one.metres / NMI) for one in found] == [20]
    anew = payload(found[0], now)
    # told 8 h from 16 h on: at 18 h six are left, and she must leave when she was told to
    assert anew["endurance_h"] == pytest.approx(6.0)
    assert anew["longitude_deg"] == pytest.approx(found[0].ship.position.longitude_deg, abs=1e-5)
    for no in (at_sea("TENACE", 20.0, 15.0), at_sea("TENACE", 0.2, 17.9),
               at_sea("TENACE", 20.0, 17.9, stale=True), at_sea("OTHER", 20.0, 17.9)):  # fmt: skip
        assert moved(entries, (no,), now) == []
    assert payload(found[0], START + timedelta(hours=30)) is None


def test_a_sighting_s_form_offers_the_types_whose_leeway_is_known():
    facts, _ = known(("datum.lkp", 0.0, LKP))
    found = offered(facts, "datum.sighting", "object_type")
    assert found is not None
    assert found.open  # another may be typed, with its leeway and who says so
    assert {"raft, deep ballast", "person in water, survival suit"} <= set(found.values)
