"""The same words as they may be meant otherwise: shortened, of the speaker, of her by name."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from layers.heard.grammar import Grammar
from layers.heard.names import LineContext
from layers.heard.parts import Figures, LinePart

_ON_BOARD = re.compile(r"\baboard(?=\s*(?:$|[,:.]))|\bonboard\b", re.IGNORECASE)
_INCLUDING = re.compile(r"\bincl\b\.?", re.IGNORECASE)
# as a hand in a hurry writes: common practice, no source
_SHORT = {
    "stbd": "starboard", "cse": "course", "stg": "steering", "hrd": "heard", "abt": "about",
    "sub ind buoy": "indicator buoy", "ind buoy": "indicator buoy",
}  # fmt: skip
_SHORTENED = re.compile(rf"\b(?:{'|'.join(_SHORT)})\b", re.IGNORECASE)
_SHE = r"the boat|boat|the submarine|submarine|the sub|sub|the dissub|dissub|she"
_SAYS = r"reports?|reported|says|said"
_TELEPHONE = r"(?:on|by|over|via)\s+(?:the\s+)?(?:uwt|underwater\s+telephone)"
_TOLD_BY_HER = re.compile(
    r"^\s*(?:we|i)\s+have\s+(?:got\s+)?|^\s*tapped\s+out\b[\s,:]*", re.IGNORECASE
)
# how it came and when, before what was told: telephone contact 0950: forward, 47 alive
_OPENING = re.compile(
    r"^\s*(?:(?:uwt|underwater\s+telephone|telephone|voice|radio|vhf)\s+"
    r"(?:contact|message|report|call)|(?:contact|telephone|uwt|comms)\s+(?:regained|restored)|"
    r"regained\s+contact|regained)\b(?:\s+with\s+(?P<whom>[^:,]{2,40}?))?"
    r"(?:\s+(?:at\s+)?(?P<at>\d{4}Z?|-\d+\s*(?:min|h)|\d+\s*(?:min|minutes|h|hours)\s+ago))?"
    r"\s*(?:[:,]|[–-](?=\s))\s*(?=\S)",
    re.IGNORECASE,
)
# what they say, not that they were reported: survivors reported 4315N 00830E are people found
_SAVED = re.compile(
    r"^\s*(?:(?:a|the|one|all)\s+)?(?:survivors?|escapees?|escapers?)\s+(?:says?|said|tells?\s+us|"
    r"told\s+us)\b[\s,:]*(?:that\s+)?",
    re.IGNORECASE,
)
_ONE_MORE = re.compile(
    r"\b(\d+|one|two|three|four|five|six|seven|eight|nine|ten)\s+more\s+"
    r"(?=(?:dead|died|have\s+died|out|came\s+out|escaped)\b)",
    re.IGNORECASE,
)
_TRIM = re.compile(
    r"\btrim(?:med)?\s+(?P<deg>\d+(?:\.\d+)?)\s*(?:deg(?:rees)?\b|°)?\s*(?:(?P<end>bow|nose|stern)\s+"
    r"(?P<way>down|up)|(?:down\s+)?by\s+the\s+(?P<by>bow|stern))\b",
    re.IGNORECASE,
)
# a heading that each entry says again: rafts: nine in raft 1, six in raft 2
_RAFTS = re.compile(r"^\s*rafts?\s*:\s*(?=.*\bin\s+raft\s+\d)", re.IGNORECASE)
_FROM_ME = re.compile(r"\s+from\s+(?:me|us|my\s+position|our\s+position)\b", re.IGNORECASE)


def in_full(said: str, around: LineContext) -> str:
    """Return a line with what is commonly shortened in it in full.

    A ship that opens a line speaks it: TENACE, bearing 215T *from me*.
    """
    said = _INCLUDING.sub("including", _ON_BOARD.sub("on board", spelled_out(said, around)))
    said = _TRIM.sub(lambda m: f"{m['end'] or m['by']} {m['way'] or 'down'} {m['deg']}", said)
    said = _RAFTS.sub("", said)
    said = _ONE_MORE.sub(r"\1 ", said)  # who died or came out is told one after the other
    found = around.match(said, 0)
    speaks = found is not None and all(name.sort == "ship" for name in found[0].value)
    return _FROM_ME.sub("", said) if speaks else said


def as_her_words(said: str, around: LineContext) -> str:
    """Return what she told, without the words that it is she who tells it, and how.

    She reports 12 hurt; tapped out: 31 alive; GREYWETHER on the underwater telephone: 12 hurt;
    telephone contact 0950: forward, 47 alive; survivor says aft is flooded.
    """
    names = "|".join(re.escape(name.text) for name in around.names if name.hers)
    she = f"(?:{_SHE}{'|' if names else ''}{names})"
    opening = _OPENING.match(said)
    if opening is not None and (
        opening["whom"] is None or re.fullmatch(she, opening["whom"].strip(), re.IGNORECASE)
    ):
        said = f"{opening['at'] or ''} {said[opening.end() :]}".strip()
    said = _SAVED.sub("", said)
    return re.sub(
        rf"^\s*(?:{_SHE})\s+(?:now\s+)?(?:{_SAYS}|has|had|with)\b[\s,:]*(?:that\s+)?|"
        rf"^\s*{she}\s+{_TELEPHONE}\s*(?:[:,]|(?:{_SAYS})\b[\s,:]*(?:that\s+)?)\s*",
        "", _TOLD_BY_HER.sub("", said), flags=re.IGNORECASE,
    )  # fmt: skip


def spelled_out(said: str, around: LineContext) -> str:
    """Return a line with the words of a hurried hand in full, but for what is somebody's name."""
    named = {word for name in around.names for word in name.text.casefold().split()}
    return _SHORTENED.sub(
        lambda m: m[0] if named & set(m[0].casefold().split()) else _SHORT[m[0].lower()], said
    )


def said_otherwise(
    parts: Sequence[LinePart], grammar: Grammar, around: LineContext
) -> Iterator[list[LinePart]]:
    """Give the parts as they may be meant where no kind takes them as they were cut.

    *47 souls* counts people, and is what is said of those on board; her name says what the word
    for her does: KAKAPO is 66 m long.
    """
    if any(_people(part, grammar) for part in parts):
        yield [piece for part in parts for piece in (
            (LinePart(sort="number", text=part.value.figures, value=Figures(
                figures=part.value.figures)), _phrase(part.value.unit, grammar))
            if _people(part, grammar) else (part,))]  # fmt: skip
    words = {word for form in grammar.forms.values() if form.heard.hers
             for word in form.heard.words[:1]}  # fmt: skip
    hers = {name.text.casefold() for name in around.names if name.hers}
    named = [part for part in parts if part.sort == "filler" and part.text.casefold() in hers]
    for word in words if len(named) == 1 else ():
        yield [_phrase(word, grammar) if part is named[0] else part for part in parts]


def _people(part: LinePart, grammar: Grammar) -> bool:
    return part.sort == "quantity" and part.value.unit.lower() in grammar.phrases


def _phrase(text: str, grammar: Grammar) -> LinePart:
    """Return the part that a known word makes."""
    return LinePart(sort="phrase", text=text, value=grammar.phrases[text.lower()])
