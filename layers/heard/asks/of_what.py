"""Figures and names without a word that says of what: the kinds that take them are offered."""

from __future__ import annotations

from collections.abc import Sequence

from layers.contract.heard_roles import TIME
from layers.earth.said.quantity import COUNT
from layers.heard import plain
from layers.heard.asks.left_out import TURNING
from layers.heard.bind import fit
from layers.heard.compete import compete
from layers.heard.fitted import Fitted
from layers.heard.grammar import Grammar
from layers.heard.names import LineContext
from layers.heard.parts import LinePart
from layers.heard.result import Ask
from layers.heard.scan import scan
from layers.heard.values import worth

MOST_OFFERED = 5


def of_what(segment: str, parts: Sequence[LinePart], grammar: Grammar, around: LineContext) -> Ask:
    """Ask of what or of whom it is told, with the kinds that could take all of it as answers."""
    found: list[tuple[int, str, str]] = []
    for form in grammar.forms.values():
        made = fit(form, parts, around.now, called=True)
        if isinstance(made, Fitted) and form.heard.words and len(made.lacking) <= 2:
            lead = form.heard.words[0]
            found.append((len(made.lacking), form.kind.title, f"{lead} {segment}"))
    found += _as_list(parts, grammar, around)
    found.sort()
    if [worth(TIME, part) > 0 for part in parts if part.is_value] == [True]:
        found = _due_then(segment, grammar, around)
    some = found[:MOST_OFFERED] or _without_one(parts, grammar, around)
    return Ask(about=f"of what, or of whom: {segment}?", part=segment,
               readings=tuple(title for _, title, _ in some),
               lines=tuple(line for _, _, line in some))  # fmt: skip


def _due_then(
    segment: str, grammar: Grammar, around: LineContext
) -> list[tuple[int, str, str]]:  # fmt: skip
    """Return what is due, agreed or overdue at an hour that is told alone: 1 Dec 0200."""
    found = []
    for form in grammar.forms.values():
        for role in form.roles.values():
            if role.sort != "time" or not role.cues or not any(role.key in n for n in form.needs):
                continue
            line = f"{role.cues[0]} {segment}"
            made = fit(form, scan(line, grammar, around), around.now)
            if isinstance(made, Fitted) and not made.lacking and not form.heard.text:
                found.append((0, f"{form.kind.title}: {role.cues[0]}", line))
    return found


def _without_one(
    parts: Sequence[LinePart], grammar: Grammar, around: LineContext
) -> list[tuple[int, str, str]]:
    """Return what a line tells without one quantity or name that is of nothing it says.

    *Oil …, half a mile across*: a word that only calls for a figure goes with it. A bare figure
    may be what it is now, and a time what turns it round: neither is left out.
    """
    if any(not TURNING.isdisjoint(part.text.lower().split()) for part in parts):
        return []
    found = []
    for at, part in enumerate(parts):
        counted = part.sort == "quantity" and part.value.unit.lower() in COUNT.spelled
        if part.sort not in ("quantity", "name") or counted:  # people are never left out
            continue
        for a, b in ((at, at + 1), (at, at + 2), (at - 1, at + 1)):
            gone = parts[max(a, 0) : b]
            rest = [*parts[: max(a, 0)], *parts[b:]]
            if a < 0 or b > len(parts) or any(not (one is part or _calls(one)) for one in gone):
                continue
            ways = compete(rest, grammar, around.now)
            drafts = ways[0].drafts if len(ways) == 1 and not ways[0].cost[0] else ()
            if drafts and all(one.bound and not one.doubts for one in drafts):
                line = "; ".join(plain.plain(one) for one in drafts)
                left = " ".join(one.text for one in gone)
                found.append((0, f"{line} (left out: {left})", line))
                break
    return found if len(found) == 1 else []


def _calls(part: LinePart) -> bool:
    """Whether a word does nothing but call for a figure."""
    return part.sort == "phrase" and all(meaning.sort == "cue" for meaning in part.value)


def _as_list(
    parts: Sequence[LinePart], grammar: Grammar, around: LineContext
) -> list[tuple[int, str, str]]:
    """Return the kinds that take a line as a list without commas: forward 25 aft 19."""
    at = [k for k, part in enumerate(parts) if part.sort == "name"]
    of_them = any(part.text.lower() in ("them", "these", "those") for part in parts)
    if len(at) < 2 or at[0] > 0 or of_them:  # 3 of them hurt: of the last, or of all?
        return []
    some = [parts[a:b] for a, b in zip(at, [*at[1:], len(parts)], strict=True)]
    line = ", ".join(" ".join(_words(each)) for each in some)
    found = []
    for form in grammar.forms.values():
        fits = [fit(form, each, around.now, called=True) for each in some]
        if form.heard.words and all(
            isinstance(made, Fitted) and not made.lacking and len(made.bound) > 1 for made in fits
        ):
            found.append((0, form.kind.title, f"{form.heard.words[0]} {line}"))
    return found


def _words(some: Sequence[LinePart]) -> list[str]:
    """Return the words of one of a list, without what only joins it to the next."""
    words = [part for part in some if part.sort != "comma"]
    while words and words[-1].sort == "filler":
        words.pop()
    return [f"{part.prep} {part.text}".strip() for part in words]
