"""What may be seen of a kind of record by those who are not the watch: its rule.

A rule stands with its kind (`Kind.release`). A kind without one, and a field that its rule does
not name, are withheld from every release but the watch's: whoever adds a kind and forgets the
rule has told nobody anything. Rules see the *corrected* record, never the record as it was first
written, for a correction would else bring back by the side door what was taken out.
"""

from __future__ import annotations

import types
import typing
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from enum import Enum
from functools import cache
from typing import TYPE_CHECKING, Any, Literal, Protocol, runtime_checkable

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from layers.earth.tells import NOTHING, Tells

if TYPE_CHECKING:
    from layers.journal.known import Known
    from layers.journal.record import Record

WITHHELD_WORD = "withheld"
# fields that hold free text, or who said it, whatever the kind
FREE_TEXT = frozenset(
    {
        "basis",
        "because",
        "by",
        "entered_by",
        "matters",
        "note",
        "notes",
        "provenance",
        "reason",
        "remark",
        "reported_by",
        "response",
        "said",
        "set_by",
        "source",
        "text",
        "title",
        "what",
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Release:
    """What somebody may be shown; every viewer, the wall and every export have one.

    Parameters
    ----------
    names : bool
        Names of persons.
    medical : bool
        Fitness and medical detail of persons.
    exact_position : bool
        The DISSUB's exact position; without it the block that the watch has told is left.
    to : str
        To whom it may go, in words: ``"operations room"``, ``"press"``.
    audience : str
        Which of the watch's own announcements are for them: ``"readers"``, ``"wall"``,
        ``"outside"``; ``"watch"`` alone sees the journal as it is.
    """

    names: bool = False
    medical: bool = True
    exact_position: bool = True
    to: str = "operations room"
    audience: str = "readers"

    @property
    def whole(self) -> bool:
        """Whether nothing at all is taken out: the watch's own."""
        return self.names and not self.guarded

    @property
    def guarded(self) -> bool:
        """Whether more than the names of persons is withheld."""
        return not (self.medical and self.exact_position)

    @property
    def cuts(self) -> str:
        """The rules in force as a key: releases with the same one share results."""
        said = (("n", self.names), ("m", self.medical), ("p", self.exact_position))
        return "".join(letter for letter, seen in said if not seen)

    def withholds(self, what: Tells) -> bool:
        """Whether what tells this is taken out."""
        seen = {
            Tells.POSITION: self.exact_position,
            Tells.MEDICAL: self.medical,
            Tells.PERSON: self.names,
        }
        return not seen[what]

    def words(self) -> str:
        """Return what is withheld, to be printed."""
        said = (
            ("names of persons", self.names),
            ("medical detail", self.medical),
            ("the place of the DISSUB", self.exact_position),
        )
        found = [what for what, seen in said if not seen]
        return f"withheld: {', '.join(found)}" if found else "nothing withheld"

    def lesser(self, other: Release) -> Release:
        """Return what both may see."""
        return Release(
            names=self.names and other.names,
            medical=self.medical and other.medical,
            exact_position=self.exact_position and other.exact_position,
            to=self.to,
            audience=self.audience,
        )


WATCH = Release(names=True, to="the watch", audience="watch")
OUTSIDE = Release(medical=False, exact_position=False, to="outside", audience="outside")


def with_cuts(cuts: str) -> Release:
    """Return the rules that a key of `Release.cuts` stands for."""
    return Release(names="n" not in cuts, medical="m" not in cuts, exact_position="p" not in cuts)


class Let(Protocol):
    """What a rule may look at beside the record."""

    release: Release
    whole: Known  # as the watch has it

    def let_go(self, record: Record) -> bool:
        """Whether the watch has let a record's words go."""
        ...

    def kept(self, key: str, make: Callable[[], Any]) -> Any:
        """Return what was worked out once for all records of this reading."""
        ...


@runtime_checkable
class ReleaseReading(Protocol):
    """How a release reads the journal, as layers and the picture may ask of it."""

    release: Release

    def gone(self, kind: str) -> bool:
        """Whether no record of a kind is seen here, whatever there is of it."""
        ...

    def digest(self, kinds: Iterable[str]) -> str:
        """Return the key of how these kinds are read, empty where that is as the watch does."""
        ...

    def last_told(self, upto_seq: int) -> int:
        """Return the last seq of a typed record that is seen."""
        ...


Change = Callable[[Mapping[str, Any], Let, "Record"], Mapping[str, Any] | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """What a release sees of a kind.

    Parameters
    ----------
    tells : frozenset of Tells
        The record is not there where one of these is withheld.
    guarded : bool
        The record is not there where anything but names is withheld: the boat's inside, the
        lifts, the watch's own words, which may tell all of it at once.
    shows : tuple of str or None
        The fields that are seen where anything is withheld; None: all that hold no free text.
    change : callable, optional
        ``change(payload, let, record)`` coarsens the record, None takes it out. Only asked
        where more than names is withheld.
    hides : callable, optional
        For bulk kinds: ``hides(let)`` gives a test of `column`'s value; rows it is true of are
        not there. By whose they are, never by what they say: of a ship's rows either all are
        there or none, so that an older one does not come up in place of the last.
    column : str
        The text column that `hides` looks at.
    looks : tuple of str
        Kinds that `change` or `hides` look at: their records count for results too.
    whole : bool
        Every field, now and in future.
    names : callable, optional
        ``names(payload, let, record)`` takes the names of persons out, where those are withheld.
    target : bool
        It is about another record, and is there when that one is.
    keeps_source : bool
        Its source is public: a station, a model.
    """

    tells: frozenset[Tells] = NOTHING
    guarded: bool = False
    shows: tuple[str, ...] | None = ()
    change: Change | None = None
    hides: Callable[[Let], Callable[[str], bool]] | None = None
    column: str = ""
    looks: tuple[str, ...] = ()
    whole: bool = False
    target: bool = False
    names: Change | None = None
    keeps_source: bool = False

    def gone(self, release: Release) -> bool:
        """Whether no record of the kind is seen, whatever it says."""
        hidden = any(release.withholds(what) for what in self.tells)
        return hidden or (self.guarded and release.guarded)


WHOLE = Rule(whole=True)
PUBLISHED = Rule(whole=True, keeps_source=True)
FOLLOWS = Rule(target=True)


def only(*fields: str, **more: Any) -> Rule:
    """Return a rule by which these fields are seen, and no other."""
    return Rule(shows=fields, **more)


def withheld(*tells: Tells, **more: Any) -> Rule:
    """Return a rule by which the record is not there where one of these is withheld.

    Elsewhere all is seen but free text.
    """
    return Rule(tells=frozenset(tells), shows=None, **more)


# not there where anything but names is withheld: the boat's inside, lifts, the watch's words
GUARDED = Rule(guarded=True, shows=None)
PLACE = withheld(Tells.POSITION)


def blanked(
    model: type[BaseModel], payload: Mapping[str, Any], shows: tuple[str, ...] | None
) -> dict[str, Any]:
    """Return a payload with the fields that are not shown emptied.

    An optional field is left out; a text that must be there reads ``withheld``.
    """
    found: dict[str, Any] = {}
    for name, value in payload.items():
        field = model.model_fields.get(name)
        if field is None:
            continue
        if (name in shows) if shows is not None else name not in FREE_TEXT:
            found[name] = value
        elif field.is_required():
            found[name] = WITHHELD_WORD
    return found


@cache
def text_fields(model: type[BaseModel]) -> tuple[str, ...]:
    """Return the fields of a payload that can hold words that somebody typed."""
    return tuple(name for name, field in model.model_fields.items() if holds_text(field))


def holds_text(field: FieldInfo) -> bool:
    """Whether a field can hold words that somebody typed."""
    if any(getattr(each, "pattern", None) for each in field.metadata):
        return False
    return _text_in(field.annotation)


def _text_in(annotation: Any) -> bool:
    origin = typing.get_origin(annotation)
    if origin is Literal:
        return False
    if origin is typing.Annotated:
        inner, *about = typing.get_args(annotation)
        patterned = any(getattr(m, "pattern", None) for m in about) or any(
            getattr(m, "pattern", None) for a in about for m in getattr(a, "metadata", ())
        )
        return not patterned and _text_in(inner)
    if origin is not None or isinstance(annotation, types.UnionType):
        return any(_text_in(part) for part in typing.get_args(annotation) if part is not Ellipsis)
    if isinstance(annotation, type):
        if issubclass(annotation, Enum):
            return False
        if issubclass(annotation, BaseModel):
            return any(map(holds_text, annotation.model_fields.values()))
        return issubclass(annotation, str)
    return annotation is Any
