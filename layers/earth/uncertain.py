"""What can be said of a quantity: a number with its spread, bounds, not known, or withheld.

A computation that lacks something neither leaves it out nor fails whole: it answers in one of
these forms, and the forms combine by the rules below, written once. No ``nan``, no empty cell,
no 0 and no certainty stands for *not known*.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import pairwise
from typing import Any, Generic, TypeVar

from layers.earth.clock import iso
from layers.earth.errors import InputError

T = TypeVar("T")


@dataclass(frozen=True, slots=True, kw_only=True)
class Rests:
    """What every form carries: its unit, the time it holds for, and what it rests on.

    Parameters
    ----------
    unit : str
        ``"h"``, ``"nmi"``, ``"persons"``, ``"chance"`` (0 to 1); empty for what has none.
    at : datetime or None
        The time it is true for, UTC.
    rests_on : tuple of str
        Ids of the records it was worked out from.
    """

    unit: str = ""
    at: datetime | None = None
    rests_on: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Number(Rests):
    """A number; with a spread, ``value`` is its P50 and P10 is the smaller end."""

    value: float
    p10: float | None = None
    p90: float | None = None

    def __post_init__(self) -> None:
        told = [v for v in (self.p10, self.value, self.p90) if v is not None]
        if not all(v - v == 0.0 for v in told):  # neither nan nor infinite
            raise InputError(f"a number that is not finite: {told}; accepted: not known, or bounds")
        if any(a > b for a, b in pairwise(told)):
            raise InputError(f"a spread out of order: {told}; accepted: P10, P50, P90 ascending")


@dataclass(frozen=True, slots=True, kw_only=True)
class Bounds(Rests):
    """At least, at most, or both; ``missing`` names who or what would narrow it."""

    at_least: float | None = None
    at_most: float | None = None
    missing: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.at_least is None and self.at_most is None:
            raise InputError("bounds without an end; accepted: at least, at most, or not known")
        if None not in (self.at_least, self.at_most) and self.at_least > self.at_most:  # type: ignore[operator]  # neither is None here
            raise InputError(f"bounds out of order: {self.at_least} to {self.at_most}")


@dataclass(frozen=True, slots=True, kw_only=True)
class NotKnown(Rests):
    """Nothing can be said; ``missing`` names what to ask for."""

    missing: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Withheld(Rests):
    """The release does not tell it; decided from what the release cuts, never from what there is.

    ``told`` is what the watch has let go by a record of its own, in words, with its time.
    """

    told: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stated(Rests, Generic[T]):
    """Something known that is not one number: a place, a verdict, a time."""

    value: T


Quantity = Number | Bounds | NotKnown | Withheld
FORMS: dict[type, str] = {
    Number: "number",
    Bounds: "bounds",
    NotKnown: "not known",
    Withheld: "withheld",
    Stated: "number",  # known, as a number is
}


def form_of(found: Rests) -> str:
    """Return the name of a form as exports write it."""
    return FORMS[type(found)]


def ends(found: Quantity) -> tuple[float | None, float | None]:
    """Return the least and the most that a quantity can be; None where that is open."""
    if isinstance(found, Number):
        return found.value, found.value
    if isinstance(found, Bounds):
        return found.at_least, found.at_most
    return None, None


def missing_of(parts: Iterable[Rests]) -> tuple[str, ...]:
    """Return what is missing to any of the parts, each once, in order."""
    found = (m for p in parts if isinstance(p, Bounds | NotKnown) for m in p.missing)
    return tuple(dict.fromkeys(found))


def _rests(parts: Sequence[Rests]) -> dict[str, Any]:
    ids = tuple(dict.fromkeys(i for p in parts for i in p.rests_on))
    times = [p.at for p in parts if p.at is not None]
    unit = next((p.unit for p in parts if p.unit), "")
    return {"unit": unit, "at": max(times) if times else None, "rests_on": ids}


def between(
    least: float | None, most: float | None, missing: tuple[str, ...], **rests: Any
) -> Quantity:
    """Return the form that fits two ends: a number, bounds, or not known."""
    if least is None and most is None:
        return NotKnown(missing=missing, **rests)
    if least == most and least is not None and not missing:
        return Number(value=least, **rests)
    return Bounds(at_least=least, at_most=most, missing=missing, **rests)


def either(parts: Sequence[Quantity], missing: Sequence[str]) -> Quantity:
    """Return one of several, nobody has told which: from the least of them to the most.

    ``missing`` is what would tell. One that is not known, or open at an end, leaves it open.
    """
    if any(isinstance(p, Withheld) for p in parts):
        return Withheld(**_rests(parts))
    if all(p == parts[0] for p in parts):
        return parts[0]  # whichever it is
    asked = tuple(dict.fromkeys((*missing_of(parts), *missing)))
    if any(isinstance(p, NotKnown) for p in parts):
        return NotKnown(missing=asked, **_rests(parts))
    lows, highs = ([end[k] for end in map(ends, parts)] for k in (0, 1))
    least = None if None in lows else min(low for low in lows if low is not None)
    most = None if None in highs else max(high for high in highs if high is not None)
    return between(least, most, asked, **_rests(parts))


def total(parts: Sequence[Quantity], least: float = 0.0) -> Quantity:
    """Return a sum; what is not known adds at least ``least`` and leaves the upper end open."""
    if any(isinstance(p, Withheld) for p in parts):
        return Withheld(**_rests(parts))
    if parts and all(isinstance(p, NotKnown) for p in parts):
        return NotKnown(missing=missing_of(parts), **_rests(parts))
    lows = [least if low is None else low for low, _ in map(ends, parts)]
    highs = [high for _, high in map(ends, parts)]
    most = None if None in highs else sum(h for h in highs if h is not None)
    return between(sum(lows), most, missing_of(parts), **_rests(parts))


def first_of(parts: Sequence[Quantity]) -> Quantity:
    """Return the first of several ends: at most the earliest that is known."""
    if not parts:
        raise InputError("the first of nothing; accepted: one part or more")
    if any(isinstance(p, Withheld) for p in parts):
        return Withheld(**_rests(parts))
    lows, highs = zip(*map(ends, parts), strict=True)
    # an open part may end before every other, never later than the earliest known
    least = None if None in lows else min(lows)
    most = min((v for v in highs if v is not None), default=None)
    # what cannot be the first takes nothing from what is known of it
    bear = [p for p, v in zip(parts, lows, strict=True) if None in (v, most) or v < most]
    found = between(least, most, missing_of(bear), **_rests(parts))
    if not isinstance(found, Number):
        return found
    # the part that decides lends its spread
    deciding = (p for p in parts if isinstance(p, Number) and p.value == found.value)
    lent = next(deciding, found)
    return replace(found, p10=lent.p10, p90=lent.p90)


def as_dict(found: Rests, *, cite: Callable[[str], int] | None = None) -> dict[str, Any]:
    """Return a form as exports write it.

    Parameters
    ----------
    cite : callable, optional
        Turns a record's id into its number; without it no record is named.
    """
    told: dict[str, Any] = {
        "form": form_of(found),
        "unit": found.unit,
        "at": None if found.at is None else iso(found.at),
        "rests_on": [cite(i) for i in found.rests_on] if cite else [],
    }
    if isinstance(found, Number):
        if found.p10 is not None or found.p90 is not None:
            told |= {"p10": found.p10, "p50": found.value, "p90": found.p90}
        else:
            told["value"] = found.value
    elif isinstance(found, Bounds):
        told |= {"at_least": found.at_least, "at_most": found.at_most}
        told["missing"] = list(found.missing)
    elif isinstance(found, NotKnown):
        told["missing"] = list(found.missing)
    elif isinstance(found, Withheld) and found.told:
        told["told"] = found.told
    return told


SURE = 0.9  # from here on no doubt is told beside a yes (our own rule)


def chance_words(chance: float) -> str:
    """Return a chance as ``n of 100``; certainty is never made by rounding."""
    if chance > 0.99:
        return "more than 99 of 100"
    if chance < 0.01:
        return "less than 1 of 100"
    return f"{chance * 100:.0f} of 100"


def words(found: Rests, say: Callable[[float], str] = lambda v: f"{v:g}") -> str:
    """Return any form in words.

    Parameters
    ----------
    say : callable
        How a number of this quantity is said, unit included.
    """
    if isinstance(found, Withheld):
        return found.told or "withheld here"
    if isinstance(found, NotKnown):
        return "not known" + (f": {_listed(found.missing)}" if found.missing else "")
    if isinstance(found, Number):
        return say(found.value)
    if isinstance(found, Bounds):
        least, most = found.at_least, found.at_most
        if least is not None and most is not None:
            span = f"between {say(least)} and {say(most)}"
        else:
            span = f"at least {say(least)}" if least is not None else f"at most {say(most or 0.0)}"
        return span + (f": {_listed(found.missing)}" if found.missing else "")
    raise InputError(f"{type(found).__name__} has words of its own")


def _listed(missing: Sequence[str]) -> str:
    return ", ".join(missing)
