"""What each server's feed reader does, told to all rooms on one journal.

A small table beside the records, in no hash and in no copy: it says how things stand now, not
what was. Every reader writes its own line every few seconds; whoever has not been heard for half
a minute is gone, by the database's own clock, so that two computers' clocks need not agree.
"""

from __future__ import annotations

import json
import socket
import time
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path

import sqlalchemy as sa
from pydantic import ValidationError
from sqlalchemy.engine import Connection

from layers.earth.errors import InputError
from layers.feeds.settings import FeedSetting, read_settings, write_settings
from layers.feeds.state import FeedState, states_from, states_text
from layers.journal import naming
from layers.journal.store import Journal
from layers.journal.tables.engine import reading, writing
from layers.journal.tables.schema import Big

TELL_S = 8.0
GONE_AFTER = timedelta(seconds=30)
FORGOTTEN_AFTER = timedelta(hours=12)  # a watch later nobody is told of it by itself

READERS = sa.Table(
    "feed_readers",
    sa.MetaData(),
    sa.Column("server", sa.Text, primary_key=True),
    sa.Column("room", sa.Text, nullable=False),
    sa.Column("at_us", Big, nullable=False),
    sa.Column("told", sa.Text, nullable=False),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomFeeds:
    """One server's feeds: in which room, how long ago it was heard, what it reads.

    ``ended``: it was ended by a person, who then did not want it read.
    """

    server: str
    room: str
    age: timedelta
    states: tuple[FeedState, ...]
    settings: tuple[FeedSetting, ...]
    trouble: str
    ended: bool

    @property
    def gone(self) -> bool:
        """Whether nobody reads these feeds any more."""
        return self.ended or self.age > GONE_AFTER

    @property
    def where(self) -> str:
        """Return the room and server in words."""
        return f"room {self.room} ({self.server})" if self.room else f"server {self.server}"


def this_server() -> str:
    """Return what this server is called in the table."""
    return naming.server() or socket.gethostname()


def _now_us(connection: Connection) -> int:
    if connection.dialect.name == "postgresql":
        asked = sa.text("SELECT (extract(epoch FROM clock_timestamp()) * 1000000)::bigint")
        return int(connection.execute(asked).scalar_one())
    return time.time_ns() // 1_000


def tell(
    journal: Journal,
    states: Sequence[FeedState],
    settings: Sequence[FeedSetting] = (),
    trouble: str = "",
    *,
    ended: bool = False,
) -> None:
    """Write this server's line, and make the table where there is none yet.

    Raises
    ------
    JournalError
        The database is away.
    """
    told = {
        "states": json.loads(states_text(list(states), trouble)),
        "settings": [each.model_dump(by_alias=True, exclude_defaults=True) for each in settings],
        "ended": ended,
    }
    values: dict[str, object] = {"room": naming.room(), "told": json.dumps(told)}
    with writing(journal.engine, journal.place) as connection:
        READERS.create(connection, checkfirst=True)
        values["at_us"] = _now_us(connection)
        here = READERS.c.server == this_server()
        if not connection.execute(READERS.update().where(here).values(**values)).rowcount:
            connection.execute(READERS.insert().values(server=this_server(), **values))


def told(journal: Journal) -> list[RoomFeeds]:
    """Return what every server's reader said last, by room; nothing where none ever did."""
    with reading(journal.engine, journal.place) as connection:
        if not sa.inspect(connection).has_table(READERS.name):
            return []
        rows = connection.execute(sa.select(READERS)).fetchall()
        now_us = _now_us(connection)
    found = [_room(row, now_us) for row in rows]
    return sorted(found, key=lambda each: (each.room, each.server))


def _room(row: sa.Row[tuple[str, str, int, str]], now_us: int) -> RoomFeeds:
    said = json.loads(row.told)
    states, trouble = states_from(json.dumps(said["states"]))
    settings = []
    for entry in said["settings"]:
        try:
            settings.append(FeedSetting.model_validate(entry))
        except ValidationError:  # of another version of the program
            continue
    return RoomFeeds(
        server=row.server,
        room=row.room,
        age=timedelta(microseconds=max(now_us - row.at_us, 0)),
        states=tuple(states),
        settings=tuple(settings),
        trouble=trouble,
        ended=bool(said["ended"]),
    )


def forget(journal: Journal, server: str) -> None:
    """Take a server that will not come back off the list."""
    with writing(journal.engine, journal.place) as connection:
        connection.execute(READERS.delete().where(READERS.c.server == server))


def take_over(folder: Path, setting: FeedSetting) -> FeedSetting:
    """Set a feed of another room up here too; return it as it is called here.

    Raises
    ------
    InputError
        It is read here already.
    """
    held = [each for each in read_settings(folder) if each.name != "drop folder"]
    if any(each.address == setting.address for each in held):
        raise InputError(f"{setting.address} is read here already", accepted="another feed")
    names, name, number = {each.name for each in held}, setting.name, 1
    while name in names:
        number += 1
        name = f"{setting.name[:70]} {number}"
    made = setting.model_copy(update={"name": name, "on": True})
    write_settings(folder, [*held, made])
    return made
