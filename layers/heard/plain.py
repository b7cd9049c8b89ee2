"""A fitted kind in words: the plain form that reads back to the same, and the read-back."""

from __future__ import annotations

from layers.heard.fitted import Fitted
from layers.heard.grammar import CONFIRMED
from layers.heard.values import Bound
from layers.journal.words.heard import ToldRecord

ENGLISH_CUES = {"±": "±", "plus or minus": "±"}


def plain(fitted: Fitted) -> str:
    """Return the line that says this and nothing else, every part with its cue and unit."""
    pieces = [_plain(one) for one in _ordered(fitted) if not _said_by_cue(one, fitted)]
    lead = _lead(fitted)
    if fitted.confirmed:
        pieces.append(CONFIRMED)
    return _joined("about" if fitted.about else "", lead, *pieces)


def words(fitted: Fitted, told: ToldRecord, withdrawn: str = "") -> str:
    """Return the read-back: what was said in full words, what was worked out, what was taken."""
    pieces = []
    time = last = ""
    for one in _ordered(fitted):
        if one.role.key == "time":
            time = one.words or one.shown
        if one.role.key == "time" or _said_by_cue(one, fitted):
            continue
        text = _spoken(one)
        cue = one.role.cues[0] if one.role.cues else ""
        if cue and cue == last:  # wind 310°T 25 kn
            text = text.removeprefix(cue).strip()
        last = cue
        if extra := told.also.get(one.role.key):
            text += f" {extra}"
        pieces.append(text)
    lead = _lead(fitted)
    said = _joined(lead, *pieces)
    if time:
        said += f", {time}"
    elif fitted.form.heard.timed:
        said += ", now"
    if told.assumed:
        said += f" (taken: {'; '.join(told.assumed)})"
    if fitted.about:
        said += " (said to be about)"
    if withdrawn:
        said += f" (withdrawn: {withdrawn})"
    return said


def why(fitted: Fitted) -> tuple[str, ...]:
    """Return part by part what was taken for what, with how sure that was."""
    out = []
    for one in _ordered(fitted):
        mark = {3: "", 2: ", unit or sense taken", 1: ", asked"}[one.worth]
        text = one.part.text if one.part is not None else one.shown
        inherited = ", from the head of the line" if one.role.key in fitted.inherited else ""
        out.append(f"{text}: {one.role.title}{mark}{inherited}")
    return tuple(out)


def _ordered(fitted: Fitted) -> list[Bound]:
    bound = fitted.bound
    keys = [key for key in fitted.form.order if key in bound and key not in ("time", "reason")]
    keys += [key for key in ("time",) if key in bound]
    keys += [key for key in bound if key not in keys]
    for key in [key for key in keys if _counts(bound[key])]:  # two lifejackets
        what = next(
            (k for k in keys if set(bound[k].role.choices) & set(bound[key].role.cues)), key
        )
        keys.remove(key)
        keys.insert(keys.index(what) if what in keys else 0, key)
    return [bound[key] for key in keys]


def _joined(*pieces: str) -> str:
    return " ".join(piece for piece in pieces if piece).replace(" : ", ": ")


def _lead(fitted: Fitted) -> str:
    heard = fitted.form.heard
    if not heard.words:
        return ""
    first = heard.words[0]
    cues = {cue for one in fitted.bound.values() for cue in one.role.cues[:1]}
    choices = any(one.role.sort == "choice" and first in one.role.choices
                  for one in fitted.bound.values())  # fmt: skip
    return "" if first in cues or choices else first


def _said_by_cue(one: Bound, fitted: Fitted) -> bool:
    """Whether a choice is the cue of another part, which says both: in raft 1."""
    said = "" if one.part is None else one.part.text.lower()
    words = (other.role for other in fitted.bound.values() if other.role.sort == "word")
    return one.role.sort == "choice" and any(said in role.cues for role in words)


def _counts(one: Bound) -> bool:
    """Whether it counts what a choice says, and stands before it without a cue."""
    return one.role.counts


def _plain(one: Bound) -> str:
    role = one.role
    if _counts(one):
        return one.shown
    if role.sort == "name":
        prep = next((prep for prep in role.preps), "")
        return f"{prep} {one.shown}".strip()
    if role.sort == "text":
        return one.shown if role.loose else f": {one.shown}"
    if role.sort == "time" and role.key == "time":
        return f"at {one.shown}"
    if role.sort in ("choice", "position"):
        return one.shown
    if role.sort == "time":
        prep = next((prep for prep in role.preps if prep), "")
        return f"{role.cues[0] if role.cues else prep} {one.shown}".strip()
    cue = role.cues[0] if role.cues and not one.shown.endswith(role.cues[0]) else ""
    if role.sort == "count" and role.loose:
        return one.shown
    return f"{cue} {one.shown}".strip()


def _spoken(one: Bound) -> str:
    role = one.role
    said = one.words or one.shown
    if _counts(one):
        return said
    if role.sort == "name":
        prep = one.part.prep if one.part is not None and one.part.prep else role.preps[0]
        new = " (new here)" if getattr(one.value, "new", False) else ""
        return f"{prep} {said}{new}".strip()
    if role.sort == "text":
        return said if role.loose else f": {said}"
    if role.sort in ("choice", "position"):
        return said
    cue = role.cues[0] if role.cues else ""
    if role.sort == "count" and role.loose:
        return said
    return f"{ENGLISH_CUES.get(cue, cue)} {said}".strip()
