"""What hearing a line came to: records understood, questions, or a note."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

NOTED = "kept as a note, nothing of it is on the plot"


@dataclass(frozen=True, slots=True, kw_only=True)
class Ask:
    """One question, with the answers to press.

    Parameters
    ----------
    about : str
        What is asked, in words.
    readings : tuple of str
        The answers, in words.
    lines : tuple of str
        For each answer the line that says it; pressing an answer puts it in the box.
    part : str
        The piece of the line that it is about, to be underlined.
    refused : bool
        It can not be as it was said; the answers, if any, are what could have been meant.
    lack : str
        The name of what is not told, where that is all that is asked.
    """

    about: str
    readings: tuple[str, ...] = ()
    lines: tuple[str, ...] = ()
    part: str = ""
    refused: bool = False
    lack: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Understood:
    """One record that a line told.

    ``words`` is the read-back; ``plain`` the form that reads back to the same; ``why`` says part
    by part what was taken for what.
    """

    kind: str
    version: int
    valid_at: datetime
    payload: Mapping[str, Any]
    words: str
    plain: str
    why: tuple[str, ...] = ()


@dataclass(slots=True, kw_only=True)
class HeardLine:
    """All that a line told.

    ``note`` holds the text that is kept as a note: nothing of it is on the plot.
    """

    text: str
    understood: list[Understood] = field(default_factory=list)
    asks: list[Ask] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    @property
    def refused(self) -> bool:
        """Whether something can not be as it was said, and nothing else is asked."""
        return bool(self.asks) and all(ask.refused for ask in self.asks)

    @property
    def lacks(self) -> tuple[str, ...]:
        """What the line only lacks to be a record, by name; none where anything else is asked."""
        named = tuple(dict.fromkeys(ask.lack for ask in self.asks))
        return named if all(named) else ()

    @property
    def whole(self) -> bool:
        """Whether all of it may be recorded as it stands."""
        return not self.asks
