"""How long the air of each refuge lasts: draws of the time when each entered level is reached."""

from __future__ import annotations

from dataclasses import dataclass

from layers.earth.values import Ints

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
    """

    refuge: str
    level: str
    source: str
    runs_out_us: Ints


@dataclass(frozen=True, slots=True, kw_only=True)
class RefugePeople:
    """Who waits in a refuge, and the state of its rescue seat.

    ``seat`` is ``"clear"``, ``"fouled"`` or ``"not known"``, as last inspected.
    """

    refuge: str
    persons: int
    stretcher: int
    pressure_bar_abs: float | None
    seat: str
