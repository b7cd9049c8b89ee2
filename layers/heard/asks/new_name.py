"""Names that nothing knows: taken as new where one is told as new, offered where it may be one."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from layers.heard.asks.endings import begins_a_name, ended, only_the_word
from layers.heard.asks.left_out import TURNING
from layers.heard.asks.several_words import as_one_name
from layers.heard.bind import fit
from layers.heard.compete import compete
from layers.heard.fitted import Fitted, Misfit
from layers.heard.grammar import Form, Grammar
from layers.heard.names import LineContext, edits, plain_name
from layers.heard.numbers import figures, part_heading
from layers.heard.parts import LinePart
from layers.heard.result import Ask
from layers.heard.scan import scan
from layers.heard.values import NO_NAME
from layers.journal.words.heard import Name

_POINTS = ("north", "northeast", "east", "southeast", "south", "southwest", "west", "northwest")
_SHORT = ("n", "ne", "e", "se", "s", "sw", "w", "nw")
SIDES = {
    way: 45.0 * k
    for k, (long, short) in enumerate(zip(_POINTS, _SHORT, strict=True))
    for way in (long, short, long.replace("th", "th-", 1) if len(long) > 5 else long)
}
SIDES |= {way: 22.5 + 45.0 * k for k, way in enumerate(
    ("nne", "ene", "ese", "sse", "ssw", "wsw", "wnw", "nnw"))}  # fmt: skip
SPEAKERS = frozenset({"me", "my", "you", "your", "us", "our", "we", "i"})
NEW = re.compile(r"new\b", re.IGNORECASE)
_NAMELIKE = re.compile(r"[A-Za-z][A-Za-z0-9'’ .-]*|\d{1,3}")

_CAPITALS = re.compile(r"[A-Z][A-Z'’ .-]{2,}")


def with_new_name(parts: list[LinePart], grammar: Grammar, around: LineContext) -> list[LinePart]:
    """Return the parts with a name that nothing knows as a new one, where it may be one.

    Behind *new ship*, *new compartment* it always is. Where no ship is known at all there is none
    that it could be a slip of: a word in capitals is taken, and without a plot any word that is
    near to none of the grammar's own.
    """
    for at, part in enumerate(parts):
        form = introducing(part, grammar)
        if form is not None:
            return _introduced(parts, at, form, grammar, around)
    parts = as_one_name(parts, grammar, around)
    return _first_place(_first_ship(parts, grammar, around), grammar, around)


def _first_place(parts: list[LinePart], grammar: Grammar, around: LineContext) -> list[LinePart]:
    """Return the parts with a place as a new one where none has been told: control room 17 people.

    It ends with a word that only names of places end with, and the rest is whole with it.
    """
    for form in grammar.forms.values():
        ready = {name.key for name in form.heard.ready_names}
        if not form.heard.endings or any(
            name.key not in ready for name in around.of_sort(form.heard.introduces)
        ):
            continue
        for at in range(len(parts)):
            end = ended(parts, at, form.heard.endings)
            before = parts[:at]
            if end and before and only_the_word(before[-1], form.heard.endings):
                before = before[:-1]  # compartment engine room
            text = " ".join(part.text for part in parts[at:end])
            alike = any(name.text.lower().endswith(parts[end - 1].text.lower())
                        for name in around.of_sort(form.heard.introduces))  # fmt: skip
            if not end or alike or around.near(text):
                continue  # forwrd compartment: it may be a slip
            name = _new(parts[at:end], form.heard.introduces)
            whole = [*before, name, *parts[end:]]
            ways = compete(whole, grammar, around.now)
            if ways and not ways[0].cost[0] and all(way.bound for way in ways[0].drafts):
                return whole
            break
    return parts


def introducing(part: LinePart, grammar: Grammar) -> Form | None:
    """Return the kind that a phrase like *new ship* makes a name known by."""
    if part.sort != "phrase" or not NEW.match(part.text):
        return None
    for meaning in part.value:
        form = grammar.forms.get(meaning.key) if meaning.sort == "word" else None
        if form is not None and form.heard.introduces:
            return form
    return None


def _introduced(
    parts: list[LinePart], at: int, form: Form, grammar: Grammar, around: LineContext
) -> list[LinePart]:
    sort = form.heard.introduces
    if any(part.text.lower() in NO_NAME for part in parts):
        return parts
    named = at + 1 < len(parts) and parts[at + 1].text.lower() in ("named", "called")
    first = end = at + 2 if named else at + 1
    stop = ended(parts, end, form.heard.endings)
    if stop:
        end = stop  # new compartment fore ends
    elif begins_a_name(parts, end):
        end += 1  # new ship FORWARD STAR
    while not stop and end < len(parts) and _goes_on(parts[end], form, end == first):
        if parts[end].sort == "number" and end + 1 < len(parts) and (
            _counts(parts[end + 1], grammar)
        ):  # fmt: skip
            break
        end += 1
    if end == first or isinstance(fit(form, parts, around.now), Fitted):
        return parts
    new = _new(parts[first:end], sort, said=parts[at].text.lower())
    new = replace(new, prep=new.prep or parts[at].prep)  # aboard new ship HOKULANI
    whole = [*parts[:first], new, *parts[end:]]
    alone = isinstance(fit(form, whole, around.now), Fitted)
    return whole if alone else [*parts[:at], new, *parts[end:]]


def _goes_on(part: LinePart, form: Form, first: bool) -> bool:
    """Whether a part belongs to the name that is told: a figure does to a ship's, not a place's."""
    if part.prep and not first:  # new ship PETREL at Colombo
        return False
    wanted = ("unknown",) if form.heard.endings and not first else ("unknown", "number")
    return part.sort in wanted and bool(_NAMELIKE.fullmatch(part.text))


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
    # where nothing is told of a ship it is none (overdue since 1130Z), nor where it may be a port
    for form in grammar.forms.values():
        sort = form.heard.introduces
        if sort and sort != "ship" and not form.heard.endings and not form.heard.hers:
            other = [*parts[: runs[0]], _new(parts[runs[0] : end], sort), *parts[end:]]
            if compete(other, grammar, around.now):
                return parts
    ways = compete(with_it, grammar, around.now)
    return with_it if ways and not ways[0].cost[0] else parts


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


def near_words(text: str, grammar: Grammar) -> list[str]:
    """Return words of the grammar that a word is one letter, or two swapped, away from."""
    plain_ = plain_name(text)
    if len(plain_) < 4 or not plain_.isalpha():
        return []
    return [word for word in grammar.single_words
            if word[0] == plain_[0] and edits(plain_, word, 1) == 1]  # fmt: skip


def as_new(
    segment: str, parts: Sequence[LinePart], grammar: Grammar, around: LineContext
) -> Ask | None:
    """Offer a name that nothing knows as a new one, where the line is whole with it."""
    endings = {end for form in grammar.forms.values() for end in form.heard.endings}
    stretch = _namelike(parts, tuple(endings), grammar)
    if stretch is None:
        return None
    first, end = stretch
    if only_the_word(parts[first], tuple(endings)) and ended(parts, first + 1, tuple(endings)):
        segment = re.sub(rf"\b{parts[first].text}\s+", "", segment, count=1)
        first += 1  # compartment engine room
    text = " ".join(part.text for part in parts[first:end])
    if plain_name(text) in around.by_key:
        return None  # known, of a sort that the line has no use for
    if any(f"{text.lower()}s" in form.heard.plural for form in grammar.forms.values()):
        return None  # compartment: of which nobody said more
    if first and _calls_a_word(parts[first - 1], grammar):
        return None  # boat's name is KAKAPO
    told = first > 1 and parts[first - 1].sort == "filler" and text.isupper()
    if told and _calls_a_word(parts[first - 2], grammar):
        lead, is_ = parts[first - 2].text, re.escape(parts[first - 1].text)  # boat is KAKAPO
        line = re.sub(rf"{re.escape(lead)}\s+{is_}\s+(?={text})", f"{lead} ", segment, count=1)
        return Ask(about=f"{text}: is that her name?", readings=(f"{lead} {text}",), lines=(line,),
                   part=text)  # fmt: skip
    as_what = _as_what(parts, first, grammar)
    behind = {form.heard.names_new for form in grammar.forms.values()}
    if as_what:
        leads, segment = (
            [f"new {as_what}"],
            re.sub(
                rf"\b{re.escape(parts[first - 1].text)}\s+(?={re.escape(text)})",
                "",
                segment,
                count=1,
            ),
        )
    else:
        able = _able(parts[first:end], grammar)
        leads = [lead for lead in (_lead_of(form, parts, first, end, grammar, around)
                                   for form in able) if lead]  # fmt: skip
        if text.isupper() and len(text) > 2:
            named = _named(segment, text, grammar, around)
            if not leads:  # what else of the line is asked next
                leads = [f.heard.words[0] for f in able if f.heard.introduces == "ship"]
            leads += named
    if not leads:
        return None
    lines = tuple(
        re.sub(re.escape(text), f"{lead} {text}", segment, count=1, flags=re.IGNORECASE)
        if lead.startswith("new ") or lead in behind else f"{lead} {text}; {segment}"
        for lead in leads
    )  # fmt: skip
    offered = tuple(f"{lead} {text}" for lead in leads)
    what = " or ".join(lead.removeprefix("new ") for lead in leads)
    article = "an" if what[0] in "aeiou" else "a"
    return Ask(about=f"{text} is not known here: {article} {what} from now on?", readings=offered,
               lines=lines, part=text)  # fmt: skip


def _named(segment: str, text: str, grammar: Grammar, around: LineContext) -> list[str]:
    """Return words behind which the name may stand as a new one: rescue vehicle PETREL."""
    found = []
    for form in grammar.forms.values():
        word = form.heard.names_new
        if not word or re.search(rf"\b{word}\b", segment, re.IGNORECASE):
            continue
        line = re.sub(re.escape(text), f"{word} {text}", segment, count=1, flags=re.IGNORECASE)
        parts = scan(part_heading(figures(line)), grammar, around)
        parts = [  # a ship's name of the same line is asked next
            _new([one], "ship") if one.sort == "unknown" and one.prep and one.text.isupper()
            else one for one in parts
        ]  # fmt: skip
        ways = compete(with_new_name(parts, grammar, around), grammar, around.now)
        if any(draft.form is form for way in ways for draft in way.drafts):
            found.append(word)
    return found


def _as_what(parts: Sequence[LinePart], first: int, grammar: Grammar) -> str:
    """Return what a new name is said to be by the word in front of it: *support ship* STORMONT."""
    if first == 0 or parts[first - 1].sort != "phrase":
        return ""
    said = re.sub(r"[\s-]+", " ", parts[first - 1].text.lower())
    return said if any(m.sort == "word" and grammar.forms[m.key].heard.introduces == "ship"
                       for m in grammar.phrases.get(f"new {said}", ())) else ""  # fmt: skip


def _able(some: Sequence[LinePart], grammar: Grammar) -> list[Form]:
    """Return the kinds that a stretch may be a new name for, by how it is written."""
    forms = [form for form in grammar.forms.values() if form.heard.introduces]
    last = some[-1].text.lower()
    places = [f for f in forms if any(last.endswith(end) for end in f.heard.endings)]
    if places:
        return places
    text = " ".join(part.text for part in some)
    if some[0].prep in ("by", "from", "at"):  # sublook by NAVY OPS
        forms = [form for form in forms if not form.heard.hers]
    return [f for f in forms if (f.heard.endings and some[0].prep == "in") or (not f.heard.endings
            and (text.isupper() if f.heard.introduces == "ship" or f.heard.hers
                 else text[0].isupper()))]  # fmt: skip


def _namelike(
    parts: Sequence[LinePart], endings: Sequence[str], grammar: Grammar
) -> tuple[int, int] | None:
    """Return from where to where the first name stands that nothing knows."""
    said = {form.heard.names_new for form in grammar.forms.values()}
    behind = {k + 1 for k, part in enumerate(parts) if part.text.lower() in said}
    first = next((k for k in range(len(parts)) if (parts[k].sort == "unknown" and k not in behind)
                  or begins_a_name(parts, k) or ended(parts, k, endings)), None)  # fmt: skip
    capital = next((k for k in range(len(parts)) if parts[k].sort == "unknown" and k not in behind
                    and _CAPITALS.fullmatch(parts[k].text)), None)  # fmt: skip
    opens = first is not None and first + 1 == capital and begins_a_name(parts, first)
    if capital is not None and first is not None and not opens and (
        not ended(parts, first, endings)
    ):  # fmt: skip
        first = capital  # rescue tug MANAIA: the name is what is in capitals
    if first is None:
        return None
    if stop := ended(parts, first, endings):
        return first, stop
    end = first + 1
    while end < len(parts) and parts[end].sort == "unknown" and not parts[end].prep:
        end += 1
    capitals = [k for k in range(first, end) if _CAPITALS.fullmatch(parts[k].text)]
    if capitals and len(capitals) < end - first:  # vessel AKAROA: the name is what is in capitals
        first = capitals[0]
        end = next((k for k in range(first, end) if k not in capitals), end)
    some = parts[first:end]
    if len(some) > 3 or any(not re.fullmatch(r"[A-Za-z][\w '’.-]{2,}", p.text) for p in some):
        return None
    if any(part.text.lower() in SIDES.keys() | SPEAKERS | TURNING for part in some):
        return None
    number = end < len(parts) and re.fullmatch(r"\d{1,3}", parts[end].text)
    counts = end + 1 < len(parts) and _counts(parts[end + 1], grammar)  # PETREL 14 seats
    if number and not counts and not parts[end].prep and some[0].text.isupper():  # RESCUE 21
        end += 1
    return first, end


def _calls_a_word(part: LinePart, grammar: Grammar) -> bool:
    """Whether a phrase calls for a name of its own kind: her name is."""
    return part.sort == "phrase" and any(
        meaning.sort == "cue" and grammar.forms[name].roles[meaning.key].sort == "word"
        for meaning in part.value
        for name in grammar.with_role.get(meaning.key, ())
    )


def _counts(part: LinePart, grammar: Grammar) -> bool:
    """Whether a word is of how many: seats."""
    return part.sort == "phrase" and any(
        meaning.sort == "cue" and grammar.forms[name].roles[meaning.key].sort == "count"
        for meaning in part.value
        for name in grammar.with_role.get(meaning.key, ())
    )


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
    fits = [fit(other, whole, around.now, called=called or (other is form and form.heard.hers))
            for other in grammar.forms.values()]  # fmt: skip
    wanted = any(
        isinstance(made, Fitted) and made.bound
        and (not made.lacking or (len(made.lacking) == 1 and any(
            one.part is new for one in made.bound.values())))  # her course, his position?
        for made in fits
    )  # fmt: skip
    return form.heard.words[0] if wanted else ""
