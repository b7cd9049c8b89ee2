"""Where the journal and the caches are, as the environment says; read once at the start.

============================ ======================================================================
variable                     meaning
============================ ======================================================================
MUSTERPLOT_DATABASE_URL      the journal; without it ``journal.sqlite`` in the data folder
MUSTERPLOT_DATA_FOLDER       journal, caches and feed state; without it the per-user data folder
MUSTERPLOT_LISTENS           the address the web server listens on; set by ``python -m dashboard``
============================ ======================================================================
"""

from __future__ import annotations

import ipaddress
import os
from pathlib import Path

from platformdirs import user_data_path


def data_folder() -> Path:
    """Return the folder for the journal and the caches; it need not exist yet."""
    told = os.environ.get("MUSTERPLOT_DATA_FOLDER")
    return Path(told) if told else user_data_path("musterplot", appauthor=False)


def journal_url() -> str:
    """Return the address of the journal."""
    told = os.environ.get("MUSTERPLOT_DATABASE_URL")
    return told or f"sqlite:///{data_folder() / 'journal.sqlite'}"


def listens_on_loopback() -> bool:
    """Whether only this machine can reach the server directly."""
    told = os.environ.get("MUSTERPLOT_LISTENS", "127.0.0.1").strip("[]")
    if told == "localhost":
        return True
    try:
        return ipaddress.ip_address(told).is_loopback
    except ValueError:
        return False
