"""Results shared by all servers of one journal: computed once by whoever is free.

With PostgreSQL, whoever is about to work something long out claims it by an advisory lock (the
manual, 13.3.5), which goes with its connection; the others wait for the result and read it from
a table beside the records. What stands there is text that carries no code (`layers.spelt`), under
a seal (HMAC-SHA256) made with a key that the servers have and the database has not: whoever can
write into the database can still make no server say what is not so.

Nothing depends on it. Without the key, the database or the other's result each works out its own.
"""

from __future__ import annotations

import hashlib
import hmac
import logging
import os
import platform
import time
from collections.abc import Iterator, MutableMapping
from pathlib import Path
from typing import Any

import numpy as np

from layers.contract import Shown, Unavailable
from layers.journal.store import Journal
from layers.ours import servers_key
from layers.picture import ROUGH
from layers.results import Result, Results, code_key
from layers.spelt import NotSpelt, read, spelt

log = logging.getLogger(__name__)

LEAST_S = 0.2  # what takes less is worked out sooner than it is asked for
MOST_BYTES = 8_000_000
WAIT_S, LOOK_S = 30.0, 0.1
OFF_S = 10.0  # after a fault, in which nobody is asked
KEPT_MIN, TIDY_S = 15, 60.0
CLAIM = 0x4D55  # of all advisory locks these are the results'
TABLE = """CREATE UNLOGGED TABLE IF NOT EXISTS shared_results (
    key text PRIMARY KEY, at timestamptz NOT NULL DEFAULT now(), took_s float8 NOT NULL,
    seal bytea NOT NULL, content bytea NOT NULL)"""
PUT = """INSERT INTO shared_results (key, took_s, seal, content) VALUES (%s, %s, %s, %s)
    ON CONFLICT (key) DO NOTHING"""
GET = "SELECT key, took_s, seal, content FROM shared_results WHERE key = ANY(%s)"
TIDY = "DELETE FROM shared_results WHERE at < now() - make_interval(mins => %s)"


class SharedResults(MutableMapping[str, Result]):
    """Results of this computer, and of the other servers what is long to work out.

    Parameters
    ----------
    own : Results
        Of this computer.
    journal : Journal
        Whose database the servers share.
    key : bytes
        Of the servers (`layers.ours.servers_key`).
    """

    def __init__(self, own: Results, journal: Journal, key: bytes) -> None:
        self._own, self._journal = own, journal
        self._key = hashlib.sha256(b"shared results " + key).digest()
        self._link: Any = None
        self._off_until = self._tidy_at = 0.0
        self._begun: dict[str, float] = {}  # since when it is worked out here
        self._claimed: set[str] = set()
        self._took: dict[str, float] = {}  # seconds, by layer
        # what else a result follows from than the records
        born = journal.key.removeprefix(journal.place)
        draws = os.environ.get("MUSTERPLOT_DRAWS", "")
        self._program = f"{code_key()} {born} {draws} {np.__version__} {platform.machine()}"

    def __getitem__(self, key: str) -> Result:
        found = self._own.get(key)
        if found is None and self._is_long(key):
            found = self._of_others(key)
        if found is None:
            self._begun[key] = time.monotonic()
            raise KeyError(key)
        return found

    def __setitem__(self, key: str, value: Result) -> None:
        self._own[key] = value
        since = self._begun.get(key.removesuffix(ROUGH))
        if since is None:
            return
        took_s = time.monotonic() - since
        if isinstance(value, Shown):
            self._tell(key, value, took_s)
        if not key.endswith(ROUGH):
            self._took[_layer(key)] = took_s
            self._let_go(key)

    def __delitem__(self, key: str) -> None:
        del self._own[key]

    def __iter__(self) -> Iterator[str]:
        return iter(self._own)

    def __len__(self) -> int:
        return len(self._own)

    def __contains__(self, key: object) -> bool:
        return key in self._own

    def let_go(self) -> None:
        """Let go of what was claimed and is not worked out after all."""
        for key in tuple(self._begun):
            self._let_go(key)

    def close(self) -> None:
        """Let go of the database."""
        self._claimed.clear()
        if self._link is not None:
            self._link.close()
            self._link = None

    def _is_long(self, key: str) -> bool:
        return not key.endswith(ROUGH) and self._took.get(_layer(key), LEAST_S) >= LEAST_S

    def _of_others(self, key: str) -> Result | None:
        """Return what another server worked out, None where it is to be worked out here."""
        end, rough = time.monotonic() + WAIT_S, key + ROUGH
        while True:
            asked = [key] if rough in self._own else [key, rough]
            found = self._found(asked)
            if found is None:
                return None
            for name, result in found.items():
                self._own[name] = result
            if key in found:
                self._let_go(key)  # it came just before the claim
                return found[key]
            if key in self._claimed or time.monotonic() >= end:
                return None
            if self._claim(key):
                continue  # it may have come between the question and the claim
            time.sleep(LOOK_S)

    # ---- the database; whatever goes wrong there, this computer goes on alone

    def _ask(self, question: str, values: tuple[Any, ...]) -> list[Any] | None:
        if time.monotonic() < self._off_until:
            return None
        try:
            if self._link is None:
                held = self._journal.engine.raw_connection()
                link: Any = held.driver_connection
                held.detach()  # the claims are this connection's
                self._link = link
                link.rollback()
                link.autocommit = True
                link.execute(TABLE)
            answer = self._link.execute(question, values)
            return list(answer.fetchall()) if answer.description else []
        except Exception as fault:
            log.warning("results are not shared for now: %s", str(fault).partition("\n")[0])
            self._off_until = time.monotonic() + OFF_S
            self.close()
            return None

    def _found(self, keys: list[str]) -> dict[str, Result] | None:
        """Return what is there of some results; None when nobody can be asked."""
        names = {self._name(key): key for key in keys}
        rows = self._ask(GET, (list(names),))
        if rows is None:
            return None
        found: dict[str, Result] = {}
        for name, took_s, seal, content in rows:
            key = names[name]
            if not hmac.compare_digest(bytes(seal), self._seal(name, bytes(content))):
                log.warning("a shared result bears no seal of ours: it is worked out here")
                return None
            try:
                result = read(bytes(content))
            except NotSpelt as fault:
                log.warning("a shared result can not be read: %s", fault)
                return None
            if not isinstance(result, Shown | Unavailable):
                return None
            found[key] = result
            if not key.endswith(ROUGH):
                self._took[_layer(key)] = float(took_s)
        return found

    def _tell(self, key: str, value: Shown, took_s: float) -> None:
        if took_s < LEAST_S and not key.endswith(ROUGH):
            return
        try:
            content = spelt(value)
        except NotSpelt as fault:
            log.warning("the result of %s is not shared: %s", _layer(key), fault)
            return
        if len(content) > MOST_BYTES:
            return
        name = self._name(key)
        self._ask(PUT, (name, took_s, self._seal(name, content), content))
        if time.monotonic() >= self._tidy_at:
            self._tidy_at = time.monotonic() + TIDY_S
            self._ask(TIDY, (KEPT_MIN,))

    def _claim(self, key: str) -> bool:
        rows = self._ask("SELECT pg_try_advisory_lock(%s, %s)", (CLAIM, self._number(key)))
        mine = rows is None or bool(rows[0][0])
        if mine:
            self._claimed.add(key)
        return mine

    def _let_go(self, key: str) -> None:
        self._begun.pop(key, None)
        if key in self._claimed:
            self._claimed.remove(key)
            self._ask("SELECT pg_advisory_unlock(%s, %s)", (CLAIM, self._number(key)))

    def _name(self, key: str) -> str:
        return hashlib.sha256(f"{self._program} {key}".encode()).hexdigest()

    def _number(self, key: str) -> int:
        return int.from_bytes(bytes.fromhex(self._name(key)[:8]), signed=True)

    def _seal(self, name: str, content: bytes) -> bytes:
        return hmac.digest(self._key, name.encode() + content, "sha256")


def _layer(key: str) -> str:
    return key.removesuffix(ROUGH).lstrip("(").partition(" ")[0]


def shared_by(folder: Path, own: Results, journal: Journal) -> SharedResults | None:
    """Return the results as the servers share them; None where there is no key, or one server.

    Raises
    ------
    JournalError
        There is a key, and it can not be used.
    """
    key = servers_key(folder)
    if not key or journal.engine.dialect.name != "postgresql":
        return None
    return SharedResults(own, journal, key)
