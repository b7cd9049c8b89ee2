"""The lifts at once: promises kept, limits of sea, deck, seat and chamber."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from demo_data.scenario import z
from layers.earth.clock import to_us
from layers.survivors.lifts.model import Phase
from layers.survivors.lifts.run.simulate import simulate
from layers.survivors.lifts.run.windows import NEVER
from layers.survivors.lifts.sorties.facts import LiftFact
from tests.unit.lift_cases import NOW_US, eight_lifts, job_of, limits, vehicle

BEGUN = {
    "L0": LiftFact(
        lift="L0",
        vehicle="V1",
        began_us={
            phase: NOW_US + minutes * 60_000_000
            for phase, minutes in (
                (Phase.DOWN, -300),
                (Phase.SEARCH, -270),
                (Phase.MATE, -255),
                (Phase.TRANSFER, -220),
                (Phase.AWAY, -190),
                (Phase.UP, -185),
                (Phase.RECOVER, -175),
                (Phase.BACK, -150),
            )
        },
        phase=Phase.BACK,
        chamber="C1",
    ),
    "L1": LiftFact(
        lift="L1",
        vehicle="V2",
        began_us={Phase.DOWN: NOW_US - 4_000_000_000, Phase.SEARCH: NOW_US - 2_000_000_000},
        phase=Phase.SEARCH,
    ),
}


def test_a_vehicle_seating_24_empties_a_boat_of_144_in_six_trips() -> None:
    # common practice, no source
    from layers.survivors.lifts.choose import fill_lifts

    loads = fill_lifts(144, 0, vehicle(seats=24))
    assert [walking for walking, _ in loads] == [24] * 6


def test_two_sorties_never_share_the_deck_or_a_seat() -> None:
    job = job_of(eight_lifts(), n_draws=400)
    runs = simulate(job)
    lifts = len(job.lifts)
    for one in range(lifts):
        for other in range(one):
            if job.vehicle[one] == job.vehicle[other]:
                continue
            both = (runs.start_s[one] < NEVER) & (runs.start_s[other] < NEVER)
            both &= (runs.given_up[one] == 0) & (runs.given_up[other] == 0)
            launches = np.abs(runs.start_s[one] - runs.start_s[other])[both]
            shorter = np.minimum(job.offsets["launched"][one, 0], job.offsets["launched"][other, 0])
            assert (launches >= shorter[both]).all()


def test_no_lift_is_recovered_in_a_sea_above_the_limit() -> None:
    setting = eight_lifts()
    job = job_of(setting, n_draws=300)
    runs = simulate(job)
    spans = job.sea.recovery
    for n in range(len(job.lifts)):
        back, row = runs.back_s[n], np.arange(300)
        ran = back < NEVER
        length = job.offsets["back"][n, 0] - job.offsets["at_surface"][n, 0]
        once = ran & (runs.given_up[n] == 0)
        hit = (spans.starts[row] < back[:, None]) & (spans.ends[row] > (back - length)[:, None])
        assert not hit[once].any()


def test_a_chamber_holds_one_group_at_a_time() -> None:
    job = job_of(eight_lifts(), n_draws=300)
    runs = simulate(job)
    for room in range(2):
        inside = np.where(runs.chamber == room, runs.chamber_in_s, NEVER)
        order = np.sort(inside, axis=0)
        stay = int(job.stay_s.max())
        gaps = np.diff(order, axis=0)[order[1:] < NEVER]
        assert (gaps >= stay).all()


def test_nothing_waiting_dives_before_now_and_what_began_stays_where_it_was() -> None:
    setting = eight_lifts(facts=BEGUN)
    runs = simulate(job_of(setting, n_draws=100))
    assert (runs.start_s[0] == -300 * 60).all()
    assert (runs.back_s[0] == -150 * 60).all()
    assert (runs.back_s[1] > 0).all()
    assert (runs.start_s[2:] >= 0).all()


def test_a_held_up_recovery_waits_for_the_sea() -> None:
    rough = eight_lifts(facts=BEGUN, limits=limits(recovery_hs_m=1.0))
    runs = simulate(job_of(rough, n_draws=50))
    calm = simulate(job_of(replace(rough, limits=limits()), n_draws=50))
    assert (runs.back_s[1] > calm.back_s[1]).all()


def test_the_same_seed_gives_the_same_runs_and_another_does_not() -> None:
    one, again = simulate(job_of(eight_lifts(), 50)), simulate(job_of(eight_lifts(), 50))
    np.testing.assert_array_equal(one.back_s, again.back_s)
    other = simulate(job_of(eight_lifts(), 50, seed=2))
    assert (one.back_s != other.back_s).any()


def test_a_chamber_that_comes_later_is_not_used_before() -> None:
    job = job_of(eight_lifts(), n_draws=100)
    runs = simulate(job)
    used = runs.chamber == 1
    available = (to_us(z(16, "0000")) - NOW_US) // 1_000_000
    assert (runs.back_s[used] >= available).all()
