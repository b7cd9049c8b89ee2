"""Which feed reads these bytes: the content decides, the name only breaks ties."""

from __future__ import annotations

import logging
from collections.abc import Iterable
from functools import lru_cache

from layers.catalogue import FEEDS
from layers.contract import Feed
from layers.earth.errors import InputError
from layers.ingest.seeming import seeming
from layers.ingest.typed import FEEDS as TYPED

log = logging.getLogger(__name__)

HEAD_BYTES = 65_536
SURE_ENOUGH = 0.2


@lru_cache(maxsize=1)
def all_feeds() -> tuple[Feed, ...]:
    """Return every feed that can be read, those of the layers first."""
    return (*FEEDS, *TYPED)


ACCEPTED = (
    "ship logs and AIS, routes and tracks, buoy text, airfield and SYNOP reports, forecasts in "
    "GRIB or NetCDF, sound and CTD profiles, depth grids, chart cells, map files, port lists, and "
    "records in JSON or CSV; the README lists them"
)


def feed_by_key(key: str) -> Feed:
    """Return a feed by its key.

    Raises
    ------
    InputError
        There is none of that key.
    """
    for feed in all_feeds():
        if feed.key == key:
            return feed
    keys = ", ".join(feed.key for feed in all_feeds())
    raise InputError(f"{key!r} is not a kind of feed", where="format", accepted=keys)


def recognise(head: bytes, name: str) -> Feed:
    """Return the feed that reads a file, from its first 64 KiB.

    Raises
    ------
    InputError
        Nothing knows it: with the list of what is accepted.
    """
    if not head.strip(b"\x00 \t\r\n"):
        raise InputError("the file is empty", where=name, accepted=ACCEPTED)
    best = _best(head, name)
    if best is None:
        seems, todo = seeming(head, name)
        raise InputError(
            f"not a kind of file that is known: it seems to be {seems}{todo}",
            where=name,
            accepted=ACCEPTED,
        )
    return best


def recognise_archive(head: bytes, name: str) -> Feed | None:
    """Return the feed that reads a zip archive as a whole, None when each file is its own."""
    return _best(head, name, [feed for feed in all_feeds() if feed.archives])


def _best(head: bytes, name: str, feeds: Iterable[Feed] | None = None) -> Feed | None:
    best: tuple[float, Feed | None] = (SURE_ENOUGH, None)
    for feed in feeds or all_feeds():
        try:
            score = feed.recognise(head[:HEAD_BYTES], name)
        except Exception:  # a recogniser that stumbles must not stop the others
            log.exception("feed %s could not look at %s", feed.key, name)
            continue
        if score > best[0]:
            best = (score, feed)
    return best[1]
