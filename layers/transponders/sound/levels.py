"""The levels of a measured profile made fit to compute with, and what was done said."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from layers.earth.arrays import Floats
from layers.earth.errors import InputError

# PSS-78 range and the range of the sea; outside it a value is a fault of the instrument.
LIMITS = {
    "temperature_c": (-3.0, 45.0, "degrees C"),
    "salinity": (0.0, 50.0, ""),
    "sound_speed_m_s": (1350.0, 1750.0, "m/s"),
}
DEEPEST_M = 11_000.0  # the Challenger Deep has 10,935 m (GEBCO)
UPCAST_M = 2.0  # a rise of more than this is the way back up, less is the ship's heave


@dataclass(slots=True, kw_only=True)
class Levels:
    """A profile that goes down only, and the words for what was set aside."""

    values: dict[str, list[float]]
    notes: list[str] = field(default_factory=list)
    set_aside: dict[str, int] = field(default_factory=dict)


def downcast(columns: Mapping[str, Sequence[float]], where: str) -> Levels:
    """Return the way down of a profile: depth ascending, values within what the sea has.

    Parameters
    ----------
    columns : mapping
        ``depth_m`` and any of ``temperature_c``, ``salinity``, ``sound_speed_m_s``; equal
        lengths, in the order measured, NaN where missing.
    where : str
        The file, for the error.

    Raises
    ------
    InputError
        Fewer than two usable levels.
    """
    arrays = {name: np.asarray(values, dtype=np.float64) for name, values in columns.items()}
    made = Levels(values={})
    depth = arrays["depth_m"]
    keep = np.isfinite(depth) & (depth >= 0.0)
    _count(made, "level without a depth or above the surface", int(np.sum(~keep)))
    deeper = keep & (depth > DEEPEST_M)
    _count(made, "level deeper than any sea", int(np.sum(deeper)))
    keep &= ~deeper
    for name, (low, high, unit) in LIMITS.items():
        if name not in arrays:
            continue
        missing = ~np.isfinite(arrays[name])
        wild = ~missing & ((arrays[name] < low) | (arrays[name] > high))
        _count(made, f"level without {name}", int(np.sum(missing & keep)))
        _count(
            made,
            f"level with {name} outside {low:g} to {high:g} {unit}".strip(),
            int(np.sum(wild & keep)),
        )
        keep &= ~(missing | wild)
    arrays = {name: values[keep] for name, values in arrays.items()}
    going = arrays["depth_m"]
    if len(going) > 1 and np.argmax(going) == 0 and np.mean(np.diff(going) < 0.0) >= 0.9:
        arrays = {name: values[::-1] for name, values in arrays.items()}
        made.notes.append("measured on the way up; given here from the surface down")
    rows = _descending(arrays["depth_m"], made)
    if len(rows) < 2:
        raise InputError(
            f"{len(rows)} usable level{'s' if len(rows) != 1 else ''} left of {len(depth)}",
            where=where,
            accepted="a profile with at least two depths that go down",
        )
    made.values = {name: [float(v) for v in values[rows]] for name, values in arrays.items()}
    return made


def _descending(depth_m: Floats, made: Levels) -> npt.NDArray[np.intp]:
    """Return the rows of the first way down: running maxima up to the deepest level.

    A cast lowered, hauled up and lowered again keeps only what each metre first showed.
    """
    if not len(depth_m):
        return np.array([], dtype=np.intp)
    deepest = int(np.argmax(depth_m))
    before, after = depth_m[: deepest + 1], depth_m[deepest + 1 :]
    _, first = np.unique(np.maximum.accumulate(before), return_index=True)
    if len(after):
        _count(made, "level of the way back up", len(after))
        if depth_m[deepest] - float(np.min(after)) > UPCAST_M:
            made.notes.append(
                f"the profile goes back up from {depth_m[deepest]:.1f} m: "
                f"only the way down is used, {len(after)} levels set aside"
            )
    backwards = len(before) - len(first)
    if backwards:
        _count(made, "level no deeper than one before it", backwards)
        made.notes.append(f"{backwards} levels no deeper than one before them set aside")
    return first


def _count(made: Levels, reason: str, number: int) -> None:
    if number:
        made.set_aside[reason] = made.set_aside.get(reason, 0) + number


def number(text: str) -> float:
    """Return a decimal number, NaN for an empty or missing value.

    Raises
    ------
    ValueError
        Not a number; infinity and the like are not numbers of an instrument.
    """
    trimmed = text.strip()
    if trimmed in {"", "-", "NaN", "nan", "NA", "MM", "null"}:
        return math.nan
    value = float(trimmed)
    if math.isinf(value):
        raise ValueError(f"{text!r} is not a number")
    return value
