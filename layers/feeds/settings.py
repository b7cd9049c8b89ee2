"""The feeds that are read: one TOML file in the data folder, looked at again when it changes.

::

    [[feed]]
    name = "buoy 62107"
    from = "https://data.example/62107.txt"
    every_s = 600

    [[feed]]
    name = "ship's AIS"
    from = "udp://0.0.0.0:10110"

    [[feed]]
    name = "drop folder"
    from = "/srv/plot/drop"

``from`` is a file, a folder, ``http://``, ``https://``, ``udp://`` (listens) or ``tcp://`` (calls).
``format`` names the kind when the content cannot tell; ``every_s`` is how often it is asked.
"""

from __future__ import annotations

import json
import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import Literal
from urllib.parse import urlsplit

from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator

from layers.earth.errors import InputError
from layers.journal.words.models import refused

FILE = "feeds.toml"
DROP_FOLDER = "drop"  # watched even without a word in the settings
Way = Literal["path", "http", "udp", "tcp"]
ACCEPTED = "a file or folder, http://, https://, udp://HOST:PORT or tcp://HOST:PORT"


class FeedSetting(BaseModel):
    """One feed as it is set up."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)

    name: str = Field(min_length=1, max_length=80, pattern=r"^[^\x00-\x1f]+$")
    address: str = Field(alias="from", min_length=1, max_length=1_000)
    format: str | None = None
    every_s: float = Field(default=60.0, ge=1.0, le=86_400.0)
    stale_after_s: float | None = Field(default=None, gt=0.0)
    on: bool = True

    @field_validator("address")
    @classmethod
    def _known_way(cls, address: str) -> str:
        if "://" in address:
            parts = urlsplit(address)
            if parts.scheme not in ("http", "https", "udp", "tcp"):
                raise ValueError(f"{parts.scheme}:// is not read; accepted: {ACCEPTED}")
            if parts.scheme in ("udp", "tcp") and not (parts.hostname and parts.port):
                raise ValueError(f"{address!r} has no host and port; accepted: {ACCEPTED}")
            if parts.scheme in ("http", "https") and not parts.hostname:
                raise ValueError(f"{address!r} has no host; accepted: {ACCEPTED}")
        return address

    @property
    def way(self) -> Way:
        """How it comes."""
        scheme = self.address.partition("://")[0] if "://" in self.address else ""
        if scheme in ("http", "https"):
            return "http"
        return "udp" if scheme == "udp" else "tcp" if scheme == "tcp" else "path"


def read_settings(folder: Path) -> tuple[FeedSetting, ...]:
    """Return the feeds of a data folder, its own drop folder last.

    Raises
    ------
    InputError
        The file is not TOML, or a feed is not right: which, and what is accepted.
    """
    path = folder / FILE
    found: list[FeedSetting] = []
    if path.exists():
        try:
            table = tomllib.loads(path.read_text("utf-8"))
        except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as fault:
            raise InputError(f"cannot be read ({fault})", where=FILE, accepted="TOML") from None
        feeds = table.get("feed", [])
        if not isinstance(feeds, list) or set(table) - {"feed"}:
            raise InputError("holds something else", where=FILE, accepted="[[feed]] tables only")
        for number, entry in enumerate(feeds, start=1):
            found.append(_setting(entry, f"{FILE} feed {number}"))
    names = [setting.name for setting in found]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise InputError(f"{twice[0]!r} is named twice", where=FILE, accepted="a name each")
    drop = folder / DROP_FOLDER
    if not any(Path(setting.address) == drop for setting in found):
        found.append(
            FeedSetting.model_validate({"name": "drop folder", "from": str(drop), "every_s": 2.0})
        )
    return tuple(found)


def _setting(entry: object, where: str) -> FeedSetting:
    try:
        return FeedSetting.model_validate(entry)
    except ValidationError as fault:
        raise refused(fault, where) from None


def write_settings(folder: Path, settings: Sequence[FeedSetting]) -> None:
    """Write the feeds file anew, whole or not at all."""
    lines = []
    for setting in settings:
        lines.append("[[feed]]")
        for name, value in setting.model_dump(by_alias=True, exclude_defaults=True).items():
            text = str(value).lower() if isinstance(value, bool) else json.dumps(value)
            lines.append(f"{name} = {text}")
        lines.append("")
    folder.mkdir(parents=True, exist_ok=True)
    fresh = folder / f"{FILE}.part"
    fresh.write_text("\n".join(lines), "utf-8")
    fresh.replace(folder / FILE)
