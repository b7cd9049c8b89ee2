"""The exercise with records taken away, and whether an answer became better or surer by it."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from functools import lru_cache

from demo_data.load import demo_journal
from demo_data.scenario import DEMO_NOW
from layers.answers import Answers, answers
from layers.catalogue import BY_KEY, KINDS
from layers.contract import Layer, Moment, Shown, Unavailable
from layers.earth.uncertain import Bounds, NotKnown, Number, Quantity, Stated, ends
from layers.journal.known import Known, ListShelf
from layers.journal.record import Record
from layers.picture import Picture, compute_order, hand_on, relevant_kinds, show_layer
from layers.survivors.compute import MarginResult, compute_margin
from layers.watch.state import state

DRAWS = 400
DEMO = demo_journal(DEMO_NOW)[0]
Made = Shown | Unavailable


@dataclass(frozen=True, kw_only=True)
class Told:
    """What the watch is told, and the margin behind it; ``reason`` says why there is none."""

    answers: Answers
    result: MarginResult | None
    reason: str


def _kinds_of(key: str) -> frozenset[str]:
    """Return every kind that a layer rests on, its needs' kinds too."""
    layer = BY_KEY[key]
    found = {"journal.correct", "journal.retract", "journal.dispute", *relevant_kinds(layer)}
    for need in layer.needs:
        found |= _kinds_of(need)
    return frozenset(found)


class Telling:
    """Tells the answers of what is left; a layer that nothing was taken from is made once."""

    def __init__(self) -> None:
        self._made: dict[tuple[object, ...], Made] = {}

    def of(self, records: Iterable[Record], at: datetime = DEMO_NOW) -> Told:
        """Return the answers of these records at a time."""
        left = list(records)
        shelf, moment = ListShelf(left, DEMO.blobs), Moment(at, at)
        known = Known(shelf, KINDS, max((r.seq for r in left), default=0), at)
        layers: dict[str, Made] = {}
        for key in compute_order():
            kinds = _kinds_of(key)
            held = hash(frozenset((r.seq, r.id) for r in left if r.kind in kinds))
            if (key, held, at) not in self._made:
                others = {n: hand_on(BY_KEY[n], layers[n]) for n in BY_KEY[key].needs}
                self._made[key, held, at] = show_layer(_quick(key), known, others, moment)
            layers[key] = self._made[key, held, at]
        margin = layers["margin"]
        made = Picture(moment=moment, upto_seq=known.upto_seq, layers=layers)
        return Told(
            answers=answers(made, state(known, moment)),
            result=margin.result if isinstance(margin, Shown) else None,
            reason=margin.reason if isinstance(margin, Unavailable) else "",
        )


def _quick(key: str) -> Layer:
    if key != "margin":
        return BY_KEY[key]
    return replace(BY_KEY[key], compute=lambda known, others, moment: compute_margin(
        known, others, moment, DRAWS, decision_draws=0))  # fmt: skip


TELLING = Telling()


@lru_cache(maxsize=1)
def whole() -> Told:
    """Return what is told with every record there."""
    return TELLING.of(DEMO.records)


def without(gone: Callable[[Record], bool]) -> Told:
    """Return what is told without some of the records."""
    return TELLING.of(r for r in DEMO.records if not gone(r))


def faults(now: Told, then: Told | None = None) -> list[str]:
    """Return every answer that is better or surer than it was before something was lost."""
    before = then or whole()
    # where a refuge's lifts cannot run its people stay, and the vehicle is free for the others
    stopped = _stopped(now) - _stopped(before)
    found = []
    if not (stopped and ends(now.answers.all_out) == (0.0, 0.0)):
        said = _quantity(now.answers.all_out, before.answers.all_out, 0.04)
        found = [f"all out: {each}" for each in said]
    for refuge, one in before.answers.margin.items():
        if stopped and refuge not in stopped:
            continue
        same = now.answers.margin.get(refuge)
        if same is None:
            if not _missing(now.answers.margin_unless):
                found.append(f"{refuge}: no margin and nothing to ask for")
            continue
        if same.persons != one.persons:
            continue
        for name in ("if_nobody_leaves_h", "as_planned_h"):
            said = _quantity(getattr(same, name), getattr(one, name), 1.5)
            found += [f"{refuge} {name}: {each}" for each in said]
    found += _verdicts(now, before)
    return found


def _stopped(told: Told) -> set[str]:
    if told.result is None:
        return set()
    return {lift.refuge for lift in told.result.outlook.lifts if lift.stopped}


def _verdicts(now: Told, before: Told) -> list[str]:
    found = []
    dive, was = now.answers.dive, before.answers.dive
    if isinstance(dive, Stated) and isinstance(was, Stated):
        if dive.value.may and was.value.may is not True:
            found.append(f"dive: {was.value.may} became yes")
        if was.value.opens and dive.value.opens and dive.value.opens < was.value.opens:
            found.append(f"dive: opens at {dive.value.opens}, was {was.value.opens}")
        if dive.value.may is None and not dive.value.because:
            found.append("dive: not known, and nothing to ask for")
    first, came = now.answers.first_out, before.answers.first_out
    if isinstance(first, Stated) and isinstance(came, Stated):
        if first.value.done and not came.value.done:
            found.append("first out: done")
        if first.value.time < came.value.time:
            found.append(f"first out: {first.value.time}, was {came.value.time}")
    for name in ("dive", "first_out", "sortie", "all_out"):
        one = getattr(now.answers, name)
        if isinstance(one, NotKnown) and not _missing(one):
            found.append(f"{name}: not known, and nothing to ask for")
    return found


def _missing(found: object) -> bool:
    return isinstance(found, NotKnown | Bounds) and bool("".join(found.missing))


def _quantity(now: Quantity, then: Quantity, near: float) -> list[str]:
    """Return what is wrong with an answer that knows less than another did."""
    said = f"{_short(then)} became {_short(now)}"
    if isinstance(now, NotKnown):
        return [] if _missing(now) else [f"{said}, and nothing to ask for"]
    least, most = (then.at_least, then.at_most) if isinstance(then, Bounds) else (
        (then.value, then.value) if isinstance(then, Number) else (None, None))  # fmt: skip
    if isinstance(now, Number):
        if isinstance(then, Bounds | NotKnown):
            return [f"surer: {said}"]
        assert isinstance(then, Number)
        found = [f"another number: {said}"] if abs(now.value - then.value) > near else []
        if None not in (now.p10, now.p90, then.p10, then.p90):
            wide, was = now.p90 - now.p10, then.p90 - then.p10  # type: ignore[operator]  # told in this case
            if wide < 0.8 * was:
                found.append(f"surer: P10 to P90 {was:.1f} became {wide:.1f}")
        return found
    assert isinstance(now, Bounds)
    if not _missing(now):
        return [f"{said}, naming nothing"]
    found = []
    if now.at_least is not None and (least is None or now.at_least > least + near):
        found.append(f"at least more: {said}")
    # a figure that counts no stores says so, and is no bound of what it was with them
    counted = not any("none counted" in said for said in now.missing)
    if counted and now.at_most is not None and (most is None or now.at_most < most - near):
        found.append(f"does not hold the former answer: {said}")
    return found


def _short(found: Quantity) -> str:
    if isinstance(found, Number):
        return f"{found.value:.2f}"
    if isinstance(found, Bounds):
        return f"[{found.at_least} to {found.at_most}: {'; '.join(found.missing)}]"
    return f"not known ({'; '.join(getattr(found, 'missing', ()))})"


def better(now: Told, before: Told, *, lead_only: bool) -> list[str]:
    """Return every answer that says more of good than it did, whatever its form.

    ``lead_only``: people, plan or rules are others, so that only the chance of all and the
    leading margin of a refuge with the same people and the same lifts to come can be compared.
    """
    pairs = [("all out", now.answers.all_out, before.answers.all_out, 0.04)]
    for refuge, one in before.answers.margin.items():
        same = now.answers.margin.get(refuge)
        if same is None or same.persons != one.persons:
            continue
        if lead_only and _lifts_to(now, refuge) != _lifts_to(before, refuge):
            continue
        names = ("if_nobody_leaves_h",) if lead_only else ("if_nobody_leaves_h", "as_planned_h")
        pairs += [(f"{refuge} {n}", getattr(same, n), getattr(one, n), 1.5) for n in names]
    found = []
    for what, after, then, near in pairs:
        if isinstance(after, NotKnown):
            found += [] if _missing(after) else [f"{what}: not known, and nothing to ask for"]
            continue
        (least, most), (low, high) = ends(after), ends(then)
        firm = most if isinstance(after, Number) else least  # what may be relied on
        limit = high if isinstance(after, Number) else low if low is not None else high
        if firm is not None and limit is not None and firm > limit + near:
            found.append(f"{what}: better, {_short(then)} became {_short(after)}")
    return found


def _lifts_to(told: Told, refuge: str) -> list[str]:
    """Return the lifts that run until the last of a refuge is out, in the order they run in."""
    if told.result is None:
        return []
    lifts = sorted(told.result.outlook.lifts, key=lambda lift: lift.left_h.p50)
    last = max((n for n, lift in enumerate(lifts) if lift.refuge == refuge), default=-1)
    return [lift.key for lift in lifts[: last + 1]]
