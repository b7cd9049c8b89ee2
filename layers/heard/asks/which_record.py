"""A record meant without its number: scrap the last, cancel the smoke report, 4 is wrong.

Which one is never guessed: the newest that could be meant are the answers to press.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from layers.heard.bind import fit
from layers.heard.fitted import Fitted
from layers.heard.grammar import Form, Grammar
from layers.heard.names import LineContext
from layers.heard.parts import LinePart, Meaning
from layers.heard.result import Ask
from layers.journal.record import Record
from layers.journal.words.payloads import payload_words

MOST, LETTERS = 4, 40
_LAST = re.compile(
    r"(?:(?:the|that|my)\s+)?(?:last(?:\s+but\s+one)?|latest|newest|previous|it|that|this)\b"
    r"(?:\s+(?:one|line|record|report|entry))?\s*",
    re.IGNORECASE,
)
_NUMBERED = re.compile(
    r"\s*(?:record\s+)?(?:no\.?|number|#|№|record)?\s*(\d{1,7})\s+(?:is|was)\s+wrong\b[\s,:.]*(.*)$",
    re.IGNORECASE,
)
_SHOULD = re.compile(
    r"\s*(?:no\.?|number|#|№|record)\s*(\d{1,7})\s*(?::|\bshould\s+(?:be|read)\b|\breads?\b)"
    r"\s*(.+)$",
    re.IGNORECASE,
)
_LAST_WRONG = re.compile(rf"\s*(?:{_LAST.pattern})(?:is|was)\s+wrong\b[\s,:.]*(.*)$", re.IGNORECASE)
_COMMON = frozenset(["report", "from", "that", "this", "with", "they", "were", "have", "which"])


def unnumbered(
    form: Form, word: str, rest: str, grammar: Grammar, around: LineContext
) -> Ask | None:
    """Return the question which record is meant where its kind was called without a number.

    None where nothing on the plot answers to what was said: then it is no such line.
    """
    said = rest.strip(" :,.")
    newest = list(around.newest())
    if found := _LAST.match(said):
        reason, some = said[found.end() :].strip(" :,.") or "as heard", newest
    else:
        reason, some = said, [one for one in newest if _speaks_of(one, said, grammar)]
    if not some or (said and not reason):
        return None
    if form.heard.amends and reason == "as heard":
        reason = ""
    return _ask(form, word, reason, some[:MOST], grammar)


def of_a_number(said: str, grammar: Grammar, around: LineContext) -> tuple[Form, Ask] | None:
    """Return the question of a line that names a record and no word for what to do with it."""
    forms = [f for f in grammar.forms.values() if any(r.sort == "record" for r in f.roles.values())]
    amends = next((form for form in forms if form.heard.amends), None)
    scraps = next((form for form in forms if not form.heard.amends), None)
    if amends is None or scraps is None:
        return None
    if found := _LAST_WRONG.match(said):
        asked = unnumbered(
            scraps, scraps.heard.words[0], f"last: {found[1] or 'wrong'}", grammar, around
        )
        return None if asked is None else (scraps, asked)
    for form, pattern in ((scraps, _NUMBERED), (amends, _SHOULD)):
        found = pattern.match(said)
        record = around.find(int(found[1])) if found else None
        if found and record is not None:
            return form, _ask(form, form.heard.words[0], found[2] or "wrong", [record], grammar)
    return None


def told_anew(form: Form, text: str, some: Iterable[Record], grammar: Grammar) -> Ask:
    """Ask which of some records a text puts right."""
    return _ask(form, form.heard.words[0], text, some, grammar)


def _ask(form: Form, word: str, reason: str, some: Iterable[Record], grammar: Grammar) -> Ask:
    shown, lines = [], []
    for one in some:
        said = payload_words(one.payload, kind=one.kind, labels=False, most=LETTERS)
        shown.append(f"No. {one.seq} {grammar.kinds[one.kind].title}: {said}")
        lines.append(f"{word} {one.seq}: {reason}")
    return Ask(about=f"{form.kind.title}: which record?", readings=tuple(shown), lines=tuple(lines))


def _speaks_of(record: Record, said: str, grammar: Grammar) -> bool:
    words = set(re.findall(r"[a-z]{4,}", said.lower())) - _COMMON
    held = (
        grammar.kinds[record.kind].title.lower()
        + " "
        + " ".join(value.lower() for value in record.payload.values() if isinstance(value, str))
    )
    return any(re.search(rf"\b{word}\b", held) for word in words)


def which_field(
    target: Form, parts: Sequence[LinePart], what: str, text: str, said: str, record: Record,
    around: LineContext,
) -> Ask | None:  # fmt: skip
    """Ask what of a record a value is, where it can be more than one thing: course or heading."""
    cues = []
    for role in target.roles.values():
        cue = LinePart(sort="phrase", text=role.cues[0] if role.cues else "",
                       value=(Meaning(sort="cue", key=role.key),))  # fmt: skip
        at = next((k for k, part in enumerate(parts) if part.text == what), None)
        if at is None or not role.cues or role.only_with:
            continue
        made = fit(target, [*parts[:at], cue, *parts[at:]], around.now, called=True, amending=True)
        if isinstance(made, Fitted) and role.key in made.bound:
            cues.append(role.cues[0])
    if not cues:
        return None
    at_text = said.rfind(text)
    lines = tuple(said[:at_text] + text.replace(what, f"{cue} {what}", 1) for cue in cues)
    return Ask(about=f"correct No. {record.seq}: {what} is its {' or its '.join(cues)}?",
               readings=tuple(f"{cue} {what}" for cue in cues), lines=lines, part=what)  # fmt: skip
