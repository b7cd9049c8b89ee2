"""What a line is cut into before any kind looks at it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

PartSort = Literal[
    "name", "position", "time", "direction", "pair", "quantity", "number", "phrase", "comma",
    "filler", "prep", "unknown", "doubt",
]  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Meaning:
    """One thing that a phrase can be: a cue for a role, a choice of one, a word of a kind."""

    sort: Literal["cue", "choice", "word"]
    key: str  # the role's, or the kind's name
    value: Any = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """A number with the unit that was said behind it, empty if none."""

    figures: str
    unit: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """Why a part is asked, and each way to write it that leaves no doubt."""

    about: str
    readings: tuple[str, ...] = ()
    refused: bool = False  # it can not be; nothing is offered but what is


@dataclass(frozen=True, slots=True, kw_only=True)
class LinePart:
    """A piece of a line.

    ``value`` by sort: a name's `Name`; a `Position`; a time's text; degrees and sense; of a pair
    the direction's and the speed's `Figures`; `Figures` of a quantity or number; the `Meaning`s of
    a phrase; a `Doubt`.
    """

    sort: PartSort
    text: str
    value: Any = None
    prep: str = ""
    doubt: Doubt | None = None

    @property
    def is_value(self) -> bool:
        """Whether it can fill a role."""
        return self.sort in ("name", "position", "time", "direction", "pair", "quantity", "number")
