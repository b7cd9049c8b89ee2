"""Who is in which chamber until when, and how the oxygen and air aboard burn down."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from layers.earth.arrays import Floats, Ints
from layers.survivors.chambers.oxygen_dose import cns_of_band, dose_of_band
from layers.survivors.chambers.schedule import PressureBand
from layers.survivors.lifts.run.aboard import aboard
from layers.survivors.lifts.run.ground import US
from layers.survivors.lifts.run.outcome import PlanOutcome
from layers.survivors.lifts.run.windows import NEVER

# 0.84 kg of oxygen a person and day at 0 °C and 1 atm: NASA RP-1324 (Wieland 1994), converted
# with the ideal gas law, 24.516 l/h.
OXYGEN_M3_PERSON_H = 0.024516
SHOWN_DRAWS = 1_000
STEPS = 160
BAR_SURFACE = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ChamberLoad:
    """One chamber: persons in it against time, attendants included; P10, P50, P90 by rows."""

    name: str
    places: int
    attendants: int
    persons: Floats  # shape (3, n)
    free_from_h: float  # median hour from which nobody is in it any more; infinite if never used

    @property
    def free(self) -> Ints:
        """Places free for people against time, in the middle of the draws."""
        taken = np.maximum(self.persons[1], self.attendants)
        return np.asarray(np.maximum(self.places - taken, 0), dtype=np.int64)


@dataclass(frozen=True, slots=True, kw_only=True)
class Occupancy:
    """The chambers and their stores against time.

    ``oxygen_m3`` and ``air_m3`` are what is left, at the surface, P10, P50, P90 by rows; None
    when the ship's stores are not entered. Flushing and leaks are not counted.
    """

    at_us: Ints
    chambers: tuple[ChamberLoad, ...]
    oxygen_m3: Floats | None
    air_m3: Floats | None
    dose_units: tuple[tuple[str, float, float], ...]  # refuge, stay (h), UPTD
    nerves: tuple[tuple[str, float | None], ...]  # refuge, share of the limit; None: off the table
    schedule: str
    invented: bool


def occupancy(outcome: PlanOutcome) -> Occupancy | None:
    """Return the chambers' load against time, None when no chamber is recorded.

    Parameters
    ----------
    outcome : PlanOutcome
        A plan that was run; its first draws are counted.
    """
    setting = outcome.setting
    if not setting.chambers or setting.schedule is None:
        return None
    draws = min(SHOWN_DRAWS, outcome.runs.left_s.shape[1])
    grid = _grid(outcome, draws)
    loads = tuple(_load(outcome, room, grid, draws) for room in range(len(setting.chambers)))
    oxygen, air = _stores(outcome, grid, draws)
    return Occupancy(
        at_us=setting.at_us + grid * US,
        chambers=loads,
        oxygen_m3=oxygen,
        air_m3=air,
        dose_units=_doses(outcome),
        nerves=_nerves(outcome),
        schedule=f"{setting.schedule.name} ({setting.schedule.source})",
        invented=setting.schedule.invented,
    )


def _grid(outcome: PlanOutcome, draws: int) -> Ints:
    ends = outcome.runs.chamber_out_s[:, :draws]
    ends = ends[ends < NEVER]
    last = int(np.quantile(ends, 0.9)) if len(ends) else 48 * 3600
    return np.linspace(0, max(last * 1.05, 6 * 3600), STEPS).astype(np.int64)


def people_of(outcome: PlanOutcome, lift: int) -> int:
    """Return how many of a lift go under pressure, as reported aboard, else as planned."""
    return sum(aboard(outcome.setting, outcome.setting.lifts[lift]))


def _load(outcome: PlanOutcome, room: int, grid: Ints, draws: int) -> ChamberLoad:
    chamber, runs = outcome.setting.chambers[room], outcome.runs
    inside = np.zeros((draws, len(grid)), dtype=np.int64)
    last = np.full(draws, -NEVER)
    for number in range(len(runs.chamber)):
        share = runs.shares[number, room, :draws]
        enters = runs.chamber_in_s[number, :draws, None]
        leaves = runs.chamber_out_s[number, :draws, None]
        inside += ((enters <= grid) & (grid < leaves)) * share[:, None]
        last = np.where(share > 0, np.maximum(last, leaves[:, 0]), last)
    inside += (inside > 0) * chamber.attendants
    used = last > -NEVER
    free = float(np.median(last[used])) / 3600.0 if used.mean() > 0.5 else np.inf
    return ChamberLoad(
        name=chamber.name,
        places=chamber.places,
        attendants=chamber.attendants,
        persons=np.quantile(inside, (0.1, 0.5, 0.9), axis=0, method="inverted_cdf"),
        free_from_h=free,
    )


def _stores(outcome: PlanOutcome, grid: Ints, draws: int) -> tuple[Floats | None, Floats | None]:
    setting, runs = outcome.setting, outcome.runs
    if setting.ship is None:
        return None, None
    oxygen, air = np.zeros((draws, len(grid))), np.zeros((draws, len(grid)))
    for number, lift in enumerate(setting.lifts):
        band = _band(outcome, lift.key)
        if band is None or not band.steps:
            continue
        # places are persons but for stretchers; attendants who came along are among them
        most = max(chamber.stretcher_places for chamber in setting.chambers)
        people = people_of(outcome, number)
        a_place = people / (people + (most - 1) * aboard(setting, lift)[1]) if people else 0.0
        for room, chamber in enumerate(setting.chambers):
            mine = np.asarray(a_place * runs.shares[number, room, :draws, None], dtype=np.float64)
            since = (grid - runs.chamber_in_s[number, :draws, None]) / 3600.0
            # before now it is in the stores as last reported
            before = np.maximum(-runs.chamber_in_s[number, :draws, None] / 3600.0, 0.0)
            used = _oxygen_m3(band, since, mine, chamber.attendants)
            used = used - _oxygen_m3(band, before, mine, chamber.attendants)
            filled = chamber.volume_m3 * (band.steps[0].from_bar_abs - BAR_SURFACE)
            oxygen += (mine > 0) * np.maximum(used, 0.0)
            air += (mine > 0) * filled * ((since >= 0) & (before <= 0))
    left = [setting.ship.oxygen_m3 - oxygen, setting.ship.air_m3 - air]
    both = [np.quantile(one, (0.1, 0.5, 0.9), axis=0) for one in left]
    return both[0], both[1]


def _oxygen_m3(band: PressureBand, since_h: Floats, people: Floats, attendants: int) -> Floats:
    """Return the oxygen used so many hours into a stay, m³ at the surface.

    ``people`` come out of the vehicle and decompress by the table, ``attendants`` wait inside.
    """
    edges = np.concatenate([[0.0], np.cumsum([step.minutes for step in band.steps]) / 60.0])
    masks = np.concatenate(
        [[0.0], np.cumsum([step.minutes * step.oxygen_l_min / 1000.0 for step in band.steps])]
    )
    burnt = np.clip(since_h, 0.0, edges[-1]) * OXYGEN_M3_PERSON_H * (people + attendants)
    return np.asarray(burnt + people * np.interp(since_h, edges, masks))


def _band(outcome: PlanOutcome, lift: str) -> PressureBand | None:
    schedule = outcome.setting.schedule
    pressure = outcome.pressures.get(lift)
    return schedule.nearest(pressure) if schedule and pressure is not None else None


def _nerves(outcome: PlanOutcome) -> tuple[tuple[str, float | None], ...]:
    """Return by refuge the share of the nerves' limit of oxygen that the longest stay takes."""
    found: dict[str, tuple[float, float | None]] = {}
    for lift in outcome.setting.lifts:
        band = _band(outcome, lift.key)
        if band is not None and band.hours >= found.get(lift.refuge, (-1.0, None))[0]:
            found[lift.refuge] = (band.hours, cns_of_band(band))
    return tuple((refuge, share) for refuge, (_, share) in found.items())


def _doses(outcome: PlanOutcome) -> tuple[tuple[str, float, float], ...]:
    """Return by refuge the longest stay that the hours at which its hatches shut come to."""
    found: dict[str, tuple[str, float, float]] = {}
    for lift in outcome.setting.lifts:
        band = _band(outcome, lift.key)
        longest = found.get(lift.refuge)
        if band is not None and (longest is None or band.hours > longest[1]):
            found[lift.refuge] = (lift.refuge, band.hours, dose_of_band(band))
    return tuple(found.values())
