"""The lifts run through ten thousand draws at once.

Each vehicle takes its lifts in the plan's order. A vehicle that is turned round, with a rested
crew, asks for its next dive; asks are answered in order of time (of the plan, when equal). The
dive is put at the earliest second from which the whole sortie, recovery included, meets no
closed sea, no other vehicle on the deck or at the same rescue seat, and a chamber for those who
need one. What is answered is promised: no later ask moves it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from layers.earth.values import Ints
from layers.survivors.lifts.job import SORTIES, Job
from layers.survivors.lifts.windows import NEVER, OPEN, Spans

Bools = npt.NDArray[np.bool_]
ROUNDS = 400  # a start is put off this often at most before it counts as never


@dataclass(frozen=True, slots=True, kw_only=True)
class Runs:
    """When each lift runs, whole seconds after ``at_us``, shape (L, D); ``NEVER`` for not at all.

    ``chamber`` is the number of the chamber its people go into, -1 for none; ``chamber_out_s``
    when they may leave it. ``given_up`` counts sorties that came back with nobody.
    """

    at_us: int
    start_s: Ints
    left_s: Ints
    back_s: Ints
    chamber: Ints
    chamber_in_s: Ints
    chamber_out_s: Ints
    given_up: Ints


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
        self.turned = job.ready_s.T.copy()  # (D, V): turned round
        self.crew = np.full((draws, vehicles, int(job.crews.max(initial=1))), NEVER)
        for v, crews in enumerate(job.crews):
            self.crew[:, v, :crews] = -NEVER
            if job.crews_out_s[v] > -NEVER:
                self.crew[:, v, 0] = job.crews_out_s[v] + job.crew_rest_s[v]
        self.chamber_free = np.repeat(job.chamber_free_s[None, :], draws, axis=0)
        waits = job.forced_s == NEVER
        queue = [np.flatnonzero((job.vehicle == v) & waits) for v in range(vehicles)]
        self.lift_of = np.full((vehicles, max(map(len, queue), default=0) + 1), -1)
        for v, lifts_of in enumerate(queue):
            self.lift_of[v, : len(lifts_of)] = lifts_of
        self.place = np.zeros((draws, vehicles), dtype=np.int64)
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
        waiting = state.lift_of[np.arange(vehicles)[None, :], state.place] >= 0
        ask = np.where(waiting, np.maximum(state.turned, state.crew.min(axis=2)), 2 * NEVER)
        first = ask.argmin(axis=1)
        live = rows[ask[rows, first] < 2 * NEVER]
        if not len(live):
            break
        _promise(state, live, first[live], ask[live, first[live]])
    return _runs(state)


def _runs(state: _State) -> Runs:
    return Runs(
        at_us=state.job.at_us,
        start_s=state.start,
        left_s=state.left,
        back_s=state.back,
        chamber=state.chamber,
        chamber_in_s=state.inside,
        chamber_out_s=state.outside,
        given_up=state.given_up,
    )


def _begun(state: _State) -> None:
    """Put in the lifts whose vehicle has gone down, as reported."""
    job = state.job
    rows = np.arange(job.n_draws)
    for lift in np.flatnonzero(job.forced_s < NEVER):
        v = int(job.vehicle[lift])
        begin = np.full(job.n_draws, job.forced_s[lift])
        put_off = np.zeros(job.n_draws, dtype=np.int64)
        if job.holds[lift]:
            surface, back = job.offsets["at_surface"][lift, 0], job.offsets["back"][lift, 0]
            put_off = _clear(rows, begin, [(job.sea.recovery, surface, back)]) - begin
        vehicle = np.full(job.n_draws, v)
        chamber = _chamber(state, rows, np.full(job.n_draws, lift))
        if job.forced_chamber[lift] >= 0:
            chamber = np.full(job.n_draws, job.forced_chamber[lift])
        number = np.full(job.n_draws, lift)
        _keep(state, rows, vehicle, number, begin, np.zeros_like(begin), chamber, put_off)
        state.place[:, v] = 0  # the queue holds only the lifts that wait
        state.turned[:, v] = np.maximum(state.turned[:, v], job.ready_s[v])


def _promise(state: _State, rows: Ints, vehicle: Ints, ask: Ints) -> None:
    """Find and keep the next sortie of one vehicle in each of these draws."""
    job = state.job
    lift = state.lift_of[vehicle, state.place[rows, vehicle]]
    sortie = state.sortie[rows, vehicle]
    off = {name: values[lift, sortie, rows] for name, values in job.offsets.items()}
    begin = np.maximum(ask, 0)
    chamber = _chamber(state, rows, lift)
    wanted = chamber >= 0
    free = np.where(wanted, state.chamber_free[rows, np.maximum(chamber, 0)], -NEVER)
    begin = np.maximum(begin, free - (off["back"] if job.free_at_return else 0))
    zero = np.zeros_like(begin)
    parts = [
        (job.sea.launch, zero, off["launched"]),
        (
            job.sea.recovery,
            off["launched"] if job.recoverable_throughout else off["at_surface"],
            off["back"],
        ),
        (job.sea.water, off["launched"], off["at_seat"]),
        (job.sea.water, off["away"], off["at_surface"]),
        (job.sea.mating, off["at_seat"], off["away"]),
        (job.sea.dark, zero, off["back"]),
    ]
    parts += _others(state, rows, vehicle, lift, off)
    begin = _clear(rows, begin, [part for part in parts if part[0] is not OPEN])
    _keep(state, rows, vehicle, lift, begin, sortie, chamber, zero)


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


def _chamber(state: _State, rows: Ints, lift: Ints) -> Ints:
    """Return the chamber that is free first and large enough, -1 where none is needed."""
    job = state.job
    places = job.places[lift]
    if not places.any() or not len(job.chamber_places):
        return np.full(len(rows), -1)
    fits = job.chamber_places[None, :] >= places[:, None]
    free = np.where(fits, state.chamber_free[rows], 2 * NEVER)
    return np.where(places > 0, free.argmin(axis=1), -1)


def _keep(
    state: _State,
    rows: Ints,
    vehicle: Ints,
    lift: Ints,
    begin: Ints,
    sortie: Ints,
    chamber: Ints,
    put_off: Ints,
) -> None:
    """Write down a promised sortie and what it takes up."""
    job = state.job
    off = {name: values[lift, sortie, rows] for name, values in job.offsets.items()}
    never = begin + off["back"] > job.horizon_s
    back = np.where(never, NEVER, begin + off["back"] + put_off)
    empty = job.gives_up[lift, rows] & (sortie == 0)
    brings = ~empty & ~never
    keep, row = lift[brings], rows[brings]
    state.start[keep, row] = begin[brings]
    state.left[keep, row] = (begin + off["left"])[brings]
    state.back[keep, row] = back[brings]
    state.given_up[lift[empty], rows[empty]] += 1
    pressed = brings & (chamber >= 0) & (job.stay_s[lift] > 0)
    _occupy(state, rows[pressed], lift[pressed], back[pressed], chamber[pressed])
    edges = ("", "launched", "at_seat", "away", "at_surface", "back")
    for number, name in enumerate(edges):
        later = put_off if name == "back" else 0
        state.promise[number, rows, vehicle] = begin + (off[name] + later if name else 0)
    state.at_refuge[rows, vehicle] = job.refuge[lift]
    state.turned[rows, vehicle] = np.where(never, NEVER, back + job.rest_s[lift, sortie, rows])
    crew = state.crew[rows, vehicle].argmin(axis=1)
    state.crew[rows, vehicle, crew] = np.where(never, NEVER, back + job.crew_rest_s[vehicle])
    state.sortie[rows, vehicle] = np.where(empty, 1, 0)
    state.place[rows, vehicle] += np.where(empty, 0, 1)


def _occupy(state: _State, rows: Ints, lift: Ints, back: Ints, chamber: Ints) -> None:
    job = state.job
    inside = back + job.into_s[lift, rows]
    outside = inside + job.stay_s[lift]
    state.chamber[lift, rows] = chamber
    state.inside[lift, rows] = inside
    state.outside[lift, rows] = outside
    state.chamber_free[rows, chamber] = outside + job.make_ready_s[chamber]
