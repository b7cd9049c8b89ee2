"""A kind of record, and the kinds that say what is thought of another record."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Literal

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field

from layers.earth.errors import InputError
from layers.journal.releases.rules import FOLLOWS, Rule
from layers.journal.words.heard import HeardWords
from layers.journal.words.opinions import HEARD

if TYPE_CHECKING:
    from layers.journal.known import Known
    from layers.journal.record import Draft, Record

Text = Field(min_length=1, max_length=2_000)
Told = tuple[int, Mapping[str, Any]]  # a fact: when, UTC microseconds, and its fields


class Payload(BaseModel):
    """The base of every payload: strict, frozen, nothing unknown let through."""

    model_config = ConfigDict(
        strict=True, frozen=True, extra="forbid", allow_inf_nan=False, defer_build=True
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class SideColumn:
    """One column of a narrow side table: a payload field kept as a number or a text."""

    name: str  # the payload's field
    sql: Literal["REAL", "INTEGER", "TEXT"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """What a kind of record is called, how it is checked and how it is kept.

    Parameters
    ----------
    name : str
        As stored: ``"survivors.move"`` (the layer's key, a dot, a noun).
    title : str
        As said: ``"people moved"``.
    model : type of Payload
        Checks the payload where it enters.
    version : int
        Schema version now written.
    upgrade : callable, optional
        ``upgrade(version, payload) -> payload`` brings an older payload up to date on reading.
    columns : tuple of SideColumn
        For kinds that come in thousands: fields also kept in a side table and read as arrays.
    by : str
        The text column that says whose a row is, for kinds that come in hundreds of thousands:
        `Known.latest` and `Known.stretches` then read only what is asked for. Empty for none.
    same : callable, optional
        ``same(one, other) -> bool`` of two facts of one owner about one time, each its time in
        microseconds and its fields: whether they say the same in different digits. Needs ``by``.
    future_s : float
        How far ``valid_at`` may lie after ``recorded_at``; a forecast or a plan lies ahead, a
        report from the future is refused.
    refuse : callable, optional
        ``refuse(value, draft, known)`` raises `RecordRefused` when the record cannot stand
        beside what is known; it runs inside the writer's lock.
    ask : callable, optional
        ``ask(value, draft, known, author)`` raises `AskedFirst` when somebody else has recorded
        what this may repeat or contradict; asked of what people send, in the writer's lock.
    takes_with : callable, optional
        ``takes_with(record, known)`` says what else would fall if that record were retracted, an
        empty text for nothing; it is told before the retraction is taken.
    says : callable, optional
        ``says(payload, known)`` is how a list says it where its own fields do not: an item in the
        words of its checklist, a forecast by its span.
    heard : HeardWords or None
        How it is told by voice; None for what nobody tells.
    own_word : str
        ``"person"``: somebody's signature, an alarm taken, the end; a feed or a file from outside
        can not say it, nor correct or strike it. ``"room"``: what outsiders may see, which
        another room's parcel does not say here either.
    release : Rule or None
        What those see of it who are not the watch; None: nothing at all.
    """

    name: str
    title: str
    model: type[Payload]
    version: int = 1
    upgrade: Callable[[int, Mapping[str, Any]], Mapping[str, Any]] | None = None
    columns: tuple[SideColumn, ...] = ()
    by: str = ""
    same: Callable[[Told, Told], bool] | None = None
    future_s: float = 300.0
    refuse: Callable[[Any, Draft, Known], None] | None = None
    ask: Callable[[Any, Draft, Known, str], None] | None = None
    takes_with: Callable[[Record, Known], str] | None = None
    says: Callable[[Mapping[str, Any], Known], str] | None = None
    heard: HeardWords | None = field(default=None, hash=False)
    own_word: Literal["", "person", "room"] = ""
    release: Rule | None = None


def ruled(kinds: Iterable[Kind], rules: Mapping[str, Rule]) -> tuple[Kind, ...]:
    """Return kinds with what a release sees of each; who has no rule here is told to nobody.

    Raises
    ------
    InputError
        A rule is of no kind that there is, or names a field that its kind has not.
    """
    kinds = tuple(kinds)
    names = {kind.name: kind for kind in kinds}
    for name, rule in rules.items():
        if name not in names:
            raise InputError(f"a rule of release for {name!r}, which is no kind here")
        for shown in rule.shows or ():
            if shown not in names[name].model.model_fields:
                raise InputError(f"a release shows {shown!r} of {name!r}, which has no such field")
    return tuple(replace(kind, release=rules.get(kind.name, kind.release)) for kind in kinds)


def heard_as(kinds: tuple[Kind, ...], heard: Mapping[str, HeardWords]) -> tuple[Kind, ...]:
    """Return the kinds with how each is told by voice, by its name.

    Raises
    ------
    ValueError
        Words are declared for a kind that is not among them.
    """
    unknown = set(heard) - {kind.name for kind in kinds}
    if unknown:
        raise ValueError(f"heard words for no kind: {', '.join(sorted(unknown))}")
    return tuple(replace(kind, heard=heard.get(kind.name, kind.heard)) for kind in kinds)


class Correct(Payload):
    """These fields of that record should read so; its times and source too, where given."""

    target: str = Field(pattern=r"^[0-9a-f]{32}$")
    fields: dict[str, Any]
    reason: str = Text
    valid_at: AwareDatetime | None = None
    heard_at: AwareDatetime | None = None
    source: str | None = Field(default=None, min_length=1, max_length=500)


class Retract(Payload):
    """That record should not have been made.

    ``read_back``: what falls with it was told, and it is meant so.
    """

    target: str = Field(pattern=r"^[0-9a-f]{32}$")
    reason: str = Text
    read_back: bool = False


class Dispute(Payload):
    """That record is doubted, and stands until settled; ``settled`` ends the doubt."""

    target: str = Field(pattern=r"^[0-9a-f]{32}$")
    reason: str = Text
    settled: bool = False


class Grade(Payload):
    """Reliability of the source and credibility of the report (NATO AJP-2 series)."""

    target: str = Field(pattern=r"^[0-9a-f]{32}$")
    reliability: Literal["A", "B", "C", "D", "E", "F"]
    credibility: int = Field(ge=1, le=6)
    reason: str = Text


class Adopt(Payload):
    """That record is adopted for planning; ``adopted`` false takes the adoption back."""

    target: str = Field(pattern=r"^[0-9a-f]{32}$")
    reason: str = Text
    adopted: bool = True


OPINIONS: tuple[Kind, ...] = heard_as(
    (
        Kind(name="journal.correct", title="correction", model=Correct, release=FOLLOWS),
        Kind(name="journal.retract", title="retraction", model=Retract, release=FOLLOWS),
        Kind(name="journal.dispute", title="dispute", model=Dispute, release=FOLLOWS),
        Kind(name="journal.grade", title="grading", model=Grade, release=FOLLOWS),
        Kind(name="journal.adopt", title="adoption for planning", model=Adopt, release=FOLLOWS),
    ),
    HEARD,
)
OPINION_NAMES = frozenset(kind.name for kind in OPINIONS)
