"""A forecast's grid: its compact stored form, and values at any place and time.

Stored once under its digest as a NumPy ``npz`` of 16-bit steps: each variable with the scale
and offset that give its values back to within half a step (the step is the variable's own
range / 65,000), which is far inside any forecast's error.
"""

from __future__ import annotations

import hashlib
import io
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from layers.earth.arrays import Array, Floats, Ints
from layers.earth.errors import InputError

MISSING = -32_768
STEPS = 65_000.0
ENOUGH = 0.5  # share of the weight that must come from cells with a value


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldGrid:
    """Variables on straight parallels and meridians through time.

    Parameters
    ----------
    times_us : ndarray, shape (nt,)
        Ascending, UTC microseconds.
    latitudes_deg : ndarray, shape (ny,)
        Ascending; spacing need not be even.
    longitudes_deg : ndarray, shape (nx,)
        Ascending, first one -180 to 180; may run past 180.
    names : tuple of str
        Names of :data:`layers.weather.forecast.variables.VARIABLES`.
    values : ndarray, shape (nt, ny, nx, len(names))
        float32, NaN where missing; the variables lie together so that one look-up serves all.
    has_gaps : bool
        Whether any value is missing (land, a masked edge).
    """

    times_us: Ints
    latitudes_deg: Floats
    longitudes_deg: Floats
    names: tuple[str, ...]
    values: npt.NDArray[np.float32]
    has_gaps: bool

    def at(self, latitudes_deg: Floats, longitudes_deg: Floats, at_us: Ints) -> Floats:
        """Return all variables at ``n`` places and times, linear in time and both axes.

        Shape (n, len(names)); NaN outside the grid and its span, and where less than half of
        the weight falls on cells that hold a value.
        """
        shape = self.values.shape
        t0, tf, inside_t = _cells(self.times_us.astype(np.float64), at_us.astype(np.float64))
        y0, yf, inside_y = _cells(self.latitudes_deg, latitudes_deg)
        west = self.longitudes_deg[0]
        x0, xf, inside_x = _cells(self.longitudes_deg, west + (longitudes_deg - west) % 360.0)
        rows = self.values.reshape(-1, shape[3])
        t1, y1, x1 = (
            np.minimum(low + 1, size - 1)
            for low, size in ((t0, shape[0]), (y0, shape[1]), (x0, shape[2]))
        )
        total = np.zeros((len(at_us), shape[3]))
        weight = np.zeros_like(total) if self.has_gaps else None
        for t, wt in ((t0, 1.0 - tf), (t1, tf)):
            for y, wy in ((y0, 1.0 - yf), (y1, yf)):
                base, wty = (t * shape[1] + y) * shape[2], wt * wy
                for x, wx in ((x0, 1.0 - xf), (x1, xf)):
                    corner = rows.take(base + x, axis=0)
                    share = (wty * wx)[:, None]
                    if weight is None:
                        total += share * corner
                    else:
                        known = ~np.isnan(corner)
                        total += share * np.where(known, corner, 0.0)
                        weight += share * known
        if weight is not None:
            with np.errstate(invalid="ignore", divide="ignore"):
                total = np.where(weight >= ENOUGH, total / weight, np.nan)
        total[~(inside_t & inside_y & inside_x)] = np.nan
        return total


def _cells(axis: Floats, wanted: Floats) -> tuple[Ints, Floats, npt.NDArray[np.bool_]]:
    """Return the lower cell, the fraction across it and whether it lies inside, per place."""
    if len(axis) == 1:
        zero = np.zeros(len(wanted), dtype=np.int64)
        return zero, np.zeros(len(wanted)), np.asarray(wanted == axis[0])
    steps = np.diff(axis)
    if np.ptp(steps) <= 1e-6 * steps[0]:  # even spacing needs no search
        exact = (wanted - axis[0]) / ((axis[-1] - axis[0]) / (len(axis) - 1))
        inside = (exact >= -1e-9) & (exact <= len(axis) - 1 + 1e-9)
        exact = np.where(inside, exact, 0.0)
        low = np.clip(exact.astype(np.int64), 0, len(axis) - 2)
        return low, np.clip(exact - low, 0.0, 1.0), inside
    inside = np.asarray((wanted >= axis[0]) & (wanted <= axis[-1]))
    low = np.clip(np.searchsorted(axis, wanted, side="right") - 1, 0, len(axis) - 2)
    fraction = (np.where(inside, wanted, axis[0]) - axis[low]) / steps[low]
    return low, np.clip(fraction, 0.0, 1.0), inside


def field_grid(
    times_us: Array, latitudes_deg: Array, longitudes_deg: Array, variables: dict[str, Array]
) -> FieldGrid:
    """Return a grid with its axes ascending; longitudes 0 to 360 are turned to -180 to 180.

    Parameters
    ----------
    variables : dict of str to ndarray, shape (nt, ny, nx)
        In the units of their names.

    Raises
    ------
    InputError
        An axis that repeats itself, or a shape that does not fit the axes.
    """
    names = tuple(sorted(variables))
    latitudes = np.asarray(latitudes_deg, dtype=np.float64)
    longitudes = np.asarray(longitudes_deg, dtype=np.float64)
    times = np.asarray(times_us, dtype=np.int64)
    shape = (len(times), len(latitudes), len(longitudes))
    for name in names:
        if variables[name].shape != shape:
            raise InputError(f"{name} has the shape {variables[name].shape}, its axes {shape}")
    values = np.stack([variables[name] for name in names], axis=-1).astype(np.float32)
    rows, columns, order = np.argsort(latitudes), _west_to_east(longitudes), np.argsort(times)
    turned = longitudes[columns]
    turned = turned[0] + np.cumsum(np.concatenate(([0.0], np.diff(turned) % 360.0)))
    start = (turned[0] + 180.0) % 360.0 - 180.0
    turned = turned - turned[0] + start
    values = values[order][:, rows][:, :, columns]
    if len(turned) > 2 and abs(turned[-1] - turned[0] + (turned[1] - turned[0]) - 360.0) < 1e-3:
        turned = np.append(turned, turned[0] + 360.0)  # once round the earth: close the circle
        values = np.concatenate((values, values[:, :, :1]), axis=2)
    for axis, what in (
        (latitudes[rows], "latitude"),
        (turned, "longitude"),
        (times[order], "time"),
    ):
        if len(axis) > 1 and not np.all(np.diff(axis) > 0):
            raise InputError(f"the {what} axis repeats a value")
    if not -90.0 <= latitudes.min() <= latitudes.max() <= 90.0:
        raise InputError(f"latitudes run from {latitudes.min()} to {latitudes.max()}")
    return FieldGrid(
        times_us=times[order],
        latitudes_deg=latitudes[rows],
        longitudes_deg=turned,
        names=names,
        values=np.ascontiguousarray(values),
        has_gaps=bool(np.isnan(values).any()),
    )


def _west_to_east(longitudes: Floats) -> Array:
    """Return the order that puts longitudes west to east, starting after the widest gap."""
    around = longitudes % 360.0
    order = np.argsort(around, kind="stable")
    if len(order) < 2:
        return order
    ring = around[order]
    gaps = np.diff(np.append(ring, ring[0] + 360.0))
    if np.ptp(gaps) < 1e-6 * 360.0:  # once round the earth
        return np.argsort((longitudes + 180.0) % 360.0, kind="stable")
    return np.roll(order, -(int(np.argmax(gaps)) + 1))


def packed(grid: FieldGrid) -> bytes:
    """Return the compact form of a grid; equal grids give equal bytes."""
    arrays: dict[str, Array] = {
        "times_us": grid.times_us,
        "latitudes_deg": grid.latitudes_deg,
        "longitudes_deg": grid.longitudes_deg,
    }
    for index, name in enumerate(grid.names):
        values = grid.values[..., index].astype(np.float64)
        known = np.isfinite(values)
        low = float(values[known].min()) if known.any() else 0.0
        high = float(values[known].max()) if known.any() else 0.0
        scale = (high - low) / STEPS or 1.0
        steps = np.rint((np.where(known, values, low) - low) / scale) - STEPS / 2
        arrays[f"v_{name}"] = np.where(known, steps, MISSING).astype(np.int16)
        arrays[f"s_{name}"] = np.array([scale, low])
    out = io.BytesIO()
    np.savez_compressed(out, allow_pickle=False, **arrays)
    return out.getvalue()


def unpacked(data: bytes) -> FieldGrid:
    """Return the grid of its compact form.

    Raises
    ------
    InputError
        Not such a form.
    """
    try:
        with np.load(io.BytesIO(data), allow_pickle=False) as held:
            names = tuple(sorted(key[2:] for key in held.files if key.startswith("v_")))
            stacked = []
            for name in names:
                steps, (scale, low) = held[f"v_{name}"], held[f"s_{name}"]
                values = (steps + STEPS / 2) * scale + low
                stacked.append(np.where(steps == MISSING, np.nan, values).astype(np.float32))
            values = np.stack(stacked, axis=-1)
            return FieldGrid(
                times_us=held["times_us"],
                latitudes_deg=held["latitudes_deg"],
                longitudes_deg=held["longitudes_deg"],
                names=names,
                values=values,
                has_gaps=bool(np.isnan(values).any()),
            )
    except (KeyError, ValueError, OSError) as failure:
        raise InputError(f"the stored grid cannot be read: {failure}") from None


def digest_of(data: bytes) -> str:
    """Return the SHA-256 of stored bytes, hex."""
    return hashlib.sha256(data).hexdigest()


_UNPACKED: dict[str, FieldGrid] = {}
KEPT = 96


def unpacked_once(digest: str, fetch: Callable[[str], bytes]) -> FieldGrid:
    """Return a stored grid, unpacked once: the same digest is always the same grid."""
    if digest not in _UNPACKED:
        while len(_UNPACKED) >= KEPT:
            _UNPACKED.pop(next(iter(_UNPACKED)), None)
        _UNPACKED[digest] = unpacked(fetch(digest))
    return _UNPACKED[digest]
