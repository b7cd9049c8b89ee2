"""Which room this is, and who is on watch in it: what stands under every record made here.

Without a log-in the watch says it, in a record, changed in one press at the relief. With one the
name comes from there and only the room from here.
"""

from __future__ import annotations

from datetime import datetime

from dashboard import settings
from dashboard.cache import opened
from layers.earth.errors import JournalAway
from layers.journal.known import Entry
from layers.journal.naming import ROOM_FILE, room, server
from layers.journal.signature import room_name

NOBODY = "watch officer"  # until somebody says who is on watch
KIND = "watch.on_watch"

__all__ = ["here", "name_room", "on_watch", "reliefs", "room", "server", "since"]


def name_room(text: str) -> None:
    """Keep the room's name, from now on, for this server."""
    folder = settings.data_folder()
    folder.mkdir(parents=True, exist_ok=True)
    (folder / ROOM_FILE).write_text(room_name(text), "utf-8")


def here(entry: Entry) -> bool:
    """Whether a record of who is on watch is of this room."""
    if room() or entry.value.room:
        return bool(entry.value.room == room())
    return bool(entry.value.server in ("", server()))


def reliefs() -> tuple[Entry, ...]:
    """Return who came on watch, in which room, in the order it was recorded."""
    at = opened.present_or_last()
    return opened.known(at.revision, at.shown).entries(KIND)


def on_watch() -> str:
    """Return who is on watch in this room, by office or initials."""
    try:
        held = [entry for entry in reliefs() if here(entry)]
    except JournalAway:
        return NOBODY
    return str(held[-1].value.who) if held else NOBODY


def since() -> datetime | None:
    """Return since when, None when nobody has said."""
    held = [entry for entry in reliefs() if here(entry)]
    return held[-1].record.valid_at if held else None
