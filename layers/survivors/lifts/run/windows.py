"""When the sea forbids a part of a sortie: spans of time, draw by draw, and the next fit."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from layers.earth.arrays import Floats, Ints
from layers.earth.sea.draws import HOLDS_H, SEA_DRAWS, errors
from layers.earth.values import SeaSeries
from layers.survivors.lifts.model import LiftLimits
from layers.survivors.lifts.run.draws import Uniforms

NEVER = 2**40  # seconds; later than anything that is asked
ERROR_HOLDS_H = HOLDS_H["hs_m"]  # how long a forecast's error in wave height keeps its sign
# Beyond the forecast the sea goes over to what is usual in it within about this: our assumption.
BLOW_HOLDS_H = 18.0
TWO_TIDES_H = 24.84  # two lunar semidiurnal periods of 12.42 h
HOUR_US = 3_600_000_000


@dataclass(frozen=True, slots=True)
class Spans:
    """Spans of seconds that are closed to one part of a sortie, per draw.

    Parameters
    ----------
    starts, ends : ndarray of int64, shape (n_draws or 1, k)
        In order, not touching; filled up with ``NEVER``.
    """

    starts: Ints
    ends: Ints

    def push(self, rows: Ints, begin: Ints, low: Ints, high: Ints) -> Ints:
        """Return the starts put off so that the part is clear of the first span it meets.

        Parameters
        ----------
        rows : ndarray of int64, shape (m,)
            Which draws.
        begin : ndarray of int64, shape (m,)
            Start of the sortie, seconds.
        low, high : ndarray of int64, shape (m,)
            From when to when after it the part runs.
        """
        at = begin + low
        if self.starts.shape[0] == 1:
            place = np.searchsorted(self.ends[0], at, side="right")
            starts = np.append(self.starts[0], NEVER)[place]
            ends = np.append(self.ends[0], NEVER)[place]
        else:
            place = (self.ends[rows] <= at[:, None]).sum(axis=1)
            place = np.minimum(place, self.ends.shape[1] - 1)
            starts, ends = self.starts[rows, place], self.ends[rows, place]
        hit = (starts < begin + high) & (ends > at)
        return np.where(hit, ends - low, begin)


OPEN = Spans(np.full((1, 1), NEVER, dtype=np.int64), np.full((1, 1), NEVER, dtype=np.int64))


@dataclass(frozen=True, slots=True, kw_only=True)
class ClosedSpans:
    """The spans closed to each part of a sortie."""

    launch: Spans = OPEN
    recovery: Spans = OPEN
    recovery_seen: Spans = OPEN  # as the watch's forecast has it when the vehicle dives
    water: Spans = OPEN
    mating: Spans = OPEN
    dark: Spans = OPEN


def closed_spans(values: Floats, limit: float, at_s: Ints) -> Spans:
    """Return when values are above a limit, the crossings interpolated between the times.

    Parameters
    ----------
    values : ndarray, shape (n_draws or 1, n)
        At the times; no NaN.
    limit : float
        Above it is closed.
    at_s : ndarray of int64, shape (n,)
        The times, seconds, ascending. Beyond either end the last value holds.
    """
    closed = values > limit
    edge = np.zeros((values.shape[0], 1), dtype=bool)
    padded = np.hstack([edge, closed, edge]).astype(np.int8)
    turns = np.diff(padded, axis=1)  # column j: between time j - 1 and time j
    opens_row, opens_at = np.nonzero(turns == 1)
    shuts_row, shuts_at = np.nonzero(turns == -1)
    if not len(opens_row):
        return OPEN
    starts = _crossing(values, limit, at_s, opens_row, opens_at, before=-NEVER)
    ends = _crossing(values, limit, at_s, shuts_row, shuts_at, before=NEVER)
    counts = np.bincount(opens_row, minlength=values.shape[0])
    first = np.concatenate([[0], np.cumsum(counts)[:-1]])
    place = np.arange(len(opens_row)) - first[opens_row]
    shape = (values.shape[0], int(counts.max()) + 1)  # the last column is always NEVER
    filled = Spans(np.full(shape, NEVER), np.full(shape, NEVER))
    filled.starts[opens_row, place] = starts
    filled.ends[opens_row, place] = np.maximum(ends, starts + 1)
    return filled


def _crossing(
    values: Floats, limit: float, at_s: Ints, row: Ints, column: Ints, *, before: int
) -> Ints:
    """Return where values cross a limit between a column and the one before it."""
    n = values.shape[1]
    inside = (column > 0) & (column < n)
    right = np.clip(column, 1, n - 1) if n > 1 else np.zeros_like(column)
    left = np.maximum(right - 1, 0)
    low, high = values[row, left], values[row, right]
    step = np.where(high == low, 1.0, high - low)
    part = np.clip((limit - low) / step, 0.0, 1.0)
    at = at_s[left] + np.rint(part * (at_s[right] - at_s[left])).astype(np.int64)
    return np.where(inside, at, before)


def wave_draws(series: SeaSeries, uniforms: Uniforms) -> Floats:
    """Return significant wave heights in metres, shape (n_draws, n).

    The forecast with an error of its own sigma that keeps its sign for about
    ``ERROR_HOLDS_H``: a first-order autoregression in time.
    """
    return _heights(series, wave_errors(series, uniforms))


def wave_errors(series: SeaSeries, uniforms: Uniforms) -> Floats:
    """Return the errors of the forecast in standard deviations, shape (n_draws, n).

    Drawn by the one model of the sea that windows and the response chain draw from: the gale that
    delays the ship in a draw is the one that closes the site in it.
    """
    n = uniforms.n_draws
    own = errors("hs_m", series.at_us, min(n, SEA_DRAWS)).astype(np.float64)
    return own if n <= SEA_DRAWS else own[np.arange(n) % SEA_DRAWS]


def waves_seen(series: SeaSeries, errors: Floats, lead_h: float) -> Floats:
    """Return the wave heights as the watch expects them so many hours before, (n_draws, n).

    It sees the sea of that hour, and so the forecast's error then; what is left of that error
    by the time asked about is what it corrects its forecast by. The sea to come it does not know.
    """
    at = series.at_us.astype(np.float64)
    then = at - lead_h * 3.6e9
    place = np.clip(np.searchsorted(at, then, side="right") - 1, 0, max(len(at) - 2, 0))
    after = np.minimum(place + 1, len(at) - 1)
    step = np.where(at[after] > at[place], at[after] - at[place], 1.0)
    part = np.clip((then - at[place]) / step, 0.0, 1.0)
    seen = errors[:, place] * (1.0 - part) + errors[:, after] * part
    return _heights(series, seen * np.exp(-lead_h / ERROR_HOLDS_H))


def _heights(series: SeaSeries, errors: Floats) -> Floats:
    sigma = np.nan_to_num(series.hs_sigma_m, nan=0.0)
    return np.asarray(np.maximum(_filled(series.hs_m) + sigma * errors, 0.0))


def extended(series: SeaSeries, until_us: int) -> SeaSeries:
    """Return a forecast carried on hour by hour beyond its end, where nothing is forecast.

    Waves go over from the last value to the mean of the forecast, with the spread of the whole
    forecast; the stream repeats after two tides, daylight after a day. A stand-in, not a
    forecast: what rests on it is said to lie beyond the forecast.
    """
    last_us = int(series.at_us[-1])
    count = (until_us - last_us) // HOUR_US
    if count <= 0:
        return series
    after_h = np.arange(1, count + 1, dtype=np.float64)
    at_us = last_us + np.arange(1, count + 1, dtype=np.int64) * HOUR_US
    hs = _filled(series.hs_m)
    fades = np.exp(-after_h / BLOW_HOLDS_H)
    sigma_end = float(_filled(series.hs_sigma_m)[-1])
    sigma = np.sqrt(fades * sigma_end**2 + (1.0 - fades) * (float(hs.var()) + sigma_end**2))
    tide = _before(series.at_us, at_us, TWO_TIDES_H)
    day = _before(series.at_us, at_us, 24.0)
    blank = np.full(count, np.nan)
    return replace(
        series,
        at_us=np.concatenate([series.at_us, at_us]),
        hs_m=np.concatenate([hs, hs.mean() + fades * (hs[-1] - hs.mean())]),
        hs_sigma_m=np.concatenate([_filled(series.hs_sigma_m), sigma]),
        tp_s=np.concatenate([series.tp_s, blank]),
        wind_kn=np.concatenate([series.wind_kn, blank]),
        wind_sigma_kn=np.concatenate([series.wind_sigma_kn, blank]),
        current_surface_kn=_carried(series.current_surface_kn, tide),
        current_seat_kn=_carried(series.current_seat_kn, tide),
        visibility_nmi=np.concatenate([series.visibility_nmi, blank]),
        daylight=np.concatenate([series.daylight, series.daylight[day]]),
        tp_sigma_s=None,
        current_surface_sigma_kn=None,
        current_seat_sigma_kn=None,
        visibility_sigma_nmi=None,
    )


def _before(known_us: Ints, at_us: Ints, period_h: float) -> Ints:
    """Return where in a series the same phase was, as many whole periods before as it takes."""
    period_us = round(period_h * HOUR_US)
    back = -((int(known_us[-1]) - at_us) // period_us)
    place = np.searchsorted(known_us, at_us - back * period_us)
    return np.clip(place, 0, len(known_us) - 1)


def _carried(values: Floats, places: Ints) -> Floats:
    filled = _filled(values)
    return np.concatenate([filled, filled[places]])


def _filled(values: Floats) -> Floats:
    """Return values with a gap filled by the last one known before it (after it, at the start)."""
    known = np.flatnonzero(np.isfinite(values))
    if not len(known):
        return np.zeros_like(values)
    place = np.maximum(np.searchsorted(known, np.arange(len(values)), side="right") - 1, 0)
    return np.asarray(values[known[place]])


def sea_spans(
    series: SeaSeries | None,
    waves: Floats | None,
    limits: LiftLimits,
    at_us: int,
    later_s: int = 0,
    higher_m: float = 0.0,
    seen: Floats | None = None,
) -> ClosedSpans:
    """Return when the sea forbids each part of a sortie under these limits.

    Parameters
    ----------
    series : SeaSeries or None
        Expected at the datum; None: the sea forbids nothing, and the result says so.
    waves : ndarray, shape (n_draws, n) or None
        From :func:`wave_draws`.
    limits : LiftLimits
        As entered.
    at_us : int
        Time zero of the seconds, UTC microseconds.
    later_s, higher_m
        A weather case: everything so much later, waves so much higher.
    seen : ndarray, shape (n_draws, n), optional
        From :func:`waves_seen`: what a recovery is decided on; without it the sea itself.
    """
    if series is None or waves is None or not len(series.at_us):
        return ClosedSpans()
    at_s = (series.at_us - at_us) // 1_000_000 + later_s
    high = waves + higher_m
    recovery = closed_spans(high, limits.recovery_hs_m, at_s)
    dark = np.where(series.daylight, 0.0, 1.0)[None, :]
    return ClosedSpans(
        launch=closed_spans(high, limits.launch_hs_m, at_s),
        recovery=recovery,
        recovery_seen=recovery
        if seen is None
        else closed_spans(seen + higher_m, limits.recovery_hs_m, at_s),
        water=closed_spans(
            _filled(series.current_surface_kn)[None, :], limits.through_water_kn, at_s
        ),
        mating=closed_spans(_filled(series.current_seat_kn)[None, :], limits.mating_kn, at_s),
        dark=closed_spans(dark, 0.5, at_s) if limits.daylight_only else OPEN,
    )
