"""Who recorded something, in which room, on which server: one text, hashed with the record.

The author's column holds it in words, so that a journal of an older program, whose authors have
no room, still verifies, and every list that shows an author shows the room too.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

# "AB, room North (plot-1:8501)"; the server's name has no blank and no bracket in it
_SERVER = r"\((?P<server>[\w.:\-\[\]]{1,80})\)"
_WHOLE = re.compile(rf"(?P<name>.*?)(?:, room (?P<room>[^()]+?))? {_SERVER}", re.DOTALL)
_BAD_SERVER = re.compile(r"[^\w.:\-\[\]]+")
MOST_ROOM = 60


@dataclass(frozen=True, slots=True)
class Signature:
    """Who signed a record.

    Parameters
    ----------
    name : str
        An office, initials, or what the log-in says.
    room, server : str
        Where; empty in records of an older program, or where no room was named.
    """

    name: str
    room: str = ""
    server: str = ""

    def text(self) -> str:
        """Return it as it is recorded: ``AB, room North (plot-1:8501)``."""
        if not self.server:
            return self.name
        room = f", room {self.room}" if self.room else ""
        return f"{self.name}{room} ({self.server})"

    def words(self) -> str:
        """Return it as it is said: ``AB, room North``; the server where no room is named."""
        if self.room:
            return f"{self.name}, room {self.room}"
        return f"{self.name} ({self.server})" if self.server else self.name

    @property
    def desk(self) -> tuple[str, str]:
        """What tells one room from another: its name, or its server."""
        return (self.room, "" if self.room else self.server)


def read_signature(author: str) -> Signature:
    """Return the parts of an author as it was recorded."""
    found = _WHOLE.fullmatch(author)
    if found is None:
        return Signature(author)
    return Signature(found["name"], found["room"] or "", found["server"])


def room_name(text: str) -> str:
    """Return a room's name as it can be recorded: no brackets, one line."""
    return " ".join(re.sub(r"[()]", " ", text).split())[:MOST_ROOM]


def server_name(text: str) -> str:
    """Return a server's name as it can be recorded."""
    return _BAD_SERVER.sub("-", text)[:80]
