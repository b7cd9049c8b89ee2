"""Where the journal and the caches are, as the environment says; read once at the start.

============================ ======================================================================
variable                     meaning
============================ ======================================================================
MUSTERPLOT_DATABASE_URL      the journal; without it the one in the data folder
MUSTERPLOT_DATA_FOLDER       journal, caches and feed state; without it the per-user data folder
MUSTERPLOT_WORKER            set by ``python -m dashboard``: a computing process was started too
MUSTERPLOT_LISTENS           the address the web server listens on; set by ``python -m dashboard``
============================ ======================================================================
"""

from __future__ import annotations

import ipaddress
import os

from layers.journal.naming import data_folder, default_url

__all__ = ["data_folder", "journal_url", "listens_on_loopback"]


def journal_url() -> str:
    """Return the address of the journal."""
    return default_url()


def has_worker() -> bool:
    """Whether a computing process was started beside this web server."""
    return bool(os.environ.get("MUSTERPLOT_WORKER"))


def listens_on_loopback() -> bool:
    """Whether only this machine can reach the server directly."""
    told = os.environ.get("MUSTERPLOT_LISTENS", "127.0.0.1").strip("[]")
    if told == "localhost":
        return True
    try:
        return ipaddress.ip_address(told).is_loopback
    except ValueError:
        return False
