"""The names that a line may use: ships taking part, places, marks; and names near to one."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import lru_cache

from layers.earth.geodesy import between
from layers.earth.position import Position
from layers.heard.parts import LinePart
from layers.journal.kinds import Kind
from layers.journal.known import Known
from layers.journal.record import Record
from layers.journal.words.heard import Name


@dataclass(frozen=True)
class LineContext:
    """What a line is heard in: the clock, what has a name, and where things are.

    ``find`` looks a record up by its number, ``newest`` returns the last that people told;
    ``trusting`` says that there is no plot to know
    any name from, so that one that nothing else knows is taken as said.
    """

    now: datetime
    names: tuple[Name, ...] = ()
    known: Known | None = None
    trusting: bool = False
    plotted: tuple[Position, ...] = ()
    find: Callable[[int], Record | None] = lambda _number: None
    newest: Callable[[], Sequence[Record]] = tuple
    by_key: Mapping[str, tuple[Name, ...]] = field(init=False)

    def __post_init__(self) -> None:
        found: dict[str, list[Name]] = {}
        for name in self.names:
            found.setdefault(plain_name(name.text), []).append(name)
        object.__setattr__(self, "by_key", {k: tuple(v) for k, v in found.items()})

    def match(self, text: str, at: int) -> tuple[LinePart, int] | None:
        """Return the longest name that begins here."""
        pattern = _pattern(tuple(sorted({name.text for name in self.names})))
        found = pattern.match(text, at) if pattern and not (at and text[at - 1].isalnum()) else None
        if found is None:
            return None
        return (
            LinePart(sort="name", text=found[0], value=self.by_key[plain_name(found[0])]),
            found.end(),
        )

    def of_sort(self, *sorts: str) -> list[Name]:
        """Return the names of some sorts, in the order in which they were told."""
        return [name for name in self.names if name.sort in sorts]

    def near(self, word: str) -> list[str]:
        """Return known names that a word may have been meant for, nearest first."""
        plain = plain_name(word)
        if len(plain) < 4:
            return []
        found = []
        for key, names in self.by_key.items():
            allowed = 1 if min(len(key), len(plain)) <= 5 else 2
            far = edits(plain, key, allowed)
            if 0 < far <= allowed:  # the name itself is none that was meant for it
                found.append((far, names[0].text))
        return [text for _, text in sorted(found)]

    def distance_m(self, position: Position) -> float | None:
        """Return how far a position lies from the nearest thing plotted, None if nothing is."""
        if not self.plotted:
            return None
        return min(between(position, other)[0] for other in self.plotted)


def around(
    kinds: Mapping[str, Kind],
    known: Known | None,
    now: datetime,
    *,
    find: Callable[[int], Record | None] = lambda _number: None,
    newest: Callable[[], Sequence[Record]] = tuple,
) -> LineContext:
    """Return what a line is heard in, from a journal's records.

    Parameters
    ----------
    kinds : mapping of str to Kind
        The catalogue: each kind says which names its records give.
    known : Known or None
        What is known; None where there is no journal.
    find : callable
        Returns the record of a number, None where there is none.
    newest : callable
        Returns the newest records that a line may mean, newest first.
    """
    if known is None:
        return LineContext(now=now, trusting=True, names=tuple(_ready(kinds, now)))
    names: dict[tuple[str, str], Name] = {}
    for kind in kinds.values():
        if kind.heard is not None and kind.heard.names is not None:
            for told in kind.heard.names(known, now):
                # as it is typed: how it is told apart from another stands beside it, not in it
                name = replace(told, text=known.apart.recorded(told.text))
                names[(plain_name(name.text), name.sort)] = name
    plotted = tuple(name.position for name in names.values() if name.position is not None)
    return LineContext(
        now=now,
        names=tuple(names.values()),
        known=known,
        plotted=plotted,
        find=find,
        newest=newest,
    )


def _ready(kinds: Mapping[str, Kind], now: datetime) -> Iterable[Name]:
    """Return the names that are there without any record."""
    for kind in kinds.values():
        if kind.heard is not None:
            yield from kind.heard.ready_names


def plain_name(text: str) -> str:
    """Return a name as names are compared: small letters and figures alone."""
    return re.sub(r"[\W_]+", "", text.casefold())


@lru_cache(maxsize=64)
def _pattern(names: tuple[str, ...]) -> re.Pattern[str] | None:
    shapes = []
    for name in sorted(names, key=len, reverse=True):
        pieces = re.findall(r"[^\W\d_]+|\d+|[^\w\s-]", name)
        if pieces:
            # written as said: SHE'S A KEEPER is shes a keeper too
            shapes.append(
                r"[\s-]*".join(
                    re.escape(piece) + ("" if piece.isalnum() else "?") for piece in pieces
                )
            )
    return re.compile(rf"(?:{'|'.join(shapes)})(?![^\W_])", re.IGNORECASE) if shapes else None


def edits(one: str, other: str, most: int) -> int:
    """Return how many letters lie between two words, a swap of neighbours counting one.

    More than ``most`` is returned as ``most + 1``; restricted Damerau-Levenshtein.
    """
    if abs(len(one) - len(other)) > most:
        return most + 1
    before: list[int] = []
    row = list(range(len(other) + 1))
    for i, a in enumerate(one, 1):
        last, before, row = before, row, [i, *([0] * len(other))]
        for j, b in enumerate(other, 1):
            row[j] = min(before[j] + 1, row[j - 1] + 1, before[j - 1] + (a != b))
            if i > 1 and j > 1 and a == other[j - 2] and one[i - 2] == b:
                row[j] = min(row[j], last[j - 2] + 1)
        if min(row) > most:
            return most + 1
    return row[-1]
