"""A line of several facts that no kinds take as a whole: what each part of it tells, to press.

Nothing is taken by itself. Each answer is a line of its own, read back once more; what it leaves
out stands beside it and is kept as a note. No answer stands where a word that is left out could
turn the rest round.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from layers.heard import plain
from layers.heard.asks.of_what import of_what
from layers.heard.compete import compete
from layers.heard.grammar import Grammar
from layers.heard.names import LineContext
from layers.heard.numbers import figures
from layers.heard.parts import LinePart
from layers.heard.result import Ask, HeardLine
from layers.heard.scan import scan

MOST_CLAUSES = 10
MOST_ALONE = 4
MOST_LISTED = 20
_STOP = re.compile(
    r"\s*(?:,(?!\d)|[.:!?](?=\s)|\s[-–—]\s)\s*(?:(?:and|but|with|also|then)\s+)?"
    r"|\s+(?:and|but|with|while|also|then)\s+",
    re.IGNORECASE,
)
# what a further clause can turn the one beside it round with
_TURNS = re.compile(
    r"\b(?:or|nor|between|not|no|never|if|unless|until|till|except|without|wrong|false|mistake\w*|error|"
    r"instead|rather|correct\w*|cancel\w*|disregard|drill|practice|test|rumou?r|unconfirmed|"
    r"possibl[ey]|perhaps|maybe|suspected|later|actually|turned|planned|plans?|intends?|ordered|"
    r"expected|expects|forecast|half|will|should|would|could|might|may|can|cannot|either|neither|"
    r"reciprocal|opposite|\w+n['’]t)\b",
    re.IGNORECASE,
)
# and, where it is left out, what takes back what it stood beside: hears nothing on the telephone
_TAKES_BACK = re.compile(
    r"\b(?:nothing(?!\s+heard)|none|nil|nobody|lost|stopped|stops|ceased|ended|longer|faded|plus|besides|another|more|fewer|less|now|then|back|delayed|thinks?|thought|believe[sd]?|aborted|received|changed|rising|falling|asks?|asked|"
    r"whether|denie[sd]|did|does)\b",
    re.IGNORECASE,
)
# nobody answered there: that takes nothing back of what is told beside it
_UNANSWERED = re.compile(r"(?:still\s+)?no\s+(?:answer|reply|response|word)s?(?:\s+yet)?", re.I)
Read = Callable[[str], HeardLine]


@dataclass(frozen=True, slots=True)
class _Cover:
    """Stretches of clauses that tell something, and how much: the more the better."""

    score: tuple[int, int]
    pieces: tuple[tuple[int, int, str], ...] = ()


def part_by_part(
    segment: str, parts: Sequence[LinePart], grammar: Grammar, around: LineContext, read: Read,
    *, noted: bool = False,
) -> Ask | None:  # fmt: skip
    """Return the question which parts of a line are meant, None where none tells anything.

    Parameters
    ----------
    segment : str
        The line as it was said.
    parts : sequence of LinePart
        What it was cut into.
    read : callable
        Reads a piece of text, without asking for parts of it in turn.
    noted : bool
        The line holds no figure: only what is told whole is offered.
    """
    opening = next((p for p in parts if p.sort not in ("comma", "filler")), None)
    name = opening.text if opening is not None and opening.sort == "name" else ""
    sorts = {one.sort for one in opening.value} if name and opening is not None else set()
    others = [p.text for p in parts if p.sort == "name" and p is not opening
              and sorts & {one.sort for one in p.value}]  # fmt: skip
    ships = _ships(parts)
    if (both := _of_both(segment, parts, ships, read)) is not None:
        return both
    ways = ((_clauses(segment), 2 if noted else 1), (_at_words(segment, parts, grammar), 2))
    for spans, least in ways:
        if 1 < len(spans) <= MOST_CLAUSES:

            def tell(text: str, least: int = least) -> tuple[str, int] | None:
                told = _told(text, read, grammar, around)
                return told if told is not None and told[1] >= least else None

            found = _covered(segment, spans, name, others, tell, grammar.said_in)
            if found is not None:
                return _of_whom(found, segment, ships, read) if len(ships) > 1 else found
    return _with_commas(segment, parts, grammar, around)


def _ships(parts: Sequence[LinePart]) -> list[str]:
    """Return the ships that a line names, as it names them, each once."""
    said = [part.text for part in parts
            if part.sort == "name" and any(name.sort == "ship" for name in part.value)]  # fmt: skip
    return list({text.casefold(): text for text in said}.values())


def _of_both(
    segment: str, parts: Sequence[LinePart], ships: Sequence[str], read: Read
) -> Ask | None:
    """Ask whether two ships that open a line with *and* between each told the rest of it."""
    if len(ships) != 2 or not parts or parts[0].text != ships[0]:
        return None
    found = re.match(rf"\s*{re.escape(ships[0])}\s*(?:,|and|&)\s*{re.escape(ships[1])}\b(.*)$",
                     segment, re.IGNORECASE)  # fmt: skip
    if found is None:
        return None
    each = [f"{ship}{found[1]}" for ship in ships]
    told = [read(one) for one in each]
    if any(one.asks or one.notes or not one.understood for one in told):
        return None
    line = "; ".join(each)
    return Ask(about=f"{' and '.join(ships)}: told by each of them?", readings=(line,),
               lines=(line,))  # fmt: skip


def _of_whom(ask: Ask, segment: str, ships: Sequence[str], read: Read) -> Ask | None:
    """Return the question with one answer for each ship that the fact can be of.

    Where a ship is left out of the one fact that is offered, she may have told it or be what it
    is told of: none of them is offered alone.
    """
    line, _, note = ask.lines[0].partition("; note: ")
    if not note or ";" in line:
        return ask if all(ship.casefold() in line.casefold() for ship in ships) else None
    held = [ship for ship in ships if re.search(rf"\b{re.escape(ship)}\b", line, re.IGNORECASE)]
    if len(held) != 1:
        return ask if not held or len(held) == len(ships) else None
    away = " ".join(one.strip() for one in segment.lower().split(line.lower().strip(), 1))
    if line.lower() in segment.lower() and re.search(r"[,.:]\s*$|^\s*[,.:]", away):
        return ask  # a clause of its own, told in its own words
    each = [re.sub(rf"\b{re.escape(held[0])}\b", ship, line, flags=re.IGNORECASE) for ship in ships]
    told = [read(one) for one in each]
    if any(one.asks or not one.understood for one in told):
        return None
    return Ask(about="of whom is it told?",
               readings=tuple(f"{one} (kept as a note: {note})" for one in each),
               lines=tuple(f"{one}; note: {note}" for one in each))  # fmt: skip


def _at_words(segment: str, parts: Sequence[LinePart], grammar: Grammar) -> list[tuple[int, int]]:
    """Return a line cut where a word of a kind stands: sailed Tauranga 0215, ETA 0600.

    Where it names two ships or two compartments, each of them begins a fact too. No cut parts a
    figure from what it counts: 26 canisters are no 26 people.
    """
    cuts, at = [0], 0
    sorts = [{name.sort for name in p.value} for p in parts if p.sort == "name" and not p.prep]
    two = len(_ships(parts)) > 1 or any(one & other for one, other in pairwise(sorts))
    before: LinePart | None = None
    for part in parts:
        found = segment.lower().find(part.text.lower(), at)
        if found < 0:
            continue
        begins = part.sort == "phrase" and not _counted(before, part, grammar)
        begins |= two and part.sort == "name" and not part.prep
        if begins and segment[cuts[-1] : found].strip(" ,"):
            cuts.append(found)
        at = found + len(part.text)
        before = part
    return list(zip(cuts, [*cuts[1:], len(segment)], strict=True))


def _counted(before: LinePart | None, part: LinePart, grammar: Grammar) -> bool:
    """Whether a phrase is what the figure before it counts."""
    if before is None or before.sort != "number" or len(before.text) > 3:
        return False
    return any(
        role.counts or role.sort == "count"
        for meaning in part.value if meaning.sort == "cue"
        for name in grammar.with_role.get(meaning.key, ())
        if (role := grammar.forms[name].roles.get(meaning.key)) is not None
    )  # fmt: skip


def _clauses(text: str) -> list[tuple[int, int]]:
    spans, at = [], 0
    for stop in _STOP.finditer(text):
        if stop.start() > at:
            spans.append((at, stop.start()))
        at = stop.end()
    if at < len(text.rstrip(" .,!?")):
        spans.append((at, len(text)))
    return spans


def _covered(
    segment: str, spans: Sequence[tuple[int, int]], name: str, others: Sequence[str],
    tell: Callable[[str], tuple[str, int] | None], worded: Callable[[str], object],
) -> Ask | None:  # fmt: skip
    best = [_Cover((0, 0))]
    for end in range(1, len(spans) + 1):
        options = [best[end - 1]]
        for start in range(end):
            piece = segment[spans[start][0] : spans[end - 1][1]].strip(" ,.")
            # the name that opens the line may be meant for the rest of it, up to the next such
            said = segment[: spans[end - 1][1]].casefold()
            held = start and name and not any(one.casefold() in said for one in others)
            tries = [piece, f"{name} {piece}"] if held and worded(piece) else [piece]
            told = max(filter(None, map(tell, tries)), key=lambda way: way[1], default=None)
            if told is None:
                continue
            text, worth = told
            before = best[start]
            score = (before.score[0] + worth * (end - start), before.score[1] - 1)
            options.append(_Cover(score, (*before.pieces, (start, end, text))))
        best.append(max(options, key=lambda one: one.score))
    pieces = best[-1].pieces
    if not pieces or (len(pieces) == 1 and pieces[0][:2] == (0, len(spans))):
        return None
    taken = {k for start, end, _ in pieces for k in range(start, end)}
    left = [segment[a:b].strip(" ,.") for k, (a, b) in enumerate(spans) if k not in taken]
    # what came then is a clause of its own: course 215 then 180
    after = left and re.search(r"\bthen\b", segment, re.IGNORECASE)
    beside = [words for words in left if not _UNANSWERED.fullmatch(words)]
    if after or any(_TURNS.search(words) or _TAKES_BACK.search(words) for words in beside):
        return None
    texts = [text for _, _, text in pieces]
    offered = ["; ".join(texts)]
    if 1 < len(texts) <= MOST_ALONE:
        offered += texts
    rest = f" (kept as a note: {', '.join(left)})" if left else ""
    shown = [offered[0] + rest, *(f"{one} (the rest kept as a note)" for one in offered[1:])]
    lines = [f"{offered[0]}; note: {segment}" if left else offered[0],
             *(f"{one}; note: {segment}" for one in offered[1:])]  # fmt: skip
    return Ask(about="several facts in one line: which of them?", readings=tuple(shown),
               lines=tuple(lines))  # fmt: skip


def _told(text: str, read: Read, grammar: Grammar, around: LineContext) -> tuple[str, int] | None:
    """Return a piece as it tells something, and how surely: whole 2, something lacking 1."""
    if _TURNS.search(text):
        return None  # it is read as it stands, or not at all
    hearing = read(text)
    if any(u.kind == "watch.note" for u in hearing.understood):
        return None
    if hearing.understood and not hearing.asks:
        return text, 2
    if hearing.asks and (hearing.lacks or all(ask.readings for ask in hearing.asks)):
        return text, 1
    if hearing.asks or not hearing.notes:
        return None
    # 20 forward: what one kind alone can take is offered as that
    parts = scan(figures(text), grammar, around)
    sorts = {part.sort for part in parts}
    if "unknown" in sorts or not {"name", "number"} <= sorts:
        return None  # a place alone tells nothing
    counts = [
        line for line in of_what(text, parts, grammar, around).lines
        if not (whole := read(line)).asks and whole.understood
        and not any(grammar.forms[one.kind].heard.introduces for one in whole.understood)
    ]  # fmt: skip
    return (counts[0], 2) if len(counts) == 1 else None


def _with_commas(
    segment: str, parts: Sequence[LinePart], grammar: Grammar, around: LineContext
) -> Ask | None:
    """Ask about a list without commas, parted where each fact can begin."""
    if len(parts) > MOST_LISTED or any(part.sort in ("unknown", "doubt") for part in parts):
        return None
    comma = LinePart(sort="comma", text=",")
    spread = [one for part in parts for one in (comma, part)][1:]
    ways = [
        way for way in compete(spread, grammar, around.now)
        if len(way.drafts) > 1 and all(d.bound and not d.doubts for d in way.drafts)
    ]  # fmt: skip
    if not ways or ways[0].cost[0]:
        return None
    lines = tuple(
        dict.fromkeys("; ".join(plain.plain(draft) for draft in way.drafts) for way in ways)
    )
    return Ask(about=f"{segment}: parted so?", readings=lines, lines=lines, part=segment)
