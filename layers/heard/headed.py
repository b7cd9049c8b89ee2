"""Lines that a word opens and free text ends: scrap 14: wrong ship; decided: launch at first light.

A correction is one of them: behind its number stands what the record should read, in the words
of that record's own kind.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from layers.earth.errors import InputError
from layers.heard.asks.rather import put_right
from layers.heard.asks.unknown import name_meant
from layers.heard.asks.which_record import of_a_number, unnumbered, which_field
from layers.heard.asks.whose_time import CLOCK, time_first, time_last, told_at
from layers.heard.bind import fit
from layers.heard.fitted import Fitted, Misfit
from layers.heard.grammar import Form, Grammar
from layers.heard.names import LineContext
from layers.heard.numbers import figures
from layers.heard.parts import LinePart
from layers.heard.result import Ask
from layers.heard.scan import scan
from layers.heard.values import Bound, bind
from layers.journal.known import check_payload
from layers.journal.record import Record
from layers.journal.words.heard import ToldRecord

_RECORD = re.compile(
    r"\s*(?:records?\b\s*)?(?:no\.?|number|#|№)?\s*(\d{1,7})\b[\s,:.–-]*", re.IGNORECASE
)
_STOP = re.compile(r"\s*:\s*(?!\d\dZ?\b)|\s+-\s+|\s+because\s+", re.IGNORECASE)
_MORE = re.compile(
    r"\s*((?:(?:,|and|&|\+|to|through|[-–])\s*(?:no\.?\s*)?\d{1,7}\b[\s,]*)+)(:|$|because\b)?",
    re.IGNORECASE,
)
_MOST_AT_ONCE = 10
_EARLY = re.compile(rf"\s*(?:at\s+)?{CLOCK}\b[\s,.:]+(?=\D)", re.IGNORECASE)
_LATE = re.compile(rf"(?:^|[\s,])\s*(?:(?:at|since|timed)\s+)?{CLOCK}\s*$", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Headed:
    """A headed line with what must be asked about it."""

    fitted: Fitted
    asks: tuple[Ask, ...] = ()
    told: ToldRecord | None = None


def headed(said: str, grammar: Grammar, around: LineContext) -> Headed | None:
    """Return what a line says whose first word is that of a kind with free text, else None."""
    if (form := _asking(said, grammar)) is not None:
        found = _between(form, said)
        assert found is not None
        rest = f"{found[1]}: {found[2]}"
        return _of_words(form, said, rest, form.heard.words[0], grammar, around)
    form, rest, word = _head(said, grammar)
    if form is None:
        form, rest, word = _head_of_her(said, grammar, around)
    if form is None and (early := _EARLY.match(said)) is not None:
        form, rest, word = _head(said[early.end() :], grammar)
        record_kind = form is not None and any(r.sort == "record" for r in form.roles.values())
        if form is not None and not record_kind and form.heard.timed and _STOP.search(rest):
            head, text = _STOP.split(rest, maxsplit=1)
            rest = f"{head} {early[1]}: {text}"
        elif form is not None and not record_kind and form.heard.timed and _opens(form, word):
            rest = f"{early[1]}: {rest}"  # at 1150 families told that …
        else:
            form = None
    if form is None:
        meant = of_a_number(said, grammar, around) or put_right(said, grammar, around)
        return Headed(fitted=Fitted(form=meant[0], bound={}), asks=(meant[1],)) if meant else None
    record = next((role for role in form.roles.values() if role.sort == "record"), None)
    if record is not None:
        return _of_a_record(form, record.key, said, rest, word, grammar, around)
    return _of_words(form, said, rest, word, grammar, around)


def _asking(said: str, grammar: Grammar) -> Form | None:
    """Return the kind of a line that names whom and what with a word between: asked X for Y."""
    forms = (form for form in grammar.forms.values() if form.heard.between)
    return next((form for form in forms if _between(form, said)), None)


def _between(form: Form, said: str) -> re.Match[str] | None:
    words = "|".join(re.escape(word) for word in form.heard.asking)
    return re.fullmatch(
        rf"(?:we\s+|i\s+)?(?:have\s+)?(?:{words})\s+(?:the\s+)?([^:;]{{2,60}}?)\s+"
        rf"{form.heard.between}\s+(?:help\s*:\s*)?(\S.*)",
        said, re.IGNORECASE,
    )  # fmt: skip


def _head(said: str, grammar: Grammar) -> tuple[Form | None, str, str]:
    for word in sorted(grammar.heads, key=len, reverse=True):
        found = re.match(rf"{re.escape(word)}\b(?!\s*(?:is|was|lost)\b)[ \t]*", said, re.IGNORECASE)
        if found:
            return grammar.heads[word], said[found.end() :], word
    return None, said, ""


def _head_of_her(said: str, grammar: Grammar, around: LineContext) -> tuple[Form | None, str, str]:
    """Return the head of a line that says her name where *her* could stand."""
    for name in around.names:
        if name.hers:
            named = rf"(?<=\w\s){re.escape(name.text)}\b"
            form, rest, word = _head(re.sub(named, "her", said, count=1, flags=re.I), grammar)
            if word.endswith(" her"):
                return form, rest, word
    return None, said, ""


def _opens(form: Form, word: str) -> bool:
    """Whether a word says all that stands before what was told."""
    others = [key for key, role in form.roles.items()
              if key != form.heard.text and role.sort != "time"]  # fmt: skip
    return not others or bool(form.heard.whom and word in form.roles[form.heard.whom].choices)


def _of_a_record(
    form: Form, key: str, said: str, rest: str, word: str, grammar: Grammar, around: LineContext
) -> Headed | None:
    found = _RECORD.match(figures(rest))
    fitted = Fitted(form=form, bound={})
    if found is None:
        if (which := unnumbered(form, word, rest, grammar, around)) is not None:
            return Headed(fitted=fitted, asks=(which,))
        if not rest.strip(" :,."):
            return Headed(fitted=fitted, asks=(Ask(about=f"{form.kind.title}: which record?"),))
        return None
    number, text = int(found[1]), figures(rest)[found.end() :].strip()
    if (several := _several(form, word, number, figures(rest)[found.end(1) :], around)) is not None:
        return Headed(fitted=fitted, asks=(several,))
    raw = _RECORD.match(rest)
    text = rest[raw.end() :].strip() if raw else text
    role = form.roles[key]
    fitted.bound[key] = Bound(role=role, value=number, part=None, shown=str(number),
                              words=f"No. {number}")  # fmt: skip
    record = around.find(number)
    if record is None:
        about = f"there is no record {number}" if not around.trusting else (
            f"record {number}: no journal is named to look it up in"
        )  # fmt: skip
        return Headed(fitted=fitted, asks=(Ask(about=about, part=str(number), refused=True),))
    if (scrap := _scrapped_by(record, around)) is not None:
        about = f"No. {number} was scrapped already, by No. {scrap}"
        return Headed(fitted=fitted, asks=(Ask(about=about, part=str(number), refused=True),))
    told = ToldRecord(roles={key: record}, now=around.now, at=around.now, known=around.known)
    if form.heard.amends:
        return _amended(form, fitted, told, record, text, said, grammar, around)
    return _finished(form, fitted, told, text, said)


def _scrapped_by(record: Record, around: LineContext) -> int | None:
    """Return the number of the record that took another back and stands itself."""
    said = around.known.opinions().get(record.id, ()) if around.known is not None else ()
    backs = [one.seq for one in said if one.kind == "journal.retract"]
    return backs[-1] if backs else None


def _several(form: Form, word: str, first: int, rest: str, around: LineContext) -> Ask | None:
    """Ask about a line that names several records: one line each, none of them lost in a reason."""
    found = _MORE.match(rest)
    if found is None or (form.heard.amends and found[2] is None):
        return None
    numbers = [first]
    for joint, figure in re.findall(r"(,|and|&|\+|to|through|[-–])\s*(?:no\.?\s*)?(\d{1,7})",
                                    found[1], re.IGNORECASE):  # fmt: skip
        run = joint.lower() in ("to", "through", "-", "–")
        last = int(figure)
        numbers += range(numbers[-1] + 1, last + 1) if run and last > numbers[-1] else [last]
    if len(numbers) > _MOST_AT_ONCE or any(around.find(one) is None for one in numbers):
        return None
    text = rest[found.end() :].strip(" :,.")
    if not text and form.heard.text in {key for need in form.needs for key in need}:
        text = "as heard"
    line = "; ".join(f"{word} {one}: {text}".rstrip(" :") for one in dict.fromkeys(numbers))
    named = " and ".join(f"No. {one}" for one in dict.fromkeys(numbers))
    return Ask(about=f"{form.kind.title}: several records?", readings=(named,), lines=(line,))


def _finished(form: Form, fitted: Fitted, told: ToldRecord, text: str, said: str) -> Headed:
    asks: tuple[Ask, ...] = ()
    role = form.roles[form.heard.text]
    if text:
        fitted.bound[role.key] = Bound(role=role, value=text, part=None, shown=text)
        told.roles = {**told.roles, role.key: text}
    elif any(
        role.key in need and not any(key in fitted.bound for key in need) for need in form.needs
    ):
        lines = tuple(f"{said}: {reason}" for reason in role.offered)
        asks = (Ask(about=f"{form.kind.title}: {role.title}?", readings=role.offered, lines=lines),)
    return Headed(fitted=fitted, told=told, asks=asks)


def _of_words(
    form: Form, said: str, rest: str, word: str, grammar: Grammar, around: LineContext
) -> Headed | None:
    """Read what stands before the colon as roles, what stands behind it as it is."""
    stop = _STOP.search(rest)
    others = [key for key in form.roles if key not in (form.heard.text, "time")]
    before, text = (rest[: stop.start()], rest[stop.end() :]) if stop else ("", rest)
    fitted = Fitted(form=form, bound={}, own_word=True)
    before, before_at = _time_before(form, before, around)
    if before.strip():
        parts = scan(figures(before.strip()), grammar, around)
        made = fit(form, parts, around.now, called=True)
        if isinstance(made, Misfit):
            if not others:
                text, made = rest, fitted
            elif form.heard.whom and _whom_sort(form) != "choice":
                made = _to_whom(form, fitted, before.strip())
            else:
                return None
        fitted = made
        fitted.lacking.clear()
    elif form.heard.whom and (known := form.roles[form.heard.whom].choices.get(word)):
        _to_whom(form, fitted, known)  # told the press: …
    elif not stop and (whole := _all_roles(form, rest, grammar, around)):
        fitted, text = whole, ""  # in charge OSC TENACE
    elif others and not stop:
        text = _leading_roles(form, rest, fitted, grammar, around)
    text, tail = _tail_time(form, text, around)
    text, when = _when(form, text, around)
    first = None
    if before_at is None and when is None:
        text, when, first = time_first(form, said, text, around)
    when = before_at or when
    if when is not None:
        fitted.bound["time"] = when
    if tail is not None:
        fitted.bound[tail.role.key] = tail
    told = ToldRecord(
        roles={key: one.value for key, one in fitted.bound.items()}, now=around.now,
        at=fitted.bound["time"].value if "time" in fitted.bound else around.now, known=around.known,
    )  # fmt: skip
    done = _finished(form, fitted, told, text.strip(" :,"), said)
    lacking = [
        " or ".join(form.roles[key].title for key in need)
        for need in form.needs
        if not any(key in fitted.bound for key in need) and form.heard.text not in need
    ]
    more = tuple(_lacking(form, title, word, text.strip(" :,")) for title in lacking)
    if (slip := name_meant(fitted, said, text.strip(" :,"), around)) is not None:
        more = (*more, slip)
    last = time_last(form, said, text, around) if "time" not in fitted.bound else None
    more = (*more, *(one for one in (first or last,) if one is not None))
    return Headed(fitted=fitted, told=told, asks=(*done.asks, *more))


def _lacking(form: Form, title: str, word: str, text: str) -> Ask:
    """Ask for what stands before the colon; where it is one of some words, they are offered."""
    role = next((one for one in form.roles.values() if one.title == title), None)
    firsts: dict[str, str] = {}
    for phrase, value in role.choices.items() if role is not None and text else ():
        firsts.setdefault(repr(value), phrase)
    offered = tuple(firsts.values())
    return Ask(about=f"{form.kind.title}: {title}?", readings=offered,
               lines=tuple(f"{word} {one}: {text}" for one in offered))  # fmt: skip


def _all_roles(form: Form, rest: str, grammar: Grammar, around: LineContext) -> Fitted | None:
    """Return a line that says all that its kind needs without any free text."""
    if any(form.heard.text in need for need in form.needs):
        return None
    made = fit(form, scan(figures(rest), grammar, around), around.now, called=True)
    return made if isinstance(made, Fitted) and made.bound and not made.lacking else None


def _to_whom(form: Form, fitted: Fitted, text: str) -> Fitted:
    role = form.roles[form.heard.whom]
    fitted.bound[role.key] = Bound(role=role, value=text, part=None, shown=text)
    return fitted


def _leading_roles(
    form: Form, rest: str, fitted: Fitted, grammar: Grammar, around: LineContext
) -> str:
    """Take a name at the head of the text where a role wants one: task TENACE search east."""
    parts = scan(rest, grammar, around)
    if parts and parts[0].sort == "name":
        made = fit(form, parts[:1], around.now, called=True)
        if isinstance(made, Fitted):
            fitted.bound |= made.bound
            return rest[rest.lower().index(parts[0].text.lower()) + len(parts[0].text) :]
    return rest


def _when(form: Form, text: str, around: LineContext) -> tuple[str, Bound | None]:
    """Return the time at which it was asked, where the line ends with one that is past."""
    word = "at" if form.heard.between else "since" if _whom_sort(form) == "choice" else ""
    found = re.search(rf"[\s,]+{word}\s+(\d{{4}}Z?)\s*$", text, re.I) if word else None
    if found is None:
        return text, None
    made = told_at(form, found[1], around)
    return (text, None) if made.doubts else (text[: found.start()], made)


def _whom_sort(form: Form) -> str:
    return form.roles[form.heard.whom].sort if form.heard.whom else ""


def _time_before(form: Form, before: str, around: LineContext) -> tuple[str, Bound | None]:
    """Return what stands before the colon without the time at which it was said or done."""
    found = _LATE.search(before) if form.heard.timed else None
    if found is None or any(name.text.casefold() == before.strip().casefold()
                            for name in around.names):  # fmt: skip
        return before, None
    head = before[: found.start()]
    cues = [cue for role in form.roles.values() if role.sort == "time" for cue in role.cues]
    if any(head.lower().rstrip().endswith(cue) for cue in cues):
        return before, None  # expect it 1900: the time is of what was promised
    return head.strip(" ,"), told_at(form, found[1], around)


def _tail_time(form: Form, text: str, around: LineContext) -> tuple[str, Bound | None]:
    for role in form.roles.values():
        if role.sort != "time" or not role.ahead:
            continue
        cues = "|".join(re.escape(cue) for cue in (*role.cues, "by", "due"))
        found = re.search(
            rf"[\s,]+(?:{cues})\s+(?:at\s+)?"
            r"(\d{4}-\d{2}-\d{2}T\d{2}:\d{2}Z|(?:\d{2}\s?)?\d{4}Z?|\d{2}:\d{2}Z?)\s*$",
            text,
            re.IGNORECASE,
        )
        if found:
            part = LinePart(sort="time", text=found[1], value=found[1])
            return text[: found.start()], bind(role, part, around.now, 3, future_s=0.0)
    return text, None


def _amended(
    form: Form, fitted: Fitted, told: ToldRecord, record: Record, text: str, said: str,
    grammar: Grammar, around: LineContext,
) -> Headed:  # fmt: skip
    """Read what the record should say in the words of its own kind."""
    target = grammar.forms.get(record.kind)
    title = grammar.kinds[record.kind].title
    if not text:
        return _ask(fitted, f"correct No. {record.seq}, {title}: what should it read?")
    if target is None:
        return _ask(fitted, f"{title} is corrected in its form, not by a line", refused=True)
    parts = scan(figures(text), grammar, around)
    made = fit(target, parts, around.now, called=True, amending=True)
    if isinstance(made, Misfit):
        what = made.part.text if made.part is not None else text
        if (which := which_field(target, parts, what, text, said, record, around)) is not None:
            return Headed(fitted=fitted, asks=(which,))
        return _ask(fitted, f"correct No. {record.seq}, {title}: {what} is of nothing that it says",
                    part=what)  # fmt: skip
    doubts = [doubt for one in made.bound.values() for doubt in one.doubts]
    if doubts:
        asks = tuple(
            Ask(about=doubt.about, readings=doubt.readings, refused=doubt.refused,
                lines=tuple(said.replace(_text(made, doubt), way) for way in doubt.readings))
            for doubt in doubts
        )  # fmt: skip
        return Headed(fitted=fitted, asks=asks)
    inner = ToldRecord(
        roles={key: one.value for key, one in made.bound.items() if key != "time"},
        now=around.now, at=record.valid_at, known=around.known, amending=True,
        names={name.text: name for name in around.names},
    )  # fmt: skip
    if target.heard.fill is not None:
        target.heard.fill(inner)
    else:
        inner.put(**{k: v[0] if isinstance(v, tuple) else v for k, v in inner.roles.items()})
    try:
        check_payload(grammar.kinds[record.kind], {**record.payload, **inner.payload}, title)
    except InputError as reason:
        return _ask(fitted, f"correct No. {record.seq}, {title}: {reason.what}", refused=True)
    told.roles = {**told.roles, "fields": dict(inner.payload)}
    if "time" in made.bound:
        told.roles = {**told.roles, "valid_at": made.bound["time"].value}
    if not inner.payload and "time" not in made.bound:
        return _ask(fitted, f"correct No. {record.seq}, {title}: what should it read?")
    for key, one in made.bound.items():
        fitted.bound[f"new {key}"] = one
    told.also[next(iter(fitted.form.roles))] = f"({title})"
    return Headed(fitted=fitted, told=told)


def _text(made: Fitted, doubt: object) -> str:
    for one in made.bound.values():
        if doubt in one.doubts and one.part is not None:
            return one.part.text
    return "\0"


def _ask(fitted: Fitted, about: str, *, part: str = "", refused: bool = False) -> Headed:
    return Headed(fitted=fitted, asks=(Ask(about=about, part=part, refused=refused),))
