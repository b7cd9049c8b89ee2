"""What of a gridded forecast cannot be taken at its word: set aside cell by cell, and told.

A centre's temperature in °C under the name of kelvin, a fill value that is not declared, a field
that was never filled: taken at its word it would open or close a window for nothing. What is set
aside is *not known*, and what is not known never opens one.
"""

from __future__ import annotations

import numpy as np

from layers.contract import Origin, Reading
from layers.earth.arrays import Array
from layers.earth.plausible import LIMITS, doubtful, unit_of
from layers.earth.units import M_S_PER_KN
from layers.weather.feeds.lines import reject

# variable(s) of the grid -> the quantity they are judged as, and its unit per theirs
SPEEDS: dict[str, tuple[tuple[str, ...], float]] = {
    "wind_kn": (("wind_east_m_s", "wind_north_m_s"), 1.0 / M_S_PER_KN),
    "gust_kn": (("gust_m_s",), 1.0 / M_S_PER_KN),
    "current_kn": (("current_east_m_s", "current_north_m_s"), 1.0 / M_S_PER_KN),
}
# the two components of one thing: neither is of use without the other
PARTNERS = {
    "wind": ("wind_east_m_s", "wind_north_m_s"),
    "current": ("current_east_m_s", "current_north_m_s"),
    "direction of the waves": ("wave_from_east", "wave_from_north"),
}
NEVER_ALL_ZERO = ("wind_kn", "hs_m", "current_kn")
LEAST_CELLS = 20  # so many exact zeros are no calm; common practice, no source


def set_aside(ready: dict[str, Array], origin: Origin, reading: Reading) -> dict[str, Array]:
    """Return the variables without the values that cannot be so; each loss is told.

    Parameters
    ----------
    ready : dict of str to ndarray
        Variables of one issue in the units used here, shape (time, latitude, longitude).
    """
    held = dict(ready)
    for words, pair in PARTNERS.items():
        told = [np.isfinite(held[part]) for part in pair if part in held]
        if told and (len(told) < len(pair) or not np.any(told[0] & told[1])):
            said = f"{words}: one component never comes with the other; not used"
            reading.rejects.append(reject(origin, None, words, said))
            for part in pair:
                held.pop(part, None)
    for name in list(held):
        if name in LIMITS:
            _judge(name, (name,), 1.0, held, origin, reading)
    for name, (parts, scale) in SPEEDS.items():
        if all(part in held for part in parts):
            _judge(name, parts, scale, held, origin, reading)
    return held


def _judge(
    name: str,
    parts: tuple[str, ...],
    scale: float,
    held: dict[str, Array],
    origin: Origin,
    reading: Reading,
) -> None:
    size = np.asarray(held[parts[0]], dtype=np.float64)
    for part in parts[1:]:
        size = np.hypot(size, held[part])
    values = size * scale
    known = np.isfinite(values)
    count = int(known.sum())
    words = LIMITS[name].words
    if name in NEVER_ALL_ZERO and count >= LEAST_CELLS and not np.any(values[known]):
        said = f"{words} is exactly 0 in all {count} cells: a field that was never filled; not used"
        reading.rejects.append(reject(origin, None, words, said))
        for part in parts:
            del held[part]
        return
    odd = doubtful(name, values) & known
    if not odd.any():
        return
    least, most = float(values[odd].min()), float(values[odd].max())
    told = f"{least:.1f} to {most:.1f}{unit_of(name)}"
    many = int(odd.sum())
    if many * 2 > count:
        said = f"{words} of {told} is beyond {LIMITS[name].why}: not used. Is its unit right?"
        for part in parts:
            del held[part]
    else:
        said = (
            f"{words}: {many} of {count} cells hold {told}, beyond {LIMITS[name].why}; these cells "
            "are left out, the rest is used"
        )
        for part in parts:
            held[part] = np.where(odd, np.nan, held[part]).astype(held[part].dtype)
        reading.doubts[said] = reading.doubts.get(said, 0) + 1
        return
    reading.rejects.append(reject(origin, None, words, said))
