"""What no kind could take: near names and words asked, what is lacking named, the rest a note."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from layers.heard.asks.left_out import TURNING, left_out
from layers.heard.asks.of_what import MOST_OFFERED, of_what
from layers.heard.bind import fit
from layers.heard.compete import compete
from layers.heard.fitted import Fitted, Misfit
from layers.heard.grammar import Form, Grammar
from layers.heard.names import LineContext, edits, plain_name
from layers.heard.numbers import figures, part_heading
from layers.heard.parts import LinePart
from layers.heard.result import Ask, HeardLine
from layers.heard.scan import scan
from layers.heard.values import NO_NAME
from layers.journal.words.heard import Name

VALUES = ("position", "time", "direction", "pair", "quantity", "number", "doubt")
_POINTS = ("north", "northeast", "east", "southeast", "south", "southwest", "west", "northwest")
_SHORT = ("n", "ne", "e", "se", "s", "sw", "w", "nw")
SIDES = {
    way: 45.0 * k
    for k, (long, short) in enumerate(zip(_POINTS, _SHORT, strict=True))
    for way in (long, short, long.replace("th", "th-", 1) if len(long) > 5 else long)
}
SPEAKERS = frozenset({"me", "my", "you", "your", "us", "our", "we", "i"})
NEW = re.compile(r"new\b", re.IGNORECASE)
_NAMELIKE = re.compile(r"[A-Za-z][A-Za-z0-9'.-]*|\d{1,3}")


def with_new_name(parts: list[LinePart], grammar: Grammar, around: LineContext) -> list[LinePart]:
    """Return the parts with a name that nothing knows as a new one, where it may be one.

    Behind *new ship*, *new compartment* it always is. Where no ship is known at all there is none
    that it could be a slip of: a word in capitals is taken, and without a plot any word that is
    near to none of the grammar's own.
    """
    for at, part in enumerate(parts):
        form = _introducing(part, grammar)
        if form is not None:
            return _introduced(parts, at, form, around)
    return _first_ship(parts, grammar, around)


def _introducing(part: LinePart, grammar: Grammar) -> Form | None:
    """Return the kind that a phrase like *new ship* makes a name known by."""
    if part.sort != "phrase" or not NEW.match(part.text):
        return None
    for meaning in part.value:
        form = grammar.forms.get(meaning.key) if meaning.sort == "word" else None
        if form is not None and form.heard.introduces:
            return form
    return None


def _introduced(parts: list[LinePart], at: int, form: Form, around: LineContext) -> list[LinePart]:
    sort = form.heard.introduces
    if any(part.text.lower() in NO_NAME for part in parts):
        return parts
    named = at + 1 < len(parts) and parts[at + 1].text.lower() in ("named", "called")
    first = end = at + 2 if named else at + 1
    ended = _ended(parts, end, form.heard.endings)
    if ended:
        end = ended  # new compartment fore ends
    elif _begins_a_name(parts, end):
        end += 1  # new ship FORWARD STAR
    while not ended and end < len(parts) and _goes_on(parts[end], form, end == first):
        end += 1
    if end == first or isinstance(fit(form, parts, around.now), Fitted):
        return parts
    new = _new(parts[first:end], sort, said=parts[at].text.lower())
    whole = [*parts[:first], new, *parts[end:]]
    alone = isinstance(fit(form, whole, around.now), Fitted)
    return whole if alone else [*parts[:at], new, *parts[end:]]


def _goes_on(part: LinePart, form: Form, first: bool) -> bool:
    """Whether a part belongs to the name that is told: a figure does to a ship's, not a place's."""
    if part.prep and not first:  # new ship PETREL at Colombo
        return False
    wanted = ("unknown",) if form.heard.endings and not first else ("unknown", "number")
    return part.sort in wanted and bool(_NAMELIKE.fullmatch(part.text))


def _ended(parts: Sequence[LinePart], at: int, endings: Sequence[str]) -> int:
    """Return where a name ends that one of some words ends, 0 where none does: fore ends."""
    for end in (at + 1, at + 2):
        if end < len(parts) and parts[end].sort == "unknown" and not parts[end].prep and (
            parts[end].text.lower() in endings
            and all(re.fullmatch(r"[A-Za-z][\w'.-]*", p.text) for p in parts[at:end])
            and all(p.sort == "unknown" or (end == at + 1 and _refuge_or_word(p))
                    for p in parts[at:end])
        ):  # fmt: skip
            return end + 1
    return 0


def _refuge_or_word(part: LinePart) -> bool:
    """Whether a part may open a place's name although it is known: fore ends, control room."""
    if part.sort == "name":
        return all(name.sort == "refuge" for name in part.value)
    return part.sort == "phrase"


def _begins_a_name(parts: Sequence[LinePart], at: int) -> bool:
    """Whether a known word in capitals opens a name that is not known: FORWARD STAR, LIMIT 2."""
    if at + 1 >= len(parts) or parts[at].sort not in ("phrase", "name"):
        return False
    behind = parts[at + 1]
    number = behind.sort == "number" and re.fullmatch(r"\d{1,3}", behind.text)
    wanted = number or (behind.sort == "unknown" and behind.text == behind.text.upper())
    return bool(wanted and not behind.prep and re.fullmatch(r"[A-Z][A-Z -]+", parts[at].text))


def _first_ship(parts: list[LinePart], grammar: Grammar, around: LineContext) -> list[LinePart]:
    if around.of_sort("ship"):
        return parts
    runs = [k for k, part in enumerate(parts) if part.sort == "unknown"]
    if not runs or runs != list(range(runs[0], runs[-1] + 1)):
        return parts
    some = parts[runs[0] : runs[-1] + 1]
    if any(
        not re.fullmatch(r"[A-Za-z][A-Za-z'.-]{1,}", p.text)
        or p.text.lower() in SIDES.keys() | SPEAKERS
        for p in some
    ):
        return parts
    if not around.trusting and any(part.text != part.text.upper() for part in some):
        return parts
    if any(near_words(part.text, grammar) for part in some) or around.near(some[0].text):
        return parts
    if any(_whole(fit(form, parts, around.now)) for form in grammar.forms.values()):
        return parts  # boat GREYWETHER: the name of something else
    end = runs[-1] + 1
    if end < len(parts) and re.fullmatch(r"\d{1,2}", parts[end].text) and not parts[end].prep:
        end += 1  # RESCUE 21
    with_it = [*parts[: runs[0]], _new(parts[runs[0] : end], "ship"), *parts[end:]]
    # where nothing is told of a ship it is none: overdue since 1130Z
    return with_it if compete(with_it, grammar, around.now) else parts


def _whole(made: Fitted | Misfit) -> bool:
    return isinstance(made, Fitted) and not made.lacking


def _new(some: Sequence[LinePart], sort: str, *, said: str = "") -> LinePart:
    text = " ".join(part.text for part in some)
    text = text.upper() if sort == "ship" else text
    name = Name(text=text, sort=sort, key=text, new=True, said=said, fast="air" in said
                or "helicopter" in said)  # fmt: skip
    return LinePart(
        sort="name", text=" ".join(part.text for part in some), value=(name,), prep=some[0].prep
    )


def nothing_fits(
    segment: str,
    parts: Sequence[LinePart],
    grammar: Grammar,
    around: LineContext,
    hearing: HeardLine,
) -> None:
    """Add the questions of a line that no kind can take, or keep it as a note."""
    asks = _near(segment, parts, grammar, around)
    values = [
        part for part in parts
        if part.sort in VALUES or (part.sort == "unknown" and re.search(r"\d", part.text))
    ]  # fmt: skip
    naming = any(_introducing(part, grammar) for part in parts)
    words = [part.text for part in parts if part.sort == "unknown"]
    rest = left_out(segment, parts, words, grammar, around) if words else None
    if not values and not asks and not naming and not (rest and rest.readings):
        hearing.notes.append(segment)
        return
    new = _as_new(segment, parts, grammar, around)
    if new is not None:
        # of a number the next may well be meant; a letter wrong is a slip
        numbered = re.search(r"\d", new.part)
        asks = [_either(a, new) if numbered and a.part == new.part else a for a in asks]
        if all(set(ask.part.split()).isdisjoint(new.part.split()) for ask in asks):
            asks.append(new)
    told = {word for ask in asks for word in ask.part.split()}
    for part in parts:
        if part.sort == "doubt" and part.doubt is not None:
            lines = tuple(segment.replace(part.text, way) for way in part.doubt.readings)
            asks.append(Ask(about=part.doubt.about, readings=part.doubt.readings, lines=lines,
                            part=part.text, refused=part.doubt.refused))  # fmt: skip
    asks += _unknown(segment, parts, told, grammar, around)
    if not asks:
        asks.append(of_what(segment, parts, grammar, around))
    hearing.asks += asks


def _either(near: Ask, new: Ask) -> Ask:
    """Return the question whether a known name is meant or a new one."""
    about = f"{near.about.removesuffix('?')}, or a new one?"
    return replace(near, about=about, readings=(*near.readings, *new.readings),
                   lines=(*near.lines, *new.lines))  # fmt: skip


def _unknown(
    segment: str,
    parts: Sequence[LinePart],
    told: set[str],
    grammar: Grammar,
    around: LineContext,
) -> list[Ask]:
    """Ask about the words that nothing knows: those that have an answer of their own, then all."""
    asks: list[Ask] = []
    words: list[str] = []
    for part in parts:
        if part.sort != "unknown" or part.text in told:
            continue
        if (side := part.text.lower().removesuffix("erly")) in SIDES:
            about = f"{part.text} is a rough side: bearing in figures?"
            figures = (f"{SIDES[side]:03.0f}",)
            lines = (segment.replace(part.text, figures[0], 1),)
            asks.append(Ask(about=about, readings=figures, lines=lines, part=part.text))
        elif part.text.lower() in SPEAKERS:
            asks.append(Ask(about=f"{part.text}: who is that? name the ship", part=part.text))
        elif part.text.startswith("«"):
            asks.append(Ask(about=f"{part.text}: a figure, or a word?", part=part.text))
        else:
            words.append(part.text)
    if words:
        asks.append(left_out(segment, parts, words, grammar, around))
    return asks


def _near(
    segment: str, parts: Sequence[LinePart], grammar: Grammar, around: LineContext
) -> list[Ask]:
    """Ask about words that nothing knows and that are near to a name or a word of the grammar."""
    asks: list[Ask] = []
    done: set[int] = set()
    known = any(part.sort in (*VALUES, "phrase", "name") for part in parts)
    for size in (3, 2, 1):
        for at in range(len(parts) - size + 1):
            some = parts[at : at + size]
            if done & set(range(at, at + size)):
                continue
            if not any(p.sort in ("unknown", "phrase") for p in some) or not all(
                p.sort in ("unknown", "number", "name", "phrase") and not p.text.startswith("«")
                for p in some
            ):  # fmt: skip
                continue
            if size == 1 and some[0].sort != "unknown":
                continue
            text = " ".join(part.text for part in some)
            names = around.near(text)
            if size > 1 and all(p.sort != "unknown" for p in some):
                continue
            if any(part.text.lower() in NO_NAME for part in some):
                continue
            if names:
                done |= set(range(at, at + size))
                asks.append(_meant(segment, text, names[:MOST_OFFERED]))
    for at, part in enumerate(parts):
        if part.sort != "unknown" or at in done or not (known or len(parts) == 1):
            continue
        if words := [w for w in near_words(part.text, grammar)
                     if _reads(segment, part.text, w, grammar, around)]:  # fmt: skip
            asks.append(_meant(segment, part.text, words[:MOST_OFFERED]))
    return asks


def _reads(segment: str, text: str, word: str, grammar: Grammar, around: LineContext) -> bool:
    """Whether a line tells something with the word that may have been meant in it."""
    line = re.sub(re.escape(text), word, segment, count=1, flags=re.IGNORECASE)
    parts = with_new_name(scan(part_heading(figures(line)), grammar, around), grammar, around)
    return bool(compete(parts, grammar, around.now))


def _meant(segment: str, text: str, names: Sequence[str]) -> Ask:
    lines = tuple(
        re.sub(re.escape(text), name, segment, count=1, flags=re.IGNORECASE) for name in names
    )
    return Ask(about=f"{text!r} is not known; {' or '.join(names)} meant?", readings=tuple(names),
               lines=lines, part=text)  # fmt: skip


def near_words(text: str, grammar: Grammar) -> list[str]:
    """Return words of the grammar that a word is one letter, or two swapped, away from."""
    plain_ = plain_name(text)
    if len(plain_) < 4 or not plain_.isalpha():
        return []
    return [word for word in grammar.single_words
            if word[0] == plain_[0] and edits(plain_, word, 1) == 1]  # fmt: skip


def _as_new(
    segment: str, parts: Sequence[LinePart], grammar: Grammar, around: LineContext
) -> Ask | None:
    """Offer a name that nothing knows as a new one, where the line is whole with it."""
    endings = {end for form in grammar.forms.values() for end in form.heard.endings}
    stretch = _namelike(parts, tuple(endings))
    if stretch is None:
        return None
    first, end = stretch
    text = " ".join(part.text for part in parts[first:end])
    leads = [lead for lead in (_lead_of(form, parts, first, end, grammar, around)
                               for form in _able(parts[first:end], grammar)) if lead]  # fmt: skip
    if not leads:
        return None
    lines = tuple(
        re.sub(re.escape(text), f"{lead} {text}", segment, count=1, flags=re.IGNORECASE)
        if lead.startswith("new ") else f"{lead} {text}; {segment}"
        for lead in leads
    )  # fmt: skip
    offered = tuple(f"{lead} {text}" for lead in leads)
    what = " or ".join(lead.removeprefix("new ") for lead in leads)
    return Ask(about=f"{text} is not known here: a {what} from now on?", readings=offered,
               lines=lines, part=text)  # fmt: skip


def _able(some: Sequence[LinePart], grammar: Grammar) -> list[Form]:
    """Return the kinds that a stretch may be a new name for, by how it is written."""
    forms = [form for form in grammar.forms.values() if form.heard.introduces]
    last = some[-1].text.lower()
    ended = [f for f in forms if any(last.endswith(end) for end in f.heard.endings)]
    if ended:
        return ended
    text = " ".join(part.text for part in some)
    return [f for f in forms if (f.heard.endings and some[0].prep == "in") or (not f.heard.endings
            and (text.isupper() if f.heard.introduces == "ship" or f.heard.hers
                 else text[0].isupper()))]  # fmt: skip


def _namelike(parts: Sequence[LinePart], endings: Sequence[str]) -> tuple[int, int] | None:
    """Return from where to where the first name stands that nothing knows."""
    first = next((k for k in range(len(parts)) if parts[k].sort == "unknown"
                  or _begins_a_name(parts, k) or _ended(parts, k, endings)), None)  # fmt: skip
    if first is None:
        return None
    if ended := _ended(parts, first, endings):
        return first, ended
    end = first + 1
    while end < len(parts) and parts[end].sort == "unknown":
        end += 1
    some = parts[first:end]
    if len(some) > 3 or any(not re.fullmatch(r"[A-Za-z][\w '.-]{2,}", p.text) for p in some):
        return None
    if any(part.text.lower() in SIDES.keys() | SPEAKERS | TURNING for part in some):
        return None
    number = end < len(parts) and re.fullmatch(r"\d{1,3}", parts[end].text)
    if number and not parts[end].prep and some[0].text.isupper():  # RESCUE 21
        end += 1
    return first, end


def _lead_of(
    form: Form,
    parts: Sequence[LinePart],
    first: int,
    end: int,
    grammar: Grammar,
    around: LineContext,
) -> str:
    """Return the words that make a name known as what this kind introduces, if a line wants it."""
    new = _new(parts[first:end], form.heard.introduces)
    if form.heard.hers:
        if around.of_sort(form.heard.introduces):
            return ""  # she has a name, and it is not this one
        new = replace(new, sort="filler")
    if any(parts[end - 1].text.lower().endswith(one) for one in form.heard.endings):
        return form.heard.words[0]  # torpedo room can be nothing else
    # the stretch up to the next comma is enough: what follows is asked in its turn
    stop = next((k for k in range(end, len(parts)) if parts[k].sort == "comma"), len(parts))
    whole = [*parts[:first], new, *parts[end:stop]]
    called = bool(form.heard.endings)
    fits = [fit(other, whole, around.now, called=called) for other in grammar.forms.values()]
    wanted = any(isinstance(made, Fitted) and not made.lacking and made.bound for made in fits)
    return form.heard.words[0] if wanted else ""
