"""May we dive: one answer for a whole sortie, with the hour to decide by.

A sortie begun at any ten minutes ahead is held part by part against what is expected: *kept*,
*broken*, or *not known* where nothing is forecast for an hour it needs. What was observed near the
place in the last hours goes before the forecast of now, and forbids without any forecast. What is
not known never counts as yes, and neither does a sortie that is likelier to break a limit than to
keep them all: each may be kept by what is expected, and one of them is not.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np

from layers.earth.arrays import Bools, Floats
from layers.earth.clock import clock_words, from_us
from layers.earth.sea.draws import SeaDraws
from layers.earth.uncertain import SURE, NotKnown, Number, Quantity, chance_words
from layers.weather.sea.expected import STEP_US, ExpectedSea
from layers.weather.sea.pulled import ObservedNear
from layers.weather.sea.sortie import SortiePart, SortieWeather
from layers.weather.sea.windows import (
    LIMITS,
    OBSERVED_HOLDS,
    AgainstLimit,
    Check,
    against,
    checks,
    spans,
    steps_of,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Dive:
    """Whether a whole sortie may begin.

    Parameters
    ----------
    open : bool or None
        None: not known, and ``missing`` says what to ask for.
    begins : datetime or None
        When a sortie may begin; now where it may, None where no such hour is in sight.
    until : datetime or None
        The last time a sortie may begin in that window; None where its end is not in sight.
    because : str
        What shuts it or ends it, in words.
    decide_by : datetime or None
        Latest hour to decide so that the sortie begins by ``until``.
    chance : Number, Bounds or NotKnown
        That a sortie begun at ``begins`` is done within all limits.
    surely : datetime or None
        The first hour from ``begins`` on at which that chance is 90 %.
    starts : tuple of (datetime, datetime, bool or None)
        The hours ahead at which a sortie may begin (True), may not, or nothing is known.
    observed : tuple of AgainstLimit
        What is observed now against the limits of launch and recovery.
    """

    open: bool | None
    begins: datetime | None
    until: datetime | None
    because: str
    decide_by: datetime | None
    chance: Quantity
    surely: datetime | None
    missing: tuple[str, ...]
    starts: tuple[tuple[datetime, datetime, bool | None], ...]
    chance_by_start: Floats
    observed: tuple[AgainstLimit, ...]
    sortie: SortieWeather
    at: datetime
    rests_on: tuple[str, ...]

    @property
    def words(self) -> str:
        """As it is said: ``sea for a dive: no, because recovery shuts at 0820Z``."""
        if self.open is None:
            return f"sea for a dive: not known: {self.because}"
        if not self.open:
            when = ""
            if self.begins and isinstance(self.chance, Number):
                when = f", not before {clock_words(self.begins, self.at)}"
                if self.chance.value < SURE:
                    when += f" ({chance_words(self.chance.value)} then{self._sure_words()})"
            return f"sea for a dive: no{when}, because {self.because}"
        until = f" until {clock_words(self.until, self.at)}" if self.until else ""
        return f"sea for a dive: yes{until}, {self.because}"

    def _sure_words(self) -> str:
        if self.surely is None:
            return ", 90 at no hour in sight"
        return f", 90 from {clock_words(self.surely, self.at)}"


EVEN = 0.5  # a sortie that is likelier to fail is no yes (our own rule)
AT_WORK = "at the place of work"  # where there is none yet


def may_dive(
    sortie: SortieWeather,
    ahead: ExpectedSea | None,
    drawn: SeaDraws | None,
    seen: Mapping[str, ObservedNear],
    at: datetime,
    rests_on: Sequence[str] = (),
    *,
    where: str = AT_WORK,
) -> Dive:
    """Return whether a whole sortie may begin at a time, and when it next may.

    Parameters
    ----------
    ahead, drawn
        What is expected at the place, and draws of it; None without forecast and tide.
    seen : mapping of str to ObservedNear
        What was observed near the place in the last hours.
    where : str
        The place that it is asked for: ``"at the datum"``.
    """
    observed = tuple(
        each
        for part in {part.name: part for part in sortie.parts}.values()
        if part.name in ("launch", "recovery")
        for each in against(part.limit.model_copy(update={"operation": part.name}), seen)
    )
    begun_with = {part.name for part in sortie.parts if part.from_h == 0.0}
    over = [e for e in observed if e.operation in begun_with and not e.within]
    bare = Dive(
        open=None,
        begins=None,
        until=None,
        because="",
        decide_by=None,
        chance=NotKnown(unit="chance", at=at),
        surely=None,
        missing=(),
        starts=(),
        chance_by_start=np.empty(0),
        observed=observed,
        sortie=sortie,
        at=at,
        rests_on=(*sortie.rests_on, *rests_on),
    )
    if ahead is None or drawn is None or sortie.whole_h is None or sortie.missing:
        return _unforecast(bare, over, ahead, where)
    return _forecast(bare, over, ahead, drawn)


def _unforecast(
    bare: Dive, over: Sequence[AgainstLimit], ahead: ExpectedSea | None, where: str
) -> Dive:
    missing = list(bare.sortie.missing)
    if ahead is None:
        missing.append(f"a forecast {where}")
    if over:
        return replace(bare, open=False, because=_observed_words(over), missing=tuple(missing))
    because = "; ".join(missing)
    within = [e for e in bare.observed if e.operation == "launch"]
    if within:
        because += f" (observed now {', '.join(e.words for e in within)})"
    return replace(bare, because=because, missing=tuple(missing))


def _observed_words(over: Sequence[AgainstLimit]) -> str:
    said = []
    for each in over:
        when = clock_words(from_us(each.seen.at_us), from_us(each.seen.at_us))
        doubt = f"; doubtful: {each.seen.doubtful}" if each.seen.doubtful else ""
        said.append(
            f"{each.operation}: {each.words} (observed {when} at {each.seen.station}{doubt})"
        )
    return "; ".join(said)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Held:
    """One part against what is expected, for every start, shape (n,)."""

    part: SortiePart
    low: int
    high: int
    checks: tuple[Check, ...]
    broken: Bools
    unknown: Bools


def _forecast(
    bare: Dive, over: Sequence[AgainstLimit], ahead: ExpectedSea, drawn: SeaDraws
) -> Dive:
    at, first = bare.at, ahead.at(bare.at)
    n = len(ahead.at_us)
    held = [_held(part, ahead, drawn) for part in bare.sortie.parts]
    broken = np.any([one.broken for one in held], axis=0)
    unknown = np.any([one.unknown for one in held], axis=0)
    chance = _chance(held, n)
    if over:
        broken[first : first + OBSERVED_HOLDS] = True
        chance[first : first + OBSERVED_HOLDS] = 0.0
    shut = broken | (~unknown & (chance < EVEN))
    may = ~shut & ~unknown
    later = np.flatnonzero(may[first:])
    begins = int(later[0]) + first if len(later) else None
    found, end = bare, None  # the first start after the window that may not, or is not known
    if begins is not None:
        closed = np.flatnonzero(~may[begins:])
        end = begins + int(closed[0]) if len(closed) else n
        then = Number(value=float(chance[begins]), unit="chance", at=at)
        found = replace(bare, begins=max(from_us(ahead.at_us[begins]), at), chance=then)
    seen_to_end = end is not None and end < n and bool(shut[end])
    last = None if end is None else from_us(ahead.at_us[end - 1])
    found = replace(
        found,
        open=True if begins == first else (False if shut[first] else None),
        until=last if seen_to_end or begins == first else None,
        surely=_surely(chance, may, begins, ahead, at),
        starts=_starts(may, shut, ahead, first),
        chance_by_start=chance,
    )
    if found.until is not None and seen_to_end:
        found = replace(found, decide_by=found.until - timedelta(hours=bare.sortie.notice_h))
    if found.open:
        why = _why(held, end, ahead, at, chance) if end is not None else ""
        late = ""
        if found.decide_by is not None and found.decide_by < at:
            late = f"; it had to be decided by {clock_words(found.decide_by, at)}"
        return replace(found, because=f"{chance_words(float(chance[first]))}; {why}{late}")
    if found.open is None:
        what = _missing_words(held, first, ahead, at)
        return replace(found, because="; ".join(what), missing=tuple(what))
    because = _observed_words(over) or _why(held, first, ahead, at, chance)
    if begins is None:
        because += f"; no hour in sight to {clock_words(from_us(ahead.at_us[-1]), at)}"
        tail = np.flatnonzero(unknown[first:] & ~shut[first:])
        if len(tail):
            because += f" ({', '.join(_missing_words(held, first + int(tail[0]), ahead, at))})"
    return replace(found, because=because)


def _held(part: SortiePart, ahead: ExpectedSea, drawn: SeaDraws) -> _Held:
    """Return, for each start, whether a part breaks a limit or meets an hour not known."""
    found = tuple(checks(part.limit, ahead, drawn))
    # a part is held at both ends of every step it touches; its length is never rounded down
    low = int(np.floor(part.from_h * 3.6e9 / STEP_US + 1e-9))
    high = max(low + 1, steps_of(part.until_h))
    n = len(ahead.at_us)
    bad, blind = np.zeros(n, dtype=np.bool_), np.zeros(n, dtype=np.bool_)
    for check in found:
        known = check.known.copy()
        if ahead.not_forecast(check.variable):
            known[:] = False  # an observation carried on is no forecast
        bad |= known & ~check.kept
        blind |= ~known
    return _Held(
        part=part,
        low=low,
        high=high,
        checks=found,
        broken=_any_between(bad, low, high, beyond=False),
        unknown=_any_between(blind, low, high, beyond=True),
    )


def _any_between(flags: Bools, low: int, high: int, *, beyond: bool) -> Bools:
    """Return whether any step from ``low`` to ``high`` after each start is flagged."""
    n = len(flags)
    whole = np.concatenate((flags, np.full(high + 1, beyond)))
    total = np.concatenate(([0], np.cumsum(whole)))
    begin = np.arange(n)
    return np.asarray(total[begin + high + 1] > total[begin + low])


def _chance(held: Sequence[_Held], n: int) -> Floats:
    """Return the share of draws in which a sortie begun at each step keeps every limit.

    NaN where the forecast ends before the sortie would.
    """
    kept: Bools | None = None
    longest = max(one.high for one in held)
    starts = n - longest
    found = np.full(n, np.nan)
    if starts <= 0:
        return found
    for one in held:
        for check in one.checks:
            flags = check.drawn
            broken = np.zeros((flags.shape[0], n + 1), dtype=np.int16)
            np.cumsum(~flags, axis=1, out=broken[:, 1:])
            early, late = broken[:, one.low : one.low + starts], one.high + 1
            clear = broken[:, late : late + starts] == early
            kept = clear if kept is None else kept & clear
    found[:starts] = 1.0 if kept is None else kept.mean(axis=0)
    return found


def _surely(
    chance: Floats, may: Bools, begins: int | None, ahead: ExpectedSea, at: datetime
) -> datetime | None:
    if begins is None:
        return None
    sure = np.flatnonzero(may[begins:] & (chance[begins:] >= SURE))
    return max(from_us(ahead.at_us[begins + int(sure[0])]), at) if len(sure) else None


def _starts(
    may: Bools, shut: Bools, ahead: ExpectedSea, first: int
) -> tuple[tuple[datetime, datetime, bool | None], ...]:
    state = np.where(may, 1, np.where(shut, 0, 2))[first:]
    found: list[tuple[datetime, datetime, bool | None]] = []
    for value, verdict in ((1, True), (0, False), (2, None)):
        for begin, end in spans(state == value):
            until = min(first + end, len(ahead.at_us) - 1)
            found.append(
                (from_us(ahead.at_us[first + begin]), from_us(ahead.at_us[until]), verdict)
            )
    return tuple(sorted(found, key=lambda span: span[0]))


def _why(
    held: Sequence[_Held], start: int, ahead: ExpectedSea, now: datetime, chance: Floats
) -> str:
    """Return what first stands against a sortie begun at a step."""
    n = len(ahead.at_us)
    breaks = []
    for one in held:
        if start < n and one.broken[start]:
            for check in one.checks:
                steps = np.arange(start + one.low, min(start + one.high + 1, n))
                out = steps[check.known[steps] & ~check.kept[steps]]
                if len(out):
                    breaks.append((int(out[0]), one.part.name, check))
    if not breaks:
        missing = _missing_words(held, min(start, n - 1), ahead, now)
        return "; ".join(missing) or _unlikely_words(held, start, float(chance[start]))
    step, name, check = min(breaks, key=lambda found: found[0])
    while step > 0 and check.known[step - 1] and not check.kept[step - 1]:
        step -= 1  # it shut before this sortie would have come to it
    step = max(step, ahead.at(now))
    if not check.variable:
        return f"{name} by daylight only: dark from {clock_words(from_us(ahead.at_us[step]), now)}"
    value = float(getattr(ahead, check.variable)[step])
    over = "over" if value > check.bound else "under"
    unit = next(unit for title, _, _, _, unit in LIMITS if title == check.name)
    detail = f"{check.name} {value:.2f} {unit} {over} {check.bound:g}"
    if step <= ahead.at(now):
        return f"{name} is outside its limits: {detail}"
    return f"{name} shuts at {clock_words(from_us(ahead.at_us[step]), now)}: {detail}"


def _unlikely_words(held: Sequence[_Held], start: int, chance: float) -> str:
    """Return what most often breaks a sortie begun at a step that is likelier to fail."""
    failing = [
        (float((~check.drawn[:, start + one.low : start + one.high + 1]).any(axis=1).mean()), i, j)
        for i, one in enumerate(held)
        for j, check in enumerate(one.checks)
    ]
    _, i, j = max(failing)
    part, check = held[i].part.name, held[i].checks[j]
    said = f"all limits hold in {chance_words(chance)} only, most often not {part}: {check.name}"
    for title, _, _, greatest, unit in LIMITS:
        if title == check.name:
            said += f" {'over' if greatest else 'under'} {check.bound:g} {unit}"
    return said


def _end_words(ahead: ExpectedSea, now: datetime) -> str:
    """Return when the forecast ends, or since when there is none."""
    if ahead.ends_us is not None and from_us(ahead.ends_us) < now:
        return f"forecast ended {clock_words(from_us(ahead.ends_us), now)}"
    return f"forecast ends {clock_words(from_us(ahead.at_us[-1]), now)}"


def _missing_words(
    held: Sequence[_Held], start: int, ahead: ExpectedSea, now: datetime
) -> list[str]:
    """Return what is not known of a sortie begun at a step, each once."""
    n = len(ahead.at_us)
    found = []
    for one in held:
        steps = np.arange(start + one.low, start + one.high + 1)
        if steps[-1] >= n:
            found.append(_end_words(ahead, now))
        for check in one.checks:
            if what := ahead.not_forecast(check.variable):
                found.append(f"no forecast of the {what}")
            elif not check.known.any():
                why = ahead.stream_lacks.get(check.variable, "")
                found.append(f"{check.name} not known" + (f": {why}" if why else ""))
            elif not check.known[np.minimum(steps, n - 1)].all():
                inside = np.minimum(steps, n - 1)
                gap = inside[~check.known[inside]][0]
                found.append(
                    f"{check.name} not known from {clock_words(from_us(ahead.at_us[gap]), now)}"
                )
    return list(dict.fromkeys(found))
