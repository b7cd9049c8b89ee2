"""Who is asking: a name for the record, and a role that the journal checks on every write."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from layers.earth.errors import NotAllowed
from layers.journal.signature import Signature


class Role(StrEnum):
    """What somebody may do; decided by what the server knows, never by what a browser sends."""

    WATCH = "watch"
    READER = "reader"
    FEED = "feed"


# what is not taken from those who hand on what others wrote (`Kind.own_word`)
_NOT_SAID = {
    "feed": frozenset({"person", "room"}),
    "dropped file": frozenset({"person", "room"}),
    "joined": frozenset({"room"}),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Actor:
    """Somebody who asks the journal for something.

    Parameters
    ----------
    name : str
        Stands as the author in what is recorded: ``"watch officer 1"``.
    role : Role
        Readers never write.
    identity : str
        What the log-in verified beside the name that they chose: address and number.
    via : str
        How they came: ``"direct"``, ``"log-in"``, ``"feed"``.
    room, server : str
        Where they are; recorded and hashed with the name.
    """

    name: str
    role: Role
    via: str = ""
    identity: str = ""
    room: str = ""
    server: str = ""

    @property
    def may_not_say(self) -> frozenset[str]:
        """Whose own words it can not hand on: what came from outside no person here has said."""
        return _NOT_SAID.get(self.via, frozenset())

    @property
    def signature(self) -> Signature:
        """Who it is and where; two of one name are told apart."""
        who = f"{self.name} <{self.identity}>" if self.identity else self.name
        return Signature(who, self.room, self.server)

    @property
    def author(self) -> str:
        """As it stands in what is recorded."""
        return self.signature.text()


def may_write(actor: Actor) -> None:
    """Refuse an actor that may only read.

    Raises
    ------
    NotAllowed
        A reader, or somebody without a name.
    """
    if actor.role not in (Role.WATCH, Role.FEED):
        raise NotAllowed(
            f"{actor.name or 'this reader'} may read but not write; only the watch records"
        )
    if not actor.name.strip():
        raise NotAllowed("a record needs the name of its author; give a name first")
