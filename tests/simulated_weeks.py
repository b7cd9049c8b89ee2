"""Simulated weeks of weather: how often a window's chance came true.

Written from the world and not from the model of the sea: a forecast knows the more of the hours
ahead the nearer they are, issues six hours apart share what none of them knows, each week's
forecast is too high or too low by an amount of its own, and a buoy measures with its own noise,
is silent for hours or all the week. Each week goes the program's own way, from records to the
chance of a whole sortie begun at an hour ahead; then it is looked up what the sea did.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np

from layers.catalogue import KINDS
from layers.contract import Moment, Origin, Reading
from layers.earth.arrays import Floats
from layers.earth.clock import to_us
from layers.earth.units import M_S_PER_KN
from layers.journal.known import Known, ListShelf
from layers.weather import LAYER
from layers.weather.forecast.fields import field_grid
from layers.weather.forecast.issue_draft import add_forecast
from tests.weather_records import record

NOW = datetime(2027, 5, 2, 6, 0, tzinfo=UTC)
H = timedelta(hours=1)
PAST_H, AHEAD_H, PER_H = 78, 120, 6
STARTS_H = (2, 6, 12, 18, 24, 36, 48, 72, 96)  # the first hour belongs to what is observed
# What a forecast of waves (m) and wind (kn) does not know yet at a lead longer than so many hours.
HIDDEN = ((-6.0, 0.12, 1.5), (6.0, 0.12, 1.5), (24.0, 0.20, 2.0), (48.0, 0.25, 2.0),
          (72.0, 0.30, 2.5))  # fmt: skip
LEARNT_H = 6.0  # in so many hours a part goes from unknown to known
BIAS_M, BIAS_KN = 0.25, 1.5
WITH_WIND = 0.6  # correlation of what is not known of the wind with that of the waves
MOVES_H = (9.0, 18.0)  # what is not known fades in so many hours, its own in each week
LAUNCH_H, DIVE_H, RECOVERY_H = 1.0, 4.0, 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Week:
    """The chances told for sorties begun at hours ahead, and whether they kept their limits."""

    start_h: tuple[int, ...]
    said: tuple[float, ...]
    came: tuple[bool, ...]
    measured: bool  # a buoy told of the forecast's error


def _fading(rng: np.random.Generator, steps: int, hours: float) -> Floats:
    """Return a first-order process of unit spread, a value each ten minutes."""
    keep = np.exp(-1.0 / PER_H / hours)
    fresh = rng.standard_normal(steps) * np.sqrt(1.0 - keep**2)
    found = np.empty(steps)
    found[0] = rng.standard_normal()
    for step in range(1, steps):
        found[step] = keep * found[step - 1] + fresh[step]
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class _Truth:
    """Waves (m) and wind (kn) each ten minutes from ``PAST_H`` before now, and what hides them."""

    hs_m: Floats
    wind_kn: Floats
    hs_parts: tuple[Floats, ...]
    wind_parts: tuple[Floats, ...]
    bias_m: float
    bias_kn: float

    def forecast(self, issued_h: float) -> tuple[Floats, Floats]:
        """Return hourly waves and wind as forecast at an hour (from now), to the week's end."""
        first = round((issued_h + PAST_H) * PER_H)
        at = np.arange(first, len(self.hs_m), PER_H)
        lead_h = (at - first) / PER_H
        hs, wind = self.hs_m[at] + self.bias_m, self.wind_kn[at] + self.bias_kn
        for (begins_h, _, _), waves, air in zip(
            HIDDEN, self.hs_parts, self.wind_parts, strict=True
        ):
            unknown = np.clip((lead_h - begins_h) / LEARNT_H, 0.0, 1.0)
            hs, wind = hs - unknown * waves[at], wind - unknown * air[at]
        return np.maximum(hs, 0.1), np.maximum(wind, 0.5)


def _truth(rng: np.random.Generator) -> _Truth:
    steps = (PAST_H + AHEAD_H) * PER_H + 1
    skill = float(np.exp(0.25 * rng.standard_normal()))  # some weeks are harder than others
    moves_h = float(rng.uniform(*MOVES_H))
    waves, air = [], []
    for _, metres, knots in HIDDEN:
        one, other = _fading(rng, steps, moves_h), _fading(rng, steps, moves_h / 2.0)
        waves.append(skill * metres * one)
        air.append(skill * knots * (WITH_WIND * one + np.sqrt(1.0 - WITH_WIND**2) * other))
    hours = np.arange(steps) / PER_H
    swing = np.sin(hours / rng.uniform(8.0, 24.0) + rng.uniform(0.0, 6.3))
    hs = rng.uniform(1.6, 2.6) + rng.uniform(0.1, 0.8) * swing + np.sum(waves, axis=0)
    wind = rng.uniform(10.0, 18.0) + rng.uniform(1.0, 5.0) * swing + np.sum(air, axis=0)
    return _Truth(
        hs_m=np.maximum(hs, 0.1), wind_kn=np.maximum(wind, 0.5), hs_parts=tuple(waves),
        wind_parts=tuple(air), bias_m=BIAS_M * rng.standard_normal(),
        bias_kn=BIAS_KN * rng.standard_normal(),
    )  # fmt: skip


def _issue(truth: _Truth, issued_h: int, reading: Reading) -> None:
    issued = NOW + issued_h * H
    hs, wind = truth.forecast(issued_h)
    times = to_us(issued) + np.arange(len(hs)) * 3_600_000_000
    shape = (len(times), 2, 2)
    grid = field_grid(times, np.array([43.0, 44.0]), np.array([8.0, 9.0]), {
        "hs_m": np.broadcast_to(hs[:, None, None], shape),
        "tp_s": np.full(shape, 8.0),
        "wind_east_m_s": np.broadcast_to(wind[:, None, None] * M_S_PER_KN, shape),
        "wind_north_m_s": np.zeros(shape),
    })  # fmt: skip
    origin = Origin(source="forecast", received_at=issued, digest="0" * 64)
    add_forecast(reading, origin, grid, model="m", issued_at=issued, form="NetCDF")


def week(seed: int, number: int) -> Week:
    """Return one week; the same seed and number give the same one."""
    rng = np.random.default_rng([seed, number])
    truth = _truth(rng)
    facts: list[tuple[str, datetime, dict[str, Any]]] = [
        ("weather.place_of_work", NOW - 70 * H,
         {"latitude_deg": 43.25, "longitude_deg": 8.57, "water_depth_m": 180.0, "reason": "t"}),
    ]  # fmt: skip
    launch = float(np.round(rng.uniform(1.8, 3.2), 1))
    recovery, wind = launch - 0.3, float(rng.uniform(17.0, 30.0))
    for operation, hours, limits in (
        ("launch", LAUNCH_H, {"hs_max_m": launch, "wind_max_kn": wind}),
        ("dive", DIVE_H, {}), ("mating", 1.0, {}),
        ("recovery", RECOVERY_H, {"hs_max_m": recovery, "wind_max_kn": wind}),
    ):  # fmt: skip
        said = {"operation": operation, "duration_h": hours, "set_by": "t", **limits}
        facts.append(("weather.limit", NOW - 70 * H, said))
    reading = Reading()
    for issued_h in range(-72 - int(rng.integers(0, 6)), 0, 6):
        _issue(truth, issued_h, reading)
    facts += [("weather.forecast", draft.valid_at, dict(draft.payload)) for draft in reading.drafts]
    measured, silent_h = rng.random() < 0.85, 0
    if rng.random() < 0.25:
        silent_h = int(rng.integers(4, 12))
    for hours in range(-72, 1 - silent_h) if measured else ():
        at = (hours + PAST_H) * PER_H
        facts.append(("weather.observation", NOW + hours * H, {
            "station": "TENACE", "sort": "ship", "latitude_deg": 43.2, "longitude_deg": 8.5,
            "hs_m": round(float(truth.hs_m[at] * (1.0 + 0.05 * rng.standard_normal())), 1),
            "wind_kn": round(float(max(truth.wind_kn[at] + 0.8 * rng.standard_normal(), 0.0)), 0),
        }))  # fmt: skip
    facts.sort(key=lambda fact: fact[1])
    records = [record(seq, kind, at, said) for seq, (kind, at, said) in enumerate(facts, start=1)]
    shelf = ListShelf(records, reading.blobs)
    found = LAYER.compute(Known(shelf, KINDS, len(records), NOW), {}, Moment(NOW, NOW))
    chances = found.dive.chance_by_start[found.ahead.at(NOW) :]

    def kept(start_h: int) -> bool:
        first = (start_h + PAST_H) * PER_H
        ends = first + round(LAUNCH_H * PER_H) + 1
        back = first + round((LAUNCH_H + DIVE_H) * PER_H)
        up = back + round(RECOVERY_H * PER_H) + 1
        calm = (truth.wind_kn[first:ends] <= wind).all() & (truth.wind_kn[back:up] <= wind).all()
        low = (truth.hs_m[first:ends] <= launch).all() & (truth.hs_m[back:up] <= recovery).all()
        return bool(calm & low)

    starts = [h for h in STARTS_H if not np.isnan(chances[h * PER_H])]
    return Week(
        start_h=tuple(starts), said=tuple(float(chances[h * PER_H]) for h in starts),
        came=tuple(kept(h) for h in starts), measured=bool(measured),
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Tenth:
    """One tenth of the chances: the mean one said, the share that came true, how many, in weeks.

    ``doubt`` is the standard error of the share; hours of one week are no independent cases.
    """

    said: float
    came: float
    count: int
    weeks: int
    doubt: float


def tenths(weeks: list[Week], *, measured: bool | None = None) -> list[Tenth]:
    """Return the reliability table in ten bins; those without a case are left out."""
    which: list[int] = []
    said: list[float] = []
    came: list[bool] = []
    for number, each in enumerate(weeks):
        if measured is None or each.measured == measured:
            which += [number] * len(each.said)
            said += each.said
            came += each.came
    week_of, chance, true = np.array(which), np.array(said), np.array(came, dtype=float)
    found = []
    for low in np.arange(10) / 10.0:
        here = (chance >= low) & ((chance < low + 0.1) | (low == 0.9))
        if here.any():
            off = np.bincount(week_of[here], weights=(true - chance)[here])
            found.append(Tenth(
                said=float(chance[here].mean()), came=float(true[here].mean()),
                count=int(here.sum()), weeks=len(np.unique(week_of[here])),
                doubt=float(np.sqrt((off**2).sum()) / here.sum()),
            ))  # fmt: skip
    return found


def told(table: list[Tenth]) -> str:
    """Return a table in words, all its rows."""
    return "; ".join(
        f"said {100 * row.said:.0f}, came {100 * row.came:.0f} of 100 ({row.count} in "
        f"{row.weeks} weeks)" for row in table
    )  # fmt: skip
