"""What was told before, put right in passing: no it was 1150; 14 seats not 16.

Which record is meant is never guessed: those that could say it are the answers to press.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from datetime import datetime
from numbers import Real
from typing import Any

from layers.heard.asks.which_record import MOST, told_anew
from layers.heard.bind import fit
from layers.heard.fitted import Fitted
from layers.heard.grammar import Form, Grammar
from layers.heard.names import LineContext
from layers.heard.numbers import figures
from layers.heard.parts import LinePart
from layers.heard.result import Ask
from layers.heard.scan import scan
from layers.heard.values import Bound
from layers.journal.record import Record

_RATHER = re.compile(
    r"\s*(?:no[,:]?\s+|sorry[,:]?\s+|wrong[,:]?\s+)*(?:it\s+was|it\s+is|it['’]s|that\s+was|"
    r"make\s+(?:it|that)|should\s+(?:be|read|say)|should\s+have\s+(?:been|said)|i\s+meant?)"
    r"\b[\s,:]*(.+)$",
    re.IGNORECASE,
)
_NOT = re.compile(r"\s*(.+?)[\s,]+(?:and\s+)?not\s+([^,;:]+?)[\s.]*$", re.IGNORECASE)


def put_right(said: str, grammar: Grammar, around: LineContext) -> tuple[Form, Ask] | None:
    """Return the question which record a line puts right, None where it puts none right."""
    form = next((form for form in grammar.forms.values() if form.heard.amends), None)
    if form is None:
        return None
    if found := _RATHER.match(said):
        new = found[1].strip(" .")
        some = [r for r in around.newest() if _takes(r, new, grammar, around)]
    elif found := _NOT.match(said):
        new, some = "", []
        for new, old in _pairs(found[1], found[2], grammar, around):
            some = [r for r in around.newest() if _says(r, old, grammar, around)
                    and _takes(r, new, grammar, around)]  # fmt: skip
            if some:
                break
    else:
        return None
    return (form, told_anew(form, new, some[:MOST], grammar)) if some else None


def _pairs(text: str, old: str, grammar: Grammar, around: LineContext) -> list[tuple[str, str]]:
    """Return what should stand and what stood: 2150 and 2205, in all its words and alone."""
    olds = [part for part in _parts(old, grammar, around) if part.sort != "filler"]
    if not olds or not olds[0].is_value:
        return []
    alike = ({olds[0].sort}, {olds[0].sort, "number"}, {olds[0].sort, "quantity"})
    news = [one for one in _parts(text, grammar, around) if {one.sort, olds[0].sort} in alike]
    if not news or news[-1].text not in text:
        return []
    at = text.rindex(news[-1].text)
    before = f"{text[:at]}{old}{text[at + len(news[-1].text) :]}"
    return [(text, before), (news[-1].text, old)]


def _parts(text: str, grammar: Grammar, around: LineContext) -> list[LinePart]:
    return scan(figures(text), grammar, around)


def _fitted(record: Record, text: str, grammar: Grammar, around: LineContext) -> Fitted | None:
    target = grammar.forms.get(record.kind)
    if target is None:
        return None
    made = fit(target, _parts(text, grammar, around), around.now, called=True, amending=True)
    return made if isinstance(made, Fitted) and made.bound else None


def _takes(record: Record, text: str, grammar: Grammar, around: LineContext) -> bool:
    made = _fitted(record, text, grammar, around)
    return made is not None and not made.doubts


def _says(record: Record, text: str, grammar: Grammar, around: LineContext) -> bool:
    """Whether a record says by now what a text says it should not."""
    made = _fitted(record, text, grammar, around)
    return made is not None and any(_held(record, one) for one in made.bound.values())


def _held(record: Record, one: Bound) -> bool:
    if one.role.sort == "time":
        held = {record.valid_at, *_times(record.payload)}
        return one.value in held
    value = one.value[0] if isinstance(one.value, tuple) else one.value
    if one.role.sort == "position":
        at = (record.payload.get("latitude_deg"), record.payload.get("longitude_deg"))
        return at == (value.latitude_deg, value.longitude_deg)
    return isinstance(value, Real) and any(
        isinstance(held, Real) and abs(float(held) - float(value)) < 1e-6
        for held in record.payload.values()
    )


def _times(payload: Mapping[str, Any]) -> Iterator[datetime]:
    for value in payload.values():
        if isinstance(value, str) and re.match(r"\d{4}-\d{2}-\d{2}T", value):
            yield datetime.fromisoformat(value)
