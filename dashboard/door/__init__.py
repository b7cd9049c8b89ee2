"""Whether a request comes from this room: over loopback, under loopback's name, past no other.

A page of any site can make a browser here open a connection to this machine, by a name that its
owner lets point to 127.0.0.1 or from another port of it. What tells such a connection from the
watch's own is the name that it was asked by (``Host``) and the page that asked (``Origin``). An
address that was told at the start lets readers in under it and makes nobody the watch. A local
tunnel that keeps Host can not be told from the room.
"""

from __future__ import annotations

import ipaddress
from collections.abc import Mapping
from urllib.parse import urlsplit

# besides every header that begins with x-forwarded: the usual ones of proxies, and of content
# networks that put their own beside it (from memory)
FORWARDING = frozenset(
    {
        "forwarded",
        "via",
        "x-real-ip",
        "x-client-ip",
        "x-cluster-client-ip",
        "x-original-host",
        "x-original-url",
        "x-rewrite-url",
        "x-proxyuser-ip",
        "x-azure-clientip",
        "x-envoy-external-address",
        "client-ip",
        "true-client-ip",
        "cf-connecting-ip",
        "cf-ray",
        "fastly-client-ip",
        "fly-client-ip",
        "cdn-loop",
        "wl-proxy-client-ip",
        "proxy-client-ip",
    }
)


def through_a_proxy(headers: Mapping[str, str]) -> bool:
    """Whether a forwarding header of any spelling is present: loopback is then not identity."""
    names = {name.lower().replace("_", "-") for name in headers}
    return any(name in FORWARDING or name.startswith("x-forwarded") for name in names)


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
    if through_a_proxy(headers) or not names_loopback(host):
        return False
    if origin is None:
        return True
    try:
        asked = urlsplit(origin)
    except ValueError:
        return False
    return asked.scheme in ("http", "https") and asked.netloc.lower() == host.lower()
