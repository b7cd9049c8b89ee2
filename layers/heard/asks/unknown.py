"""What no kind could take: near names and words asked, what is lacking named, the rest a note."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from layers.heard.asks.left_out import TURNING, left_out
from layers.heard.asks.new_name import (
    SIDES,
    SPEAKERS,
    as_new,
    introducing,
    near_words,
    with_new_name,
)
from layers.heard.asks.of_what import MOST_OFFERED, of_what
from layers.heard.asks.several_words import named_so
from layers.heard.compete import compete
from layers.heard.fitted import Fitted
from layers.heard.grammar import Grammar
from layers.heard.names import LineContext
from layers.heard.numbers import figures, part_heading
from layers.heard.parts import LinePart
from layers.heard.result import Ask, HeardLine
from layers.heard.scan import scan
from layers.heard.values import NO_NAME

VALUES = ("position", "time", "direction", "pair", "quantity", "number", "doubt")


def nothing_fits(
    segment: str,
    parts: Sequence[LinePart],
    grammar: Grammar,
    around: LineContext,
    hearing: HeardLine,
) -> None:
    """Add the questions of a line that no kind can take, or keep it as a note."""
    if (instead := _instead(segment, grammar)) is not None:
        hearing.asks.append(instead)
        return
    asks = _near(segment, parts, grammar, around)
    values = [
        part for part in parts
        if part.sort in VALUES or (part.sort == "unknown" and re.search(r"\d|«", part.text))
    ]  # fmt: skip
    naming = any(introducing(part, grammar) for part in parts)
    words = [part.text for part in parts if part.sort == "unknown"]
    rest = left_out(segment, parts, words, grammar, around) if words else None
    asks += _perhaps(segment, grammar, around)
    asks += _described(segment, parts, grammar)
    asks += named_so(segment, parts, grammar, around)
    new = as_new(segment, parts, grammar, around)
    told = bool(values or asks or naming or (rest and rest.readings))
    if new is not None and not told:
        told = _carries(new, grammar) or _reads(segment, new.part, new.readings[0], grammar, around)
    if not told:
        hearing.notes.append(segment)
        return
    if (other := _other(segment, parts, new, grammar)) is not None:
        hearing.asks.append(other)
        return
    if new is not None:
        # of a number the next may well be meant; a letter wrong is a slip
        numbered = re.search(r"\d", new.part)
        asks = [_either(a, new) if numbered and a.part == new.part else a for a in asks]
        if all(set(ask.part.split()).isdisjoint(new.part.split()) for ask in asks):
            asks.append(new)
    done = {word.strip(",:;.") for ask in asks for word in ask.part.split()}
    for part in parts:
        if part.sort == "doubt" and part.doubt is not None:
            lines = tuple(segment.replace(part.text, way) for way in part.doubt.readings)
            asks.append(Ask(about=part.doubt.about, readings=part.doubt.readings, lines=lines,
                            part=part.text, refused=part.doubt.refused))  # fmt: skip
    gone = _ready_no_more(segment, parts, grammar, around)
    done |= {ask.part for ask in gone}
    asks += [*gone, *_unknown(segment, parts, done, grammar, around)]
    if not asks:
        asks.append(of_what(segment, parts, grammar, around))
    hearing.asks += asks


def _other(
    segment: str, parts: Sequence[LinePart], new: Ask | None, grammar: Grammar
) -> Ask | None:
    """Offer a line of whales or ice as a note first; a ship may have her name of them."""
    thing = next((word for part in parts if part.sort == "unknown"
                  for word in part.text.split() if word.lower() in grammar.others), "")  # fmt: skip
    if not thing:
        return None
    named = new if new is not None and thing in new.part.split() else None
    about = f"{thing}: nothing that is plotted; kept as a note?"
    if named is not None:
        about = f"{thing}: kept as a note, or {named.part} a name?"
    return Ask(about=about, part=thing,
               readings=("kept as a note", *(named.readings if named else ())),
               lines=(f"note: {segment}", *(named.lines if named else ())))  # fmt: skip


def _instead(segment: str, grammar: Grammar) -> Ask | None:
    """Say what to say instead, where no record can hold what a line says."""
    for form in grammar.forms.values():
        for pattern, (what, *ways) in form.heard.instead.items():
            if found := re.fullmatch(pattern, segment.strip(" .!"), re.IGNORECASE):
                lines = (*(found.expand(way) for way in ways), f"note: {segment}")
                return Ask(about=f"{segment}: {what}", readings=lines, lines=lines, part=segment)
    return None


def _perhaps(segment: str, grammar: Grammar, around: LineContext) -> list[Ask]:
    """Ask whether words that may mean a kind do: lost contact, hers or a sonar contact's.

    Where they may mean several, all are offered: heading, as she goes or as she lies.
    """
    meant: dict[str, list[tuple[str, str]]] = {}
    for form in grammar.forms.values():
        held: list[tuple[str, str]] = []
        for phrase, word in form.heard.perhaps.items():
            found = re.search(rf"\b(?:{phrase})\b", segment, re.IGNORECASE)
            if found:
                held.append((found[0], found.expand(word)))
        alone = [one for one in held if _reads(segment, *one, grammar, around)]
        for text, word in alone:
            meant.setdefault(text, []).append((word, segment.replace(text, word, 1)))
        if held and not alone:  # unconscious 3, burns 2: what each of them may mean, at once
            line = segment
            for text, word in held:
                line = line.replace(text, word, 1)
            line = next((one for one in (line, " ".join([*form.heard.words[:1], line]))
                         if _reads(one, "", "", grammar, around)), "")  # fmt: skip
            if line:
                each = " … ".join(text for text, _ in held)
                meant.setdefault(each, []).append((" … ".join(w for _, w in held), line))
    asks = []
    for said, ways in meant.items():
        words, lines = zip(*ways, strict=True)
        which = " or ".join(repr(word) for word in words)
        asks.append(Ask(about=f"{said}: is {which} meant?", readings=lines, lines=lines, part=said))
    return asks


def _ready_no_more(
    segment: str, parts: Sequence[LinePart], grammar: Grammar, around: LineContext
) -> list[Ask]:
    """Ask of a ready-made place that went when her own were told: aft, behind control room."""
    asks = []
    for form in grammar.forms.values():
        sort = form.heard.introduces
        told = {name.text.lower() for name in around.of_sort(sort)} if sort else set()
        ready = {name.text for name in form.heard.ready_names if name.sort == sort} - told
        for part in parts:
            if part.sort == "unknown" and part.text.lower() in ready:
                anew = f"{form.heard.words[0]} {part.text}"
                asks.append(Ask(
                    about=f"{part.text} is none of the places told of her: another one?",
                    readings=(anew,), lines=(f"{anew}; {segment}",), part=part.text,
                ))  # fmt: skip
    return asks


def _described(segment: str, parts: Sequence[LinePart], grammar: Grammar) -> list[Ask]:
    """Ask of a known ship what she is said to be in passing: *support ship* SOLVEIG."""
    asks = []
    for before, part in pairwise(parts):
        said = before.text.lower()
        lead = grammar.phrases.get(f"new {said}", ()) if before.sort == "phrase" else ()
        forms = [grammar.forms[one.key] for one in lead if one.sort == "word"]
        if not forms or part.sort != "name" or not any(n.sort == "ship" for n in part.value):
            continue
        rest = re.sub(rf"\b{re.escape(before.text)}\s+", "", segment, count=1, flags=re.IGNORECASE)
        anew = f"{forms[0].heard.words[1]} {part.text} {said}; {rest}"
        asks.append(Ask(
            about=f"{before.text} {part.text}: is she that from now on?", part=before.text,
            readings=(f"{part.text} is a {said} from now on; {rest}", f"{rest} (no more is meant)"),
            lines=(anew, rest),
        ))  # fmt: skip
    return asks


def _carries(new: Ask, grammar: Grammar) -> bool:
    """Whether a line without any figure tells something of the new name: PETREL aboard HOKULANI."""
    words = [form.heard.names_new for form in grammar.forms.values() if form.heard.names_new]
    words += [form.heard.words[0] for form in grammar.forms.values() if form.heard.hers]
    return any(reading.startswith(word) for reading in new.readings for word in words)


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
    plain = [p.text for p in parts if p.sort == "unknown" and not _side(p)]
    for part in parts:
        if part.sort != "unknown" or set(part.text.split()) <= told:
            continue
        if (
            (side := _side(part))
            and plain
            and not _reads(segment, part.text, f"{SIDES[side]:03.0f}", grammar, around)
        ):
            words.append(part.text)  # variation 14 east: no bearing makes a line of it
        elif side:
            about = f"{part.text} is a rough side: bearing in figures?"
            degrees = SIDES[side]
            figures: tuple[str, ...] = (
                f"{degrees:03.0f}" if degrees % 1 == 0 else f"{degrees:05.1f}",
            )
            lines: tuple[str, ...] = (segment.replace(part.text, figures[0], 1),)
            said = rf"\b{re.escape(part.text)}\s+(\d|1[0-2])\b(?!\s*kn|\.\d)"
            if force := re.search(said, segment):
                # SW 6: a force as likely as a speed
                figures = (f"{figures[0]} force {force[1]}", f"{figures[0]}/{force[1]} kn")
                lines = tuple(segment.replace(force[0], one, 1) for one in figures)
            asks.append(Ask(about=about, readings=figures, lines=lines, part=part.text))
        elif part.text.lower() == "datum":
            asks.append(_where_it_moves(segment, part, grammar, around))
        elif part.text.lower() in SPEAKERS:
            asks.append(Ask(about=f"{part.text}: who is that? name the ship", part=part.text))
        elif part.text.startswith("«"):
            asks.append(Ask(about=f"{part.text}: a figure, or a word?", part=part.text))
        else:
            words.append(part.text)
    if words:
        asks.append(left_out(segment, parts, words, grammar, around))
    return asks


def _side(part: LinePart) -> str:
    """Return the rough side that a part names, empty for none."""
    side = part.text.lower().removesuffix("erly")
    return side if side in SIDES else ""


def _where_it_moves(segment: str, part: LinePart, grammar: Grammar, around: LineContext) -> Ask:
    """Ask at which ship or position, where a line says the datum, which moves with each report."""
    if re.search(r"\d[\d.\s-]*[NS]\b", segment):  # and a ship there would be a position of hers
        return Ask(about="the datum is worked out from what is told; what was told of there?",
                   part=part.text)  # fmt: skip
    ships = [name.text for name in around.of_sort("ship")
             if _reads(segment, part.text, name.text, grammar, around)]  # fmt: skip
    lines = tuple(re.sub(rf"\b(?:the\s+)?{re.escape(part.text)}\b", name, segment, count=1,
                         flags=re.IGNORECASE) for name in ships[:MOST_OFFERED])  # fmt: skip
    offered = tuple(f"at {name}" for name in ships[:MOST_OFFERED])
    return Ask(about="the datum moves: at which ship, or at which position?", readings=offered,
               lines=lines, part=part.text)  # fmt: skip


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
            held = {name.text for p in some if p.sort == "name" for name in p.value}
            names = [name for name in around.near(text) if name not in held]
            if size > 1 and all(p.sort != "unknown" for p in some):
                continue
            if any(part.text.lower() in NO_NAME for part in some):
                continue
            if names:
                done |= set(range(at, at + size))
                asks.append(_meant(segment, text, names[:MOST_OFFERED]))
    for at, part in enumerate(parts):
        plain = part.sort == "unknown" and part.text.lower() not in TURNING
        if not plain or at in done or not (known or len(parts) == 1):
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


def name_meant(fitted: Fitted, said: str, text: str, around: LineContext) -> Ask | None:
    """Ask about a text that stands for a name, where it is near one that is known: ETNACE."""
    sorts = [sort for one in fitted.form.roles.values()
             if one.sort == "name" and one.key not in fitted.bound
             for sort in one.names]  # fmt: skip
    known = {name.text for name in around.of_sort(*sorts)}
    near = [one for one in around.near(text) if one in known] if text in said else []
    return _meant(said, text, near) if near else None


def _meant(segment: str, text: str, names: Sequence[str]) -> Ask:
    lines = tuple(
        re.sub(re.escape(text), name, segment, count=1, flags=re.IGNORECASE) for name in names
    )
    return Ask(about=f"{text!r} is not known; {' or '.join(names)} meant?", readings=tuple(names),
               lines=lines, part=text)  # fmt: skip
