"""Whose a time is that stands in what was told: of the telling, or of what was told of."""

from __future__ import annotations

import re

from layers.heard.grammar import Form
from layers.heard.names import LineContext
from layers.heard.parts import LinePart
from layers.heard.result import Ask
from layers.heard.values import Bound, bind

CLOCK = (
    r"(\d{6}Z|(?:[01]\d|2[0-3])[0-5]\dZ?|(?:[01]\d|2[0-3]):[0-5]\dZ?|now|"
    r"[-−]\s?\d{1,3}\s?(?:min|h)|\d{1,3}\s?min(?:utes)?\sago)"
)
_LAST = re.compile(
    rf"(?<!\bat)(?<!\bby)(?<!from)(?<!until)(?<!since)(?<!expected)(?<!\bto)\s{CLOCK}[\s.]*$",
    re.IGNORECASE,
)
_FIRST = re.compile(
    rf"\s*(?:at\s+|since\s+)?{CLOCK}(?![\w:.])(?P<that>\s*[,:]?\s+that\s+)?[\s,]*", re.IGNORECASE
)


def told_at(form: Form, said: str, around: LineContext) -> Bound:
    """Return the time at which a line was told."""
    part = LinePart(sort="time", text=said, value=said)
    return bind(form.roles["time"], part, around.now, 3, future_s=0.0)


def time_first(
    form: Form, said: str, text: str, around: LineContext
) -> tuple[str, Bound | None, Ask | None]:
    """Return what was told without the time it begins with, that time, and what must be asked.

    *Families told at 0150 that …* says when they were told; *told her 0150 she was heard* may
    say when she was heard, and is asked. One that lies ahead is of what was told.
    """
    found = _FIRST.match(text) if form.heard.timed else None
    if found is None:
        return text, None, None
    made, rest = told_at(form, found[1], around), text[found.end() :]
    if not rest.strip(" .,:"):
        return "", made, None  # families told 1515: when that was, and not what
    if made.doubts or not _is_told(form):
        return text, None, None
    if found["that"]:
        return rest, made, None
    return text, None, _either(found[1], said, text, rest)


def time_last(form: Form, said: str, text: str, around: LineContext) -> Ask | None:
    """Ask whose time it is that ends what was told: the telling's, or one that was told of."""
    found = _LAST.search(text) if _is_told(form) else None
    if found is None or told_at(form, found[1], around).doubts:
        return None  # it lies ahead: of what was told
    rest = text[: found.start()].strip(" ,")
    return _either(found[1], said, text, rest) if rest else None


def _is_told(form: Form) -> bool:
    return form.heard.timed and bool({"whom", "expects_at"} & set(form.roles))


def _either(clock: str, said: str, text: str, rest: str) -> Ask | None:
    head = said[: said.rfind(text.strip())].rstrip(" :,") if text.strip() in said else ""
    if not head:
        return None
    lines = (f"{head} {clock}: {rest.strip()}", f"{head} now: {text.strip()}")
    return Ask(about=f"{clock}: when that was, or part of what was said?", lines=lines, part=clock,
               readings=(f"that was at {clock}", "part of what was said"))  # fmt: skip
