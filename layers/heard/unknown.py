"""What no kind could take: near names and words asked, what is lacking named, the rest a note."""

from __future__ import annotations

import re
from collections.abc import Sequence

from layers.heard.bind import Fitted, fit
from layers.heard.grammar import Grammar
from layers.heard.names import Around, edits, plain_name
from layers.heard.parts import Part
from layers.heard.result import Ask, Hearing
from layers.journal.words.heard import Name

VALUES = ("position", "time", "direction", "pair", "quantity", "number", "doubt")
SIDES = frozenset(
    [
        "north",
        "south",
        "east",
        "west",
        "northeast",
        "northwest",
        "southeast",
        "southwest",
        "ne",
        "nw",
        "se",
        "sw",
        "north-east",
        "north-west",
        "south-east",
        "south-west",
    ]
)
SPEAKERS = frozenset({"me", "my", "you", "your", "us", "our", "we", "i"})
NEW_SHIP = re.compile(r"new (?:ship|aircraft)", re.IGNORECASE)
MOST_OFFERED = 5
_NAMELIKE = re.compile(r"[A-Za-z][A-Za-z0-9'.-]*|\d{1,3}")


def with_new_ship(parts: list[Part], grammar: Grammar, around: Around) -> list[Part]:
    """Return the parts with a name that nothing knows as a new ship, where it may be one.

    Behind *new ship* it always is. Where no ship is known at all there is none that it could
    be a slip of: a word in capitals is taken, and without a plot any word that is near to none of
    the grammar's own.
    """
    at = next(
        (k for k, p in enumerate(parts) if p.sort == "phrase" and NEW_SHIP.fullmatch(p.text)), None
    )
    if at is not None:
        end = at + 1
        while end < len(parts) and parts[end].sort in ("unknown", "number") and (
            _NAMELIKE.fullmatch(parts[end].text)
        ):  # fmt: skip
            end += 1
        if end == at + 1:
            return parts
        new = _new(parts[at + 1 : end])
        whole = [*parts[: at + 1], new, *parts[end:]]
        alone = any(
            form.heard.introduces and isinstance(fit(form, whole, around.now), Fitted)
            for form in grammar.forms.values()
        )
        return whole if alone else [*parts[:at], new, *parts[end:]]
    if around.of_sort("ship"):
        return parts
    runs = [k for k, part in enumerate(parts) if part.sort == "unknown"]
    if not runs or runs != list(range(runs[0], runs[-1] + 1)):
        return parts
    some = parts[runs[0] : runs[-1] + 1]
    if any(
        not re.fullmatch(r"[A-Za-z][A-Za-z'.-]{1,}", p.text) or p.text.lower() in SIDES | SPEAKERS
        for p in some
    ):
        return parts
    if not around.trusting and any(part.text != part.text.upper() for part in some):
        return parts
    if any(_near_words(part.text, grammar) for part in some) or around.near(some[0].text):
        return parts
    end = runs[-1] + 1
    if end < len(parts) and re.fullmatch(r"\d{1,2}", parts[end].text) and not parts[end].prep:
        end += 1  # RESCUE 21
    return [*parts[: runs[0]], _new(parts[runs[0] : end]), *parts[end:]]


def _new(some: Sequence[Part]) -> Part:
    text = " ".join(part.text for part in some).upper()
    name = Name(text=text, sort="ship", key=text, new=True)
    return Part(
        sort="name", text=" ".join(part.text for part in some), value=(name,), prep=some[0].prep
    )


def nothing_fits(
    segment: str, parts: Sequence[Part], grammar: Grammar, around: Around, hearing: Hearing
) -> None:
    """Add the questions of a line that no kind can take, or keep it as a note."""
    asks = _near(segment, parts, grammar, around)
    values = [
        part for part in parts
        if part.sort in VALUES or (part.sort == "unknown" and re.search(r"\d", part.text))
    ]  # fmt: skip
    if not values and not asks:
        hearing.notes.append(segment)
        return
    told = {ask.part for ask in asks}
    for part in parts:
        if part.sort == "doubt" and part.doubt is not None:
            lines = tuple(segment.replace(part.text, way) for way in part.doubt.readings)
            asks.append(Ask(about=part.doubt.about, readings=part.doubt.readings, lines=lines,
                            part=part.text, refused=part.doubt.refused))  # fmt: skip
        elif part.sort == "unknown" and part.text not in told:
            asks.append(Ask(about=_not_understood(part), part=part.text))
    ship = None if told else _as_new_ship(segment, parts, grammar, around)
    if ship is not None:
        asks = [ask for ask in asks if ask.part not in ship.part.split()] + [ship]
    if not asks:
        asks.append(_of_what(segment, parts, grammar, around))
    hearing.asks += asks


def _not_understood(part: Part) -> str:
    plain_ = part.text.lower()
    if plain_ in SIDES:
        return f"{part.text} is a rough side: bearing in figures?"
    if plain_ in SPEAKERS:
        return f"{part.text}: who is that? name the ship"
    if part.text.startswith("«"):
        return f"{part.text}: a figure, or a word?"
    return f"not understood: {part.text}"


def _near(segment: str, parts: Sequence[Part], grammar: Grammar, around: Around) -> list[Ask]:
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
            if names:
                done |= set(range(at, at + size))
                asks.append(_meant(segment, text, names[:MOST_OFFERED]))
    for at, part in enumerate(parts):
        if part.sort != "unknown" or at in done or not (known or len(parts) == 1):
            continue
        if words := _near_words(part.text, grammar):
            asks.append(_meant(segment, part.text, words[:MOST_OFFERED]))
    return asks


def _meant(segment: str, text: str, names: Sequence[str]) -> Ask:
    lines = tuple(
        re.sub(re.escape(text), name, segment, count=1, flags=re.IGNORECASE) for name in names
    )
    return Ask(about=f"{text!r} is not known; {' or '.join(names)} meant?", readings=tuple(names),
               lines=lines, part=text)  # fmt: skip


def _near_words(text: str, grammar: Grammar) -> list[str]:
    plain_ = plain_name(text)
    if len(plain_) < 4 or not plain_.isalpha():
        return []
    return [word for word in grammar.single_words
            if word[0] == plain_[0] and edits(plain_, word, 1) == 1]  # fmt: skip


def _as_new_ship(
    segment: str, parts: Sequence[Part], grammar: Grammar, around: Around
) -> Ask | None:
    """Offer a name that nothing knows as a new ship, where the line is whole with it."""
    runs = [k for k, part in enumerate(parts) if part.sort == "unknown"]
    if not runs or runs != list(range(runs[0], runs[-1] + 1)) or len(runs) > 3:
        return None
    some = list(parts[runs[0] : runs[-1] + 1])
    if any(not re.fullmatch(r"[A-Z][A-Z0-9'.-]{2,}", part.text) for part in some):
        return None
    end = runs[-1] + 1
    if end < len(parts) and re.fullmatch(r"\d{1,2}", parts[end].text) and not parts[end].prep:
        end += 1
    new = _new(parts[runs[0] : end])
    whole = [*parts[: runs[0]], new, *parts[end:]]
    if not any(isinstance(fit(form, whole, around.now), Fitted) for form in grammar.forms.values()):
        return None
    line = re.sub(
        re.escape(new.text), f"new ship {new.text}", segment, count=1, flags=re.IGNORECASE
    )
    return Ask(about=f"{new.text} is not known here: a ship that takes part from now on?",
               readings=(f"new ship {new.text}",), lines=(line,), part=new.text)  # fmt: skip


def _of_what(segment: str, parts: Sequence[Part], grammar: Grammar, around: Around) -> Ask:
    """Ask of what or of whom it is told, with the kinds that could take all of it as answers."""
    found: list[tuple[int, str, str]] = []
    for form in grammar.forms.values():
        made = fit(form, parts, around.now, called=True)
        if isinstance(made, Fitted) and form.heard.words and len(made.lacking) <= 2:
            lead = form.heard.words[0]
            found.append((len(made.lacking), form.kind.title, f"{lead} {segment}"))
    found.sort()
    some = found[:MOST_OFFERED]
    return Ask(about=f"of what, or of whom: {segment}?", part=segment,
               readings=tuple(title for _, title, _ in some),
               lines=tuple(line for _, _, line in some))  # fmt: skip
