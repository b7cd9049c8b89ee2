"""Under which names the plot is asked for: its own, those told at the start, and no other.

A page of any site can reach this machine's port by a name that its owner lets point here. The
name then stands in ``Host``. Only a name that was told at the start is answered; an address in
figures can not be made to point elsewhere, so any is a name where the server listens on all of
them. A forwarding header lets no further name in: a page's script can add one to what it fetches.
"""

from __future__ import annotations

import ipaddress
import re
import socket
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from urllib.parse import urlsplit

from dashboard.door import host_name, names_loopback
from layers.earth.errors import InputError

EVERY = ("0.0.0.0", "::", "")  # nosec B104 - compared with, not listened on
LOOPBACK = ("127.0.0.1", "localhost", "::1")
_NAME = re.compile(
    r"(?=.{1,253}$)[a-z0-9_]([a-z0-9_-]*[a-z0-9])?(\.[a-z0-9_]([a-z0-9_-]*[a-z0-9])?)*"
)
_DEFAULT_PORTS = {"http": 80, "https": 443}


@dataclass(frozen=True, slots=True)
class Names:
    """The names that the server goes by.

    Parameters
    ----------
    told : frozenset of str
        In small letters, without a port.
    any_address : bool
        It listens on every address of this computer, so any address in figures is one of its own.
    """

    told: frozenset[str]
    any_address: bool = False

    @classmethod
    def of(cls, address: str, told: Iterable[str] = (), redirect: str = "") -> Names:
        """Return the names from what the server was started with.

        Parameters
        ----------
        address : str
            Listened on.
        told : iterable of str
            Further names, as a person wrote them.
        redirect : str
            The log-in's ``redirect_uri``: the plot's own address for people.
        """
        address = address.strip("[]").lower()
        mine = {checked(name) for name in told}
        if redirect:
            mine.add(host_name(urlsplit(redirect).netloc))
        if address in EVERY:
            here = socket.gethostname().lower()
            mine |= {here, f"{here}.local"}
        else:
            mine.add(address)
        return cls(frozenset(mine - {""}), address in EVERY)

    def know(self, headers: Mapping[str, str]) -> bool:
        """Whether a request asks by a name of this server.

        Parameters
        ----------
        headers : mapping of str to str
            Of the request, names in small letters.
        """
        host = headers.get("host", "")
        name = host_name(host)
        if not name or not _port_is_right(host):
            return False
        if names_loopback(host) or name in self.told:
            return True
        return self.any_address and _is_address(name)

    def for_streamlit(self) -> list[str]:
        """Return the list for the framework's own check, which knows no addresses in figures."""
        return ["*"] if self.any_address else sorted({*LOOPBACK, *self.told})


def checked(name: str) -> str:
    """Return a host's name as it stands in a request, without its port.

    Raises
    ------
    InputError
        It is no name of a host.
    """
    told = name.strip().lower().removeprefix("https://").removeprefix("http://").rstrip("/")
    found = host_name(told)
    if not found or "/" in told or not (_NAME.fullmatch(found) or _is_address(found)):
        raise InputError(
            f"{name!r} is not the name of a host", where="--host", accepted="such as plot.example"
        )
    return found


def same_origin(headers: Mapping[str, str]) -> bool:
    """Whether the page that asked, if any, is the plot's own: its host and port equal ``Host``."""
    origin = headers.get("origin")
    if origin is None:
        return True
    try:
        asked = urlsplit(origin)
        scheme = asked.scheme.lower()
        if scheme not in _DEFAULT_PORTS or asked.path or asked.query or asked.fragment:
            return False
        if "@" in asked.netloc:
            return False
        port = _DEFAULT_PORTS[scheme]
        here = urlsplit(f"//{headers.get('host', '')}")
        return (
            asked.hostname is not None
            and asked.hostname == here.hostname
            and (asked.port or port) == (here.port or port)
        )
    except ValueError:
        return False


def _port_is_right(host: str) -> bool:
    try:
        whole = urlsplit(f"//{host}")
        _ = whole.port
    except ValueError:
        return False
    return "@" not in host and not (whole.path or whole.query or whole.fragment)


def _is_address(name: str) -> bool:
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return False
    return True
