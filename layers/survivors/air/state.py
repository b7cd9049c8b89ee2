"""The air of closed compartments in moles: what is known of it, draw by draw."""

from __future__ import annotations

from dataclasses import dataclass, field, fields

import numpy as np

from layers.earth.arrays import Floats
from layers.earth.units import PA_PER_BAR, R_J_PER_MOL_K


def _nothing() -> Floats:
    return np.zeros((1, 1))


@dataclass(slots=True, kw_only=True)
class Air:
    """The air of compartments, every array of shape (n_compartments, n_draws).

    Parameters
    ----------
    o2, co2, inert : mol
    volume_m3 : free gas volume
    oxygen_left, absorbs_left : mol O2 that stores still give, mol CO2 absorbent still takes
    breath : mol O2 a person uses an hour
    rq : mol CO2 given per mol O2 used
    water_m3_h, leak_mol_h : water, and air, coming in; `inflow.only_in` looks ahead without water
        that flows out
    hold_o2_kpa, hold_co2_kpa : what is held while stores last (0, infinity: not held)
    kelvin : gas temperature, K
    swing_cos, swing_sin, wander : how breathing swings through a day about its mean, and what
        is left beside that; shares of ``breath``, counted only through `rhythm.paces`
    """

    o2: Floats
    co2: Floats
    inert: Floats
    volume_m3: Floats
    oxygen_left: Floats
    absorbs_left: Floats
    breath: Floats
    rq: Floats
    water_m3_h: Floats
    leak_mol_h: Floats
    hold_o2_kpa: Floats
    hold_co2_kpa: Floats
    kelvin: Floats
    swing_cos: Floats = field(default_factory=_nothing)
    swing_sin: Floats = field(default_factory=_nothing)
    wander: Floats = field(default_factory=_nothing)

    def __post_init__(self) -> None:
        for name in ("swing_cos", "swing_sin", "wander"):
            if getattr(self, name).shape != self.o2.shape:
                setattr(self, name, np.zeros(self.o2.shape))

    @property
    def shape(self) -> tuple[int, int]:
        """(n_compartments, n_draws)."""
        return self.o2.shape[0], self.o2.shape[1]

    def block(self, draws: slice) -> Air:
        """Return a copy of some draws, contiguous in memory."""
        return Air(**{f.name: getattr(self, f.name)[:, draws].copy() for f in fields(self)})

    def copy(self) -> Air:
        """Return a copy."""
        return self.block(slice(None))

    def pressure_bar(self) -> Floats:
        """Return the total pressure, bar absolute: p = nRT/V."""
        total = self.o2 + self.co2 + self.inert
        return total * (R_J_PER_MOL_K * self.kelvin) / self.volume_m3 / PA_PER_BAR

    def partial_kpa(self, mol: Floats) -> Floats:
        """Return the partial pressure, kPa, of moles of one gas."""
        return mol * (R_J_PER_MOL_K * self.kelvin) / self.volume_m3 / 1000.0


def stacked(airs: list[Air]) -> Air:
    """Return several compartments as one."""
    return Air(**{f.name: np.vstack([getattr(a, f.name) for a in airs]) for f in fields(Air)})


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelLine:
    """A limit to watch.

    Parameters
    ----------
    what : str
        ``"co2"``, ``"o2 low"``, ``"o2 high"``, ``"pressure"``, ``"volume"`` (free gas volume
        falling), ``"absorbent"`` or ``"oxygen stores"``.
    limit : float or tuple of float
        kPa for a gas, bar for the pressure, m3 for the volume; one for each compartment where
        they differ.
    """

    what: str
    limit: float | tuple[float, ...] = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class AirChange:
    """Something that alters the air at a time, per draw.

    Parameters
    ----------
    compartment : int
    after_h : ndarray, shape (n_draws,)
        Hours after the start; infinity where it does not happen.
    persons, absorbs, oxygen, leak_mol_h : float
        Added to the persons, the stores and the leak.
    pace : ndarray, shape (n_draws,), optional
        What people breathe from then on, as a share of ``Air.breath``.
    kelvin : ndarray, shape (n_draws,), optional
        How warm the gas is from then on, K.
    """

    compartment: int
    after_h: Floats
    persons: float = 0.0
    absorbs: float = 0.0
    oxygen: float = 0.0
    leak_mol_h: float = 0.0
    pace: Floats | None = None
    kelvin: Floats | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class AirRun:
    """What came of a run.

    Parameters
    ----------
    reached_h : ndarray, shape (n_lines, n_compartments, n_draws)
        Hours until each line is reached; infinity within the horizon where it is not.
    snapshots : tuple of Air
        The air at the hours asked for.
    """

    reached_h: Floats
    snapshots: tuple[Air, ...]
