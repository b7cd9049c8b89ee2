"""The layer as a whole: the exercise's net, replies that cannot be, what others hand to it."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import lru_cache

import numpy as np
import pytest

from demo_data import scenario
from demo_data.load import demo_journal
from demo_data.scenario import z
from demo_data.writers.write_transponders import _truth as true_places
from layers.catalogue import KINDS
from layers.contract import Moment, Origin
from layers.earth.chart.marks import Freshness, GridMark, LineMark
from layers.earth.errors import InputError
from layers.earth.geodesy import between
from layers.earth.plane import Plane
from layers.earth.tells import Tells
from layers.earth.values import Conditions, WeatherValue
from layers.journal.known import Known, ListShelf, check_payload
from layers.journal.record import Draft, as_record, form_identity
from layers.picture import picture
from layers.transponders import LAYER
from layers.transponders.compute import track_of
from layers.transponders.net import ranges_csv_feed
from layers.transponders.report import tables, ways

HEARD = datetime(2027, 3, 16, 1, 0, tzinfo=UTC)


class Blow:
    """The same wind and stream everywhere."""

    def __init__(self, wind_m_s: float, east_m_s: float = 0.0) -> None:
        self.wind_m_s, self.east_m_s = wind_m_s, east_m_s

    def conditions(self, latitudes_deg, longitudes_deg, at_us):
        ones = np.ones(len(latitudes_deg))
        return Conditions(
            wind_east_m_s=self.wind_m_s * ones, wind_north_m_s=0 * ones, wind_sigma_m_s=ones,
            current_east_m_s=self.east_m_s * ones, current_north_m_s=0 * ones,
            current_sigma_m_s=0.05 * ones, hs_m=ones, hs_sigma_m=ones, tp_s=8 * ones,
        )  # fmt: skip


def weather(wind_m_s: float, east_m_s: float = 0.0) -> WeatherValue:
    return WeatherValue(field=Blow(wind_m_s, east_m_s), series_at_datum=None, windows=())


def known_of(*rows, at=HEARD) -> Known:
    records = []
    for place, (kind, valid_at, payload) in enumerate(rows, start=1):
        check_payload(KINDS[kind], payload, "test")
        draft = Draft(kind=kind, payload=payload, valid_at=valid_at, heard_at=valid_at,
                      source="test", identity=form_identity(str(place)))  # fmt: skip
        records.append(as_record(draft, seq=place, recorded_at=valid_at, author="watch"))
    return Known(ListShelf(records), KINDS, len(records), at)


def drop(name="TP1", at=HEARD - timedelta(hours=1), **more):
    place = {"latitude_deg": 49.83, "longitude_deg": -8.5, "water_depth_m": 142.0}
    return "transponders.drop", at, {"transponder": name, "turn_round_s": 0.1, **place, **more}


def reply(two_way_s, name="TP1", at=HEARD - timedelta(minutes=30)):
    return "transponders.range", at, {
        "transponder": name, "latitude_deg": 49.831, "longitude_deg": -8.5,
        "transducer_depth_m": 5.0, "two_way_s": two_way_s,
    }  # fmt: skip


@lru_cache(maxsize=4)
def at_demo(moment):
    shelf, seq = demo_journal(moment)
    return picture(shelf, Moment(moment, moment), seq, keys=["transponders"]).shown("transponders")


def test_the_exercise_says_who_answers_what_lies_wrong_and_how_good_the_fix_is():
    shown = at_demo(scenario.DEMO_NOW)
    assert shown.sentence == (
        "Four transponders of four answer; TP3 lies 150 m 310°T from where it should; inspection "
        "vehicle fix good to 7 m (95 %); DISSUB fixed by 5 lines."
    )
    out = {row["Transponder"]: row["Out of place"] for row in shown.table.as_dicts()}
    assert out == {"TP1": False, "TP2": False, "TP3": True, "TP4": False}


def test_the_exercise_net_lies_where_it_truly_lies_within_its_ellipses():
    shown = at_demo(scenario.DEMO_NOW)
    for one in shown.result.transponders:
        off, _, _ = between(one.position, true_places()[one.name])
        assert off < 2.0 * one.boxed.ellipse.semi_major_m + 0.5
    dissub = next(fix for fix in shown.result.fixes if fix.is_dissub)
    assert between(dissub.position, scenario.TRUTH)[0] < dissub.good_to_m


def test_the_exercise_before_the_net_shows_the_water_and_just_after_says_not_boxed_in():
    assert at_demo(z(13, "1500")).sentence.startswith("Sound-speed profile of 131420Z MAR 27")
    early = at_demo(z(15, "2300"))
    assert early.sentence == "Four transponders dropped, none heard yet; not boxed in."
    assert any(m.freshness is Freshness.EXPECTED for m in early.marks if "expected" in m.key)


def test_what_is_drawn_keeps_the_dissub_to_those_who_may_know():
    drawn = at_demo(scenario.DEMO_NOW).marks
    for mark in drawn:
        assert mark.tooltip
        assert mark.source
        told = mark.key.startswith(("isobath", "profile", "depths"))
        assert (Tells.POSITION in mark.tells) is not told, mark.key
    lines = [m for m in drawn if isinstance(m, LineMark) and m.key.startswith("range ")]
    assert len(lines) == 6
    assert all(mark.label.endswith(" m") for mark in lines)
    assert sum(isinstance(m, GridMark) and not m.edges for m in drawn) == 1


def test_the_seabed_is_handed_to_other_layers():
    value = LAYER.hand(at_demo(scenario.DEMO_NOW).result)
    depth = value.depth_grid.depth_m(np.array([49.8333, 0.0]), np.array([-8.5, 0.0]))
    assert depth[0] == pytest.approx(142.0, abs=1.0)
    assert np.isnan(depth[1])
    assert value.profile.speed_m_s.shape == value.profile.depth_m.shape


def test_nothing_known_says_what_would_fill_the_place():
    with pytest.raises(
        InputError, match=r"sound-speed profile, transponder or depth.*a CTD or probe file"
    ):
        LAYER.compute(known_of(), {}, Moment(HEARD, HEARD))


def test_impossible_ranges_are_set_aside_and_said():
    known = known_of(drop(), reply(0.05), reply(0.12), reply(30.0), reply(0.31, "TP9"),
                     *(reply(0.31 + 0.001 * k) for k in range(6)))  # fmt: skip
    result = LAYER.compute(known, {}, Moment(HEARD, HEARD))
    assert result.transponders[0].state == "answers"
    # The six that may be come from one place, which fixes nothing, and that is said.
    assert result.boxin is None
    assert "does not fix the place" in result.transponders[0].why_not
    assert result.impossible == {
        "from a transponder that was never dropped": 1,
        "shorter than the turn-round delay": 1,
        "nearer than straight down": 1,
        "further than 10 km": 1,
    }
    rows = LAYER.tables(result)["Box-in"].rows
    assert ("set aside: further than 10 km", 1, "") in rows


def test_a_drop_is_carried_by_the_stream_while_it_sinks():
    result = LAYER.compute(known_of(drop(sink_rate_m_s=1.42)), {"weather": weather(5.0, 0.4)},
                           Moment(HEARD, HEARD))  # fmt: skip
    should = result.transponders[0].expected
    # 142 m at 1.42 m/s is 100 s; 7/8 of 0.4 m/s over them is 35 m towards east.
    assert should.sink_s == pytest.approx(100.0)
    assert should.carried_m == pytest.approx(35.0, abs=0.1)
    assert should.carried_true_deg == pytest.approx(90.0, abs=0.1)


def test_a_stream_not_known_is_said_and_widens_the_place():
    still = LAYER.compute(known_of(drop()), {}, Moment(HEARD, HEARD)).transponders[0].expected
    told = LAYER.compute(known_of(drop()), {"weather": weather(5.0)}, Moment(HEARD, HEARD))
    assert "stream not known" in still.stream
    assert still.sigma_m > told.transponders[0].expected.sigma_m


def test_the_rings_of_hearing_follow_the_weather():
    def ring(wind):
        result = LAYER.compute(known_of(drop()), {"weather": weather(wind)}, Moment(HEARD, HEARD))
        keys = {mark.key: mark for mark in LAYER.marks(result)}
        assert "hearing distress pinger 90" in keys
        return result.heard.rows[0].range_50_m

    assert ring(18.0) < 0.9 * ring(3.0)
    result = LAYER.compute(known_of(drop()), {}, Moment(HEARD, HEARD))
    assert not [mark for mark in LAYER.marks(result) if mark.key.startswith("hearing")]
    assert "the wind is not known" in str(LAYER.tables(result)["Hearing"].rows)
    (bounce,) = {row[1:] for row in LAYER.tables(result)["Hearing"].rows if "seabed and" in row[1]}
    assert bounce[1] == "not counted"
    assert "not hearing it proves nothing" in bounce[3]


def test_a_source_without_a_level_is_named_and_not_guessed():
    result = LAYER.compute(known_of(drop()), {"weather": weather(5.0)}, Moment(HEARD, HEARD))
    said = {row[0]: row[4] for row in LAYER.tables(result)["Hearing"].rows if row[2] is None}
    assert "no source level is shipped" in said["hull tapping"]
    assert "no source level is shipped" in said["underwater telephone"]


def test_state_and_silence():
    silent = ("transponders.state", HEARD, {"transponder": "TP1", "state": "silent"})
    result = LAYER.compute(known_of(drop(), silent), {}, Moment(HEARD, HEARD))
    assert result.transponders[0].state == "silent"
    assert "No transponders of one answer" in LAYER.sentence(result)
    later = HEARD + timedelta(hours=7)
    answers = ("transponders.state", HEARD, {"transponder": "TP1", "state": "answers"})
    result = LAYER.compute(known_of(drop(), answers, at=later), {}, Moment(later, later))
    assert result.transponders[0].stale


def test_a_fix_that_cannot_be_worked_out_is_said():
    typed = ("transponders.typed_fix", HEARD, {
        "subject": "LIMPET", "ranges": [{"transponder": "TP1", "slant_m": 100.0},
                                        {"transponder": "TP7", "slant_m": 90.0}],
    })  # fmt: skip
    result = LAYER.compute(known_of(drop(), typed), {}, Moment(HEARD, HEARD))
    assert result.fixes == ()
    assert any("no transponder 'TP7' in the net" in note for note in result.notes)


@pytest.mark.parametrize(
    ("payload", "words"),
    [
        ({"subject": "X", "ranges": [{"transponder": "A", "slant_m": 5.0}]}, "at least two lines"),
        ({"subject": "X", "bearing_true_deg": 10.0, "depression_deg": 40.0}, "needs the ship's"),
        (
            {"subject": "X", "ranges": [{"transponder": "A"}] * 2},
            "either two_way",
        ),
        ({"subject": "X", "bearing_true_deg": 361.0}, "accepted: less than 360"),
    ],
)
def test_a_typed_fix_that_cannot_stand_is_refused(payload, words):
    with pytest.raises(InputError, match=words):
        check_payload(KINDS["transponders.typed_fix"], payload, "form")


HEAD = "time,ship,transponder,latitude,longitude,transducer_depth_m,two_way_ms\n"
ROW = "2027-03-15T23:05:00Z,NL,TP1,49 50.0N,8 30.0W,6.0,761.98\n"


def read(text):
    data = text.encode()
    return ranges_csv_feed.read(data, Origin(source="x.csv", received_at=HEARD, digest="d" * 64))


def test_replies_read_in_their_unit_and_each_bad_line_is_one_reject():
    bad = "2027-03-15T23:05:00,NL,TP1,49.8,-8.5,6.0,761\n" + "2027-03-15T23:05:00Z,NL,TP1\n"
    bad += ROW.replace("49 50.0N", "91N") + ROW.replace("761.98", "-5") + ROW.replace("6.0", "deep")
    reading = read(HEAD + ROW + bad)
    assert reading.drafts[0].payload["two_way_s"] == pytest.approx(0.76198)
    assert reading.drafts[0].payload["longitude_deg"] == -8.5
    assert [reject.line for reject in reading.rejects] == [3, 4, 5, 6, 7]
    reasons = [reject.reason for reject in reading.rejects]
    assert "no time zone" in reasons[0]
    assert "3 cells under 7 column heads: cut short?" in reasons[1]
    assert "'91N' is not a latitude" in reasons[2]


@pytest.mark.parametrize(
    ("place", "comma"),
    [("49.8333,-8.5", False), ("49.8333N,8.5W", False), ("49°50.0'N,8°30'W", False),
     ("49,8333;-8,5", True)],
)  # fmt: skip
def test_the_place_of_a_reply_is_the_same_however_it_is_written(place, comma):
    head, row = HEAD, ROW.replace("49 50.0N,8 30.0W", place)
    if comma:
        head, row = head.replace(",", ";"), "2027-03-15T23:05:00Z;NL;TP1;49,8333;-8,5;6,0;761,98\n"
    (draft,) = read(head + row).drafts
    held = (draft.payload["latitude_deg"], draft.payload["longitude_deg"])
    assert held == pytest.approx((49.8333, -8.5), abs=1e-4)


def test_two_times_of_one_reply_are_one_too_many():
    reading = read(HEAD.replace("two_way_ms", "two_way_ms,two_way_s") + ROW)
    assert "both two_way_s and two_way_ms" in reading.rejects[0].reason


def test_a_file_of_replies_without_a_column_says_which():
    assert "no column transponder" in read(HEAD.replace("transponder,", "") + ROW).rejects[0].reason
    assert "no column two_way_s" in read(HEAD.replace("two_way_ms", "echo") + ROW).rejects[0].reason
    assert read("").rejects[0].reason.startswith("x.csv: no row of column names")


def round_the(name, latitude_deg, longitude_deg, two_way_offset_s=0.0):
    """Return eight replies of one transponder at 137 m, straight at 1500 m/s, from a ring."""
    rows = []
    plane = Plane(latitude_deg, longitude_deg)
    for n in range(8):
        turn = 2 * np.pi * n / 8
        ship = plane.position(400 * np.sin(turn), 400 * np.cos(turn))
        slant = np.hypot(400.0, 142.0 - 5.0)
        at = HEARD - timedelta(minutes=30) + timedelta(seconds=20 * n)
        kind, when, payload = reply(2 * slant / 1500 + 0.1 + two_way_offset_s, name, at)
        rows.append((kind, when, {**payload, "latitude_deg": ship.latitude_deg,
                                  "longitude_deg": ship.longitude_deg}))  # fmt: skip
    return rows


def test_a_range_between_transponders_is_judged_with_the_net():
    east = Plane(49.83, -8.5).position(500.0, 0.0)
    away = {"latitude_deg": east.latitude_deg, "longitude_deg": east.longitude_deg}
    told = [("transponders.between", HEARD - timedelta(minutes=10),
             {"one": "TP1", "other": "TP2", "two_way_s": 2 * metres / 1500 + 0.1})
            for metres in (500.0, 560.0)]  # fmt: skip
    rows = [drop(), drop("TP2", **away), *round_the("TP1", 49.83, -8.5),
            *round_the("TP2", east.latitude_deg, east.longitude_deg), *told]  # fmt: skip
    result = LAYER.compute(known_of(*rows), {}, Moment(HEARD, HEARD))
    (_, _, near, used), (_, _, far, wrong) = result.boxin.between
    assert (used, wrong) == (True, False)
    assert abs(near) < 0.5
    assert far == pytest.approx(-60.0, abs=1.0)
    told_there = {row["Quantity"]: row for row in tables(result)["Box-in"].as_dicts()}
    assert "TP1 to TP2, range less the net's" in told_there
    with pytest.raises(InputError, match="from TP1 to itself"):
        known_of(("transponders.between", HEARD, {"one": "TP1", "other": "TP1", "two_way_s": 1.0}))


def test_a_fix_that_does_not_fit_the_way_is_told_and_marked():
    drawn = at_demo(scenario.DEMO_NOW)
    name = next(iter(drawn.result.tracks))
    assert {m.key for m in drawn.marks} >= {f"way {name}"}
    fixes = drawn.result.paths[name]
    stray = replace(fixes[-1], position=Plane.about(fixes[-1].position).position(9_000.0, 0.0))
    track = track_of((*fixes[:-1], stray), drawn.result.at)
    odd = replace(drawn.result, paths={name: (*fixes[:-1], stray)}, tracks={name: track},
                  fixes=(stray,))  # fmt: skip
    mark = next(m for m in LAYER.marks(odd) if m.key == f"fix {name}")
    assert mark.disputed
    assert "set aside" in ways(odd)[0]


def boxed_in(*more, sigma_s=None, at=HEARD):
    """Return the box-in of one transponder and its rows, with what the watch told of errors."""
    delay = {} if sigma_s is None else {"turn_round_sigma_s": sigma_s}
    rows = [drop(**delay), *round_the("TP1", 49.83, -8.5, 0.0), *more]
    result = LAYER.compute(known_of(*rows, at=at), {}, Moment(at, at))
    told = {row["Quantity"]: row for row in tables(result)["Box-in"].as_dicts()}
    return result, told


def test_the_watch_tells_how_large_the_errors_of_a_box_in_may_be():
    """A delay measured on deck, an arm put in: what is ruled out no longer widens the ellipse."""
    when = HEARD - timedelta(minutes=50)
    plain, said = boxed_in()
    assert said["taken beforehand, 68 % within: turn-round delay"]["Unit"] == "ms, assumed"
    # nobody measured the water: a guess of the sound speed is no better than 15 m/s
    assert said["taken beforehand, 68 % within: sound speed"]["Value"] == 15.0
    sure = ("transponders.box_in_errors", when, {
        "position_sigma_m": 0.2, "arm_sigma_m": 0.0, "late_sigma_s": 0.0,
        "sound_speed_sigma_m_s": 0.5,
    })  # fmt: skip
    told, said = boxed_in(sure, sigma_s=0.0001)
    assert said["taken beforehand, 68 % within: turn-round delay"]["Value"] == 0.1
    assert said["taken beforehand, 68 % within: her position's common error"]["Unit"] == "m, told"
    (one,), (other,) = plain.transponders, told.transponders
    assert other.boxed.ellipse.semi_major_m < 0.3 * one.boxed.ellipse.semi_major_m
    assert other.boxed.depth_sigma_m < one.boxed.depth_sigma_m
    assert told.boxin.records[-1] in told.rests_on
    # of each error the newest word stands; the others stay as they were told
    wider = ("transponders.box_in_errors", HEARD - timedelta(minutes=40), {"position_sigma_m": 9.0})
    _, said = boxed_in(sure, wider)
    assert said["taken beforehand, 68 % within: her position's common error"]["Value"] == 9.0
    assert said["taken beforehand, 68 % within: arm from antenna to transducer"]["Value"] == 0.0
    with pytest.raises(InputError, match="no error told"):
        known_of(("transponders.box_in_errors", when, {"reason": "none"}))


def test_a_fix_rests_on_the_turn_round_delays_as_the_box_in_solved_them():
    """Delays wrong by 10 ms, 7.5 m of range, each its own: solved with the places, they go.

    Before they were taken as typed the middle error was 6 m, and the lines disagreed in one of
    four.
    """
    plane = Plane(49.83, -8.5)
    net = np.array([[425.0, 425, 142], [425, -425, 140], [-425, -425, 143], [-425, 425, 141]])
    vehicle, off, inside = np.array([100.0, 30.0, 134.0]), [], 0
    names = [f"TP{k + 1}" for k in range(4)]
    for run in range(10):
        rng = np.random.default_rng([20_280_401, run])
        delay = 0.1 + rng.normal(0.0, 0.010, 4)

        def two_way(k, place, rng=rng, delay=delay):
            slant = np.linalg.norm(net[k] - place) + rng.normal(0.0, 1.0)
            return {"transponder": names[k], "two_way_s": float(2 * slant / 1500 + delay[k])}

        rows = [("transponders.box_in_errors", HEARD - timedelta(hours=2),
                 {"sound_speed_sigma_m_s": 3.0})]  # fmt: skip
        for k, name in enumerate(names):
            at = plane.position(*(net[k, :2] + rng.normal(0.0, 8.0, 2)))
            rows.append(drop(name, latitude_deg=at.latitude_deg, longitude_deg=at.longitude_deg,
                             water_depth_m=float(net[k, 2]), water_depth_sigma_m=3.0))  # fmt: skip
        for step in range(32):
            turn = 2 * np.pi * step / 32
            ship = np.array([600 * np.sin(turn), 600 * np.cos(turn), 5.0])
            seen = plane.position(*ship[:2])
            when = HEARD - timedelta(minutes=50) + timedelta(seconds=60 * step)
            rows += [("transponders.range", when, two_way(k, ship) | {
                "latitude_deg": seen.latitude_deg, "longitude_deg": seen.longitude_deg,
                "transducer_depth_m": 5.0}) for k in range(4)]  # fmt: skip
        rows.append(("transponders.typed_fix", HEARD - timedelta(minutes=1), {
            "subject": "vehicle", "ranges": [two_way(k, vehicle) for k in range(4)],
            "range_sigma_m": 1.0, "depth_m": 134.0, "depth_sigma_m": 1.0,
        }))  # fmt: skip
        (fix,) = LAYER.compute(known_of(*rows), {}, Moment(HEARD, HEARD)).fixes
        off.append(between(fix.position, plane.position(*vehicle[:2]))[0])
        inside += off[-1] <= fix.good_to_m
    assert np.median(off) < 4.0, off
    assert inside >= 8, off  # fewer of ten would be seen once in ten thousand were it 95 of 100


def net_of_four(move_m, part, whose=(1,), wild=0.0):
    """Return the result of a net whose transponders were moved east before the last replies."""
    plane, rng = Plane(49.83, -8.5), np.random.default_rng(31)
    net = np.array([[425.0, 425, 142], [425, -425, 140], [-425, -425, 143], [-425, 425, 141]])
    start = HEARD - timedelta(hours=5)
    rows = [("transponders.box_in_errors", start, {"sound_speed_sigma_m_s": 1.0})]
    for k, place in enumerate(net):
        at = plane.position(*place[:2])
        here = {"latitude_deg": at.latitude_deg, "longitude_deg": at.longitude_deg}
        rows.append(drop(f"TP{k + 1}", start, **here, water_depth_m=float(place[2])))
    for step in range(48):
        turn = 2 * np.pi * step / 24
        ship = np.array([600 * np.sin(turn), 600 * np.cos(turn), 5.0])
        seen = plane.position(*ship[:2])
        for k, place in enumerate(net):
            gone = k in whose and step >= 48 * (1.0 - part)
            slant = np.linalg.norm(place + np.array([move_m * gone, 0.0, 0.0]) - ship)
            slant += rng.normal(0.0, 1.0) + 80.0 * (rng.random() < wild)
            kind, _, payload = reply(float(2 * slant / 1500 + 0.1), f"TP{k + 1}")
            when = HEARD - timedelta(minutes=100) + timedelta(seconds=60 * step)
            rows.append((kind, when, payload | {"latitude_deg": seen.latitude_deg,
                                                "longitude_deg": seen.longitude_deg}))  # fmt: skip
    return LAYER.compute(known_of(*rows), {}, Moment(HEARD, HEARD)), plane, net


@pytest.mark.parametrize("part", [0.5, 0.25])
def test_a_transponder_that_was_moved_is_boxed_in_from_where_it_lies_now(part):
    """Its first replies would keep it at the old place, good to metres, and 60 m off."""
    result, plane, net = net_of_four(60.0, part)
    one = result.transponders[1]
    east, north = plane.point(one.boxed.position.latitude_deg, one.boxed.position.longitude_deg)
    off = np.hypot(east - net[1, 0] - 60.0, north - net[1, 1])
    assert off <= one.boxed.ellipse.semi_major_m < 30.0
    said = LAYER.sentence(result)
    # without a fault of the track itself the way it moved is known to the two ellipses
    assert "TP2 has moved" in said
    assert f"boxed in anew from its {round(48 * part)} replies since" in said
    assert one.moved in result.notes
    assert not any(other.moved for other in result.transponders if other is not one)


def test_stray_replies_and_an_error_of_the_whole_track_are_no_move():
    strays, _, _ = net_of_four(0.0, 0.5, wild=0.08)
    assert not any(one.moved for one in strays.transponders)
    # all four seem to have moved alike: it is the ship that is wrong
    shifted, _, _ = net_of_four(60.0, 0.25, whose=(0, 1, 2, 3))
    assert not any(one.moved for one in shifted.transponders)


def test_water_of_which_only_the_sound_speed_was_measured_is_assumed_and_said():
    """Absorption rests on temperature and salinity: 10 °C and 35 that nobody measured are told."""
    speed = {"depth_m": [0.0, 100.0], "sound_speed_m_s": [1500.0, 1495.0], "instrument": "probe"}
    whole = {
        **speed,
        "temperature_c": [12.0, 10.0],
        "salinity": [35.1, 35.2],
        "salinity_kind": "practical",
        "latitude_deg": 49.8,
        "longitude_deg": -8.5,
    }
    for payload, said in ((speed, True), (whole, False)):
        row = ("transponders.profile", HEARD - timedelta(hours=1), payload)
        result = LAYER.compute(known_of(row), {}, Moment(HEARD, HEARD))
        assert any("10 °C and salinity 35 assumed" in n for n in result.notes) is said
        assert any("assumed" in n for n in result.heard.covered.notes) is said


def test_each_source_is_heard_from_its_own_depth_and_place():
    """Where direct sound ends, by Snell's law in closed form: the ray that grazes the surface.

    In water of one gradient g between two levels it runs (√(cv² − c1²) − √(cv² − c2²)) / g.
    """
    levels = np.array([0.0, 30.0, 60.0, 150.0, 200.0])
    speeds = np.array([1512.0, 1511.0, 1495.0, 1492.0, 1493.0])

    def by_hand(depth_m):
        def down_to(z):
            zs = np.append(levels[levels < z], z)
            root = np.sqrt(np.maximum(1512.0**2 - np.interp(zs, levels, speeds) ** 2, 0.0))
            slope = np.diff(np.interp(zs, levels, speeds)) / np.diff(zs)
            return float(np.sum(-np.diff(root) / slope))

        return down_to(depth_m) + down_to(10.0)

    def source(name, depth_m, **place):
        return ("transponders.sound_source", HEARD, {
            "name": name, "source_level_db": 185.0, "frequency_khz": 5.0, "band_hz": 200.0,
            "depth_m": depth_m, "provenance": "maker's leaflet", **place,
        })  # fmt: skip

    water = ("transponders.profile", HEARD, {
        "depth_m": levels.tolist(), "sound_speed_m_s": speeds.tolist(), "instrument": "probe",
    })  # fmt: skip
    near = {"latitude_deg": 49.8, "longitude_deg": -8.5}
    far = {"latitude_deg": 50.8, "longitude_deg": -8.5}
    result = LAYER.compute(
        known_of(water, source("shallow", 62.0, **near), source("deep", 190.0, **near),
                 source("elsewhere", 62.0, **far), source("beyond", 450.0, **near)),
        {"weather": weather(5.0)}, Moment(HEARD, HEARD),
    )  # fmt: skip
    heard = {row.source.name: row for row in result.heard.rows}
    for name, depth in (("shallow", 62.0), ("deep", 190.0)):
        # the diagram has cells of 75 m by 2.8 m, and the ear may be anywhere in one
        assert abs(heard[name].direct_to_m - by_hand(depth)) < 150.0, name
    assert heard["deep"].direct_to_m > 1.2 * heard["shallow"].direct_to_m
    said = {row[0]: row[4] for row in tables(result)["Hearing"].rows if row[1].startswith("direct")}
    assert said["shallow"].startswith("rays from 62 m;")
    assert "where the profile ends: she is at 450 m" in said["beyond"]
    rings = {mark.key: mark for mark in LAYER.marks(result) if mark.key.startswith("hearing")}
    assert float(np.mean(rings["hearing elsewhere 90"].latitudes_deg)) == pytest.approx(
        50.8, abs=0.01
    )
    assert float(np.mean(rings["hearing shallow 90"].latitudes_deg)) == pytest.approx(
        49.8, abs=0.01
    )
