"""What is recorded of the way home: who has what, when it can be used again, who was told.

The legs and their times are the option *return* with its activities: the chain out, turned round.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal, Self

from pydantic import AwareDatetime, Field, model_validator

from layers.earth.errors import AskedFirst
from layers.earth.said.near import near_names
from layers.journal.kinds import Kind, Payload
from layers.journal.known import Known
from layers.journal.record import Draft
from layers.journal.side_by_side import by_others, same_event, signed_words

Name = Field(min_length=1, max_length=120)
Short = Field(default="", max_length=120)
Sort = Literal["vehicle", "gear", "people"]


class WhoHas(Payload):
    """Who has something from the record's ``valid_at``, where, and how it goes home.

    What is left empty stays as it was told before, but for ``kept_at``: that belongs to the one
    who has it. ``by_way`` is the key of the chain home, ``home_after`` the activity of it at whose
    end the thing is home: the chain's last when it is empty.
    """

    what: str = Name
    held_by: str = Name
    sort: Sort | None = None
    kept_at: str = Short
    bound_for: str = Short
    persons: int | None = Field(default=None, ge=0, le=2_000)
    by_way: str = Short
    home_after: str = Short
    remark: str = Field(default="", max_length=1_000)

    @model_validator(mode="after")
    def _persons_are_people(self) -> Self:
        if self.persons is not None and self.sort in ("vehicle", "gear"):
            raise ValueError(f"{self.what} is told as {self.sort}: persons are counted of people")
        return self


class ReadyAgain(Payload):
    """When something can be used again: hours after it is home, or an hour told, or that it is."""

    what: str = Name
    least_h: float | None = Field(default=None, ge=0, le=20_000)
    likely_h: float | None = Field(default=None, ge=0, le=20_000)
    most_h: float | None = Field(default=None, ge=0, le=20_000)
    again_at: AwareDatetime | None = None
    is_ready: bool = False
    remark: str = Field(default="", max_length=1_000)

    @model_validator(mode="after")
    def _one_of_three(self) -> Self:
        given = [h for h in (self.least_h, self.likely_h, self.most_h) if h is not None]
        ways = bool(given) + (self.again_at is not None) + self.is_ready
        if ways != 1:
            raise ValueError(
                f"{self.what}: give the hours it takes once it is home, or the hour at which it "
                "is ready, or that it is ready: one of the three"
            )
        if given and len(given) < 3:
            raise ValueError(f"{self.what}: give all three times: least, most likely, most")
        if given and not given[0] <= given[1] <= given[2]:
            raise ValueError(f"{self.what}: {given} h are out of order; least, most likely, most")
        return self


class ToldComing(Payload):
    """A port, an airfield or a hospital was told what comes to it, and what it answered.

    ``expected_at`` is the hour that it was told.
    """

    port_or_hospital: str = Name
    coming: str = Name
    to_whom: str = Short
    expected_at: AwareDatetime | None = None
    accepted: Literal["not answered", "accepts", "refuses"] = "not answered"
    remark: str = Field(default="", max_length=1_000)


def ask_held(value: WhoHas, draft: Draft, known: Known, author: str) -> None:
    """Ask when another has just told that somebody else has it, or a name is near one that is told.

    Raises
    ------
    AskedFirst
        With who was told to have it, by whom; or with the names that may be meant.
    """
    _ask_near(value.what, _told(known, ("held", "what"), ("ready_again", "what")), draft)
    _ask_near(value.held_by, _told(known, ("held", "held_by"), ("ship", "name")), draft)
    for entry in by_others(known.entries(draft.kind), draft, known, author):
        other = entry.value
        if _same(other.what, value.what) and not _same(other.held_by, value.held_by):
            raise AskedFirst(
                f"{signed_words(entry.record, known.as_of)}, told that {other.held_by} has "
                f"{other.what}",
                (entry.id,),
                accepted="record it all the same when it was handed on since",
            )
    same_event(draft, known, author)


def ask_told(value: ToldComing, draft: Draft, known: Known, author: str) -> None:
    """Ask when another has just told another answer of the place, or its name is near a told one.

    Raises
    ------
    AskedFirst
        With that answer, by whom; or with the names that may be meant.
    """
    places = (("told_coming", "port_or_hospital"), ("port", "name"), ("airfield", "name"))
    _ask_near(value.port_or_hospital, _told(known, *places), draft)
    for entry in by_others(known.entries(draft.kind), draft, known, author):
        other: Any = entry.value
        mine, theirs = value.accepted, other.accepted
        if "not answered" in (mine, theirs) or mine == theirs:
            continue
        if _same(other.port_or_hospital, value.port_or_hospital):
            raise AskedFirst(
                f"{signed_words(entry.record, known.as_of)}, told that "
                f"{other.port_or_hospital} {theirs} {other.coming}",
                (entry.id,),
                accepted="record it all the same when this is the later word",
            )
    same_event(draft, known, author)


def ask_ready(value: ReadyAgain, draft: Draft, known: Known, author: str) -> None:
    """Ask when what is ready again has a name that nobody has, but one that is near.

    Raises
    ------
    AskedFirst
        With the names that may be meant.
    """
    _ask_near(value.what, _told(known, ("held", "what"), ("ready_again", "what")), draft)
    same_event(draft, known, author)


def _told(known: Known, *where: tuple[str, str]) -> dict[str, str]:
    """Return the names told in fields of kinds, each with the id of its last record."""
    return {
        getattr(entry.value, name): entry.id
        for kind, name in where
        for entry in known.entries(f"forward_port.{kind}")
    }


def _ask_near(said: str, names: Mapping[str, str], draft: Draft) -> None:
    """Ask when a name is not told yet and may be a slip of one that is."""
    if any(_same(said, name) for name in names) or set(draft.answered) & set(names.values()):
        return
    if near := near_names(said, names):
        raise AskedFirst(
            f"nothing is called {said!r} yet, but {' and '.join(map(repr, near))} is told",
            tuple(names[name] for name in near),
            accepted=f"{' or '.join(map(repr, near))}; or the same again, when it is another",
        )


def _same(one: str, other: str) -> bool:
    return one.strip().casefold() == other.strip().casefold()


HOME_KINDS: tuple[Kind, ...] = (
    Kind(name="forward_port.held", title="who has it", model=WhoHas, ask=ask_held),
    Kind(name="forward_port.ready_again", title="ready again", model=ReadyAgain, ask=ask_ready),
    Kind(
        name="forward_port.told_coming",
        title="port or hospital told what comes",
        model=ToldComing,
        ask=ask_told,
    ),
)
