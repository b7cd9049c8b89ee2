"""The file that holds the log-in's secrets: where it is, and whether it can be used.

It is checked before the server starts. A file that is named and cannot be used ends the start:
a server that quietly went on without its log-in would take everybody at this machine for the
watch.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from pathlib import Path
from urllib.parse import urlsplit

from layers.earth.errors import InputError

NAME = "secrets.toml"
LOG_IN = "MUSTERPLOT_LOG_IN"  # tells the web server that a log-in is set up
NEEDED = ("redirect_uri", "cookie_secret", "client_id", "client_secret", "server_metadata_url")
LEAST_SECRET = 32
CALLBACK = "/oauth2callback"


def find(named: str | None, folder: Path) -> Path | None:
    """Return the file that was named, else the one in the data folder, else None."""
    if named:
        return Path(named)
    there = folder / NAME
    return there if there.exists() else None


def checked(path: Path) -> Mapping[str, object]:
    """Return the ``[auth]`` section of the file.

    Raises
    ------
    InputError
        Says what is missing or wrong, and what is accepted; never the value of a secret.
    """
    try:
        whole = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as fault:
        raise InputError(
            f"{path} cannot be read ({fault.strerror})", where="--secrets", accepted="a TOML file"
        ) from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError):
        raise InputError(
            f"{path} is not TOML", where="--secrets", accepted="a TOML file with a section [auth]"
        ) from None
    auth = whole.get("auth")
    if not isinstance(auth, dict):
        raise InputError(
            f"{path} has no section [auth]", where="--secrets", accepted="[auth] as README shows"
        )
    _check(path, auth)
    return auth


def _check(path: Path, auth: Mapping[str, object]) -> None:
    missing = [name for name in NEEDED if not isinstance(auth.get(name), str)]
    if missing:
        raise InputError(
            f"{path}: [auth] lacks {', '.join(missing)}",
            where="--secrets",
            accepted=f"texts for {', '.join(NEEDED)}",
        )
    if len(str(auth["cookie_secret"])) < LEAST_SECRET:
        raise InputError(
            f"{path}: cookie_secret is short", where="--secrets",
            accepted=f"a random text of {LEAST_SECRET} characters or more",
        )  # fmt: skip
    if not urlsplit(str(auth["redirect_uri"])).path.endswith(CALLBACK):
        raise InputError(
            f"{path}: redirect_uri does not end in {CALLBACK}", where="--secrets",
            accepted=f"the plot's own address and {CALLBACK}",
        )  # fmt: skip
    for name in ("watch_emails", "watch_groups"):
        held = auth.get(name, [])
        if not isinstance(held, list) or not all(isinstance(one, str) for one in held):
            raise InputError(
                f"{path}: {name} is not a list of texts", where="--secrets",
                accepted=f'{name} = ["first.watch@example"]',
            )  # fmt: skip
