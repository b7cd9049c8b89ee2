"""Whether a request comes from this room: over loopback, under loopback's name, past no other.

A page of any site can make a browser here open a connection to this machine, by a name that its
owner lets point to 127.0.0.1 or from another port of it. What tells such a connection from the
watch's own is the name and port that it was asked by (``Host``) and the page that asked
(``Origin``): a tunnel mostly begins at another port. An
address that was told at the start lets readers in under it and makes nobody the watch. A local
tunnel from the same port of another machine can not be told from the room.
"""

from __future__ import annotations

from collections.abc import Mapping
from urllib.parse import urlsplit

from dashboard.settings import is_loopback, own_port

# What a browser sends by itself over plain http on this machine (RFC 9110, RFC 6455, Fetch
# Metadata; Chromium and Firefox, seen), and what the plot's own pages add.
_OF_A_BROWSER = frozenset((
    "accept", "accept-charset", "accept-encoding", "accept-language", "cache-control",
    "connection", "content-length", "content-type", "cookie", "dnt", "host", "if-match",
    "if-modified-since", "if-none-match", "if-range", "if-unmodified-since", "keep-alive",
    "origin", "pragma", "priority", "purpose", "range", "referer", "save-data", "upgrade",
    "upgrade-insecure-requests", "user-agent", "x-plot-question", "x-xsrftoken",
))  # fmt: skip


def through_a_proxy(headers: Mapping[str, str]) -> bool:
    """Whether a header is there that no browser sends: somebody on the way added it.

    Loopback is then not identity. Not a list of what proxies add, which is never whole: a name
    that is not known counts as added.

    Parameters
    ----------
    headers : mapping of str to str
        Of the request.
    """
    return any(
        not (spelt.lower() in _OF_A_BROWSER or spelt.lower().startswith("sec-"))
        for spelt in headers
    )


def names_loopback(host: str) -> bool:
    """Whether a Host header names this machine to itself: 127.0.0.1, localhost, ::1."""
    return is_loopback(host_name(host))


def host_name(host: str) -> str:
    """Return the name in a Host header, in small letters and without its port; or nothing."""
    try:
        return (urlsplit(f"//{host}").hostname or "").lower()
    except ValueError:
        return ""


def from_this_room(headers: Mapping[str, str]) -> bool:
    """Whether a request may be the watch's, where there is no log-in.

    Parameters
    ----------
    headers : mapping of str to str
        Of the request that opened the connection.
    """
    held = {name.lower(): value for name, value in headers.items()}
    host, origin = held.get("host", ""), held.get("origin")
    if through_a_proxy(headers) or not names_loopback(host) or not _at_own_port(host):
        return False
    if origin is None:
        return True
    try:
        asked = urlsplit(origin)
    except ValueError:
        return False
    # this server speaks plain http: a page that came by https came past somebody
    return asked.scheme == "http" and asked.netloc.lower() == host.lower()


def _at_own_port(host: str) -> bool:
    try:
        return own_port() in (None, urlsplit(f"//{host}").port or 80)
    except ValueError:
        return False
