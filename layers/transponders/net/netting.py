"""The net: which transponders there are, boxed in from their replies, and how they stand."""

from __future__ import annotations

from collections.abc import Mapping
from copy import copy
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np
import numpy.typing as npt

from layers.contract import Moment
from layers.earth.arrays import Array, Floats
from layers.earth.clock import from_us, to_us
from layers.earth.errors import InputError
from layers.earth.geodesy import between
from layers.earth.plane import Plane, ellipse_of
from layers.earth.values import WeatherValue
from layers.journal.known import Entry, Known
from layers.transponders.model import Drop
from layers.transponders.net.boxin import FEWEST, Between, NetSolution, Replies, solve
from layers.transponders.net.her_way import her_way
from layers.transponders.net.mirror import other_side
from layers.transponders.net.moved import MovedTransponder, is_older, moved
from layers.transponders.net.priors import PLAIN_M_S, Priors, priors_of
from layers.transponders.net.sinking import expected
from layers.transponders.result import Boxed, BoxIn, SunkPlace, Transponder
from layers.transponders.sound.travel import straight_error_m, travel_table
from layers.transponders.sound.water import Water, harmonic_mean

SILENT_AFTER = timedelta(hours=6)  # a reply older than this makes the state stale; no source
REACH_M = 10_000.0  # a reply from further off is not believed; our own bound, no source


def net(
    known: Known,
    drops: list[Entry],
    made: Water | None,
    weather: WeatherValue | None,
    moment: Moment,
) -> tuple[tuple[Transponder, ...], BoxIn | None, dict[str, int]]:
    """Return the transponders in order of name, their box-in, and replies that cannot be."""
    latest = {entry.value.transponder: entry for entry in drops}
    names = sorted(latest)
    if not names:
        return (), None, {}
    should = {name: expected(latest[name], weather) for name in names}
    replies = _Heard(known.columns("transponders.range"), latest, moment.at)
    plane = Plane.about(should[names[0]].position)
    apart = between_each_other(known, latest, moment.at)
    able = tuple(name for name in names if len(replies.rows[name]) >= FEWEST)
    priors = priors_of(known, [latest[name] for name in able], made is not None, moment.at)
    solved = _box_in(able, latest, should, replies, apart, made, plane, priors)
    gone = {} if solved.boxin is None else moved(solved.boxin)
    first = {name: _boxed(name, should[name], solved) for name in gone}
    if gone:
        later = replies.since(gone)
        apart = [e for e in apart if not is_older(e, gone)]
        again = _box_in(able, latest, should, later, apart, made, plane, priors)
        solved, replies = (again, later) if again.boxin is not None else (solved, replies)
    states = _states(known, latest, moment.at)
    found = tuple(
        _transponder(name, latest[name], should[name], solved, replies, states.get(name), moment)
        for name in names
    )
    found = tuple(
        replace(one, moved=gone[one.name].words(one.name, first[one.name], one.boxed))
        if one.name in gone
        else one
        for one in found
    )
    return found, solved.boxin, replies.impossible


class _Heard:
    """The replies that may belong to the latest drops, by name, and those that cannot."""

    def __init__(self, columns: dict[str, Array], drops: dict[str, Entry], at: datetime) -> None:
        self.columns = columns
        self.impossible: dict[str, int] = {}
        self.rows: dict[str, npt.NDArray[np.intp]] = {}
        name = columns["transponder"]
        for which, entry in drops.items():
            mine = (name == which) & (columns["valid_at_us"] <= to_us(at))
            mine &= columns["valid_at_us"] >= to_us(entry.record.valid_at)
            self.rows[which] = np.flatnonzero(mine & self._possible(entry.value, mine))
        stray = ~np.isin(name, np.array(sorted(drops), dtype=object)) if len(name) else name == ""
        self._set_aside("from a transponder that was never dropped", int(np.sum(stray)))

    def _possible(self, drop: Drop, mine: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
        one_way = (self.columns["two_way_s"] - drop.turn_round_s) / 2.0
        slant = PLAIN_M_S * one_way
        short = one_way <= 0.0
        rise = drop.water_depth_m - drop.height_above_seabed_m - self.columns["transducer_depth_m"]
        near = ~short & (slant < 0.85 * rise - 10.0)
        far = slant > REACH_M
        self._set_aside("shorter than the turn-round delay", int(np.sum(short & mine)))
        self._set_aside("nearer than straight down", int(np.sum(near & mine)))
        self._set_aside(f"further than {REACH_M / 1000:.0f} km", int(np.sum(far & mine)))
        return np.asarray(~(short | near | far))

    def _set_aside(self, reason: str, count: int) -> None:
        if count:
            self.impossible[reason] = self.impossible.get(reason, 0) + count

    def since(self, gone: Mapping[str, MovedTransponder]) -> _Heard:
        """Return the replies without those of some transponders from before they were moved."""
        found, at = copy(self), self.columns["valid_at_us"]
        found.rows = {
            name: rows[at[rows] >= to_us(gone[name].since)] if name in gone else rows
            for name, rows in self.rows.items()
        }
        return found

    def last(self, name: str) -> datetime | None:
        """Return the time of the last reply that is possible."""
        rows = self.rows[name]
        return from_us(int(np.max(self.columns["valid_at_us"][rows]))) if len(rows) else None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Solved:
    names: tuple[str, ...]
    plane: Plane
    solution: NetSolution | None
    replies: Replies | None
    boxin: BoxIn | None
    why_not: str


def _box_in(
    able: tuple[str, ...],
    drops: dict[str, Entry],
    should: dict[str, SunkPlace],
    heard: _Heard,
    apart: list[Entry],
    made: Water | None,
    plane: Plane,
    priors: Priors,
) -> _Solved:
    if not able:
        return _Solved(
            names=(),
            plane=plane,
            solution=None,
            replies=None,
            boxin=None,
            why_not=f"fewer than {FEWEST} replies",
        )
    rows = np.concatenate([heard.rows[name] for name in able])
    which = np.repeat(np.arange(len(able)), [len(heard.rows[name]) for name in able])
    ranged = [e for e in apart if {e.value.one, e.value.other} <= set(able)]
    replies = replace(
        _replies(rows, which, able, drops, heard.columns, made, plane),
        between=_between(ranged, able, drops, made),
    )
    start = np.array(
        [
            [
                *(
                    float(v)
                    for v in plane.project(
                        should[n].position.latitude_deg, should[n].position.longitude_deg
                    )
                ),
                drops[n].value.water_depth_m - drops[n].value.height_above_seabed_m,
            ]
            for n in able
        ]
    )
    try:
        depth_sigma = max(drops[n].value.water_depth_sigma_m for n in able)
        solution = solve(replies, start, depth_sigma, priors)
    except InputError as reason:
        return _Solved(
            names=(), plane=plane, solution=None, replies=None, boxin=None, why_not=reason.words
        )
    boxin = BoxIn(
        scale=solution.scale,
        scale_sigma=solution.scale_sigma,
        sigma_m=solution.sigma_m,
        used=int(np.sum(solution.used)),
        out=int(np.sum(~solution.used)),
        reply_name=tuple(able[k] for k in which),
        reply_at_us=heard.columns["valid_at_us"][rows],
        reply_residual_m=solution.residual_m,
        reply_used=solution.used,
        straight_error_m=_straight(replies, solution, made),
        lever_m=solution.lever_m,
        delay_s=tuple(float(v) for v in solution.delay_s),
        told=solution.told,
        between=tuple(
            (e.value.one, e.value.other, float(gap), bool(used))
            for e, gap, used in zip(ranged, solution.between_m, solution.between_used, strict=True)
        ),
        priors=priors.words(),
        records=(*(e.id for e in ranged), *priors.records),
    )
    return _Solved(
        names=able, plane=plane, solution=solution, replies=replies, boxin=boxin, why_not=""
    )


def between_each_other(known: Known, drops: dict[str, Entry], at: datetime) -> list[Entry]:
    """Return the ranges that transponders took to each other since both were dropped."""
    entries = [e for e in known.entries("transponders.between") if e.record.valid_at <= at]
    return [
        e
        for e in entries
        if not e.disputed
        and {e.value.one, e.value.other} <= drops.keys()
        and all(e.record.valid_at >= drops[n].record.valid_at for n in (e.value.one, e.value.other))
    ]


def _between(
    ranged: list[Entry], able: tuple[str, ...], drops: dict[str, Entry], made: Water | None
) -> Between | None:
    if not ranged:
        return None
    z, c = _column(made)
    deep = {n: drops[n].value.water_depth_m - drops[n].value.height_above_seabed_m for n in able}
    speed = [harmonic_mean(z, c, deep[e.value.one], deep[e.value.other]) for e in ranged]
    turn = [drops[e.value.other].value.turn_round_s for e in ranged]
    return Between(
        asks=np.array([able.index(e.value.one) for e in ranged]),
        answers=np.array([able.index(e.value.other) for e in ranged]),
        one_way_s=(np.array([e.value.two_way_s for e in ranged]) - np.array(turn)) / 2.0,
        speed_m_s=np.array(speed),
        sigma_m=np.array([e.value.sigma_m for e in ranged]),
    )


def _replies(
    rows: npt.NDArray[np.intp],
    which: npt.NDArray[np.intp],
    able: tuple[str, ...],
    drops: dict[str, Entry],
    columns: dict[str, Array],
    made: Water | None,
    plane: Plane,
) -> Replies:
    east, north = plane.project(columns["latitude_deg"][rows], columns["longitude_deg"][rows])
    turn = np.array([drops[name].value.turn_round_s for name in able])
    depth = columns["transducer_depth_m"][rows]
    one_way = (columns["two_way_s"][rows] - turn[which]) / 2.0
    ships, at_s = columns["ship"][rows].astype(str), columns["valid_at_us"][rows] / 1e6
    heading, velocity = her_way(ships, at_s, east, north)
    z, c = _column(made)
    tables = tuple(
        travel_table(
            z,
            c,
            float(np.median(depth[which == k])),
            drops[name].value.water_depth_m - drops[name].value.height_above_seabed_m,
            1.2 * PLAIN_M_S * float(np.max(one_way[which == k])),
        )
        for k, name in enumerate(able)
    )
    return Replies(
        which=which.astype(np.int64),
        east_m=east,
        north_m=north,
        depth_m=depth,
        one_way_s=one_way,
        tables=tables,
        heading_rad=heading,
        velocity_m_s=velocity,
    )


def _column(made: Water | None) -> tuple[Floats, Floats]:
    if made is None:
        return np.array([0.0, 12_000.0]), np.array([PLAIN_M_S, PLAIN_M_S])
    return made.depth_m, made.speed_m_s


def _straight(replies: Replies, solution: NetSolution, made: Water | None) -> float | None:
    """Return the error of a straight ray at the longest reply that belongs, m."""
    if made is None:
        return None
    far = int(np.argmax(np.where(solution.used, replies.one_way_s, 0.0)))
    deep = float(solution.place_m[replies.which[far], 2])
    return straight_error_m(
        made.depth_m,
        made.speed_m_s,
        float(replies.depth_m[far]),
        min(deep, float(made.depth_m[-1])),
        float(replies.one_way_s[far]),
    )


def _boxed(name: str, should: SunkPlace, solved: _Solved) -> Boxed | None:
    if name not in solved.names or solved.solution is None or solved.replies is None:
        return None
    k, solution, replies = solved.names.index(name), solved.solution, solved.replies
    east, north, depth = (float(v) for v in solution.place_m[k])
    covariance = solution.covariance[k]
    position = solved.plane.position(east, north)
    off_m, off_deg, _ = between(should.position, position)
    allowed = 2.448 * float(np.sqrt(should.sigma_m**2 + np.max(np.diag(covariance)[:2])))
    mirror = other_side(replies, solution, k)
    mine = replies.which == k
    return Boxed(
        position=position,
        depth_m=depth,
        depth_sigma_m=float(np.sqrt(covariance[2, 2])),
        covariance=covariance,
        own_covariance=solution.own_covariance[k],
        delay_s=float(solution.delay_s[k]),
        ellipse=ellipse_of(covariance[:2, :2], solution.freedom),
        used=int(np.sum(mine & solution.used)),
        out=int(np.sum(mine & ~solution.used)),
        rms_m=float(np.sqrt(np.mean(solution.residual_m[mine & solution.used] ** 2))),
        off_m=off_m,
        off_true_deg=off_deg,
        out_of_place=off_m > allowed,
        other_side=None if mirror is None else solved.plane.position(*mirror),
    )


def _states(known: Known, drops: dict[str, Entry], at: datetime) -> dict[str, Entry]:
    """Return the latest report of the state of each transponder since it was dropped."""
    found: dict[str, Entry] = {}
    entries = [e for e in known.entries("transponders.state") if e.record.valid_at <= at]
    for entry in sorted(entries, key=lambda one: one.record.valid_at):
        drop = drops.get(entry.value.transponder)
        if drop is not None and entry.record.valid_at >= drop.record.valid_at:
            found[entry.value.transponder] = entry
    return found


def _transponder(
    name: str,
    drop: Entry,
    should: SunkPlace,
    solved: _Solved,
    heard: _Heard,
    report: Entry | None,
    moment: Moment,
) -> Transponder:
    last, state = heard.last(name), "not heard yet"
    if last is not None:
        state = "answers"
    if report is not None and (last is None or report.record.valid_at >= last):
        state = report.value.state
        if state in {"answers", "weak"}:
            last = report.record.valid_at
    boxed = _boxed(name, should, solved)
    battery = drop.value.battery_h
    age_h = (moment.at - drop.record.valid_at).total_seconds() / 3600.0
    records = (drop.id, *(() if report is None else (report.id,)))
    return Transponder(
        name=name,
        drop=drop.value,
        dropped_at=drop.record.valid_at,
        expected=should,
        boxed=boxed,
        why_not="" if boxed else (solved.why_not or f"fewer than {FEWEST} replies"),
        state=state,
        last_reply=last,
        battery_h_left=None if battery is None else max(0.0, battery - age_h),
        battery_percent=report.value.battery_percent if report is not None else None,
        stale=last is None or moment.at - last > SILENT_AFTER,
        disputed=drop.disputed,
        records=records,
    )
