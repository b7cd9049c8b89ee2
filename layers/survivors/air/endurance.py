"""How long the air of each refuge lasts: draws of the time when each entered level is reached.

What ends life first binds, whatever its kind. Where nothing can be said of a level, or of a whole
refuge, that stands beside the draws by name: nobody may take it for a level never reached.
"""

from __future__ import annotations

from dataclasses import dataclass

from layers.earth.arrays import Floats, Ints

NOT_REACHED_US = 2**63 - 1  # the level is not reached within the horizon


@dataclass(frozen=True, slots=True, kw_only=True)
class Endurance:
    """When one refuge reaches one level.

    Parameters
    ----------
    refuge : str
        ``"forward"``, ``"after"``.
    level : str
        Name of the level as the medical officer entered it.
    source : str
        Its source as entered.
    runs_out_us : ndarray of int64, shape (n_draws,)
        Draws of the time when it is reached, UTC microseconds; `NOT_REACHED_US` where it is
        not reached within the horizon. Draw i belongs with draw i of every other quantity.
    at_least_us : ndarray of int64, optional
        The same if a doubtful reading is right, where that shortens it: nobody has said yet
        whether it stands.
    quantity : str
        What the level is of: ``"carbon dioxide"``, ``"low temperature"``.
    how : str
        ``"balance"`` or ``"trend"``.
    """

    refuge: str
    level: str
    source: str
    runs_out_us: Ints
    at_least_us: Ints | None = None
    quantity: str = ""
    how: str = "balance"


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenEnd:
    """A level of a refuge whose time is not known, or (``level`` empty) any level of it.

    ``missing`` says what to ask for; ``quantity`` is that of the level.
    """

    refuge: str
    level: str
    missing: tuple[str, ...]
    quantity: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class AirCurves:
    """The pressure in each refuge ahead, bar absolute, shape (n_hours, n_refuges, n_draws)."""

    hours: tuple[float, ...]
    refuges: tuple[str, ...]
    pressure_bar: Floats

    def at(self, refuge: str, hours: Floats) -> Floats:
        """Return each draw's pressure so many hours from now, shape (n_draws,).

        Between two hours in a straight line; beyond the last one as there.
        """
        row = self.pressure_bar[:, self.refuges.index(refuge)]
        grid_h = self.hours
        step = (grid_h[-1] - grid_h[0]) / (len(grid_h) - 1)
        place = (hours - grid_h[0]) / step
        place = place.clip(0.0, len(grid_h) - 1.0)
        low = place.astype("int64").clip(0, len(grid_h) - 2)
        part, draws = place - low, range(row.shape[1])
        found: Floats = row[low, draws] * (1.0 - part) + row[low + 1, draws] * part
        return found


@dataclass(frozen=True, slots=True, kw_only=True)
class RefugePeople:
    """Who waits in a refuge, and the state of its rescue seat.

    ``seat`` is ``"clear"``, ``"fouled"`` or ``"not known"``, as last inspected;
    ``fitness_unknown`` of whom nobody has told whether they walk or lie; ``water`` is dry, flooded
    or not known, as last told.
    """

    refuge: str
    persons: int
    stretcher: int
    pressure_bar_abs: float | None
    seat: str
    fitness_unknown: int = 0
    water: str = "not known"
