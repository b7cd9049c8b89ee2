"""The lifts run through ten thousand draws at once.

Each vehicle takes its lifts in the plan's order. A vehicle that is turned round, with a rested
crew, asks for its next dive; asks are answered in order of time (of the plan, when equal). The
dive is put at the earliest second from which the launch meets no closed sea, the watch's
forecast at that second has the recovery open, the tide lets it through, no other vehicle is on
the deck or at the same rescue seat, and there are chamber places for those who need them. What
is answered is promised: no later ask moves it. The sea then does what it does in that draw: a
vehicle that surfaces in a sea above the limit waits below it until it is let up. A vehicle may
be lost on a sortie: it brings nobody, and another one takes over what it has left (`queues`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from layers.earth.arrays import Bools, Ints
from layers.survivors.lifts.run.job import Job
from layers.survivors.lifts.run.queues import Queues
from layers.survivors.lifts.run.rooms import Rooms
from layers.survivors.lifts.run.windows import NEVER, OPEN, Spans
from layers.survivors.lifts.sorties.timed import SORTIES

PARTS_KEPT = ("launched", "at_seat", "away", "at_surface", "back")
STAY_LOOKS = 4  # that a dive put off is looked at again for the pressure then
ROUNDS = 400  # a start is put off this often at most before it counts as never


@dataclass(frozen=True, slots=True, kw_only=True)
class Runs:
    """When each lift runs, whole seconds after ``at_us``, shape (L, D); ``NEVER`` for not at all.

    ``chamber`` is the number of the chamber most of its people go into, -1 for none;
    ``chamber_out_s`` when they may leave it; ``shares``, shape (L, C, D), the places they take in
    each chamber, attendants who came with them included. ``given_up`` counts sorties that came
    back with nobody, ``caught_s`` is how long it waits at the surface for the sea, ``lost``
    that its vehicle did not come back, ``unfit`` that the pressure then was beyond the schedule or
    the vehicle, so that it did not run.
    """

    at_us: int
    start_s: Ints
    left_s: Ints
    back_s: Ints
    chamber: Ints
    chamber_in_s: Ints
    chamber_out_s: Ints
    shares: Ints
    given_up: Ints
    caught_s: Ints
    lost: Bools
    unfit: Bools


class _State:
    """Where everything stands, per draw; changed as sorties are promised."""

    def __init__(self, job: Job) -> None:
        lifts, draws, vehicles = len(job.lifts), job.n_draws, len(job.ready_s)
        self.job = job
        self.start = np.full((lifts, draws), NEVER)
        self.left, self.back = self.start.copy(), self.start.copy()
        self.chamber = np.full((lifts, draws), -1)
        self.inside, self.outside = self.start.copy(), self.start.copy()
        self.given_up = np.zeros((lifts, draws), dtype=np.int64)
        self.caught = np.zeros((lifts, draws), dtype=np.int64)
        self.lost = np.zeros((lifts, draws), dtype=bool)
        self.unfit = np.zeros((lifts, draws), dtype=bool)
        self.turned = job.ready_s.T.copy()  # (D, V): turned round
        self.crew = np.full((draws, vehicles, int(job.crews.max(initial=1))), NEVER)
        for v, crews in enumerate(job.crews):
            self.crew[:, v, :crews] = -NEVER
            if job.crews_out_s[v] > -NEVER:
                self.crew[:, v, 0] = job.crews_out_s[v] + job.crew_rest_s[v]
        self.team = np.full((draws, vehicles, max(int(job.teams.max(initial=1)), 1)), NEVER)
        for v, teams in enumerate(job.teams):
            self.team[:, v, : max(teams, 1)] = -NEVER
        self.rooms = Rooms(job.doors, lifts, draws)
        self.queues = Queues(job)
        self.sortie = np.zeros((draws, vehicles), dtype=np.int64)
        # what each vehicle was last promised: deck at launch and recovery, seat, refuge
        self.promise = np.full((6, draws, vehicles), -NEVER)
        self.at_refuge = np.full((draws, vehicles), -1)


def simulate(job: Job) -> Runs:
    """Return when every lift of a plan runs, in every draw.

    Parameters
    ----------
    job : Job
        The plan as numbers.
    """
    state = _State(job)
    _begun(state)
    vehicles = len(job.ready_s)
    rows = np.arange(job.n_draws)
    if not vehicles:
        return _runs(state)
    for _ in range(len(job.lifts) * SORTIES):
        free = np.maximum(state.turned, state.crew.min(axis=2))
        ask = np.where(state.queues.waiting(), free, 2 * NEVER)
        first = ask.argmin(axis=1)
        live = rows[ask[rows, first] < 2 * NEVER]
        if not len(live):
            break
        _promise(state, live, first[live], ask[live, first[live]])
    return _runs(state)


def _runs(state: _State) -> Runs:
    plan = state.queues
    in_room = plan.latest(state.chamber)
    return Runs(
        at_us=state.job.at_us,
        start_s=plan.first(state.start),
        left_s=plan.latest(state.left),
        back_s=plan.latest(state.back),
        chamber=np.where(in_room < 0, -1, in_room),
        chamber_in_s=plan.first(state.inside),
        chamber_out_s=plan.ended(state.outside),
        shares=plan.summed(state.rooms.taken),
        given_up=plan.summed(state.given_up),
        caught_s=plan.summed(state.caught),
        lost=plan.summed(state.lost) > 0,
        unfit=plan.summed(state.unfit) > 0,
    )


def _begun(state: _State) -> None:
    """Put in the lifts whose vehicle has gone down, as reported."""
    job = state.job
    rows = np.arange(job.n_draws)
    for lift in np.flatnonzero(job.forced_s < NEVER):
        v = int(job.vehicle[lift])
        begin = np.full(job.n_draws, job.forced_s[lift])
        zero, vehicle = np.zeros_like(begin), np.full(job.n_draws, v)
        number = np.full(job.n_draws, lift)
        stay = job.stay_s[lift]
        off = {name: values[lift, 0] for name, values in job.offsets.items()}
        held = zero
        if job.holds[lift]:
            held = _held(state, rows, vehicle, number, begin, off)
        _keep(state, rows, vehicle, number, begin, zero, held, np.full_like(begin, stay))
        state.queues.place[:, v] = 0  # the queue holds only the lifts that wait
        state.turned[:, v] = np.maximum(state.turned[:, v], job.ready_s[v])


def _promise(state: _State, rows: Ints, vehicle: Ints, ask: Ints) -> None:
    """Find and keep the next sortie of one vehicle in each of these draws."""
    job = state.job
    lift = state.queues.lift(rows, vehicle)
    sortie = state.sortie[rows, vehicle]
    off = {name: values[lift, sortie, rows] for name, values in job.offsets.items()}
    begin = np.maximum(np.maximum(ask, 0), state.queues.not_before_s(lift, rows))
    asked = np.zeros(len(rows), dtype=bool)
    for _ in range(STAY_LOOKS):  # a dive put off may bring them over an edge of the schedule
        stay, fits = job.stay(lift, rows, begin + off["left"])
        more = ~asked & (stay > 0) & (job.places[lift] > 0)
        if asked.any() and not more.any():
            break
        asked |= more
        later = _begins(state, rows, vehicle, lift, begin, off, asked)
        begin, before = later, begin
        if job.stays is None or (later == before).all():
            break
    stay, fits = job.stay(lift, rows, begin + off["left"])
    state.unfit[lift[~fits], rows[~fits]] = True
    state.queues.place[rows[~fits], vehicle[~fits]] += 1
    state.sortie[rows[~fits], vehicle[~fits]] = 0
    rows, vehicle, lift, begin, sortie, stay = (
        each[fits] for each in (rows, vehicle, lift, begin, sortie, stay)
    )
    off = {name: values[fits] for name, values in off.items()}
    held = _held(state, rows, vehicle, lift, begin, off)
    _keep(state, rows, vehicle, lift, begin, sortie, held, stay)


def _begins(
    state: _State,
    rows: Ints,
    vehicle: Ints,
    lift: Ints,
    begin: Ints,
    off: dict[str, Ints],
    stays: Bools,
) -> Ints:
    """Return the earliest dives from ``begin`` on; those who ``stays`` need chamber places."""
    job = state.job
    if stays.any() and len(job.doors.places):
        before = off["back"] if job.free_at_return else 0
        places = np.where(stays, job.places[lift], 0)
        room = state.rooms.first_free(rows, places, job.riding[vehicle], begin + before)
        begin = np.where(places > 0, np.maximum(begin, room - before), begin)
        told = (job.teams[vehicle] > 0) & (places > 0)
        begin = np.where(told, np.maximum(begin, state.team[rows, vehicle].min(axis=1)), begin)
    zero = np.zeros_like(begin)
    plan = {name: values[lift] for name, values in job.planned.items()}
    parts = [
        (job.sea.launch, zero, off["launched"]),
        (
            job.sea.recovery_seen,
            plan["launched"] if job.recoverable_throughout else plan["at_surface"],
            plan["back"],
        ),
        (job.sea.water, off["launched"], off["at_seat"]),
        (job.sea.water, off["away"], off["at_surface"]),
        (job.sea.mating, off["at_seat"], off["away"]),
        (job.sea.dark, zero, off["back"]),
    ]
    parts += _others(state, rows, vehicle, lift, off)
    return _clear(rows, begin, [part for part in parts if part[0] is not OPEN])


def _held(
    state: _State, rows: Ints, vehicle: Ints, lift: Ints, begin: Ints, off: dict[str, Ints]
) -> Ints:
    """Return how long a vehicle waits at the surface until sea and deck let it up."""
    job = state.job
    parts: list[tuple[Spans, Ints, Ints]] = [(job.sea.recovery, off["at_surface"], off["back"])]
    parts += [
        (spans, off["at_surface"], off["back"])
        for spans, low, _ in _others(state, rows, vehicle, lift, off)
        if low is off["at_surface"]
    ]
    up = _clear(rows, begin, [part for part in parts if part[0] is not OPEN])
    return np.asarray(np.where(begin < NEVER // 2, up - begin, 0))


def _others(
    state: _State, rows: Ints, vehicle: Ints, lift: Ints, off: dict[str, Ints]
) -> list[tuple[Spans, Ints, Ints]]:
    """Return what the other vehicles were promised as spans closed to this one."""
    job, found = state.job, []
    for v in range(len(job.ready_s)):
        if len(job.ready_s) == 1:
            break
        other = vehicle != v
        same_seat = other & (state.at_refuge[rows, v] == job.refuge[lift])
        zero = np.zeros_like(off["back"])
        deck = [(zero, off["launched"]), (off["at_surface"], off["back"])]
        for low, high, mine, holds in (
            (0, 1, deck, other),
            (4, 5, deck, other),
            (2, 3, [(off["at_seat"], off["away"])], same_seat),
        ):
            start = np.full(job.n_draws, NEVER)
            end = np.full(job.n_draws, NEVER)
            start[rows] = np.where(holds, state.promise[low, rows, v], NEVER)
            end[rows] = np.where(holds, state.promise[high, rows, v], NEVER)
            spans = Spans(start[:, None], end[:, None])
            found += [(spans, first, last) for first, last in mine]
    return found


def _clear(rows: Ints, begin: Ints, parts: list[tuple[Spans, Ints, Ints]]) -> Ints:
    """Return the earliest starts from which no part meets a span that is closed to it."""
    begin = begin.copy()
    moving = np.arange(len(rows))
    for _ in range(ROUNDS):
        before = begin[moving]
        after = before
        for spans, low, high in parts:
            after = spans.push(rows[moving], after, low[moving], high[moving])
        begin[moving] = after
        moving = moving[(after != before) & (after < NEVER // 2)]
        if not len(moving):
            return begin
    begin[moving] = NEVER
    return begin


def _keep(
    state: _State,
    rows: Ints,
    vehicle: Ints,
    lift: Ints,
    begin: Ints,
    sortie: Ints,
    held: Ints,
    stay: Ints,
) -> None:
    """Write down a promised sortie and what it takes up."""
    job = state.job
    off = {name: values[lift, sortie, rows] for name, values in job.offsets.items()}
    never = begin + off["back"] > job.horizon_s
    back = np.where(never, NEVER, begin + off["back"] + held)
    lost = job.lost[lift, sortie, rows] & ~never
    empty = job.gives_up[lift, sortie, rows] & ~lost
    brings = ~empty & ~never & ~lost
    keep, row = lift[brings], rows[brings]
    state.start[keep, row] = begin[brings]
    state.left[keep, row] = (begin + off["left"])[brings]
    state.back[keep, row] = np.minimum(back, NEVER)[brings]
    state.caught[keep, row] = held[brings]
    state.given_up[lift[empty], rows[empty]] += 1
    state.lost[lift[lost], rows[lost]] = True
    gone = never | lost | (back > job.horizon_s + NEVER // 4)
    if len(job.doors.places):
        pressed = brings & (stay > 0) & (back < NEVER // 2)
        told = (each[pressed] for each in (rows, vehicle, lift, back, stay))
        _occupy(state, *told)
    state.promise[0, rows, vehicle] = begin
    for number, name in enumerate(PARTS_KEPT, start=1):
        later = held if name in ("at_surface", "back") else 0
        state.promise[number, rows, vehicle] = begin + off[name] + later
    state.at_refuge[rows, vehicle] = job.refuge[lift]
    rest = np.maximum(job.rest_s[lift, sortie, rows], np.where(brings, job.into_s[lift, rows], 0))
    state.turned[rows, vehicle] = np.where(gone, NEVER, back + rest)
    crew = state.crew[rows, vehicle].argmin(axis=1)
    state.crew[rows, vehicle, crew] = np.where(gone, NEVER, back + job.crew_rest_s[vehicle])
    again = empty & (sortie + 1 < SORTIES)
    state.sortie[rows, vehicle] = np.where(again, sortie + 1, 0)
    state.queues.place[rows, vehicle] += np.where(again, 0, 1)
    known = (begin + off["back"])[lost]
    state.queues.hand_over(rows[lost], vehicle[lost], known, state.turned)


def _occupy(state: _State, rows: Ints, vehicle: Ints, lift: Ints, back: Ints, stay: Ints) -> None:
    job = state.job
    inside = back + job.into_s[lift, rows]
    outside = inside + stay
    places, riding = job.places[lift], job.riding[vehicle]
    shares = state.rooms.part(rows, places, riding, back if job.free_at_return else inside)
    told = job.forced_chamber[lift]
    known = told >= 0
    shares[known] = 0
    shares[known, told[known]] = places[known]
    state.rooms.take(rows, lift, shares, riding, back, outside)
    found = shares.any(axis=1)
    state.chamber[lift[found], rows[found]] = shares.argmax(axis=1)[found]
    state.inside[lift, rows] = inside
    state.outside[lift, rows] = outside
    team = state.team[rows, vehicle].argmin(axis=1)
    counted = job.teams[vehicle] > 0
    state.team[rows[counted], vehicle[counted], team[counted]] = outside[counted]
