"""One time axis for page, plot, wall and slide: how long they can last, the lifts under it.

A list of bars and no drawing: what is drawn of it, small or large, is the same everywhere.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from layers.earth.clock import clock_words, from_us
from layers.earth.uncertain import NotKnown
from layers.survivors.lifts.margin_model import LiftOutlook, Outlook, RefugeOutlook
from layers.survivors.lifts.model import Phase
from layers.survivors.lifts.sorties.facts import LiftFact
from layers.survivors.lifts.spread import margin_words, said_margin

BACK_H = 24.0  # a lift done longer ago than this is not on the axis
LONGEST_H = 96.0
STEP_H = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class LiftBar:
    """One lift: from dive over hatch shut to deck; ``early``, ``late``: P10, P90 of hatch shut."""

    key: str
    dive: datetime
    hatch: datetime
    deck: datetime
    early: datetime | None
    late: datetime | None
    done: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class RefugeLine:
    """One refuge on the axis.

    Parameters
    ----------
    lasts : datetime or None
        When the level that binds is reached if nobody leaves (P50); None: not known, or beyond
        what was looked at (``beyond``).
    early, late : datetime or None
        Its P10 and P90.
    level : str
        What binds, in words; why it is not known where it is not.
    bars : tuple of LiftBar
    last : datetime or None
        The hatch shut behind the last.
    margin : str
        The hours between, in words; ``short`` when they are below nought, not ``known`` when
        there are none.
    beside : str
        What stands quiet beside it.
    at_least : bool
        Whether stores that nobody told of may put the level off.
    at_most : bool
        Whether a level whose time is not known may come sooner.
    """

    name: str
    persons: int
    lasts: datetime | None
    early: datetime | None
    late: datetime | None
    beyond: bool
    level: str
    bars: tuple[LiftBar, ...]
    last: datetime | None
    margin: str
    known: bool
    short: bool
    beside: str
    at_least: bool
    at_most: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ChamberLine:
    """One chamber: who is in it from when until when; ``note`` where nobody is."""

    name: str
    spans: tuple[tuple[datetime, datetime, str, bool], ...]
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """Everything on the one time scale."""

    start: datetime
    end: datetime
    now: datetime
    refuges: tuple[RefugeLine, ...]
    chambers: tuple[ChamberLine, ...]

    def share(self, at: datetime) -> float:
        """Return where a time lies on the axis, 0 to 1, cut at its ends."""
        return min(max((at - self.start) / (self.end - self.start), 0.0), 1.0)


def axis_of(
    outlook: Outlook,
    levels: Mapping[tuple[str, str], str] | None = None,
    longest_h: float = LONGEST_H,
) -> Axis | None:
    """Return the axis of an outlook, None where nobody waits in a refuge.

    Parameters
    ----------
    levels : mapping of (refuge, level) to str, optional
        A level in words: ``cold 4 °C, by trend``.
    longest_h : float
        The axis is at most so long; what ends later has an arrow.
    """
    if not outlook.refuges:
        return None
    now = from_us(outlook.at_us)
    ordered = sorted(outlook.refuges, key=lambda one: one.rank)
    lines = tuple(_refuge(outlook, one, now, levels or {}) for one in ordered)
    start, end = _ends(lines, now, longest_h)
    return Axis(
        start=start, end=end, now=now, refuges=lines, chambers=tuple(_chambers(outlook, now))
    )


def _ends(
    lines: Iterable[RefugeLine], now: datetime, longest_h: float
) -> tuple[datetime, datetime]:
    done = [bar.dive for line in lines for bar in line.bars if bar.dive < now]
    start = _floor(min([now - timedelta(hours=3), *done]))
    wanted = [now + timedelta(hours=24)]
    for line in lines:
        wanted += [bar.late or bar.deck for bar in line.bars]
        wanted += [line.lasts] if line.lasts is not None else []
    end = min(max(wanted) + timedelta(hours=STEP_H), start + timedelta(hours=longest_h))
    return start, _floor(end + timedelta(hours=STEP_H))


def _floor(at: datetime) -> datetime:
    return at.astimezone(UTC).replace(hour=at.hour - at.hour % STEP_H, minute=0, second=0,
                                      microsecond=0)  # fmt: skip


def _refuge(
    outlook: Outlook, one: RefugeOutlook, now: datetime, levels: Mapping[tuple[str, str], str]
) -> RefugeLine:
    ends = one.alone_h
    bars = tuple(
        bar
        for lift in outlook.lifts
        if lift.refuge == one.refuge and (bar := bar_of(outlook, lift, now)) is not None
    )
    last = None if one.last_left_h is None else _at(now, one.last_left_h.p50)
    binds = levels.get((one.refuge, one.binding), one.binding)
    lasts = None if ends is None else _at(now, ends.p50)
    margin = said_margin(one.nobody) if one.known else "margin not known"
    if one.known and one.binding:
        margin += f", {one.binding} binds"
    return RefugeLine(
        name=one.refuge,
        persons=one.persons,
        lasts=lasts,
        early=None if ends is None else _at(now, ends.p10),
        late=None if ends is None else _at(now, ends.p90),
        beyond=ends is not None and lasts is None,
        level=_level_words(one, binds, lasts, now),
        bars=bars,
        last=last,
        margin=margin,
        known=one.known,
        short=one.short,
        beside=_beside(one),
        at_least=one.at_least,
        at_most=one.at_most,
    )


def _level_words(one: RefugeOutlook, binds: str, lasts: datetime | None, now: datetime) -> str:
    if one.alone_h is None:
        missing = one.nobody.missing if isinstance(one.nobody, NotKnown) else ()
        return missing[0] if missing else "how long they can last is not known"
    if lasts is None:
        if one.at_most:
            return "of what is known no level is near; the rest may end sooner"
        return "no level within the time looked ahead"
    when = clock_words(lasts, now) + one.how_sure
    if len(one.levels) == 1:
        return f"{binds}, {when}"
    # the first of several levels comes sooner than any of them alone: the name is the likeliest
    return f"first level {when}, most often {binds}"


def _beside(one: RefugeOutlook) -> str:
    if one.late_h is None or not one.known:
        return ""
    return f"{margin_words(one.late_h)} if the hatch shuts at its P90"


def bar_of(outlook: Outlook, lift: LiftOutlook, now: datetime) -> LiftBar | None:
    """Return a lift as a bar, as it happened where it is done; None where it does not run."""
    fact = outlook.setting.facts.get(lift.key) if outlook.setting else None
    if fact is not None and fact.done:
        return _done(fact, now)
    times = [_at(now, spread.p50) for spread in (lift.dive_h, lift.left_h, lift.back_h)]
    dive, hatch, deck = times
    if dive is None or hatch is None or deck is None:
        return None
    return LiftBar(
        key=lift.key,
        dive=dive,
        hatch=hatch,
        deck=deck,
        early=_at(now, lift.left_h.p10),
        late=_at(now, lift.left_h.p90),
        done=False,
    )


def _done(fact: LiftFact, now: datetime) -> LiftBar | None:
    deck = from_us(fact.began_us[Phase.BACK])
    if now - deck > timedelta(hours=BACK_H):
        return None
    began = {phase: from_us(us) for phase, us in fact.began_us.items()}
    dive = began.get(Phase.DOWN, min(began.values()))
    hatch = began.get(Phase.AWAY, deck)
    return LiftBar(
        key=fact.lift, dive=dive, hatch=hatch, deck=deck, early=None, late=None, done=True
    )


def _chambers(outlook: Outlook, now: datetime) -> Iterable[ChamberLine]:
    setting = outlook.setting
    if setting is None:
        return
    planned = {chamber.name for chamber in setting.chambers}
    spare = [chamber for chamber in setting.spare_chambers if chamber.name not in planned]
    for chamber in (*setting.chambers, *spare):
        spans = []
        for lift in outlook.lifts:
            until = lift.chamber_until_h
            if lift.chamber != chamber.name or until is None:
                continue
            enters, leaves = _at(now, lift.back_h.p50), _at(now, until.p50)
            if enters is not None and leaves is not None and leaves > now - timedelta(hours=3):
                words = f"{lift.walking + lift.stretcher} from {lift.refuge}"
                spans.append((enters, leaves, words, enters <= now))
        ready = chamber.available_at
        note = "free" if chamber.name in planned else "not in the plan"
        if ready is not None and ready > now:
            note = f"not aboard; ready {clock_words(ready, now)}"
        yield ChamberLine(name=chamber.name, spans=tuple(spans), note="" if spans else note)


def _at(now: datetime, hours: float) -> datetime | None:
    return now + timedelta(hours=hours) if math.isfinite(hours) else None
