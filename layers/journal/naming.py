"""Which journal is meant: named, by the environment, or the one in the user's data folder."""

from __future__ import annotations

import argparse
import json
import os
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import parse_qsl, urlsplit

import platformdirs

from layers.earth.errors import JournalError
from layers.journal.signature import room_name, server_name

if TYPE_CHECKING:
    from layers.journal.kinds import Kind
    from layers.journal.store import Journal

DATABASE = "MUSTERPLOT_DATABASE_URL"
FOLDER = "MUSTERPLOT_DATA_FOLDER"
ROOM, SERVER = "MUSTERPLOT_ROOM", "MUSTERPLOT_SERVER"
CURRENT = "in-use.json"  # which incident was opened or begun last, see `layers.incidents`
ROOM_FILE = "room.txt"  # typed on the page, where it was not told at the start


def data_folder() -> Path:
    """Return the user's own folder for journals and caches, not made here."""
    named = os.environ.get(FOLDER)
    return Path(named) if named else platformdirs.user_data_path("musterplot", appauthor=False)


def room() -> str:
    """Return what this room is called; empty when nobody has said."""
    if told := os.environ.get(ROOM, ""):
        return room_name(told)
    try:
        return room_name((data_folder() / ROOM_FILE).read_text("utf-8"))
    except (OSError, UnicodeDecodeError):
        return ""


def server() -> str:
    """Return what this server is called; empty where the program was not started as a whole."""
    return server_name(os.environ.get(SERVER, ""))


def address(told: str) -> str:
    """Return a journal's address from a command line, which everybody on this computer can read.

    Raises
    ------
    argparse.ArgumentTypeError
        It holds a password; its words do not.
    """
    try:
        url = urlsplit(told)
        asked = {name.lower() for name, _ in parse_qsl(url.query, keep_blank_values=True)}
        # a broken address is refused where it is opened; here it may still hold a password
        # "user:@host" tells none: that is how a local server without one writes its address
        secret = bool(url.password) or bool(asked & {"password", "sslpassword"})
    except ValueError:
        secret = "@" in told
    if secret and "://" in told:
        raise argparse.ArgumentTypeError(
            "a password on a command line stands in the list of processes for everybody on this "
            f"computer: put the address into the environment as {DATABASE}, or the password into "
            "a password file, and change the password"
        )
    return told


def exercise_file() -> Path:
    """Return where the exercise's journal is kept."""
    return data_folder() / "exercise.sqlite"


def operation_file() -> Path:
    """Return where the journal of ``--empty`` is kept."""
    return data_folder() / "journal.sqlite"


def current_url() -> str:
    """Return the journal of the incident that was opened or begun last, empty when none was."""
    try:
        return str(json.loads((data_folder() / CURRENT).read_text("utf-8"))["url"])
    except (OSError, ValueError, KeyError, TypeError):
        return ""


def default_url() -> str:
    """Return the journal meant when none is named.

    Raises
    ------
    JournalError
        There are two, or none.
    """
    named = os.environ.get(DATABASE)
    if named:
        return named
    if current := current_url():
        return current
    there = [path for path in (operation_file(), exercise_file()) if path.exists()]
    if len(there) == 1:
        return str(there[0])
    if there:
        raise JournalError(
            f"there are two journals, {there[0]} and {there[1]}; name one with --journal"
        )
    raise JournalError(
        f"there is no journal in {data_folder()} yet; name one with --journal, "
        "or use --demo for the exercise"
    )


def is_made(url: str) -> bool:
    """Whether a journal that is kept in a file is there already; no database is asked here."""
    return "://" not in url and Path(url).exists()


def add_journal(parser: argparse.ArgumentParser) -> None:
    """Declare ``--journal`` and ``--demo``."""
    parser.add_argument(
        "--journal", type=address, metavar="URL", help="the journal; else the one in use here"
    )
    parser.add_argument("--demo", action="store_true", help="the exercise, built in memory")


def named_journal(
    arguments: argparse.Namespace, kinds: Mapping[str, Kind], *, readonly: bool = True
) -> Journal:
    """Return the journal that the arguments name, opened."""
    from layers.journal.store import open_journal  # imported here: where a journal lies is light

    url = arguments.journal or default_url()
    return open_journal(url, kinds, create=not readonly, readonly=readonly)
