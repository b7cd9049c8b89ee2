"""How a kind of record is told by voice: its words, the roles of what is said, and what fills it.

Declared beside the model of each kind; the grammar of a heard line (`layers/heard`) is made from
these declarations alone, so that a new layer can be spoken to on the day it is written.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any, Literal

from layers.earth.geodesy import going
from layers.earth.position import Position
from layers.earth.said.quantity import Sort
from layers.earth.units import M_S_PER_KN

if TYPE_CHECKING:
    from layers.journal.known import Known

RoleSort = Literal[
    "position", "time", "direction", "quantity", "pressure", "count", "number", "name", "choice",
    "record", "text", "gas", "word",
]  # fmt: skip
RUN_ON = timedelta(hours=6)  # that a last course is believed for; common practice, no source
Value = Any  # of a role, by its sort: see `Slot`


@dataclass(frozen=True, slots=True, kw_only=True)
class Slot:
    """What a part of a line can be for a kind.

    Parameters
    ----------
    key : str
        Its name among the roles of a kind; the payload's field where there is no `fill`.
    title : str
        As it is asked for: ``"track spacing"``.
    sort : str
        position (a `Position`), time (UTC), direction (degrees and sense), quantity (a float in
        ``unit``), pressure (value, unit, reference), gas (value, unit), count and number (a float),
        name (a `Name`), choice (the value behind a phrase), record (its number), text, word (one
        that nothing else knows, where ``pattern`` fits it).
    cues : tuple of str
        Words that call for it: ``("within", "good to")``; the first one stands in the read-back.
    choices : mapping
        For a choice: what may be said, and the value that it stands for. The first phrase of a
        value is the one that is read back.
    measure, unit : Sort, str
        Of a quantity.
    alone : bool
        A number without a unit, or a direction without a sense, is taken and read back;
        otherwise it is asked for.
    loose : bool
        May be taken without its cue, by a kind that other words have called.
    paired : bool
        A direction that takes the first half of ``240/12`` without its cue.
    least, most : float
        Bounds in ``unit``; beyond them the line is refused.
    usual : tuple of float
        Outside of it the figure is asked again: a lost decimal point lies within the bounds.
    pattern : str
        Of a word: what it must look like.
    names : tuple of str
        Sorts of name that it takes.
    preps : tuple of str
        What may stand before the name or time; empty string for nothing.
    ahead : bool
        A time that may lie ahead of now.
    past : bool
        A time that can not lie ahead, although the kind's own may: overdue since.
    only_with : str
        Another role without which it is not taken uncued: a bearing from a mark needs the mark;
        ``"a|b"`` for either. A word stands right behind it.
    not_beside : str
        Roles beside which it leaves open how many of them: 14 out, 2 dead; ``"a|b"`` for either.
    counts : bool
        A number that counts what a choice says, and stands before it: 30 canisters.
    or_else : str
        Another role that tells it as well: overdue, her report was due 0200.
    offered : tuple of str
        Answers to press where it is asked for.
    """

    key: str
    title: str
    sort: RoleSort
    cues: tuple[str, ...] = ()
    choices: Mapping[str, Any] = field(default_factory=dict, hash=False)
    measure: Sort | None = None
    unit: str = ""
    alone: bool = False
    loose: bool = False
    paired: bool = False
    least: float = -math.inf
    most: float = math.inf
    usual: tuple[float, float] = (-math.inf, math.inf)
    pattern: str = r"[A-Za-z0-9][\w.-]*"
    names: tuple[str, ...] = ()
    preps: tuple[str, ...] = ("",)
    ahead: bool = False
    past: bool = False
    only_with: str = ""
    not_beside: str = ""
    counts: bool = False
    or_else: str = ""
    offered: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Name:
    """Something that has a name on the plot: a ship, a refuge, a mark, a transponder.

    ``key`` is how records name it; ``new`` says that no record has named it yet.
    """

    text: str
    sort: str
    key: str = ""
    position: Position | None = None
    at: datetime | None = None
    course_true_deg: float | None = None
    speed_kn: float | None = None
    new: bool = False
    said: str = ""  # the words that make it known: new aircraft
    hers: bool = False  # the boat's own: said of her, it adds nothing
    fast: bool = False  # an aircraft: no speed of hers is asked again for being unusual


@dataclass(slots=True, kw_only=True)
class ToldRecord:
    """What a line told for one kind, and the payload that is made of it.

    ``amending`` is true for a correction: only what was said is put, nothing is assumed.
    ``about`` says that a figure or place was said to be about so: no error may be taken as small;
    ``was`` that it was told as past.
    """

    roles: Mapping[str, Value]
    now: datetime
    at: datetime
    known: Known | None = None
    names: Mapping[str, Name] = field(default_factory=dict)
    amending: bool = False
    about: bool = False
    was: bool = False
    payload: dict[str, Any] = field(default_factory=dict)
    assumed: list[str] = field(default_factory=list)  # read back: what nobody said
    confirmed: bool = False  # said again on purpose
    parted: tuple[str, tuple[str, ...]] = ("", ())  # asked, and lines that tell it in several
    also: dict[str, str] = field(default_factory=dict)  # role -> worked out, read back beside it
    lacking: list[str] = field(default_factory=list)  # asked for, in words

    def has(self, role: str) -> bool:
        """Whether the role was told."""
        return role in self.roles

    def get(self, role: str) -> Value:
        """Return what the role was told as, None if it was not."""
        return self.roles.get(role)

    def put(self, **fields: Any) -> None:
        """Put fields of the payload that were said; what is None is left out."""
        self.payload |= {name: value for name, value in fields.items() if value is not None}

    def put_as(self, **fields: str) -> None:
        """Put each field from the role that is named for it, if that was told."""
        for name, role in fields.items():
            value = self.roles.get(role)
            if isinstance(value, Name):
                value = value.key or value.text
            if value is not None:
                self.payload[name] = value

    def place(self, position: Position | None, stem: str = "") -> None:
        """Put a position's two fields."""
        if position is not None:
            self.payload[f"{stem}latitude_deg"] = position.latitude_deg
            self.payload[f"{stem}longitude_deg"] = position.longitude_deg

    def assume(self, words: str, **fields: Any) -> None:
        """Put fields that nobody says, with the words that tell it in the read-back."""
        if self.amending:
            return
        missing = {k: v for k, v in fields.items() if k not in self.payload and v is not None}
        self.payload |= missing
        if missing and words and words not in self.assumed:
            self.assumed.append(words)

    def whereabouts(self, name: Name, *, trusted: timedelta = RUN_ON) -> Position | None:
        """Return where something with a name was at the time told, run on by its last course.

        None where nothing told it, or only so long before that nobody would run on. The error is
        read back with the place.
        """
        if name.position is None or name.at is None:
            return name.position
        gap = self.at - name.at
        if abs(gap) > trusted:
            return None
        if name.course_true_deg is None or not name.speed_kn:
            return name.position
        along = name.speed_kn * M_S_PER_KN * gap.total_seconds()
        turn = name.course_true_deg + (180.0 if along < 0.0 else 0.0)
        return going(name.position, turn % 360.0, abs(along))

    def lack(self, what: str) -> None:
        """Ask for something that this kind needs and the plot does not know."""
        if not self.amending:
            self.lacking.append(what)


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardWords:
    """How a record of a kind is told by voice, so that a line of text can be read as one.

    Parameters
    ----------
    words : tuple of str
        Words and phrases that mean this kind: ``("ice", "berg")``. The first is read back.
    needs, takes : tuple of str
        Roles that a line must give, and may give; ``"a|b"`` for either. A payload field that is
        no role of its own makes one: its words are those of its name, its unit that of its ending.
    example : str
        A line that is understood as one record of this kind, for the list of what can be said.
    cores : tuple of tuple of str
        Roles that together call the kind without one of its words.
    roles : tuple of Slot
        Beside those that all layers share (`layers/contract/heard_roles.py`).
    fill : callable or None
        Makes the payload from a `ToldRecord`; without it each role is the field of its name.
    fields : tuple of str
        Fields that `fill` fills although nobody says them; the read-back says how.
    text : str
        A role that takes the rest of the line as it stands, for kinds whose word opens it.
    whom : str
        A role that takes what stands before the colon as it stands, where it is no known name.
    between : str
        With ``whom``: the word between who and what, where no colon stands: asked Fleet *for*.
    asking : tuple of str
        Words that open such a line: asked, requested of.
    amends : bool
        The text is what another record should read, in the words of that record's kind.
    introduces : str
        The sort of name that a record of this kind makes known: where a line names a new one,
        such a record is made with it.
    hers : bool
        The name that it makes known is the boat's own.
    perhaps : mapping
        Words that may mean this kind and may mean another thing: it is asked whether what stands
        behind them here is meant; a pattern's groups may stand in it.
    instead : mapping
        What a whole line may say that no record holds: what to say instead, and lines to press.
    others : tuple of str
        Things that are seen and heard too and are never what this kind tells of, nor a name by
        themselves: whales, ice. A line that speaks of one is offered as a note.
    names_new : str
        A word behind which a new name may stand, offered where a name is known to nothing.
    plural : tuple of str
        Words before a list of new names, each of them a record: ``compartments A, B and C``.
    endings : tuple of str
        Words that end a new name of the sort that is introduced: torpedo *room*, fore *ends*.
    names : callable or None
        ``names(known, at)``: the names that records of this kind give to what is on the plot.
    ready_names : tuple of Name
        Names that are there without any record.
    timed : bool
        Whether the record's own time is said in the line; False for a plan or a definition.
    anywhere : bool
        It may lie far from all else that is plotted: a ship on her way.
    needs_time : bool
        Without a time the line is asked for it, not taken as now.
    """

    words: tuple[str, ...]
    needs: tuple[str, ...] = ()
    takes: tuple[str, ...] = ()
    example: str = ""
    cores: tuple[tuple[str, ...], ...] = ()
    roles: tuple[Slot, ...] = ()
    fill: Callable[[ToldRecord], None] | None = None
    fields: tuple[str, ...] = ()
    text: str = ""
    whom: str = ""
    between: str = ""
    asking: tuple[str, ...] = ()
    amends: bool = False
    introduces: str = ""
    hers: bool = False
    perhaps: Mapping[str, str] = field(default_factory=dict)
    instead: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    others: tuple[str, ...] = ()
    names_new: str = ""
    plural: tuple[str, ...] = ()
    endings: tuple[str, ...] = ()
    names: Callable[[Known, datetime], Iterable[Name]] | None = None
    ready_names: tuple[Name, ...] = ()
    timed: bool = True
    anywhere: bool = False
    needs_time: bool = False
