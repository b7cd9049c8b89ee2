"""Figures and names without a word that says of what: the kinds that take them are offered."""

from __future__ import annotations

from collections.abc import Sequence

from layers.heard.bind import fit
from layers.heard.fitted import Fitted
from layers.heard.grammar import Grammar
from layers.heard.names import LineContext
from layers.heard.parts import LinePart
from layers.heard.result import Ask

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
    some = found[:MOST_OFFERED]
    return Ask(about=f"of what, or of whom: {segment}?", part=segment,
               readings=tuple(title for _, title, _ in some),
               lines=tuple(line for _, _, line in some))  # fmt: skip


def _as_list(
    parts: Sequence[LinePart], grammar: Grammar, around: LineContext
) -> list[tuple[int, str, str]]:
    """Return the kinds that take a line as a list without commas: forward 25 aft 19."""
    at = [k for k, part in enumerate(parts) if part.sort == "name"]
    if len(at) < 2 or at[0] > 0:
        return []
    some = [parts[a:b] for a, b in zip(at, [*at[1:], len(parts)], strict=True)]
    line = ", ".join(" ".join(part.text for part in each if part.sort != "comma") for each in some)
    found = []
    for form in grammar.forms.values():
        fits = [fit(form, each, around.now, called=True) for each in some]
        if form.heard.words and all(
            isinstance(made, Fitted) and not made.lacking and len(made.bound) > 1 for made in fits
        ):
            found.append((0, form.kind.title, f"{form.heard.words[0]} {line}"))
    return found
