"""All ways to share a line among the kinds, and the least of them.

A stretch begins at a comma, or without one where a word of another kind stands. Least missing,
then fewest records, then fewest cuts without a comma; more than one left is asked.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from layers.heard.bind import fit
from layers.heard.fitted import Fitted
from layers.heard.grammar import CONFIRMED, Grammar
from layers.heard.parts import LinePart

MOST_PARTS = 60
MOST_KEPT = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Shared:
    """One way to share the line."""

    drafts: tuple[Fitted, ...]
    cost: tuple[int, int, int]
    shared_ships: bool = False  # parted without a comma, with a ship on both sides

    @property
    def said(self) -> tuple[tuple[str, tuple[tuple[str, str], ...]], ...]:
        """What it says, to tell two ways apart."""
        return tuple(
            (f.form.kind.name, tuple(sorted((key, one.shown) for key, one in f.bound.items())))
            for f in self.drafts
        )


def compete(parts: Sequence[LinePart], grammar: Grammar, now: datetime) -> list[Shared]:
    """Return the least ways to share a line; none when no kinds take all of it."""
    if len(parts) > MOST_PARTS:
        return []
    useful = [k for k, part in enumerate(parts) if part.sort not in ("comma", "filler")]
    if not useful:
        return []
    starts = _starts(parts)
    best: dict[int, list[Shared]] = {0: [Shared(drafts=(), cost=(0, 0, 0))]}
    edges = [*starts, len(parts)]
    opening = parts[useful[0]] if parts[useful[0]].sort in ("name", "time") else None
    for number, start in enumerate(edges[:-1]):
        if start not in best:
            continue
        for end in edges[number + 1 :]:
            stretch = [part for part in parts[start:end]]
            if not any(part.sort not in ("comma", "filler") for part in stretch):
                ways: list[Fitted | None] = [None]
            else:
                ways = list(_fits(stretch, grammar, now, opening if start else None))
                ways += _carried(stretch, best[start], ways, now)
            for way in ways:
                for before in best[start]:
                    if way is not None and way.inherited and _tied(before, ways, parts, start):
                        continue
                    after = _joined(before, way, parts, start)
                    if after is not None:
                        best[end] = _least(best.get(end, []), after)
    return [shared for shared in best.get(len(parts), []) if shared.drafts]


def _starts(parts: Sequence[LinePart]) -> list[int]:
    starts = [0]
    for k in range(1, len(parts)):
        if parts[k - 1].sort == "comma" or parts[k].sort in ("phrase", "name", "position", "number",
                                                             "quantity", "time"):  # fmt: skip
            starts.append(k)
    return starts


def _fits(
    stretch: Sequence[LinePart], grammar: Grammar, now: datetime, opening: LinePart | None
) -> list[Fitted]:
    """Return every kind that takes a stretch, also with what opens the line held for it."""
    phrases = [part for part in stretch if part.sort == "phrase" and part.text.lower() != CONFIRMED]
    if phrases:
        names: set[str] | None = None
        for part in phrases:
            able = set()
            for meaning in part.value:
                if meaning.sort == "word":
                    able.add(meaning.key)
                else:
                    able |= grammar.with_role.get(meaning.key, frozenset())
            names = able if names is None else names & able
        candidates: frozenset[str] = frozenset(names or ())
    else:
        candidates = grammar.wordless
    found = []
    for name in sorted(candidates):
        form = grammar.forms[name]
        made = fit(form, stretch, now)
        if isinstance(made, Fitted):
            late = opening is not None and opening.sort == "time" and "time" not in made.bound
            if late and form.heard.timed and opening is not None:
                held = fit(form, [*stretch, opening], now)
                if isinstance(held, Fitted):
                    held.inherited = ("time",)
                    made = held
            found.append(made)
        if (
            opening is not None
            and opening.sort == "name"
            and not any(part.sort == "name" for part in stretch)
        ):
            held = fit(form, [*stretch, opening], now)
            if isinstance(held, Fitted) and any(
                one.part is opening for one in held.bound.values()
            ):  # fmt: skip
                role = next(key for key, one in held.bound.items() if one.part is opening)
                if any(role in need for need in form.needs):
                    held.inherited = (role,)
                    found.append(held)
    return found


def _carried(
    stretch: Sequence[LinePart],
    before: Sequence[Shared],
    ways: Sequence[Fitted | None],
    now: datetime,
) -> list[Fitted]:
    """Return the kinds of the records before that take a stretch as one more of a list.

    *Forward 20 people, aft 26*: behind a comma the second needs no word of its own.
    """
    found = []
    for form in {
        s.drafts[-1].form.kind.name: s.drafts[-1].form for s in before if s.drafts
    }.values():
        if any(way is not None and way.form is form for way in ways):
            continue
        made = fit(form, stretch, now, called=True)
        if isinstance(made, Fitted) and not made.lacking and len(made.bound) > 1:
            made.own_word = False
            made.carried = True
            found.append(made)
    return found


def _joined(
    before: Shared, way: Fitted | None, parts: Sequence[LinePart], start: int
) -> Shared | None:
    if way is None:
        return before
    if way.carried and not (before.drafts and before.drafts[-1].form is way.form):
        return None
    missing, drafts, cuts = before.cost
    both_ships = before.shared_ships
    if before.drafts and parts[start - 1].sort != "comma":
        if not way.own_word:
            return None  # without a comma a further record needs a word of its own
        if parts[start].is_value and _is_cue(parts[start - 1]):
            return None  # whose value is it: the cue's before it, or of what follows?
        if any(_cues(draft) & _cues(way) for draft in before.drafts):
            return None  # the same cue twice without a comma
        cuts += 1
        both_ships |= _ships(way) and any(_ships(draft) for draft in before.drafts)
    if any(_whose(draft, way) for draft in before.drafts):
        return None
    for draft in before.drafts:
        if draft.form is not way.form:
            continue
        one, other = _subject(draft), _subject(way)
        if not one or not other or one == other or parts[start - 1].sort != "comma":
            return None  # two of a kind are of two that have names, with a comma between
    cost = (missing + len(way.lacking) + len(way.inherited) * 0, drafts + 1, cuts)
    return replace(before, drafts=(*before.drafts, way), cost=cost, shared_ships=both_ships)


def _whose(one: Fitted, other: Fitted) -> bool:
    """Whether a course or speed is told of a ship and again of nobody: it may be hers still."""
    if one.form is other.form or _ships(one) == _ships(other):
        return False
    return any(
        other.bound[key].role.sort == "direction" or other.bound[key].role.unit == "kn"
        for key in _cues(one) & _cues(other)
    )


def _tied(
    before: Shared, ways: Sequence[Fitted | None], parts: Sequence[LinePart], start: int
) -> bool:
    """Whether a kind told already would take the stretch as well as another one does.

    *Aft 11 canisters and 4 candles*: counted like the canisters, or used? Without a comma the same
    kind is not told twice, so the other would win unasked.
    """
    if parts[start - 1].sort == "comma":
        return False
    told = {draft.form.kind.name for draft in before.drafts}
    held = {way.form.kind.name for way in ways if way is not None and way.inherited}
    return len(held) > 1 and bool(held & told)


def _is_cue(part: LinePart) -> bool:
    return part.sort == "phrase" and any(meaning.sort == "cue" for meaning in part.value)


def _cues(way: Fitted) -> set[str]:
    return {key for key, one in way.bound.items() if one.role.cues and key != "time"}


def _ships(way: Fitted) -> bool:
    return any(one.role.sort == "name" and "ship" in one.role.names for one in way.bound.values())


def _subject(way: Fitted) -> tuple[str, ...]:
    """Return of what it is told: names, and what a choice alone says, such as an operation."""
    chosen = {need[0] for need in way.form.needs if len(need) == 1}
    chosen = chosen.union(*way.form.cores)
    return tuple(
        sorted(
            one.shown
            for key, one in way.bound.items()
            if one.role.sort in ("name", "record", "word")
            or (one.role.sort == "choice" and key in chosen)
        )
    )


def _least(held: list[Shared], new: Shared) -> list[Shared]:
    """Keep the ways of least cost to here, each once."""
    if held and held[0].cost < new.cost:
        return held
    if held and new.cost < held[0].cost:
        return [new]
    if any(one.said == new.said for one in held) or len(held) >= MOST_KEPT:
        return held
    return [*held, new]
