"""A heard line from text to records: parted, read, shared among the kinds, filled, or asked."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from layers.earth.errors import InputError
from layers.heard import plain
from layers.heard.asks.far import far_off, put_in
from layers.heard.asks.new_name import near_words, with_new_name
from layers.heard.asks.otherwise import as_her_words, in_full, said_otherwise, spelled_out
from layers.heard.asks.part_by_part import part_by_part
from layers.heard.asks.questioned import questioned
from layers.heard.asks.unknown import nothing_fits
from layers.heard.compete import Shared, compete
from layers.heard.fitted import Fitted
from layers.heard.grammar import Form, Grammar
from layers.heard.headed import headed
from layers.heard.names import LineContext, edits
from layers.heard.numbers import figures, mend_letters, part_heading
from layers.heard.parts import LinePart
from layers.heard.result import Ask, HeardLine, Understood
from layers.heard.scan import ABOUT, FILLERS, scan
from layers.heard.told_names import introduce, knowing, listed
from layers.journal.known import check_payload
from layers.journal.words.heard import ToldRecord

LONGEST = 2_000
# SMCP 3, message markers: the first three hand on a fact, an order or a question is none
_DROPPED = re.compile(r"^\s*(?:information|answer|warning|mistake)\b[\s,:.]*", re.IGNORECASE)
_POINT = re.compile(
    r"(?<![\d°'’′.])(\s+|^)(north|south)[\s-]+(east|west)\b(?!\s*\d{3})", re.IGNORECASE
)
_NOTED = re.compile(
    r"^\s*(?:question|request|instruction|advice|intention|say again|stand by|i spell|"
    r"no information)\b",
    re.IGNORECASE,
)
# that one hears each other or not is told of nothing that is plotted
_HEARD_AGAIN = re.compile(
    r"^\s*(?:the\s+)?(?:telephone|uwt|underwater\s+telephone|contact\s+by\s+(?:telephone|uwt|voice))"
    r"(?:\s+(?:contact|link))?\s+(?:was\s+|is\s+|has\s+been\s+)?(?:lost|regained|restored|"
    r"re-?established|down|dead|out|gone|broken|weak|good|clear)(?:\s+(?:at|since)?\s*\d{4}Z?)?[\s.]*$",
    re.IGNORECASE,
)
_OVER = re.compile(r"[\s,.]+over(?:\s+and\s+out)?[\s.!]*$", re.IGNORECASE)
_ROUGHLY = re.compile(rf"\b(?:{'|'.join(sorted(ABOUT))})\s+", re.IGNORECASE)
_CORRECTION = re.compile(r"[\s,.:]*\bcorrection\b[\s,.:]*", re.IGNORECASE)


def hear(text: str, grammar: Grammar, around: LineContext) -> HeardLine:
    """Return what a line told: records, questions, or a note; the same text gives the same.

    Parameters
    ----------
    text : str
        As it was spoken and written down; semicolons and new lines part facts.
    grammar : Grammar
        Of the catalogue.
    around : LineContext
        The clock, the names on the plot and what is known.

    Raises
    ------
    InputError
        Nothing was said, or more than any voice says at once.
    """
    text = re.sub(r"^\s*/+\s*", "", text)  # the key that opens the box, pressed in it
    if not text.strip():
        raise InputError("nothing was said", where="what was heard", accepted="a line of text")
    if len(text) > LONGEST:
        raise InputError(f"{len(text)} letters are more than a line", where="what was heard",
                         accepted=f"up to {LONGEST}")  # fmt: skip
    hearing = HeardLine(text=text)
    facts = re.split(r"[;\n]+", text)
    for segment in [fact for one in facts for fact in listed(one, grammar).split(";")]:
        if segment.strip():
            before = len(hearing.understood)
            _segment(segment.strip(), grammar, around, hearing)
            around = knowing(hearing.understood[before:], grammar, around)
    return hearing


def _segment(
    segment: str, grammar: Grammar, around: LineContext, hearing: HeardLine, *, part: bool = False
) -> None:
    """Read one fact, or several parted by commas; ``part`` is one piece of such a line, tried."""
    said = _OVER.sub("", _DROPPED.sub("", segment))
    said = _POINT.sub(r"\1\2\3", as_her_words(said, around))
    if not said or _NOTED.match(said) or _HEARD_AGAIN.match(said):
        hearing.notes.append(segment)
        return
    made = headed(said, grammar, around)
    quoted = made is not None and ":" in said.partition("?")[0]  # decided: who is to dive?
    if not quoted and (asked := questioned(said, around)) is not None:
        hearing.asks.append(asked)
        return
    if made is not None:
        _tell(made.fitted, said, grammar, around, hearing, asks=made.asks, told=made.told)
        return
    said = in_full(said, around)
    read, mended = mend_letters(re.sub(r"(?<=\d)[\u202f\u2009](?=\d{3})", "", said))
    read = part_heading(figures(read))
    read, withdrawn = _corrected(read, grammar, around)
    parts = scan(read, grammar, around)
    parts = with_new_name(parts, grammar, around)
    ways = compete(parts, grammar, around.now)
    for other in said_otherwise(parts, grammar, around) if not ways else ():
        ways = ways or compete(other, grammar, around.now)
    if ways and not any(draft.bound for way in ways for draft in way.drafts):
        ways = []  # boat overdue: words of kinds, and nothing told
    if not ways:
        if part:
            hearing.notes.append(segment)
            return
        doubted = HeardLine(text=segment)
        whole = spelled_out(_POINT.sub(r"\1\2\3", as_her_words(segment, around)), around)
        nothing_fits(whole, parts, grammar, around, doubted)
        _parted(whole, parts, grammar, around, doubted)
        hearing.asks += doubted.asks
        hearing.notes += [segment] if doubted.notes else []
        return
    if len(ways) > 1 or ways[0].shared_ships:
        hearing.asks.append(_which(ways, segment))
        return
    if asked := _last_time(ways[0], parts, read):
        hearing.asks.append(asked)
        return
    of_it = HeardLine(text=segment)
    for fitted in ways[0].drafts:
        _tell(fitted, read, grammar, around, of_it, withdrawn=withdrawn, mended=mended)
    hearing.asks += of_it.asks
    if not of_it.asks:  # of a line that is in doubt nothing is taken
        hearing.understood += of_it.understood


def _parted(
    segment: str, parts: Sequence[LinePart], grammar: Grammar, around: LineContext, asked: HeardLine
) -> None:
    """Add what each part of a line tells, where something is asked that has no answer to press."""
    if asked.asks and all(ask.readings or ask.refused for ask in asked.asks):
        return

    def read(text: str) -> HeardLine:
        of_it = HeardLine(text=text)
        _segment(text, grammar, around, of_it, part=True)
        return of_it

    ask = part_by_part(segment, parts, grammar, around, read, noted=not asked.asks)
    if ask is not None:
        bare = [one for one in asked.asks if one.part == segment and not one.readings]
        asked.asks = [one for one in asked.asks if one not in bare]  # of what, or of whom?
        asked.asks.append(ask)
        asked.notes.clear()


def _corrected(text: str, grammar: Grammar, around: LineContext) -> tuple[str, str]:
    """Return the text with what came after *correction* in place of what it corrects.

    It replaces the last part of its sort; where it begins with a cue, all from that cue on.
    """
    pieces = _CORRECTION.split(text)
    if len(pieces) < 2 or not pieces[0].strip():
        return text, ""
    withdrawn = []
    said = pieces[0]
    for new in pieces[1:]:
        old_parts, new_parts = scan(said, grammar, around), scan(new, grammar, around)
        real = [part for part in new_parts if part.sort not in ("comma", "filler")]
        if not real:
            return text, ""
        if real[0].sort == "phrase":
            at = said.lower().rfind(real[0].text.lower())
        else:
            like = [p for p in old_parts if p.sort == real[0].sort] if len(real) == 1 else []
            at = said.rfind(like[-1].text) if like else -1
            if at >= 0:
                old = like[-1].text
                withdrawn.append(old)
                said = f"{said[:at]}{new.strip()}{said[at + len(old) :]}"
                continue
        if at < 0:
            return text, ""
        withdrawn.append(said[at:].strip())
        said = f"{said[:at]}{new.strip()}"
    return said, ", ".join(withdrawn)


def _which(ways: Sequence[Shared], segment: str) -> Ask:
    readings = tuple(
        dict.fromkeys("; ".join(plain.plain(draft) for draft in way.drafts) for way in ways)
    )
    about = f"{segment}: parted so?" if len(readings) == 1 else f"{segment}: which is meant?"
    return Ask(about=about, readings=readings, lines=readings, part=segment)


def _last_time(way: Shared, parts: Sequence[LinePart], text: str) -> Ask | None:
    """Ask whether a time that ends a list is for all of it or for the last only."""
    timed = [d for d in way.drafts if d.form.heard.timed]
    if len(timed) < 2 or "time" not in timed[-1].bound:
        return None
    if any("time" in draft.bound for draft in timed[:-1]) or timed[-1] is not way.drafts[-1]:
        return None
    last = [part for part in parts if part.sort not in ("comma", "filler")][-1]
    if timed[-1].bound["time"].part is not last or timed[-1].inherited:
        return None
    shown = timed[-1].bound["time"].shown
    each = [plain.plain(draft) for draft in way.drafts]
    every = "; ".join(
        f"{text_} at {shown}" if draft in timed[:-1] else text_
        for text_, draft in zip(each, way.drafts, strict=True)
    )
    return Ask(
        about=f"{last.text}: for all of it, or for the last only?",
        readings=("for all", "for the last only"),
        lines=(every, "; ".join(each)),
        part=last.text,
    )


def _tell(
    fitted: Fitted,
    text: str,
    grammar: Grammar,
    around: LineContext,
    hearing: HeardLine,
    *,
    asks: Sequence[Ask] = (),
    told: ToldRecord | None = None,
    withdrawn: str = "",
    mended: bool = False,
) -> None:
    """Add a fitted kind to the hearing: as a record, or as what must be asked first."""
    found = list(asks)
    for bound in fitted.bound.values():
        for doubt in bound.doubts:
            part = bound.part.text if bound.part is not None else ""
            lines = tuple(put_in(text, part, reading) for reading in doubt.readings)
            found.append(Ask(about=doubt.about, readings=doubt.readings, lines=lines, part=part,
                             refused=doubt.refused))  # fmt: skip
    found += _slips(fitted, text, grammar)
    if not found:
        found += far_off(fitted, text, around)
    form = fitted.form
    about = _about(fitted)
    for title in fitted.lacking:
        found.append(_lack(about, title, form, text, around))
    told = told or ToldRecord(
        roles={key: one.value for key, one in fitted.bound.items()},
        now=around.now,
        at=fitted.bound["time"].value if "time" in fitted.bound else around.now,
        known=around.known,
        names={name.text: name for name in around.names},
        about=fitted.about,
        was=fitted.was,
        confirmed=fitted.confirmed,
    )
    if not found:
        found += _counted(fitted, about, text)
    if not found:
        found += _fill(fitted, told, about, text, around)
    if found:
        hearing.asks += [ask for ask in found if ask.refused] or found
        return
    payload: dict[str, Any] = dict(told.payload)
    readback = plain.words(fitted, told, withdrawn)
    if mended:
        readback += " (O taken for 0, I for 1)"
    introduce(fitted, grammar, around, hearing)
    hearing.understood.append(
        Understood(
            kind=form.kind.name,
            version=form.kind.version,
            valid_at=told.at,
            payload=payload,
            words=readback,
            plain=plain.plain(fitted),
            why=plain.why(fitted),
        )
    )


def _slips(fitted: Fitted, text: str, grammar: Grammar) -> list[Ask]:
    """Ask about a new name in small letters that is one letter away from a word: taeks."""
    found = []
    for bound in fitted.bound.values():
        said = bound.part.text if bound.part is not None else ""
        if bound.role.sort != "word" or said == said.upper():
            continue
        if like := sorted(w for w in FILLERS if len(w) > 2 and edits(said.lower(), w, 1) == 1):
            either = (like[0], said.upper())  # boat hsa 47 souls
            found.append(Ask(about=f"{said!r} is not known; {like[0]!r} meant, or a name?",
                             readings=either, part=said,
                             lines=tuple(put_in(text, said, way) for way in either)))  # fmt: skip
            continue
        if not bound.role.only_with:
            continue
        words = near_words(said, grammar)
        if words:
            ways = (*words, said.upper())
            about = f"{said!r} is not known; {' or '.join(words)} meant, or a name?"
            lines = tuple(put_in(text, said, way) for way in ways)
            found.append(Ask(about=about, readings=ways, lines=lines, part=said))
    return found


def _counted(fitted: Fitted, about: str, text: str) -> list[Ask]:
    """Ask whether people said to be about so many were counted: a record holds a count alone."""
    needed = {key for need in fitted.form.needs for key in need}
    counts = [one.shown for key, one in fitted.bound.items()
              if one.role.sort == "count" and key in needed]  # fmt: skip
    if not fitted.about or not counts:
        return []
    line = _ROUGHLY.sub("", text)
    return [Ask(about=f"{about}: about {counts[0]}, not counted; taken as that till they are?",
                readings=(line,), lines=(line,))]  # fmt: skip


def _fill(
    fitted: Fitted, told: ToldRecord, about: str, text: str, around: LineContext
) -> list[Ask]:
    heard, kind = fitted.form.heard, fitted.form.kind
    try:
        if heard.fill is not None:
            heard.fill(told)
        else:
            _fill_by_name(fitted, told)
        if told.lacking:
            return [_lack(about, what, fitted.form, text, around) for what in told.lacking]
        if told.parted[1]:
            return [Ask(about=f"{about}: {told.parted[0]}", readings=told.parted[1],
                        lines=told.parted[1])]  # fmt: skip
        check_payload(kind, told.payload, kind.title)
    except InputError as reason:
        said = reason.what[:1].lower() + reason.what[1:]
        return [Ask(about=f"{about}: {said}", refused=True, readings=())]
    return []


def _fill_by_name(fitted: Fitted, told: ToldRecord) -> None:
    for key, one in fitted.bound.items():
        if one.role.sort == "position":
            told.place(one.value)
        elif key != "time":
            value = one.value[0] if one.role.sort == "direction" else one.value
            if one.role.sort == "time":
                value = value.isoformat()
            if one.role.sort == "count":
                value = int(value)
            if one.role.sort == "name":
                value = value.key or value.text
            told.put(**{key: value})


def _about(fitted: Fitted) -> str:
    return fitted.form.kind.title


def _lack(about: str, title: str, form: Form, text: str, around: LineContext) -> Ask:
    """Ask for what is missing, with the names that could fill it as answers to press."""
    offered: list[str] = []
    for role in form.roles.values():
        if role.title not in title.split(" or "):
            continue
        if role.sort == "name":
            prep = next((p for p in role.preps if p), "")
            offered += [f"{prep} {name.text}".strip() for name in around.of_sort(*role.names)[:8]]
        elif role.sort == "choice":
            firsts: dict[str, str] = {}  # of each value the phrase that is read back
            for phrase, value in role.choices.items():
                firsts.setdefault(repr(value), phrase)
            offered += list(firsts.values())[:8]
        elif role.key == "time":
            offered += ["now"]
        offered += role.offered
    return Ask(about=f"{about}: {title}?", readings=tuple(offered), lack=title,
               lines=tuple(f"{text} {said}" for said in offered))  # fmt: skip
