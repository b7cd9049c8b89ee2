"""Where the journal and the caches are, as the environment says; read once at the start.

============================ ======================================================================
variable                     meaning
============================ ======================================================================
MUSTERPLOT_DATABASE_URL      the journal; without it the one in the data folder
MUSTERPLOT_DATA_FOLDER       journal, caches and feed state; without it the per-user data folder
MUSTERPLOT_WORKER            set by ``python -m dashboard``: a computing process was started too
MUSTERPLOT_ROOM              what this room is called, where it was told at the start
MUSTERPLOT_SERVER            what this server is called; set by ``python -m dashboard``
MUSTERPLOT_LISTENS           the address the web server listens on; set by ``python -m dashboard``
MUSTERPLOT_PORT              the port it listens on; set by ``python -m dashboard``
============================ ======================================================================
"""

from __future__ import annotations

import hashlib
import ipaddress
import os
import threading
from pathlib import Path

from layers.journal.naming import data_folder, default_url

__all__ = ["data_folder", "incident_folder", "journal_url", "listens_on_loopback"]

# A web server that listens while its starter still makes the journal ready clears it until then.
READY = threading.Event()
READY.set()


def journal_url() -> str:
    """Return the address of the journal."""
    return default_url()


def incident_folder() -> Path:
    """Return the place of this incident alone: its drop folder, feeds, results, what waits."""
    from layers import incidents  # the starter reads settings before anything large is imported

    return incidents.folder_of(journal_url())


def journal_key() -> str:
    """Return what tells this journal's files in the data folder from those of another."""
    return hashlib.sha256(journal_url().encode()).hexdigest()[:16]


def has_worker() -> bool:
    """Whether a computing process was started beside this web server."""
    return bool(os.environ.get("MUSTERPLOT_WORKER"))


def listens_on_loopback() -> bool:
    """Whether only this machine can reach the server directly."""
    return is_loopback(os.environ.get("MUSTERPLOT_LISTENS", "127.0.0.1").strip("[]"))


def is_loopback(name: str) -> bool:
    """Whether a name or address is this machine's to itself: 127.0.0.1, localhost, ::1."""
    if name == "localhost":
        return True
    try:
        return ipaddress.ip_address(name).is_loopback
    except ValueError:
        return False


def own_port() -> int | None:
    """Return the port that the web server listens on, if it was started by the program."""
    told = os.environ.get("MUSTERPLOT_PORT", "")
    return int(told) if told.isdigit() else None
