"""From when on a limit is broken, between two steps of what is expected."""

from __future__ import annotations

from datetime import datetime

import numpy as np

from layers.earth.arrays import Floats
from layers.earth.clock import clock_words, from_us
from layers.weather.sea.expected import ExpectedSea


def shut_at(
    ahead: ExpectedSea,
    step: int,
    now: datetime,
    values: Floats | None = None,
    bound: float = 0.0,
) -> datetime:
    """Return from when it is shut that is shut at a step: never later, down to the minute."""
    if step == 0:
        return from_us(ahead.at_us[0])
    before, after = int(ahead.at_us[step - 1]), int(ahead.at_us[step])
    share = 0.0
    if values is not None:
        low, high = float(values[step - 1]), float(values[step])
        share = (bound - low) / (high - low) if np.isfinite(low) and high != low else 1.0
    shut = from_us(before + int(np.clip(share, 0.0, 1.0) * (after - before)))
    return max(shut.replace(second=0, microsecond=0), now)


def end_words(ahead: ExpectedSea, now: datetime) -> str:
    """Return when the forecast ends, or since when there is none."""
    if ahead.ends_us is not None and from_us(ahead.ends_us) < now:
        return f"forecast ended {clock_words(from_us(ahead.ends_us), now)}"
    return f"forecast ends {clock_words(from_us(ahead.at_us[-1]), now)}"
