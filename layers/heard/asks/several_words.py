"""Names of several words: hospital SAINT ANNA, PRIDE OF ORKNEY."""

from __future__ import annotations

import re
from collections.abc import Sequence

from layers.heard.asks.endings import begins_a_name
from layers.heard.asks.left_out import TURNING
from layers.heard.compete import compete
from layers.heard.grammar import Grammar
from layers.heard.names import LineContext
from layers.heard.parts import LinePart
from layers.heard.result import Ask

MOST_WORDS = 3
_CAPITAL = re.compile(r"[A-Z][\w'’.-]*")
_SMALL = re.compile(r"[a-z][\w'’.-]*")


def as_one_name(parts: list[LinePart], grammar: Grammar, around: LineContext) -> list[LinePart]:
    """Return the parts with several words that nothing knows as one, where one name is wanted.

    They stand behind the word that calls for a name and begin with capitals, which says something
    only where the rest of the line does not.
    """
    if any(letter.islower() for part in parts for letter in part.text if _is_word(part)):
        for at, end in _runs(parts, _CAPITAL):
            whole = _joined(parts, at, end)
            if _wanted(whole, at, grammar, around):
                return whole
    return parts


def named_so(
    segment: str, parts: Sequence[LinePart], grammar: Grammar, around: LineContext
) -> list[Ask]:
    """Ask whether words in small letters are a name, where one is wanted: hospital st anna."""
    for at, end in _runs(parts, _SMALL):
        whole = _joined(parts, at, end)
        text, name = whole[at].text, whole[at].text.upper()
        if text in segment and _wanted(whole, at, grammar, around):
            line = segment.replace(text, name, 1)
            return [Ask(about=f"{text}: is that a name?", readings=(name,), lines=(line,),
                        part=text)]  # fmt: skip
    return []


def _is_word(part: LinePart) -> bool:
    return part.sort in ("phrase", "filler", "unknown", "name")


def _runs(parts: Sequence[LinePart], like: re.Pattern[str]) -> list[tuple[int, int]]:
    """Return where words that may be one name stand, behind what may call for a name."""
    found = []
    for at in range(1, len(parts) - 1):
        end = at
        while end < len(parts) and end - at < MOST_WORDS:
            part = parts[end]
            opens = end == at and (begins_a_name(parts, at) or part.sort == "phrase")
            if not (part.sort == "unknown" or opens) or (part.prep and end > at):
                break
            if not like.fullmatch(part.text) or part.text.lower() in TURNING:
                break
            end += 1
        if end - at > 1 and parts[at - 1].sort in ("phrase", "name"):
            found.append((at, end))
    return found


def _joined(parts: Sequence[LinePart], at: int, end: int) -> list[LinePart]:
    text = " ".join(part.text for part in parts[at:end])
    return [*parts[:at], LinePart(sort="unknown", text=text, prep=parts[at].prep), *parts[end:]]


def _wanted(whole: Sequence[LinePart], at: int, grammar: Grammar, around: LineContext) -> bool:
    """Whether the name is what a kind calls for, and all of the line is taken with it."""
    return any(
        bound.part is whole[at] and bound.role.sort == "word"
        for way in compete(whole, grammar, around.now)
        for draft in way.drafts
        for bound in draft.bound.values()
    )
