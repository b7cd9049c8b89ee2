"""An independent discrete-event model of lifts, sea, chambers and air, one future at a time.

Written with simpy from the rules as they are stated, not from the code: it draws its own random
numbers, keeps time in minutes, looks at the sea minute by minute, and shares with the code only
the records of a plan. Each future has its own sea, arrival, sorties, repairs, losses and leaving;
the air is a stock of person-hours that those still there breathe up. The watch dives on what it
expects of the sea at that minute; the sea of the future then may hold the vehicle below.
"""

from __future__ import annotations

from collections.abc import Generator, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import simpy

from layers.earth.values import SeaSeries
from layers.survivors.lifts.model import Lift
from layers.survivors.lifts.plan import PlanSetting
from layers.survivors.lifts.vehicle import ThreePoint, Vehicle

Process = Generator[simpy.Event, Any, None]
NEVER = float("inf")
HOLDS_H = 12.0  # how long a forecast's error keeps its sign


@dataclass
class Plan:
    """A plan with what lies round it; hours after now."""

    setting: PlanSetting
    series: SeaSeries
    ready_h: Mapping[str, tuple[float, float]]  # uniform between
    air_h: Mapping[str, float]  # everybody breathing on; stock spread 0.8 to 1.2
    people: Mapping[str, int]
    stay_h: Mapping[str, float]
    # by refuge: bar now, and what it rises by, bar an hour, uniform between; a stay from an edge on
    rising: Mapping[str, tuple[float, float, float]] = field(default_factory=dict)
    edge_bar: float = 1.3
    mating_since_min: Mapping[str, float] = field(default_factory=dict)  # lifts at the seat now
    # by lift that is down and of which nobody told more: how many minutes ago the vehicle was how
    # deep, from the dive on; at the depth of the seat it looks for it, until somebody says more
    track: Mapping[str, tuple[tuple[float, float], ...]] = field(default_factory=dict)

    def under_way(self, key: str) -> bool:
        return key in self.mating_since_min or key in self.track


def triangle(rng: np.random.Generator, spread: ThreePoint) -> float:
    if spread.high <= spread.low:
        return spread.likely
    return float(rng.triangular(spread.low, spread.likely, spread.high))


class Future:
    """One future of a plan, minute by minute."""

    def __init__(self, plan: Plan, seed: int) -> None:
        self.plan, self.rng = plan, np.random.default_rng([seed, 99])
        self.env = simpy.Environment(initial_time=-600)
        self.setting = plan.setting
        self.minutes = int(plan.setting.limits.horizon_h * 60)
        self.common: dict[tuple[str, str, int], float] = {}
        self.out: dict[str, tuple[float, float]] = {}
        self.parts: dict[str, tuple[float, float]] = {}
        self.lift_caught: dict[str, float] = {}
        self.promised: dict[str, dict[str, float]] = {}
        self.stays: list[tuple[int, int, float]] = []  # chamber, places, until (min)
        self.rate = {
            name: self.rng.uniform(low, high) for name, (_, low, high) in plan.rising.items()
        }
        self._sea()

    def _stays(self, refuge: str, left: float) -> bool:
        """Return whether people who leave at that minute have to stay in a chamber."""
        if refuge not in self.rate:
            return bool(self.plan.stay_h[refuge])
        now_bar = self.plan.rising[refuge][0]
        return now_bar + self.rate[refuge] * left / 60.0 >= self.plan.edge_bar

    # the sea ---------------------------------------------------------------------------------

    def _sea(self) -> None:
        series, limits = self.plan.series, self.setting.limits
        hours = (series.at_us - self.setting.at_us) / 3.6e9
        z = self.rng.standard_normal(len(hours))
        for n in range(1, len(z)):
            r = np.exp(-(hours[n] - hours[n - 1]) / HOLDS_H)
            z[n] = r * z[n - 1] + np.sqrt(1 - r * r) * z[n]
        at = np.arange(self.minutes + 2880) / 60.0
        true = np.interp(at, hours, np.maximum(series.hs_m + series.hs_sigma_m * z, 0.0))
        lead = self._lead_h()
        error = np.interp(hours - lead, hours, z) * np.exp(-lead / HOLDS_H)
        seen = np.interp(at, hours, np.maximum(series.hs_m + series.hs_sigma_m * error, 0.0))
        surface = np.interp(at, hours, series.current_surface_kn)
        seat = np.interp(at, hours, series.current_seat_kn)
        self.shut = {
            "launch": _sums(true > limits.launch_hs_m),
            "recovery": _sums(true > limits.recovery_hs_m),
            "seen": _sums(seen > limits.recovery_hs_m),
            "water": _sums(surface > limits.through_water_kn),
            "mating": _sums(seat > limits.mating_kn),
        }

    def _lead_h(self) -> float:
        return float(max(
            round(_likely_min(self.setting, one, "surface") / 60.0)
            for one in self.setting.lifts if not self.plan.under_way(one.key)
        ))  # fmt: skip

    # one sortie ------------------------------------------------------------------------------

    def _minutes(self, vehicle: Vehicle, lift: Lift, part: str, number: int) -> float:
        """Return a part's minutes: half of the luck is the vehicle's, the other the lift's own."""
        spread = getattr(vehicle, part)
        shared = self.common.setdefault((vehicle.name, part, 0), triangle(self.rng, spread))
        own = triangle(self.rng, spread)
        return shared if self.rng.random() < 0.5 else own

    def _sortie(self, vehicle: Vehicle, lift: Lift, number: int) -> dict[str, float]:
        def part(name: str) -> float:
            return self._minutes(vehicle, lift, name, number)

        depth = self.setting.depth_m
        down, up = depth / vehicle.speed_down_m_min, depth / vehicle.speed_up_m_min
        launch, search, mate = part("launch"), part("search"), part("mate")
        transfer = lift.walking * part("transfer_walking")
        transfer += lift.stretcher * part("transfer_stretcher")
        away, recover = part("away"), part("recover")
        wanted = 1
        while self.rng.random() < vehicle.failed_mating_chance:
            wanted += 1
        power = vehicle.battery_kwh - vehicle.reserve_kwh
        power -= (launch + down + up + recover) * vehicle.transit_kw / 60
        power -= (search + mate + transfer + away) * vehicle.seat_kw / 60
        at_seat, left = launch + down, launch + down + search + mate
        for _ in range(wanted - 1):  # she is found: another mating, of a length of its own
            again = part("mate")
            power -= again * vehicle.seat_kw / 60
            empty = power < 0
            if empty:
                break
            left += again
        else:
            empty = False
        left += 0 if empty else transfer
        off = left + (0 if empty else away)
        back = off + up + recover
        used = (back - (off - at_seat)) * vehicle.transit_kw + (off - at_seat) * vehicle.seat_kw
        rest = max(part("turn_round"), used / vehicle.charge_kw)
        if self.rng.random() < vehicle.failure_chance:
            rest += part("repair")
        return {
            "launched": launch, "at_seat": at_seat, "left": left, "off": off,
            "surface": off + up, "back": back, "rest": rest, "empty": float(empty),
            "into": triangle(self.rng, vehicle.into_chamber),
            "lost": float(self.rng.random() < (vehicle.loss_chance or 0.0)),
        }  # fmt: skip

    # chambers --------------------------------------------------------------------------------

    def _free(self, room: int, at: float, riding: int) -> int:
        chamber = self.setting.chambers[room]
        opens = 0.0
        if chamber.available_at is not None:
            opens = (chamber.available_at.timestamp() * 1e6 - self.setting.at_us) / 60e6
        if at < opens:
            return 0
        used = sum(places for where, places, until in self.stays if where == room and until > at)
        own = chamber.places - chamber.attendants
        extra = riding if used else max(riding - chamber.attendants, 0)
        return max(own - used - extra, 0)

    def _rooms_open(self, places: int, riding: int, at: float) -> float:
        rooms = range(len(self.setting.chambers))
        later = [until for _, _, until in self.stays if until > at]
        later += [
            (c.available_at.timestamp() * 1e6 - self.setting.at_us) / 60e6
            for c in self.setting.chambers if c.available_at is not None
        ]  # fmt: skip
        for when in sorted({at, *(t for t in later if t > at)}):
            if sum(self._free(room, when, riding) for room in rooms) >= places:
                return when
        return NEVER

    def _fill(self, places: int, riding: int, at: float, until: float) -> None:
        rooms = list(range(len(self.setting.chambers)))
        serves = [r for r in rooms if self._free(r, at, riding) >= places]
        if serves:
            chosen = {min(serves, key=lambda r: (self._size(r), r)): places}
        else:
            chosen, left = {}, places
            for room in sorted(rooms, key=lambda r: (-self._free(r, at, riding), r)):
                chosen[room] = min(self._free(room, at, riding), left)
                left -= chosen[room]
        for room, count in chosen.items():
            if count:
                chamber = self.setting.chambers[room]
                inside = any(w == room and t > at for w, _, t in self.stays)
                extra = riding if inside else max(riding - chamber.attendants, 0)
                self.stays.append((room, count + extra, until + chamber.make_ready_min))

    def _size(self, room: int) -> int:
        return self.setting.chambers[room].places - self.setting.chambers[room].attendants

    # the vehicles ----------------------------------------------------------------------------

    def run(self) -> dict[str, tuple[float, float]]:
        """Return by lift when the hatch shuts and when it is on deck, hours; not run: absent."""
        self.deck = simpy.Resource(self.env, capacity=1)
        crafts, lifts = self.setting.vehicles, self.setting.lifts
        self.line: dict[str, list[tuple[Lift, str, float]]] = {
            v.name: [(k, k.key, 0.0) for k in lifts if k.vehicle == v.name] for v in crafts
        }
        self.turned = dict.fromkeys(self.line, 0.0)
        self.wake = {name: self.env.event() for name in self.line}
        self.wanted = {k.key: 1 for k in lifts}  # sorties that have to come back with its people
        for vehicle in crafts:
            self.env.process(self._vehicle(vehicle))
        self.env.run(until=self.minutes + 2880)
        return self.out

    def _vehicle(self, vehicle: Vehicle) -> Process:
        low, high = self.plan.ready_h[vehicle.name]
        self.turned[vehicle.name] = self.rng.uniform(low, high) * 60
        crews = [-NEVER] * vehicle.crews
        teams = [-NEVER] * (vehicle.attendant_teams or 0)
        mine = self.line[vehicle.name]
        while True:
            while not mine:
                yield self.wake[vehicle.name]
                self.wake[vehicle.name] = self.env.event()
            lift, stands_for, after = mine.pop(0)
            for number in range(3):
                begun = self.plan.under_way(lift.key) and number == 0
                if not begun:
                    ask = max(self.turned[vehicle.name], min(crews), 0.0)
                    if ask >= NEVER:
                        return
                    yield self.env.timeout(max(ask - self.env.now, 0))
                    part = self._sortie(vehicle, lift, number)
                    begin = self._promise(vehicle, lift, part, max(ask, after), teams)
                else:
                    begin, part = self._under_way(vehicle, lift)
                if begin + part["back"] > self.minutes:
                    self.turned[vehicle.name] = NEVER
                    return
                held = self._held(vehicle, begin, part)
                self.promised[vehicle.name] = {
                    "start": begin, "launched": begin + part["launched"],
                    "at_seat": begin + part["at_seat"], "off": begin + part["off"],
                    "surface": begin + part["surface"] + held,
                    "back": begin + part["back"] + held, "refuge": hash(lift.refuge),
                }  # fmt: skip
                back = begin + part["back"] + held
                if part["lost"]:
                    self.turned[vehicle.name] = NEVER
                    self._take_over(mine, begin + part["back"])
                    return
                empty = bool(part["empty"])
                crews[crews.index(min(crews))] = back + vehicle.crew_rest_h * 60
                ready = back + max(part["rest"], 0 if empty else part["into"])
                self.turned[vehicle.name] = ready
                if not empty:
                    self._brought(stands_for, (begin + part["left"]) / 60, back / 60)
                    self.lift_caught[stands_for] = held
                    if self._stays(lift.refuge, begin + part["left"]):
                        self._stay(vehicle, lift, back, part, teams)
                    break

    def _take_over(self, left: list[tuple[Lift, str, float]], known: float) -> None:
        """Put what a lost vehicle has left behind the lifts of the one that is ready first."""
        alive = [v for v in self.setting.vehicles if self.turned[v.name] < NEVER]
        if not alive:
            return
        other = min(alive, key=lambda v: self.turned[v.name])
        for lift, stands_for, _ in left:
            loads, walking = [], lift.walking
            while walking > 0:
                loads.append(min(walking, other.seats))
                walking -= loads[-1]
            self.wanted[stands_for] = len(loads)
            for count in loads:
                told = {"vehicle": other.name, "walking": count}
                one = lift.model_copy(update=told)
                self.line[other.name].append((one, stands_for, known))
        if left and not self.wake[other.name].triggered:
            self.wake[other.name].succeed()

    def _brought(self, key: str, left: float, back: float) -> None:
        """Note a sortie; a lift is out when the last that stands for it is."""
        self.wanted[key] -= 1
        before = self.parts.get(key, (0.0, 0.0))
        self.parts[key] = (max(before[0], left), max(before[1], back))
        if not self.wanted[key]:
            self.out[key] = self.parts[key]

    def _stay(
        self, vehicle: Vehicle, lift: Lift, back: float, part: dict[str, float], teams: list[float]
    ) -> None:
        stay = self.plan.stay_h[lift.refuge]
        until = back + part["into"] + stay * 60
        self._fill(lift.walking + lift.stretcher, vehicle.attendants, back, until)
        if teams:
            teams[teams.index(min(teams))] = until

    def _promise(
        self, vehicle: Vehicle, lift: Lift, part: dict[str, float], ask: float, teams: list[float]
    ) -> float:
        begin = self._first_start(vehicle, lift, part, ask)
        if not self._stays(lift.refuge, begin + part["left"]):
            return begin
        limits = self.setting.limits
        at_return = limits.chamber_rule == "free at return"
        before = part["back"] if at_return else 0.0
        places = lift.walking + lift.stretcher
        ask = max(ask, self._rooms_open(places, vehicle.attendants, ask + before) - before)
        ask = max(ask, min(teams, default=-NEVER))
        return self._first_start(vehicle, lift, part, ask)

    def _first_start(
        self, vehicle: Vehicle, lift: Lift, part: dict[str, float], ask: float
    ) -> float:
        if ask >= NEVER:
            return NEVER
        limits = self.setting.limits
        up = _likely_min(self.setting, lift, "launched" if limits.recoverable_throughout else "up")
        home = _likely_min(self.setting, lift, "back")
        starts = np.arange(int(np.ceil(max(ask, 0.0))), self.minutes)
        good = np.ones(len(starts), dtype=bool)
        for name, low, high in (
            ("launch", 0.0, part["launched"]),
            ("seen", up, home),
            ("water", part["launched"], part["at_seat"]),
            ("water", part["off"], part["surface"]),
            ("mating", part["at_seat"], part["off"]),
        ):
            sums = self.shut[name]
            a = np.clip(np.floor(starts + low).astype(int), 0, len(sums) - 1)
            b = np.clip(np.ceil(starts + high).astype(int), 0, len(sums) - 1)
            good &= sums[b] == sums[a]
        for other, told in self.promised.items():
            if other == vehicle.name:
                continue
            deck = [(told["start"], told["launched"]), (told["surface"], told["back"])]
            mine = [(0.0, part["launched"]), (part["surface"], part["back"])]
            if told["refuge"] == hash(lift.refuge):
                good &= _apart(starts, part["at_seat"], part["off"], told["at_seat"], told["off"])
            for low, high in mine:
                for start, end in deck:
                    good &= _apart(starts, low, high, start, end)
        found = starts[good]
        return float(found[0]) if len(found) else NEVER

    def _held(self, vehicle: Vehicle, begin: float, part: dict[str, float]) -> float:
        low, high = begin + part["surface"], begin + part["back"]
        sums = self.shut["recovery"]
        waits = np.arange(0, len(sums) - int(np.ceil(high)) - 1)
        a, b = np.floor(low + waits).astype(int), np.ceil(high + waits).astype(int)
        a, b = np.clip(a, 0, len(sums) - 1), np.clip(b, 0, len(sums) - 1)
        good = sums[b] == sums[a]
        for other, told in self.promised.items():
            if other != vehicle.name:
                for start, end in (
                    (told["start"], told["launched"]), (told["surface"], told["back"])
                ):  # fmt: skip
                    good &= _apart(waits, low, high, start, end)
        found = waits[good]
        return float(found[0]) if len(found) else 1e6

    def _under_way(self, vehicle: Vehicle, lift: Lift) -> tuple[float, dict[str, float]]:
        """Return a sortie whose mating goes on: as long again as those that lasted so long say."""
        if lift.key in self.plan.track:
            return self._searching(vehicle, lift)
        since = self.plan.mating_since_min[lift.key]
        while True:
            part = self._sortie(vehicle, lift, 0)
            transfer = lift.walking * self._minutes(vehicle, lift, "transfer_walking", 0)
            transfer += lift.stretcher * self._minutes(vehicle, lift, "transfer_stretcher", 0)
            mating = self._minutes(vehicle, lift, "mate", 0)
            while self.rng.random() < vehicle.failed_mating_chance:
                mating += self._minutes(vehicle, lift, "mate", 0)
            if mating > since:
                break
        begin = -since - 30.0
        away, recover = (self._minutes(vehicle, lift, p, 0) for p in ("away", "recover"))
        up = self.setting.depth_m / vehicle.speed_up_m_min
        left = 30.0 + mating + transfer
        part |= {
            "left": left, "off": left + away, "surface": left + away + up,
            "back": left + away + up + recover, "empty": 0.0, "lost": 0.0, "at_seat": 20.0,
        }  # fmt: skip
        return begin, part

    def _searching(self, vehicle: Vehicle, lift: Lift) -> tuple[float, dict[str, float]]:
        """Return a sortie that by its own depth has come to the seat and looks for it since.

        Nobody told that it mated, so that it searches still: as long as those that search longer.
        """
        track, near = self.plan.track[lift.key], self.setting.depth_m - 5.0
        dived, since = track[0][0], next(ago for ago, depth in track if depth >= near)
        part = self._sortie(vehicle, lift, 0)

        def minutes(name: str) -> float:
            return self._minutes(vehicle, lift, name, 0)

        search = minutes("search")
        while search <= since:
            del self.common[vehicle.name, "search", 0]  # the luck they share was that too
            search = minutes("search")
        left = dived - since + search + minutes("mate")
        while self.rng.random() < vehicle.failed_mating_chance:
            left += minutes("mate")
        left += lift.walking * minutes("transfer_walking")
        left += lift.stretcher * minutes("transfer_stretcher")
        off = left + minutes("away")
        surface = off + self.setting.depth_m / vehicle.speed_up_m_min
        return -dived, part | {
            "at_seat": dived - since, "left": left, "off": off, "surface": surface,
            "back": surface + minutes("recover"), "empty": 0.0, "lost": 0.0,
        }  # fmt: skip

    # the air ---------------------------------------------------------------------------------

    def in_time(self) -> tuple[bool, bool]:
        """Return whether all are out in time as the people leave, and if nobody leaves."""
        planned = alone = True
        for refuge, persons in self.plan.people.items():
            stock = self.plan.air_h[refuge] * persons * self.rng.uniform(0.8, 1.2)
            goes = sorted(
                (self.out[k.key][0], k.walking + k.stretcher)
                for k in self.setting.lifts if k.refuge == refuge and k.key in self.out
            )  # fmt: skip
            carried = sum(count for _, count in goes)
            last = goes[-1][0] if goes and carried >= persons else NEVER
            alone &= last <= stock / persons
            here, at = persons, 0.0
            for when, count in goes:
                stock -= here * (max(when, 0.0) - at)
                planned &= stock >= 0.0
                here, at = here - count, max(when, 0.0)
            planned &= last < NEVER
        return planned, alone


def _sums(shut: np.ndarray) -> np.ndarray:
    return np.concatenate([[0], np.cumsum(shut)])


def _apart(starts: np.ndarray, low: float, high: float, begin: float, end: float) -> np.ndarray:
    return (starts + high <= begin) | (starts + low >= end)


def _likely_min(setting: PlanSetting, lift: Lift, until: str) -> float:
    """Return the most likely minutes from the dive to a mark, which the watch plans by."""
    v = setting.vehicle(lift.vehicle)
    depth = setting.depth_m
    if until == "launched":
        return v.launch.likely
    surface = (
        v.launch.likely + depth / v.speed_down_m_min + v.search.likely + v.mate.likely
        + lift.walking * v.transfer_walking.likely + lift.stretcher * v.transfer_stretcher.likely
        + v.away.likely + depth / v.speed_up_m_min
    )  # fmt: skip
    return surface if until in ("surface", "up") else surface + v.recover.likely


def futures(plan: Plan, count: int, seed: int = 7) -> list[Future]:
    """Return so many futures, each run."""
    found = []
    for n in range(count):
        one = Future(plan, seed * 100_000 + n)
        one.run()
        found.append(one)
    return found
