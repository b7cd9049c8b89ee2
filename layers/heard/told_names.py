"""New names of one line: a list of them, and what a further fact of the line may mean by them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from layers.earth.position import Position
from layers.heard import plain
from layers.heard.fitted import Fitted
from layers.heard.grammar import Grammar
from layers.heard.names import LineContext
from layers.heard.result import HeardLine, Understood
from layers.journal.words.heard import Name, ToldRecord


def listed(text: str, grammar: Grammar) -> str:
    """Return the text with a list of new names as a fact each: compartments A, B and C."""
    for form in grammar.forms.values():
        for word in form.heard.plural:
            found = re.search(rf"(?:^|[,;]|\bhas\b)\s*(?:the\s+)?{word}\b\s*(?:are\b|:)?\s*(.+)$",
                              text, re.IGNORECASE)  # fmt: skip
            names = re.split(r"\s*,\s*(?:and\s+)?|\s+and\s+", found[1].strip()) if found else []
            if found and all(re.fullmatch(r"[A-Za-z][\w' .-]*", name) for name in names):
                facts = [text[: found.start()], *(f"{form.heard.words[0]} {n}" for n in names)]
                return "; ".join(fact for fact in facts if fact.strip(" ,"))
    return text


def knowing(told: Sequence[Understood], grammar: Grammar, around: LineContext) -> LineContext:
    """Return what a further fact of the line is heard in: a name that was told is known."""
    names = []
    for one in told:
        heard = grammar.forms[one.kind].heard
        text = one.payload.get("name")
        if heard.introduces and isinstance(text, str):
            lat, lon = one.payload.get("latitude_deg"), one.payload.get("longitude_deg")
            place = None if lat is None or lon is None else Position(lat, lon)
            names.append(Name(text=text, sort=heard.introduces, position=place, hers=heard.hers,
                              key=str(one.payload.get("subject") or text)))  # fmt: skip
    return replace(around, names=(*around.names, *names)) if names else around


def introduce(fitted: Fitted, grammar: Grammar, around: LineContext, hearing: HeardLine) -> None:
    """Add the record that makes a new name known, before the first that uses it."""
    for one in list(fitted.bound.values()):
        name = one.value
        if not isinstance(name, Name) or not name.new:
            continue
        form = next((f for f in grammar.forms.values() if f.heard.introduces == name.sort), None)
        if form is None or form is fitted.form or form.heard.fill is None:
            continue
        if any(u.kind == form.kind.name and name.text in u.plain for u in hearing.understood):
            continue
        told = ToldRecord(
            roles={one.role.key: name, name.sort: name}, now=around.now, at=around.now
        )
        form.heard.fill(told)
        role = next((r for r in form.roles.values() if r.sort == "name" and name.sort in r.names),
                    one.role)  # fmt: skip
        made = Fitted(form=form, bound={role.key: replace(one, role=role, part=None)})
        hearing.understood.append(
            Understood(
                kind=form.kind.name,
                version=form.kind.version,
                valid_at=around.now,
                payload=dict(told.payload),
                words=plain.words(made, told),
                plain=plain.plain(made),
            )
        )
