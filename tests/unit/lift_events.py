"""A separate discrete-event model of the lifts, one draw at a time, written with simpy.

It shares no code with ``layers.survivors.lifts.simulate``: vehicles, crews, the deck, rescue
seats and chambers are simpy processes and resources. The earliest dive is found by trying every
second at which something could open, not by pushing; the deck, the seat and the chamber are then
really requested, and must be granted at once.
"""

from __future__ import annotations

from collections.abc import Generator
from typing import Any

import numpy as np
import simpy

from layers.survivors.lifts.job import Job
from layers.survivors.lifts.windows import NEVER, Spans

Process = Generator[simpy.Event, Any, None]
Part = tuple[list[tuple[int, int]], int, int]


def listed(spans: Spans, draw: int) -> list[tuple[int, int]]:
    """Return the closed spans of one draw as pairs."""
    row = 0 if len(spans.starts) == 1 else draw
    pairs = zip(spans.starts[row].tolist(), spans.ends[row].tolist(), strict=True)
    return [(start, end) for start, end in pairs if start < NEVER]


class Events:
    """One draw of one plan."""

    def __init__(self, job: Job, draw: int) -> None:
        self.job, self.draw = job, draw
        begun = [int(s) for s in job.forced_s if s < NEVER]
        self.env = simpy.Environment(initial_time=min([0, *begun]))
        self.deck = simpy.Resource(self.env, capacity=1)
        self.seats = [simpy.Resource(self.env, capacity=1) for _ in job.refuges]
        self.rooms = [simpy.Container(self.env, int(p), int(p)) for p in job.chamber_places]
        self.free = [int(f) for f in job.chamber_free_s]
        self.promised: dict[int, dict[str, Any]] = {}
        self.sea = {
            name: listed(getattr(job.sea, name), draw)
            for name in ("launch", "recovery", "water", "mating", "dark")
        }
        self.times = {
            name: [NEVER] * len(job.lifts)
            for name in ("start_s", "left_s", "back_s", "chamber_in_s", "chamber_out_s")
        }

    def run(self) -> dict[str, list[int]]:
        """Return the times of every lift, seconds."""
        forced = [n for n in range(len(self.job.lifts)) if self.job.forced_s[n] < NEVER]
        held = {n: self._forced_plan(n) for n in forced}
        for v in range(len(self.job.ready_s)):
            mine = [n for n in forced if self.job.vehicle[n] == v]
            self.env.process(self.vehicle(v, [(n, held[n]) for n in mine]))
        self.env.run()
        return self.times

    def offset(self, name: str, lift: int, sortie: int) -> int:
        """Return when a part of a sortie ends, seconds after its dive."""
        return int(self.job.offsets[name][lift, sortie, self.draw])

    def _forced_plan(self, lift: int) -> dict[str, Any]:
        begin = int(self.job.forced_s[lift])
        surface, back = self.offset("at_surface", lift, 0), self.offset("back", lift, 0)
        later = 0
        if self.job.holds[lift]:
            later = self._earliest(begin, [(self.sea["recovery"], surface, back)]) - begin
        room = int(self.job.forced_chamber[lift])
        room = self._room(lift) if room < 0 else room
        plan = self._plan(lift, 0, begin, later, room)
        self.promised[int(self.job.vehicle[lift])] = plan
        self._take_room(plan)
        return plan

    def vehicle(self, v: int, begun: list[tuple[int, dict[str, Any]]]) -> Process:
        """Run one vehicle through its lifts."""
        job = self.job
        crews = simpy.Store(self.env)
        out = int(job.crews_out_s[v])
        for number in range(int(job.crews[v])):
            if number == 0 and out > -NEVER:
                self.env.process(self._rest(crews, max(out + int(job.crew_rest_s[v]), 0)))
            else:
                crews.put(number)
        turned = int(job.ready_s[v, self.draw])
        for lift, plan in begun:
            yield crews.get()
            rested = plan["back"] + int(job.rest_s[lift, 0, self.draw])
            turned = max(rested, int(job.ready_s[v, self.draw]))
            yield from self._sortie(v, plan, crews)
        waits = [n for n in range(len(job.lifts)) if job.vehicle[n] == v]
        waits = [n for n in waits if job.forced_s[n] == NEVER]
        for lift in waits:
            for sortie in range(2):
                yield self._until(turned)
                yield crews.get()
                plan = self._ask(v, lift, sortie)
                if plan is None:
                    return
                turned = plan["back"] + int(job.rest_s[lift, sortie, self.draw])
                yield from self._sortie(v, plan, crews)
                if not plan["empty"]:
                    break

    def _until(self, at: int) -> simpy.Event:
        return self.env.timeout(max(at - self.env.now, 0))

    def _rest(self, crews: simpy.Store, until: int) -> Process:
        yield self._until(until)
        crews.put(1)

    def _ask(self, v: int, lift: int, sortie: int) -> dict[str, Any] | None:
        job = self.job
        room = self._room(lift)
        part = {name: self.offset(name, lift, sortie) for name in job.offsets}
        asked = max(self.env.now, 0)
        if room >= 0:
            asked = max(asked, self.free[room] - (part["back"] if job.free_at_return else 0))
        recovery = part["launched"] if job.recoverable_throughout else part["at_surface"]
        parts: list[Part] = [
            (self.sea["launch"], 0, part["launched"]),
            (self.sea["recovery"], recovery, part["back"]),
            (self.sea["water"], part["launched"], part["at_seat"]),
            (self.sea["water"], part["away"], part["at_surface"]),
            (self.sea["mating"], part["at_seat"], part["away"]),
            (self.sea["dark"], 0, part["back"]),
        ]
        for other, plan in self.promised.items():
            if other == v:
                continue
            deck = [(plan["start"], plan["launched"]), (plan["at_surface"], plan["back"])]
            parts.append((deck, 0, part["launched"]))
            parts.append((deck, part["at_surface"], part["back"]))
            if plan["refuge"] == job.refuge[lift]:
                seat = [(plan["at_seat"], plan["away"])]
                parts.append((seat, part["at_seat"], part["away"]))
        begin = self._earliest(asked, parts)
        if begin + part["back"] > job.horizon_s:
            return None
        plan = self._plan(lift, sortie, begin, 0, room)
        self.promised[v] = plan
        self._take_room(plan)
        return plan

    def _earliest(self, asked: int, parts: list[Part]) -> int:
        """Return the first of all seconds at which anything opens where everything is clear."""
        opens = {end - low for spans, low, _ in parts for _, end in spans}
        for begin in sorted({asked, *(second for second in opens if second > asked)}):
            if not any(
                start < begin + high and end > begin + low
                for spans, low, high in parts
                for start, end in spans
            ):
                return begin
        return NEVER

    def _room(self, lift: int) -> int:
        wanted = int(self.job.places[lift])
        fits = [c for c, p in enumerate(self.job.chamber_places) if p >= wanted]
        if not wanted or not fits:
            return -1
        return min(fits, key=lambda c: (self.free[c], c))

    def _plan(self, lift: int, sortie: int, begin: int, later: int, room: int) -> dict[str, Any]:
        empty = sortie == 0 and bool(self.job.gives_up[lift, self.draw])
        ends = {name: begin + self.offset(name, lift, sortie) for name in self.job.offsets}
        ends["back"] += later
        return {
            **ends,
            "start": begin,
            "later": later,
            "lift": lift,
            "refuge": int(self.job.refuge[lift]),
            "room": -1 if empty or not self.job.stay_s[lift] else room,
            "empty": empty,
        }

    def _take_room(self, plan: dict[str, Any]) -> None:
        if plan["room"] >= 0:
            lift, room = plan["lift"], plan["room"]
            inside = plan["back"] + int(self.job.into_s[lift, self.draw])
            self.free[room] = inside + int(self.job.stay_s[lift]) + int(self.job.make_ready_s[room])

    def _sortie(self, v: int, plan: dict[str, Any], crews: simpy.Store) -> Process:
        env, lift = self.env, plan["lift"]
        yield self._until(plan["start"])
        began = env.now
        with self.deck.request() as deck:
            yield deck
            assert env.now == began, "the deck was promised to two vehicles"
            yield self._until(plan["launched"])
        yield self._until(plan["at_seat"])
        arrived = env.now
        with self.seats[plan["refuge"]].request() as seat:
            yield seat
            assert env.now == arrived, "the rescue seat was promised to two vehicles"
            yield self._until(plan["left"])
            left = env.now
            yield self._until(plan["away"])
        yield self._until(plan["at_surface"] + plan["later"])
        surfaced = env.now
        with self.deck.request() as deck:
            yield deck
            assert env.now == surfaced, "the deck was promised to two vehicles"
            yield self._until(plan["back"])
        if not plan["empty"]:
            self.times["start_s"][lift] = began
            self.times["left_s"][lift] = left
            self.times["back_s"][lift] = env.now
            if plan["room"] >= 0:
                env.process(self._stay(plan))
        rest = int(self.job.crew_rest_s[v])
        env.process(self._rest(crews, env.now + rest))

    def _stay(self, plan: dict[str, Any]) -> Process:
        lift, room = plan["lift"], plan["room"]
        yield self.env.timeout(int(self.job.into_s[lift, self.draw]))
        self.times["chamber_in_s"][lift] = self.env.now
        asked = self.env.now
        yield self.rooms[room].get(int(self.job.chamber_places[room]))
        assert self.env.now == asked, "the chamber was promised to two lifts"
        yield self.env.timeout(int(self.job.stay_s[lift]))
        self.times["chamber_out_s"][lift] = self.env.now
        self.rooms[room].put(int(self.job.chamber_places[room]))


def run_draws(job: Job, draws: range) -> dict[str, np.ndarray]:
    """Return the times of every lift in some draws, shape (L, len(draws))."""
    runs = [Events(job, draw).run() for draw in draws]
    return {name: np.array([run[name] for run in runs]).T for name in runs[0]}
