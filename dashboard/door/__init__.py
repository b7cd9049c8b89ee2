"""Whether a request comes from this room: over loopback, under loopback's name, past no other.

A page of any site can make a browser here open a connection to this machine, by a name that its
owner lets point to 127.0.0.1 or from another port of it. What tells such a connection from the
watch's own is the name and port that it was asked by (``Host``) and the page that asked
(``Origin``): a tunnel mostly begins at another port. An
address that was told at the start lets readers in under it and makes nobody the watch. A local
tunnel from the same port of another machine can not be told from the room.
"""

from __future__ import annotations

import ipaddress
import re
from collections.abc import Mapping
from urllib.parse import urlsplit

from dashboard.settings import own_port

# Parts of names that proxies, tunnels and content networks give to what they add (from memory). A
# name that nobody has thought of yet mostly holds one of them, or its value holds an address.
_ADDED = re.compile(
    r"forward|^via$|(client|real|remote|user|connecting|peer|socket|source)[a-z-]*-?(ip|addr)"
    r"|^x-(original|rewrite|host$|proto|scheme|url-scheme|request-start|envoy|amzn|arr|azure|nf-)"
    r"|^x-(vercel|appengine|cloud|coming|tunnel|script-name|ingress|akamai|goog)"
    r"|^(proxy-|wl-proxy|cf-|cdn-|fastly-|fly-|akamai|front-end|tailscale|ngrok|true-client|ssl-)"
)
# what browsers send with values that may look like an address
_OWN = frozenset({"host", "origin", "referer", "user-agent", "cookie"})
_ADDRESS = re.compile(r"(?<![\w.])\d{1,3}(\.\d{1,3}){3}(?![\w.])|[0-9a-f]{0,4}(:[0-9a-f]{0,4}){3,}")


def through_a_proxy(headers: Mapping[str, str]) -> bool:
    """Whether a header is there that tells of a forwarder: loopback is then not identity.

    Parameters
    ----------
    headers : mapping of str to str
        Of the request. Any spelling of a name counts, and an address in the value of a header
        that no browser puts one into.
    """
    for spelt, value in headers.items():
        name = spelt.lower().replace("_", "-")
        if _ADDED.search(name):
            return True
        if not (name in _OWN or name.startswith("sec-")) and _ADDRESS.search(value.lower()):
            return True
    return False


def names_loopback(host: str) -> bool:
    """Whether a Host header names this machine to itself: 127.0.0.1, localhost, ::1."""
    name = host_name(host)
    if name == "localhost":
        return True
    try:
        return ipaddress.ip_address(name).is_loopback
    except ValueError:
        return False


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
