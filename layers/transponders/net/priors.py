"""What is known of the errors that all replies of a box-in share, before the replies are read.

Each error has a prior of its own. Where the watch told one ("turn-round delays measured on deck to
a millisecond", "arm measured") it is believed, none included; where nobody did, an assumption
stands, wide enough for a ship that measured nothing.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from layers.earth.arrays import Floats
from layers.journal.known import Entry, Known
from layers.transponders.model import BoxInErrors, Drop

# One sigma each: assumptions of our own, common practice, no source.
SHIP_SIGMA_M = 1.5  # her position's common error over some hours, each axis; a satellite fix
LEVER_SIGMA_M = 5.0  # antenna to transducer, where nobody has entered the arm
LATE_SIGMA_S = 0.2  # how late her positions may be
DELAY_SIGMA_S = 0.010  # a turn-round delay as typed
SCALE_SIGMA = 0.002  # how far a measured profile may be wrong: 3 m/s in 1500
UNMEASURED_SIGMA = 0.01  # of the sound speed where no profile is known: 15 m/s
PLAIN_M_S = 1500.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Priors:
    """What is known of the shared errors beforehand, one sigma each.

    ``delay_s`` is one for all transponders or one for each, shape (k,). ``told`` names those that
    somebody told, ``records`` where.
    """

    ship_m: float = SHIP_SIGMA_M
    lever_m: float = LEVER_SIGMA_M
    late_s: float = LATE_SIGMA_S
    delay_s: float | Floats = DELAY_SIGMA_S
    scale: float = SCALE_SIGMA
    told: tuple[str, ...] = ()
    records: tuple[str, ...] = ()

    def words(self) -> tuple[tuple[str, float, str], ...]:
        """Return each prior: what it is of, one sigma, its unit and who stands for it."""
        delay = np.atleast_1d(self.delay_s)
        low, high = 1e3 * float(delay.min()), 1e3 * float(delay.max())
        rows = [
            ("her position's common error", self.ship_m, "m", "position_sigma_m"),
            ("arm from antenna to transducer", self.lever_m, "m", "arm_sigma_m"),
            ("lateness of her positions", self.late_s, "s", "late_sigma_s"),
            ("turn-round delay", high, "ms", "turn_round_sigma_s"),
            ("sound speed", PLAIN_M_S * self.scale, "m/s", "sound_speed_sigma_m_s"),
        ]
        said = [
            (what, size, f"{unit}, {'told' if field in self.told else 'assumed'}")
            for what, size, unit, field in rows
        ]
        if low < high:
            said[3] = (said[3][0], high, f"{said[3][2]}; {low:g} at best")
        return tuple(said)


def priors_of(known: Known, drops: Iterable[Entry], measured: bool, at: datetime) -> Priors:
    """Return the priors in force: of each error the newest word, else what is assumed.

    Parameters
    ----------
    known : Known
        What is known.
    drops : iterable of Entry
        The drops of the transponders to be boxed in, in their order.
    measured : bool
        Whether a sound-speed profile is at hand.
    at : datetime
        The time shown.
    """
    drops = list(drops)
    parts: dict[str, float] = {}
    rests: dict[str, str] = {}
    entries = [e for e in known.entries("transponders.box_in_errors") if e.record.valid_at <= at]
    for entry in sorted(entries, key=lambda e: (e.adopted, e.record.valid_at, e.record.seq)):
        value: BoxInErrors = entry.value
        for name in BoxInErrors.ERRORS:
            if not entry.disputed and (size := getattr(value, name)) is not None:
                parts[name], rests[name] = size, entry.id
    if any(drop.value.turn_round_sigma_s is not None for drop in drops):
        rests["turn_round_sigma_s"] = ""
    speed = PLAIN_M_S * (SCALE_SIGMA if measured else UNMEASURED_SIGMA)
    return Priors(
        ship_m=parts.get("position_sigma_m", SHIP_SIGMA_M),
        lever_m=parts.get("arm_sigma_m", LEVER_SIGMA_M),
        late_s=parts.get("late_sigma_s", LATE_SIGMA_S),
        delay_s=np.array([delay_sigma_s(drop.value) for drop in drops]),
        scale=parts.get("sound_speed_sigma_m_s", speed) / PLAIN_M_S,
        told=tuple(rests),
        records=tuple(dict.fromkeys(i for i in rests.values() if i)),
    )


def delay_sigma_s(drop: Drop) -> float:
    """Return how well a transponder's turn-round delay is known before it is boxed in, s."""
    return DELAY_SIGMA_S if drop.turn_round_sigma_s is None else drop.turn_round_sigma_s
