"""The chain: what waits for what, resources, windows, actual times, what holds it up."""

from dataclasses import fields, replace
from datetime import timedelta

import numpy as np
import pytest
from scipy.stats import beta, norm

from layers.earth.clock import to_us
from layers.earth.errors import InputError, RecordRefused
from layers.earth.sea.draws import SEA_DRAWS, sea_draws
from layers.earth.values import Conditions, SeaSeries, WeatherValue
from layers.forward_port import LAYER, model
from layers.forward_port.chain import chain, gates, pert
from layers.forward_port.options import hand
from layers.journal.known import check_payload
from tests.unit.forward_port_cases import (
    NOW,
    ZERO,
    activity,
    actual,
    hours,
    known,
    option,
    result,
    row,
)

ONE = np.zeros(1, dtype=np.int64)


def link(key, after=(), hours=1.0, **more):
    return chain.Link(key=key, after=tuple(after), duration_h=np.array([float(hours)]), **more)


def run_once(links):
    net = chain.network(links)
    done = chain.run(net, level=ONE)
    return {key: float(done.finish_h[place, 0]) for key, place in net.place.items()}


def test_two_ways_meet_at_the_later():
    net = chain.network([link("a", hours=3), link("b", hours=5), link("c", ["a", "b"], 2)])
    done = chain.run(net, level=ONE)
    assert done.start_h[net.place["c"], 0] == 5.0
    assert done.finish_h[net.place["c"], 0] == 7.0


def test_one_crane_lifts_one_after_the_other():
    parts = [link(f"lift{n}", hours=2, resource="crane") for n in range(3)]
    net = chain.network([*parts, link("end", ["lift0", "lift1", "lift2"], 0)])
    assert chain.run(net, level=ONE).finish_h[net.place["end"], 0] == 6.0


def test_resource_goes_first_to_whoever_can_first_start():
    late = link("late", ["long"], 1, resource="crane")
    early = link("early", hours=1, resource="crane")
    net = chain.network([late, early, link("long", hours=4), link("end", ["late", "early"], 0)])
    done = chain.run(net, level=ONE)
    assert done.start_h[net.place["early"], 0] == 0.0
    assert done.finish_h[net.place["end"], 0] == 5.0


def test_a_circle_is_refused_and_named():
    with pytest.raises(InputError, match=r"goes in a circle: .*'a'.*'b'|'b'.*'a'"):
        chain.network([link("a", ["b"]), link("b", ["a"])])


def test_a_wait_for_nothing_is_refused_and_named():
    with pytest.raises(InputError, match="'a' waits for 'z', which is not in it"):
        chain.network([link("a", ["z"])])


def test_the_same_activity_twice_is_refused():
    with pytest.raises(InputError, match="'a' is there twice"):
        chain.network([link("a"), link("a")])


def test_the_journal_refuses_an_activity_that_closes_a_circle():
    held = known([activity("a", ["b"]), activity("c", ["a"])])
    draft = activity("b", ["c"])
    kind = next(kind for kind in LAYER.kinds if kind.name == "forward_port.activity")
    with pytest.raises(RecordRefused, match="would go in a circle"):
        kind.refuse(model.Activity(**{**draft.payload, "after": ("c",)}), draft, held)


def test_three_times_out_of_order_are_refused_by_name():
    with pytest.raises(InputError, match="lift: least 3 h, likely 2 h, most 4 h are out of order"):
        activity("lift", hours=(3.0, 2.0, 4.0))


def test_two_of_three_times_are_refused():
    with pytest.raises(InputError, match="all three times"):
        row("activity", key="a", title="a", least_h=1.0, likely_h=2.0)


def test_running_activity_is_not_done_before_now():
    net = chain.network([link("a", hours=1, started_h=0.0), link("b", ["a"], 2)])
    done = chain.run(net, level=ONE, now_h=3.0)
    assert done.finish_h[:, 0].tolist() == [3.0, 5.0]


def test_what_has_not_started_cannot_start_before_now():
    net = chain.network([link("a", hours=1)])
    assert chain.run(net, level=ONE, now_h=4.0).start_h[0, 0] == 4.0


def test_actual_times_replace_estimates_and_move_the_end():
    drafts = [option(), activity("a", hours=(2.0, 2.0, 2.0)), activity("out", ["a"])]
    before = result(drafts).options[0]
    late = actual("a", started_at=ZERO, finished_at=ZERO + timedelta(hours=5))
    as_of = ZERO + timedelta(hours=6)
    after = result([*drafts, late], as_of).options[0]
    assert hours(before.last.p50) == pytest.approx(4.0)  # not begun at 1 h: 1 + 2 + 1
    assert hours(after.last.p50) == pytest.approx(7.0)  # begins now, at 6 h
    one = after.activities[0]
    assert hours(one.planned_finish) == pytest.approx(2.0)
    assert hours(one.finished_at) == pytest.approx(5.0)


def test_actual_without_any_time_is_refused():
    with pytest.raises(InputError, match="a start, a finish or both"):
        row("actual", activity="a")


def test_finished_before_it_started_is_refused():
    with pytest.raises(InputError, match="finished before it started"):
        actual("a", started_at=NOW, finished_at=ZERO)


def test_unknown_time_counts_as_nothing_and_says_not_before():
    found = result([option(), activity("a", hours=None), activity("out", ["a"])])
    each = found.options[0]
    assert each.at_least
    assert "how long: a" in each.unknowns
    assert "not before" in LAYER.sentence(found)


def test_given_clearance_ends_its_activity_and_a_refused_one_kills():
    drafts = [
        option(),
        activity("overflight", hours=(9.0, 9.0, 9.0)),
        activity("out", ["overflight"]),
    ]
    given = row("clearance", activity="overflight", state="given", by="office", at=NOW.isoformat())
    each = result([*drafts, given]).options[0]
    assert hours(each.last.p50) == pytest.approx(2.0)
    no = row("clearance", activity="overflight", state="refused", by="office", at=NOW.isoformat())
    assert "refused: overflight (office)" in result([*drafts, no]).options[0].kills


def test_critical_is_the_longer_way_and_an_hour_there_saves_an_hour():
    drafts = [
        option(),
        activity("short", hours=(1.0, 2.0, 3.0)),
        activity("long", hours=(8.0, 9.0, 10.0)),
        activity("out", ["short", "long"]),
    ]
    rows = {a.key: a for a in result(drafts, ZERO).options[0].activities}
    assert rows["long"].critical == 1.0
    assert rows["short"].critical == 0.0
    assert rows["long"].saves_h == pytest.approx(1.0, abs=1e-6)
    assert rows["short"].saves_h == 0.0


def test_shares_of_two_alike_ways_add_up_to_about_one():
    drafts = [
        option(),
        activity("a", hours=(1.0, 5.0, 9.0)),
        activity("b", hours=(1.0, 5.0, 9.0)),
        activity("out", ["a", "b"]),
    ]
    rows = {a.key: a for a in result(drafts, ZERO).options[0].activities}
    assert rows["a"].critical == pytest.approx(0.5, abs=0.02)
    assert rows["a"].critical + rows["b"].critical == pytest.approx(1.0, abs=1e-9)


def test_same_random_numbers_in_every_option():
    drafts = [
        option("one"),
        option("two"),
        activity("a", hours=(1.0, 5.0, 9.0)),
        activity("out", ["a"]),
    ]
    one, two = hand(result(drafts, ZERO)).options
    assert np.array_equal(one.ready_us, two.ready_us)
    assert len(one.ready_us) == 10_000


def sea(hs, daylight=None):
    count = len(hs)
    nothing = np.full(count, np.nan)
    return SeaSeries(
        at_us=np.array([to_us(ZERO) + n * 3_600_000_000 for n in range(count)], dtype=np.int64),
        hs_m=np.array(hs, dtype=float),
        hs_sigma_m=np.zeros(count),
        tp_s=nothing,
        wind_kn=nothing,
        wind_sigma_kn=nothing,
        current_surface_kn=nothing,
        current_seat_kn=nothing,
        visibility_nmi=nothing,
        daylight=np.ones(count, dtype=bool) if daylight is None else np.array(daylight),
    )


def wait(gate, start, span):
    return float(gate.wait(np.array([start]), np.array([span]), np.array([4]))[0])


def test_sea_that_rises_too_soon_is_waited_out():
    rough = gates.gate(sea([1, 1, 1, 4, 4, 1, 1, 1]), ZERO, gates.Limits(hs_max_m=3.0))
    assert wait(rough, 0.5, 2.0) == 0.5  # open until 3 h
    assert wait(rough, 1.5, 2.0) == 5.0  # would be caught at 3 h
    assert wait(rough, 3.2, 1.0) == 5.0
    assert wait(rough, 6.5, 40.0) == 6.5  # past the forecast nothing is known: open


def test_window_shorter_than_the_work_is_passed_over():
    rough = gates.gate(sea([4, 1, 4, 4, 1, 1, 1, 4]), ZERO, gates.Limits(hs_max_m=3.0))
    assert wait(rough, 0.0, 2.5) == 4.0


def test_daylight_is_waited_for():
    daylight = [False, False, True, True, True, False]
    light = gates.gate(sea([1] * 6, daylight), ZERO, gates.Limits(daylight=True))
    assert wait(light, 0.0, 2.0) == 2.0


def test_no_limits_no_gate():
    assert gates.gate(sea([1, 1]), ZERO, gates.Limits()) is None


def test_wait_for_the_sea_is_said_and_holds_nothing_up_behind_it():
    weather = WeatherValue(
        field=_Calm(), series_at_datum=sea([1, 1, 5, 5, 5, 5, 1, 1, 1, 1]), windows=()
    )
    drafts = [
        option(),
        activity("ready", hours=(2.0, 2.0, 2.0)),
        activity("out", ["ready"], hours=(1.0, 1.0, 1.0), hs_max_m=3.0),
    ]
    found = result(drafts, ZERO, weather=weather)
    each = found.options[0]
    assert hours(each.last.p50) == pytest.approx(7.0)
    rows = {a.key: a for a in each.activities}
    assert rows["out"].waits_for_window == 1.0
    assert rows["ready"].critical == 0.0
    assert "waits for the sea or daylight in 100 %" in LAYER.sentence(found)


def test_waves_only_observed_are_no_forecast_to_wait_by():
    drafts = [option(), activity("out", hours=(1.0, 1.0, 1.0), hs_max_m=3.0)]
    series = sea([1.0] * 12)
    said = {}
    for forecast in (True, False):
        told = replace(series, waves_forecast=forecast)
        weather = WeatherValue(field=_Calm(), series_at_datum=told, windows=())
        said[forecast] = result(drafts, ZERO, weather=weather).options[0].unknowns
    assert not any("no forecast" in words for words in said[True])
    assert any("waves" in words and "no forecast" in words for words in said[False])


class _Calm:
    def conditions(self, latitudes_deg, longitudes_deg, at_us):
        raise AssertionError("no passage asks for the sea here")


def test_the_way_home_is_the_way_out_turned_round():
    after = {"a": (), "b": ("a",), "c": ("b",), "d": ("a", "c")}
    assert chain.backwards(after, ["a", "b", "c", "d"]) == {
        "a": ("b", "d"),
        "b": ("c",),
        "c": ("d",),
        "d": (),
    }


def test_a_wait_through_an_activity_left_at_home_is_kept():
    assert chain.backwards({"a": (), "x": ("a",), "c": ("x",)}, ["a", "c"]) == {
        "a": ("c",),
        "c": (),
    }


def test_return_option_runs_backwards_after_its_own_first_activity():
    drafts = [
        option(),
        activity("load", hours=(1.0, 1.0, 1.0), returns=True),
        activity("fly", ["load"], hours=(6.0, 6.0, 6.0), returns=True),
        activity("out", ["fly"]),
        option("home", last="load", purpose="return", backwards_of="one"),
        activity("pack", hours=(2.0, 2.0, 2.0), options=["home"]),
    ]
    home = result(drafts, ZERO).options[1]
    rows = {a.key: a for a in home.activities}
    assert hours(rows["fly"].start.p50) == pytest.approx(2.0)
    assert hours(home.last.p50) == pytest.approx(9.0)
    assert rows["fly"].title == "fly, the other way"


def test_choice_is_kept_with_its_reason_and_all_options_stay():
    drafts = [option("one"), option("two"), activity("out", hours=(1.0, 2.0, 3.0))]
    first = row("choice", ZERO, option="one", reason="nearest")
    second = row("choice", NOW, option="two", reason="the crane reaches")
    found = result([*drafts, first, second])
    assert [o.chosen for o in found.options] == [False, True]
    assert [c.reason for c, _, _ in found.choices] == ["nearest", "the crane reaches"]
    assert len(LAYER.table(found).rows) == 2


def test_a_broken_option_says_why_and_the_others_stay():
    drafts = [
        option("good"),
        option("bad", last="nowhere"),
        activity("out", hours=(1.0, 2.0, 3.0)),
    ]
    found = result(drafts)
    assert found.options[0].last is not None
    assert "'nowhere' is not in it" in found.options[1].problem
    assert "nowhere" in str(LAYER.table(found).rows[1])


def test_nothing_known_says_what_would_fill_the_place():
    with pytest.raises(InputError, match="World Port Index"):
        result([])


def test_hindsight_knows_no_later_actuals():
    drafts = [option(), activity("a", hours=(2.0, 2.0, 2.0)), activity("out", ["a"])]
    late = actual("a", at=NOW, started_at=ZERO, finished_at=NOW)
    then = result([*drafts, late], NOW, ZERO + timedelta(minutes=30)).options[0]
    assert then.activities[0].finished_at is None


def test_payload_models_refuse_what_cannot_be():
    kinds = {kind.name: kind for kind in LAYER.kinds}
    with pytest.raises(InputError, match="latitude_deg"):
        check_payload(
            kinds["forward_port.port"], {"name": "Nowhere", "longitude_deg": 1.0}, "port row 4"
        )


def test_an_actual_start_out_of_sequence_keeps_every_date():
    """Rig waits for load and has begun before it: the fact counts, load still comes."""
    drafts = [
        option(last="out"),
        activity("load", hours=(2.0, 3.0, 4.0), resource="team"),
        activity("rig", ["load"], (4.0, 5.0, 6.0), resource="team"),
        activity("out", ["rig", "load"]),
        actual("rig", NOW, started_at=NOW - timedelta(minutes=30)),
    ]
    found = result(drafts).options[0]
    assert not found.problem
    assert found.last is not None
    by_key = {a.key: a for a in found.activities}
    assert by_key["rig"].started_at is not None
    # the team is with the rig until then
    assert by_key["load"].start.p50 >= by_key["rig"].finish.p10


@pytest.mark.parametrize("seed", range(20))
def test_actuals_in_any_order_never_cost_the_dates(seed):
    """Random chains, random facts: no circle is told that was not entered."""
    rng = np.random.default_rng(seed)
    keys = [f"a{n}" for n in range(7)]
    drafts = [option(last="a6")]
    for n, key in enumerate(keys):
        after = [keys[m] for m in range(n) if rng.random() < 0.4]
        drafts.append(activity(key, after, (1.0, 2.0, 3.0), resource=str(rng.choice(["", "r"]))))
    for key in keys[:-1]:
        if rng.random() < 0.5:
            begun = NOW - timedelta(hours=float(rng.uniform(0.1, 3.0)))
            times = {"started_at": begun}
            if rng.random() < 0.5:
                times["finished_at"] = NOW
            drafts.append(actual(key, NOW, **times))
    found = result(drafts).options[0]
    assert not found.problem
    assert found.last is not None


def _under_way(hours_ago: float):
    at = ZERO + timedelta(hours=20)
    drafts = [
        option(last="dig"),
        activity("dig", hours=(4.0, 6.0, 10.0)),
        actual("dig", at, started_at=at - timedelta(hours=hours_ago)),
        row("choice", at, option="one", reason="test"),
    ]
    found = result(drafts, as_of=at).options[0]
    begun = at - timedelta(hours=hours_ago)
    return found, [
        (t - begun).total_seconds() / 3600 for t in (found.last.p10, found.last.p50, found.last.p90)
    ]


@pytest.mark.parametrize("elapsed", [7.0, 9.0])
def test_work_under_way_is_reckoned_as_not_done_yet(elapsed):
    """4/6/10 h begun so long ago: the quantiles given that it is not done (scipy's own beta)."""
    shape = beta(1 + 4 * (6 - 4) / 6, 1 + 4 * (10 - 6) / 6, loc=4, scale=6)
    done = shape.cdf(elapsed)
    expected = [shape.ppf(done + q * (1 - done)) for q in (0.1, 0.5, 0.9)]
    _, found = _under_way(elapsed)
    assert found == pytest.approx(expected, abs=0.03)


def test_past_its_longest_time_it_is_overdue_and_the_end_is_only_a_least():
    found, _ = _under_way(12.0)
    assert found.at_least
    assert any("overdue by 2.0 h" in words for words in found.unknowns)
    said = LAYER.sentence(result([
        option(last="dig"), activity("dig", hours=(4.0, 6.0, 10.0)),
        actual("dig", ZERO + timedelta(hours=20), started_at=ZERO + timedelta(hours=8)),
    ], as_of=ZERO + timedelta(hours=20)))  # fmt: skip
    assert "not before" in said


def test_the_critical_user_of_a_resource_goes_first():
    """A 10 h side job that could begin at once, a 30 h lift ready after 1 h: 31 h, then it."""
    links = [
        link("ready", (), 1.0),
        link("lift", ("ready",), 30.0, resource="crane"),
        link("side", (), 10.0, resource="crane"),
        link("end", ("lift",), 1.0),
    ]
    done = run_once(links)
    assert done["end"] == pytest.approx(32.0)
    later = [link("ready", (), 50.0), *links[1:]]
    assert run_once(later)["side"] == pytest.approx(10.0)  # it fits before


def test_two_of_a_resource_work_beside_each_other_and_priority_goes_first():
    jobs = [link(k, (), 10.0, resource="team", capacity=2) for k in "abcd"]
    assert sorted(run_once(jobs).values()) == pytest.approx([10.0, 10.0, 20.0, 20.0])
    said = zip("abc", (0, 0, 5), strict=True)
    one = [link(k, (), 10.0, resource="team", priority=p) for k, p in said]
    assert run_once(one)["c"] == pytest.approx(10.0)


def test_a_gate_at_one_sigma_opens_with_the_normal_chance():
    """Hs 2.0 m, sigma 0.5 m, limit 2.5 m: P = Phi(1) = 0.841; at -1.6 sigma 0.055."""
    expected = sea([2.0, 2.0])
    for limit, chance in ((2.5, norm.cdf(1.0)), (1.2, norm.cdf(-1.6)), (3.0, norm.cdf(2.0))):
        series = replace(expected, hs_sigma_m=np.full(2, 0.5))
        found = gates.gate(series, ZERO, gates.Limits(hs_max_m=limit))
        assert found.open[:, 0].mean() == pytest.approx(chance, abs=0.02)


def test_a_gate_meets_the_same_sea_as_the_windows():
    """Draw for draw: what the chain finds open is what the weather layer's draws find open."""
    series = replace(sea([2.0] * 30), hs_sigma_m=np.full(30, 0.5))
    found = gates.gate(series, ZERO, gates.Limits(hs_max_m=2.4))
    assert np.array_equal(found.open, sea_draws(series, SEA_DRAWS).hs_m <= 2.4)


def test_activities_with_one_cause_are_long_or_short_together():
    alone = np.corrcoef(
        pert.draws_of("a", 1, 20_000, 1, 2, 3), pert.draws_of("b", 1, 20_000, 1, 2, 3)
    )[0, 1]
    alike = np.corrcoef(
        pert.draws_of("a", 1, 20_000, 1, 2, 3, "road"),
        pert.draws_of("b", 1, 20_000, 1, 2, 3, "road"),
    )[0, 1]
    assert abs(alone) < 0.03
    assert alike == pytest.approx(0.5, abs=0.03)


def test_a_tide_gate_waits_for_the_water_and_an_unknown_tide_is_said():
    turns = [
        {"at": (ZERO + timedelta(hours=6 * n)).isoformat(), "height_m": 1.0 if n % 2 else 4.0}
        for n in range(8)
    ]
    series = sea([1.0] * 40)
    weather = WeatherValue(field=None, series_at_datum=series, windows=())
    base = [
        option(last="berth", port="P"),
        activity("come", hours=(4.0, 4.0, 4.0)),
        activity("berth", ["come"], (1.0, 1.0, 1.0), tide_min_m=3.5),
    ]
    dry = result(base, weather=weather).options[0]
    assert any("tide" in words for words in dry.unknowns)
    wet = result([*base, row("tide", port="P", turns=turns)], weather=weather).options[0]
    start = (wet.activities[-1].start.p50 - ZERO).total_seconds() / 3600
    assert 10.0 < start < 12.5  # low water at 6 h, high at 12 h


def test_every_wait_is_the_first_that_a_search_by_hand_finds():
    """Random gates and starts, some before the first hour and some after the last."""
    rng = np.random.default_rng(90_210)
    for _ in range(20):
        is_open = rng.random((3, 30)) < 0.6
        made = gates.Gate(edges_h=np.arange(31.0), open=is_open)
        starts, lengths = rng.uniform(-2, 33, 30), rng.uniform(0.1, 4, 30)
        level = rng.integers(0, 3, 30)
        found = made.wait(starts, lengths, level)
        for start, length, draw, got in zip(starts, lengths, level, found, strict=True):
            tries = [start, *(hour for hour in np.arange(31.0) if hour > start)]

            def clear(at, length=length, draw=draw, is_open=is_open):
                return all(
                    is_open[draw, c] or at >= c + 1 or at + length <= c + 1e-12 for c in range(30)
                )

            assert got == pytest.approx(next(at for at in tries if clear(at)))


def test_who_waits_for_a_resource_waits_for_all_that_hold_it():
    """Rig begun before load ended and done at once: the team is still with load."""
    drafts = [
        option(last="out"),
        activity("load", hours=(10.0, 11.0, 12.0), resource="team"),
        activity("rig", ["load"], (1.0, 2.0, 3.0), resource="team"),
        activity("out", ["rig"], (1.0, 1.0, 1.0), resource="team"),
        actual("load", started_at=ZERO),
        actual("rig", started_at=ZERO + timedelta(minutes=10),
               finished_at=ZERO + timedelta(minutes=40)),
        row("choice", NOW, option="one", reason="test"),
    ]  # fmt: skip
    found = {a.key: a for a in result(drafts).options[0].activities}
    assert found["out"].start.p10 >= found["load"].finish.p10
    assert hours(found["out"].start.p50) == pytest.approx(11.0, abs=0.3)


def _waiting(weather, *more, **asked):
    drafts = [
        option(port="Alder"),
        activity("lift", hours=(2.0, 2.0, 2.0), **asked),
        activity("out", ["lift"]),
        *more,
    ]
    return result(drafts, ZERO, weather=weather).options[0]


def _weather(series, field=None):
    return WeatherValue(field=field or _Calm(), series_at_datum=series, windows=())


ALDER = {"name": "Alder", "latitude_deg": 50.0, "longitude_deg": -5.0}


def _tide_until(end_h):
    turns = [
        {"at": (ZERO + timedelta(hours=h)).isoformat(), "height_m": 5.0 - h % 2}
        for h in range(-6, end_h + 1)
    ]
    return row("tide", port="Alder", turns=turns)


def test_daylight_that_cannot_be_worked_out_is_no_daylight():
    dark = _waiting(None, daylight=True)
    assert dark.at_least
    assert any("daylight that lift waits for" in words for words in dark.unknowns)
    light = _waiting(_weather(sea([1.0] * 48)), daylight=True)
    assert not light.at_least


def test_an_entered_tide_that_ends_before_the_work_is_not_known_and_says_to_when():
    short = _waiting(_weather(sea([1.0] * 48)), _tide_until(1), tide_min_m=1.0)
    assert short.at_least
    assert any("the tide that lift waits for: known to" in words for words in short.unknowns)
    whole = _waiting(_weather(sea([1.0] * 48)), _tide_until(30), tide_min_m=1.0)
    assert not whole.at_least
    # nor is it held against anything where no weather tells the hours
    without = _waiting(None, _tide_until(30), tide_min_m=1.0)
    assert any("the tide that lift waits for" in words for words in without.unknowns)


def test_at_a_port_that_nobody_entered_the_sea_of_the_scene_says_nothing():
    calm = _weather(sea([1.0] * 48))
    nowhere = _waiting(calm, at_port=True, hs_max_m=2.0)
    assert nowhere.at_least
    assert any("waves that lift waits for: no forecast" in words for words in nowhere.unknowns)
    assert not _waiting(calm, hs_max_m=2.0).at_least


class _Nothing:
    def conditions(self, latitudes_deg, longitudes_deg, at_us):
        nothing = np.full(len(at_us), np.nan)
        return Conditions(**{field.name: nothing for field in fields(Conditions)})


def test_a_port_beyond_the_forecast_is_not_in_a_calm():
    weather = _weather(sea([1.0] * 48), _Nothing())
    found = _waiting(weather, row("port", **ALDER), at_port=True, wind_max_kn=20.0)
    assert found.at_least
    assert any("wind that lift waits for: no forecast" in words for words in found.unknowns)


def test_a_gap_in_the_forecast_within_the_work_is_said():
    waves = [1.0] * 48
    waves[1] = np.nan
    found = _waiting(_weather(sea(waves)), hs_max_m=2.0)
    assert any("not known for all the hours it may take" in words for words in found.unknowns)


def _chain_of(found):
    return next(table for name, table in LAYER.tables(found).items() if name.startswith("Chain"))


def test_an_actual_time_that_has_not_come_yet_is_a_plan_and_refused():
    kind = next(kind for kind in LAYER.kinds if kind.name == "forward_port.actual")
    ahead = NOW + timedelta(hours=3)
    for times in ({"started_at": ahead}, {"started_at": NOW, "finished_at": ahead}):
        with pytest.raises(RecordRefused, match="had not come"):
            kind.refuse(model.Actual(activity="fly", **times), actual("fly", NOW, **times),
                        known([], NOW))  # fmt: skip
    done = {"finished_at": NOW + timedelta(minutes=5)}  # two clocks are never quite alike
    kind.refuse(model.Actual(activity="fly", **done), actual("fly", NOW, **done), known([], NOW))


def test_what_comes_after_something_overdue_is_not_before_in_every_cell():
    """No P90 stands beside a time that leans on what nobody knows; what does not lean keeps it."""
    now = ZERO + timedelta(hours=20)
    found = result([
        option(), activity("dig", hours=(4.0, 6.0, 10.0)),
        activity("aside", hours=(1.0, 2.0, 3.0)), activity("out", ["dig", "aside"]),
        actual("dig", now, started_at=now - timedelta(hours=12)),
    ], as_of=now)  # fmt: skip
    rows = {row["Activity"]: row for row in _chain_of(found).as_dicts()}
    assert rows["dig"]["Remarks"] == "overdue by 2.0 h; how much longer is not known"
    for name in ("dig", "out"):
        assert rows[name]["Expected finish P50 (Z)"].startswith("not before ")
        assert rows[name]["P90 (Z)"] is None
    assert rows["out"]["Remarks"] == "after dig, so not before"
    assert rows["aside"]["P90 (Z)"] is not None
    assert not rows["aside"]["Expected finish P50 (Z)"].startswith("not before")
