"""Boats with people in a refuge, lived through by plain small steps and read by poor instruments.

Written from the text and not from the program: nothing of the program's gas, filter or trend is
used here. Each boat has a volume that is not the told one, gas that leaks in or out by an amount
nobody tells, people who breathe more or less than the book and sleep eight hours of the day at a
time nobody tells, an instrument that keeps reading wrong by its own amount, and reports that come
late. The truth is known, so it can be counted how often the span P10 to P90 that is told holds it.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import Any

import numpy as np

from layers.contract import Moment
from layers.earth.clock import to_us
from layers.survivors.air.formulas import AirOutlook, air_outlook
from tests.survivors_journal import AT, Told

R = 8.314462618
STEP_H = 0.05
HOURS = 400.0
# kg a person-day, NASA RP-1324; molar masses g/mol
O2_MOL_H, CO2_MOL_H = 840.0 / 31.998 / 24.0, 1000.0 / 44.0095 / 24.0
# ASHRAE 55: asleep 0.7 met; the rest of the day so that the mean of 24 h stays what it is.
ASLEEP_H, ASLEEP = 8.0, 0.7 / 0.983
AWAKE = (24.0 - ASLEEP_H * ASLEEP) / (24.0 - ASLEEP_H)
LEVELS = {"CO2": 6.0, "O2": 16.0}
LOOKS = (1, 3, 6)
LEAK_SHARE = 0.0005  # of the gas an hour, one standard deviation, in or out: nobody tells it


@dataclass(frozen=True, slots=True, kw_only=True)
class Boat:
    """One truth: its path through time, its readings, and when each level is truly reached."""

    persons: int
    told_m3: float
    absorbent_kg: float
    hold_sev: float
    cold_c: float
    most_bar: float
    readings: tuple[dict[str, Any], ...]  # at_h, heard_h, payload
    reached_h: dict[str, float]


def boat(number: int) -> Boat:
    """Return one boat; its number fixes it."""
    rng = np.random.default_rng([20270316, number])
    told = rng.uniform(200.0, 500.0)
    volume = told * np.exp(0.10 * rng.standard_normal())
    persons = int(np.clip(round(told / rng.uniform(22.0, 45.0)), 5, 40))
    breath = np.exp(0.15 * rng.standard_normal())
    rq = np.exp(0.03 * rng.standard_normal())
    phase, bar = rng.uniform(0.0, 24.0), rng.uniform(1.0, 2.4)
    water = abs(0.001 * volume * rng.standard_normal())
    start_c, sea_c, slow_h = rng.uniform(11.0, 18.0), rng.uniform(1.0, 5.0), rng.uniform(80, 200)
    has = rng.random() < 0.5
    absorbent = rng.uniform(0.5, 1.5) * persons if has else 0.0
    takes = absorbent * 0.7 * 0.91884 * max(1.0 + 0.1 * rng.standard_normal(), 0.0)
    at = np.arange(0.0, HOURS, STEP_H)
    celsius = sea_c + (start_c - sea_c) * np.exp(-at / slow_h)
    co2_kpa0, o2_kpa0 = rng.uniform(0.4, 1.2), rng.uniform(20.0, 26.0) * min(bar, 1.3)
    path = _lived(
        at, celsius, volume, water, persons * breath, rq, phase, bar, co2_kpa0, o2_kpa0,
        takes * 1000.0 / 44.0095,
        LEAK_SHARE * np.random.default_rng([20270316, number, 3]).standard_normal(),
    )  # fmt: skip
    # the levels are chosen without a look at what is to come: one that was taken from the path, to
    # be reached between two hours, would be told too soon by whoever does not know those hours
    free = np.random.default_rng([20270316, number, 4])
    cold_c = free.uniform(4.0, 9.0)
    most_bar = float(path["bar"][0]) * free.uniform(1.04, 1.2)
    reached = {
        "CO2": _first(at, path["co2_sev"] >= LEVELS["CO2"]),
        "O2": _first(at, path["o2_kpa"] <= LEVELS["O2"]),
        "cold": _first(at, celsius <= cold_c),
        "pressure": _first(at, path["bar"] >= most_bar),
    }
    return Boat(
        persons=persons,
        told_m3=told,
        absorbent_kg=absorbent,
        hold_sev=co2_kpa0 / 1.01325,
        cold_c=cold_c,
        most_bar=most_bar,
        readings=_readings(rng, at, path, celsius),
        reached_h=reached,
    )


def _lived(
    at: np.ndarray, celsius: np.ndarray, volume: float, water: float, breathing: float, rq: float,
    phase: float, bar: float, co2_kpa: float, o2_kpa: float, takes_mol: float, leak: float,
) -> dict[str, np.ndarray]:  # fmt: skip
    """Return the gas through time, by Euler steps of three minutes."""
    per_mol = R * (celsius + 273.15) / 1000.0  # kPa m3 a mol
    co2 = co2_kpa * volume / per_mol[0]
    o2 = o2_kpa * volume / per_mol[0]
    rest = bar * 100.0 * volume / per_mol[0] - co2 - o2
    hold, first = co2_kpa, o2 + co2 + rest
    found = {name: np.empty(len(at)) for name in ("bar", "o2_kpa", "co2_sev", "o2_pc", "co2_pc")}
    for k, hour in enumerate(at):
        total = co2 + o2 + rest
        unit = per_mol[k] / volume
        found["bar"][k] = total * unit / 100.0
        found["o2_kpa"][k], found["co2_sev"][k] = o2 * unit, co2 * unit / 1.01325
        found["o2_pc"][k], found["co2_pc"][k] = 100.0 * o2 / total, 100.0 * co2 / total
        asleep = (hour + phase) % 24.0 < ASLEEP_H
        pace = breathing * (ASLEEP if asleep else AWAKE) * STEP_H
        o2 = max(o2 - O2_MOL_H * pace, 0.0)
        co2 += CO2_MOL_H * rq * pace
        flow = leak * first * STEP_H
        if flow > 0.0:
            o2, rest = o2 + 0.2095 * flow, rest + 0.7905 * flow
        else:
            kept = 1.0 + flow / (o2 + co2 + rest)
            o2, co2, rest = o2 * kept, co2 * kept, rest * kept
        volume = max(volume - water * STEP_H, 1.0)
        taken = min(max(co2 - hold * volume / per_mol[k], 0.0), takes_mol)
        co2, takes_mol = co2 - taken, takes_mol - taken
    return found


def _first(at: np.ndarray, past: np.ndarray) -> float:
    return float(at[np.argmax(past)]) if past.any() else float("inf")


def _readings(
    rng: np.random.Generator, at: np.ndarray, path: dict[str, np.ndarray], celsius: np.ndarray
) -> tuple[dict[str, Any], ...]:
    """Return ten readings: one or two instruments, each wrong by its own amount, some late."""
    two = rng.random() < 0.25
    bias = {
        name: (0.02 * rng.standard_normal(), 0.02 * rng.standard_normal(),
               0.08 * rng.standard_normal(), 0.3 * rng.standard_normal())
        for name in ("A", "B")
    }  # fmt: skip
    found, now = [], 0.0
    for _ in range(10):
        k = int(np.searchsorted(at, now))
        name = "B" if two and rng.random() < 0.5 else "A"
        b_bar, b_o2, b_co2, b_c = bias[name]
        late = rng.uniform(0.2, 3.0) if rng.random() > 0.2 else rng.uniform(6.0, 10.0)
        o2 = path["o2_pc"][k] * (1.0 + b_o2) + 0.3 * rng.standard_normal()
        co2 = path["co2_pc"][k] * (1.0 + b_co2) + 0.1 * rng.standard_normal()
        bar = path["bar"][k] + b_bar + 0.02 * rng.standard_normal()
        warm = celsius[k] + b_c + 0.2 * rng.standard_normal()
        payload = {
            "refuge": "after",
            "pressure": {"value": round(bar, 2), "unit": "bar", "reference": "absolute"},
            "oxygen": {"value": round(max(o2, 0.0), 1), "unit": "percent"},
            "carbon_dioxide": {"value": round(max(co2, 0.0), 2), "unit": "percent"},
            "temperature_c": round(2.0 * warm) / 2.0,
            "instrument": name,
        }
        found.append({"at_h": now, "heard_h": now + late, "payload": payload})
        now = round(now + rng.uniform(3.0, 8.0), 2)
    return tuple(found)


def told(one: Boat, heard: list[dict[str, Any]]) -> Told:
    """Return the journal as it is when these readings are heard."""
    journal = Told()
    journal.complement("sailing list", one.persons)
    journal.move("not accounted for", "after", one.persons)
    room = {"refuge": "after", "free_volume_m3": round(one.told_m3, 1), "spread_percent": 10.0}
    journal.add("survivors.compartment", room)
    source = {"source": "a simulated boat", "entered_by": "the test"}
    for name, quantity, limit in (
        ("CO2", "carbon dioxide", {"gas": {"value": LEVELS["CO2"], "unit": "sev_percent"}}),
        ("O2", "low oxygen", {"gas": {"value": LEVELS["O2"], "unit": "kPa"}}),
        ("cold", "low temperature", {"temperature_c": round(one.cold_c, 3)}),
        (
            "pressure",
            "pressure",
            {"pressure": {"value": round(one.most_bar, 4), "unit": "bar", "reference": "absolute"}},
        ),
    ):
        journal.add("survivors.level", {"name": name, "quantity": quantity, **source, **limit})
    if one.absorbent_kg:
        stock = {
            "item": "absorbent", "chemical": "lithium hydroxide", "efficiency": 0.7,
            "mass_kg": round(one.absorbent_kg, 2), "told_for_c": 0.0,
        }  # fmt: skip
        hold = {"value": round(one.hold_sev, 3), "unit": "sev_percent"}
        journal.add("survivors.stores", {"refuge": "after", "stock": stock, "held_at": hold})
    # what is aboard is counted and told, nothing included: a store that nobody told of makes each
    # time an "at least", which is another promise than a span
    none = [{"item": "oxygen candles", "count": 0}]
    if not one.absorbent_kg:
        none.append({"item": "absorbent", "chemical": "lithium hydroxide", "mass_kg": 0.0})
    for stock in none:
        journal.add("survivors.stores", {"refuge": "after", "stock": stock})
    for reading in heard:
        journal.add("survivors.air", reading["payload"], hours=reading["at_h"])
    return journal


def looked(one: Boat, look: int, n_draws: int) -> tuple[AirOutlook, float]:
    """Return the air as it is told after so many readings were heard, and the hour of that."""
    in_order = sorted(one.readings, key=lambda reading: reading["heard_h"])
    heard, now_h = in_order[:look], in_order[look - 1]["heard_h"]
    at = AT + timedelta(hours=now_h)
    return air_outlook(told(one, heard).known(), Moment(at, at), n_draws=n_draws), now_h


def chance(number: int, look: int, n_draws: int) -> tuple[float, bool] | None:
    """Return the chance told that the last is out in time, and whether it would have been so.

    The last is out at an hour of the boat's own, known beforehand, so that only the air is judged;
    None where a level is told as not known.
    """
    one = boat(number)
    out, now_h = looked(one, look, n_draws)
    if out.unknown:
        return None
    last_h = float(np.exp(np.random.default_rng([20270316, number, 2]).uniform(1.5, 5.0)))
    now_us = to_us(AT) + now_h * 3.6e9
    safe = np.ones(n_draws, dtype=bool)
    for level in out.endurance:
        safe &= level.runs_out_us >= now_us + last_h * 3.6e9
    truth = min(one.reached_h.values()) - now_h
    return float(safe.mean()), truth >= last_h


def reliability(
    boats: range, look: int, n_draws: int
) -> tuple[float, list[tuple[int, float, float]]]:
    """Return the Brier score, and in ten bins of the chance: how many, mean chance, share true."""
    told_ = [found for n in boats if (found := chance(n, look, n_draws)) is not None]
    chances, true = (np.array(each, dtype=float) for each in zip(*told_, strict=True))
    rows = []
    for k in range(10):
        mine = (chances >= k / 10) & ((chances < (k + 1) / 10) | (k == 9))
        if mine.any():
            rows.append((int(mine.sum()), float(chances[mine].mean()), float(true[mine].mean())))
    return float(np.mean((chances - true) ** 2)), rows


def held(one: Boat, look: int, n_draws: int) -> dict[str, tuple[bool, bool]]:
    """Return, by level, whether P10 to P90 holds the truth after so many readings were heard.

    The second says that the truth came sooner than P10. A level reached already, or whose time is
    told as not known, does not count. One that truly comes beyond the horizon stands anywhere in
    the share told for that, at a place that the boat's number fixes: left out, those that count
    would be the ones that came soon.
    """
    out, now_h = looked(one, look, n_draws)
    found = {}
    for number, level in enumerate(out.refuges[0].levels):
        truth = one.reached_h[level.name] - now_h
        if truth <= 0.0:
            continue
        if truth < level.horizon_h:
            low, high = level.hours.p10, level.hours.p90
            found[level.name] = (low <= truth <= high, truth < low)
        else:
            place = np.random.default_rng([look, number, round(1e3 * one.told_m3)]).random()
            beyond = level.within_horizon + place * (1.0 - level.within_horizon)
            found[level.name] = (0.1 <= beyond <= 0.9, beyond < 0.1)
    return found


def table(boats: range, n_draws: int) -> dict[tuple[str, int], tuple[int, float, float]]:
    """Return by level and readings heard: boats counted, share held, share that came sooner."""
    rows: dict[tuple[str, int], list[tuple[bool, bool]]] = {}
    for number in boats:
        one = boat(number)
        for look in LOOKS:
            for level, result in held(one, look, n_draws).items():
                rows.setdefault((level, look), []).append(result)
    return {
        key: (len(found), *(float(np.mean([f[i] for f in found])) for i in (0, 1)))
        for key, found in sorted(rows.items())
    }
