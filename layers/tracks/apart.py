"""Tell apart what one number sends: two ships with one MMSI, and a clock that is wrong.

Fixes are put into threads by what a ship can reach: a fix joins the thread whose last fix it can
have come from, of several the one whose speed brings her there, and begins another where there is
none. Two threads that are both alive are two ships, or one of them is false; they are never joined
into one track.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from layers.earth.arrays import Bools, Floats, Ints
from layers.earth.units import M_PER_NMI, M_S_PER_KN
from layers.tracks.follow import JUMP_AT_LEAST_NMI, Sorted, great_circle_m

# Our own limits, common practice, no source.
REACH_OVER = 1.3  # a ship is believed to make good so much more than her greatest speed
REACH_MORE_KN = 5.0  # and so much beyond that, for current and rounding
ALIVE_US = 6 * 3_600_000_000  # a thread that has been silent for longer is no second ship
CLOCK_NMI = 0.25  # a fix this near to an earlier place of hers repeats it
CLOCK_LEAST_S = 600.0
CLOCK_FIXES = 2
CLOCK_BACK = 0.6  # of the lag's run: so far behind where she would be by then, at least
TOLD_S = 300.0  # over so short a time she makes good no more than the speed she tells allows
MOST_THREADS = 8
MOST_SENDERS = 3
CLOCK_LOOKED_AT = 60  # newest fixes of a second track that are held against hers
TAIL = 3_000  # newest fixes that are looked at for a wrong clock


def reach_kn(max_speed_kn: float | None, otherwise_kn: float) -> float:
    """Return the speed above which a step is a jump: from her own greatest where entered."""
    if max_speed_kn is None:
        return otherwise_kn
    return min(otherwise_kn, max_speed_kn * REACH_OVER + REACH_MORE_KN)


def threads(
    at_us: Ints, latitudes_deg: Floats, longitudes_deg: Floats, limit_kn: float, speed_kn: Floats
) -> Ints:
    """Return which thread each fix belongs to, shape (n,), 0 for the one that begins first.

    Parameters
    ----------
    at_us : ndarray of int64, shape (n,)
        Ascending.
    limit_kn : float
        What the ship can make good.
    speed_kn : ndarray, shape (n,)
        What she tells of her speed; NaN where she does not.
    """
    n = len(at_us)
    found = np.zeros(n, dtype=np.int64)
    last: list[int] = []  # the newest fix of each thread, and what she ran there
    run_m_s: list[float] = []
    for k in range(n):
        told_m_s = float(speed_kn[k]) * M_S_PER_KN
        if not last:
            last.append(k)
            run_m_s.append(told_m_s)
            continue
        held = np.array(last)
        away = great_circle_m(
            latitudes_deg[held],
            longitudes_deg[held],
            np.full(len(held), latitudes_deg[k]),
            np.full(len(held), longitudes_deg[k]),
        )
        span_s = np.maximum((at_us[k] - at_us[held]) / 1e6, 1.0)
        reach = _within_reach_kn(limit_kn, span_s, speed_kn[held], speed_kn[k])
        near = away <= np.maximum(span_s * reach * M_S_PER_KN, JUMP_AT_LEAST_NMI * M_PER_NMI)
        thread = len(last)
        if near.any():  # of several the one whose run brings her there, not the one that lies near
            off = away - np.nan_to_num(run_m_s) * span_s
            thread = int(np.flatnonzero(near)[np.argmin(np.abs(off)[near])])
        elif len(last) >= MOST_THREADS:
            thread = int(np.argmin(away))
        if thread < len(last):
            made_m_s = float(away[thread] / span_s[thread])
            last[thread], run_m_s[thread] = k, made_m_s if np.isnan(told_m_s) else told_m_s
        else:
            last.append(k)
            run_m_s.append(told_m_s)
        found[k] = thread
    return found


def _within_reach_kn(
    limit_kn: float, span_s: Floats, one_kn: Floats, other_kn: Floats | float
) -> Floats:
    """Return what she can make good from one fix to another, by what both tell of her speed."""
    told = np.maximum(one_kn, other_kn) * REACH_OVER + REACH_MORE_KN
    return np.where((span_s <= TOLD_S) & (told < limit_kn), told, limit_kn)


@dataclass(frozen=True, slots=True, kw_only=True)
class Apart:
    """The rows of one subject told apart; all are indices into the rows that came in.

    ``own`` is the track that is hers. ``other`` is the newest second track with the same number,
    empty where there is none; ``settled`` is false while both are alive. ``clock`` are fixes that
    repeat where she was ``clock_s`` before, or was that long after where it is negative: a clock
    that is wrong.
    """

    own: Ints
    other: Ints
    settled: bool
    clock: Ints
    clock_s: float


def told_apart(found: Sorted, rows: slice, limit_kn: float) -> Apart:
    """Return one subject's fixes told apart.

    Hers is the thread that has been seen for longest; a thread of one fix is a single wild fix,
    which stays in her track and is shown as standing alone.
    """
    at, whole = found.at_us[rows], np.arange(rows.stop - rows.start)
    latitudes, longitudes = found.latitudes_deg[rows], found.longitudes_deg[rows]
    clock, clock_s = _wrong_clock(found, rows)
    good = whole[~clock]
    bare = Apart(own=good, other=whole[:0], settled=True, clock=whole[clock], clock_s=clock_s)
    step = great_circle_m(
        latitudes[good][:-1], longitudes[good][:-1], latitudes[good][1:], longitudes[good][1:]
    )
    span_s = np.maximum(np.diff(at[good]) / 1e6, 1.0)
    told_kn = found.speed_kn[rows][good]
    reach = _within_reach_kn(limit_kn, span_s, told_kn[:-1], told_kn[1:])
    too_far = (step / span_s / M_S_PER_KN > reach) & (step > JUMP_AT_LEAST_NMI * M_PER_NMI)
    if not too_far.any():
        return bare
    thread = threads(at[good], latitudes[good], longitudes[good], limit_kn, told_kn)
    counts = np.bincount(thread)
    lasting = np.flatnonzero(counts >= 2)
    if not 2 <= len(lasting) <= MOST_SENDERS:  # more is no second ship but a jammed receiver
        return bare
    first = np.array([at[good][thread == t][0] for t in lasting])
    last = np.array([at[good][thread == t][-1] for t in lasting])
    mine = lasting[np.lexsort((first, -(last - first)))[0]]
    others = lasting[lasting != mine]
    newest = others[np.argmax([last[np.flatnonzero(lasting == t)[0]] for t in others])]
    ends = {int(t): int(e) for t, e in zip(lasting, last, strict=True)}
    alive = min(ends[int(mine)], ends[int(newest)]) >= at[-1] - ALIVE_US
    single = np.isin(thread, np.flatnonzero(counts < 2))
    own = good[(thread == mine) | single]
    lag_s = _lag_s(found, rows.start + good[thread == mine], rows.start + good[thread == newest])
    if lag_s and len(lasting) == 2:
        wrong = good[thread == newest]
        return Apart(own=own, other=whole[:0], settled=True, clock=wrong, clock_s=lag_s)
    return Apart(
        own=own,
        other=good[thread == newest],
        settled=not alive,
        clock=whole[clock],
        clock_s=clock_s,
    )


def _wrong_clock(found: Sorted, rows: slice) -> tuple[Bools, float]:
    """Return which of the newest fixes repeat her earlier track at one constant lag.

    A ship does not lie where she lay an hour ago, and a minute later where she lay a minute
    after that, while she steams: the later times are wrong by the lag. One that goes round and
    round does; but she comes there from the fix before, and a wrong clock sets her back.
    """
    n = rows.stop - rows.start
    flags = np.zeros(n, dtype=np.bool_)
    begin = max(rows.start, rows.stop - TAIL)
    part = slice(begin, rows.stop)
    at = found.at_us[part]
    m = len(at)
    if m < 2 * CLOCK_FIXES + 1:
        return flags, 0.0
    latitudes, longitudes = found.latitudes_deg[part], found.longitudes_deg[part]
    made_kn = great_circle_m(latitudes[:-1], longitudes[:-1], latitudes[1:], longitudes[1:])
    made_kn = made_kn / np.maximum(np.diff(at) / 1e6, 1.0) / M_S_PER_KN
    told = found.speed_kn[part]
    speed = np.where(np.isnan(told), np.append(made_kn, made_kn[-1]), told)
    moving = speed > 2.0
    for run in range(min(m // 2, 60), CLOCK_FIXES - 1, -1):
        late, early = np.arange(m - run, m), np.arange(m - run)
        if not moving[late].all():
            continue
        away = great_circle_m(
            np.full(len(early), latitudes[late[0]]),
            np.full(len(early), longitudes[late[0]]),
            latitudes[early],
            longitudes[early],
        )
        k = int(np.argmin(away))
        lag_us = int(at[late[0]] - at[k])
        back_m = float(away[-1])  # from her last fix before the run
        if away[k] > CLOCK_NMI * M_PER_NMI or lag_us < CLOCK_LEAST_S * 1e6:
            continue
        if back_m < 4 * CLOCK_NMI * M_PER_NMI:
            continue
        if _set_back_m(found, part, int(early[-1])) < (
            CLOCK_BACK * float(speed[late[0]]) * M_S_PER_KN * lag_us / 1e6
        ):
            continue
        then = at[late] - lag_us
        if then[-1] > at[early[-1]]:
            continue
        lat = np.interp(then, at[early], latitudes[early])
        lon = np.interp(then, at[early], np.unwrap(longitudes[early], period=360.0))
        off = great_circle_m(lat, lon, latitudes[late], longitudes[late])
        if (off <= CLOCK_NMI * M_PER_NMI).all():
            flags[n - run :] = True
            return flags, lag_us / 1e6
    return flags, 0.0


def _lag_s(found: Sorted, mine: Ints, other: Ints) -> float:
    """Return how long before a second track lay along hers, 0 where it is another's.

    Two ships do not pass through the same places at one lag; one ship under two clocks does.
    Negative where she came to those places after what they say: their clock is behind. Places
    that her own track does not reach tell nothing of it; half of them and two at least must.
    """
    mine, other = mine[-TAIL:], other[-CLOCK_LOOKED_AT:]
    at_s = found.at_us[mine] / 1e6
    m_per_deg = 60.0 * M_PER_NMI
    home, middle = found.latitudes_deg[mine[-1]], found.longitudes_deg[mine[-1]]
    narrow = float(np.cos(np.radians(home)))

    def plane(which: Ints) -> tuple[Floats, Floats]:
        turn = (found.longitudes_deg[which] - middle + 180.0) % 360.0 - 180.0
        return turn * narrow * m_per_deg, (found.latitudes_deg[which] - home) * m_per_deg

    x, y = plane(mine)
    their_x, their_y = plane(other)
    if len(mine) < 2 or np.hypot(np.ptp(their_x), np.ptp(their_y)) < 4 * CLOCK_NMI * M_PER_NMI:
        return 0.0
    step_x, step_y = np.diff(x), np.diff(y)
    length2 = np.maximum(step_x**2 + step_y**2, 1.0)
    share = (their_x[:, None] - x[:-1]) * step_x + (their_y[:, None] - y[:-1]) * step_y
    share = np.clip(share / length2, 0.0, 1.0)
    off = np.hypot(their_x[:, None] - x[:-1] - share * step_x,
                   their_y[:, None] - y[:-1] - share * step_y)  # fmt: skip
    nearest = off.argmin(axis=1)
    each = np.arange(len(other))
    passed_s = at_s[nearest] + share[each, nearest] * np.diff(at_s)[nearest]
    their_s = found.at_us[other] / 1e6
    met = off[each, nearest] <= CLOCK_NMI * M_PER_NMI
    if met.sum() < CLOCK_FIXES:
        return 0.0
    lag_s = float(np.median((their_s - passed_s)[met]))
    then = their_s - lag_s
    reached = (then >= at_s[0]) & (then <= at_s[-1])
    if reached.sum() < max(CLOCK_FIXES, len(other) / 2) or abs(lag_s) < CLOCK_LEAST_S:
        return 0.0
    away = np.hypot(np.interp(then, at_s, x) - their_x, np.interp(then, at_s, y) - their_y)
    return lag_s if (away[reached] <= CLOCK_NMI * M_PER_NMI).all() else 0.0


def _set_back_m(found: Sorted, part: slice, k: int) -> float:
    """Return how far the fix after the ``k``-th lies from where she would be by holding on."""
    at = found.at_us[part]
    north, east = _steps_m(found, part, k)
    speed = float(found.speed_kn[part][k]) * M_S_PER_KN
    course = np.radians(float(found.course_true_deg[part][k]))
    if not np.isfinite(speed + course):
        before_north, before_east = _steps_m(found, part, k - 1)
        took_s = max((at[k] - at[k - 1]) / 1e6, 1.0)
        speed = float(np.hypot(before_north, before_east)) / took_s
        course = np.arctan2(before_east, before_north)
    run_m = speed * (at[k + 1] - at[k]) / 1e6
    return float(np.hypot(north - run_m * np.cos(course), east - run_m * np.sin(course)))


def _steps_m(found: Sorted, part: slice, k: int) -> tuple[float, float]:
    """Return the way from the ``k``-th fix to the next towards north and east, on a plane."""
    lat, lon = found.latitudes_deg[part][k : k + 2], found.longitudes_deg[part][k : k + 2]
    turn = (lon[1] - lon[0] + 180.0) % 360.0 - 180.0
    m_per_deg = 60.0 * M_PER_NMI
    return (
        float(lat[1] - lat[0]) * m_per_deg,
        float(turn * np.cos(np.radians(lat.mean()))) * m_per_deg,
    )
