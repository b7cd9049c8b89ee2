"""Who is looking: decided from what the server knows, never from what a browser says.

Directly at this machine, by its own name, with no log-in set up is the watch (`dashboard.door`).
Through a proxy, or from elsewhere, without a log-in everybody is a reader. With a log-in the claim
decides.
"""

from __future__ import annotations

import functools
import os
from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import streamlit as st

from dashboard import duty, settings
from dashboard.door import from_this_room
from dashboard.door.log_ins import key_of, log_ins
from dashboard.server.secrets_file import LOG_IN
from dashboard.settings import listens_on_loopback
from layers.journal.actor import Actor, Role

LOG_IN_HOURS = 12  # a watch, with the time to hand over
SKEW = timedelta(minutes=5)  # between this clock and the provider's


def log_in_is_set_up() -> bool:
    """Whether an OpenID provider is named in the server's secrets when it starts."""
    return bool(os.environ.get(LOG_IN)) or _auth_in_secrets()


@functools.cache
def _auth_in_secrets() -> bool:
    # asked once: a file that is not there would be looked for anew for every viewer and record
    try:
        return "auth" in st.secrets
    except FileNotFoundError:
        return False


def actor() -> Actor:
    """Return who is looking, and their role."""
    if log_in_is_set_up():
        return _logged_in()
    headers = st.context.headers.to_dict()
    # no socket comes without a header: a page under test, which nobody asked for
    if listens_on_loopback() and (not headers or from_this_room(headers)):
        return _here(duty.on_watch(), Role.WATCH, "direct")
    return Actor(name="reader", role=Role.READER, via="without log-in")


def _here(name: str, role: Role, via: str) -> Actor:
    return Actor(name=name, role=role, via=via, room=duty.room(), server=duty.server())


def _logged_in() -> Actor:
    if not st.user.is_logged_in:
        return Actor(name="reader", role=Role.READER, via="not logged in")
    claims = st.user.to_dict()
    name = str(claims.get("name") or claims.get("email") or claims.get("sub") or "unnamed")
    auth = st.secrets["auth"]
    if has_run_out(claims, auth, datetime.now(UTC)):
        return Actor(name=name, role=Role.READER, via="log-in has run out")
    if not is_for_here(claims, auth):
        return Actor(name=name, role=Role.READER, via="log-in for another program")
    who, role = identity(claims), role_of(claims, auth)
    key = key_of(st.context.cookies.to_dict())
    if not log_ins(settings.data_folder()).see(key, name, who, role.value):
        return Actor(name=name, role=Role.READER, via="logged out")
    return replace(_here(name, role, "log-in"), identity=who)


def identity(claims: Mapping[str, object]) -> str:
    """Return what the provider vouches for, beside a name that people choose themselves."""
    address = claims.get("email") if claims.get("email_verified") is True else None
    told = (address, claims.get("sub"))
    return "; ".join(" ".join(str(one).split())[:200] for one in told if one)


def log_in_ends_at() -> float:
    """Return when this viewer's log-in ends, seconds since 1970; 0 without a log-in."""
    if not log_in_is_set_up() or not st.user.is_logged_in:
        return 0.0
    made = st.user.to_dict().get("iat")
    return (
        float(made) + _hours(st.secrets["auth"]) * 3600.0 if isinstance(made, int | float) else 1.0
    )


def _hours(auth: Mapping[str, object]) -> float:
    hours = auth.get("log_in_hours", LOG_IN_HOURS)
    right = isinstance(hours, int | float) and not isinstance(hours, bool)
    return float(hours) if right else LOG_IN_HOURS  # type: ignore[arg-type]  # told apart above


def is_for_here(claims: Mapping[str, object], auth: Mapping[str, object]) -> bool:
    """Whether the provider made a log-in for this plot (OpenID Connect Core 1.0, 3.1.3.7).

    The library lets one through that is for nobody: an empty list.
    """
    here, told = auth.get("client_id"), claims.get("aud")
    return here is None or told is None or here == told or (isinstance(told, list) and here in told)


def has_run_out(claims: Mapping[str, object], auth: Mapping[str, object], now: datetime) -> bool:
    """Whether somebody logged in so long ago that they may no longer write.

    The browser keeps a log-in for thirty days; a watch is shorter. ``log_in_hours`` in
    ``[auth]`` says for how long after the provider's ``iat`` it counts, 12 when nothing is said.
    A log-in that does not say when it was made, or was made in the future, does not count.
    """
    hours, made = _hours(auth), claims.get("iat")
    if isinstance(made, bool) or not isinstance(made, (int, float)):
        return True
    age_s = now.timestamp() - made
    return not -SKEW.total_seconds() <= age_s <= hours * 3600.0


def role_of(claims: Mapping[str, object], auth: Mapping[str, object]) -> Role:
    """Return the role that the claims give: watch only for whom the server names.

    ``watch_emails`` and ``watch_groups`` in the ``[auth]`` section of the server's secrets name
    the people and groups that may write. Everybody else reads; so does a user whose e-mail the
    provider has not verified.
    """
    emails = auth.get("watch_emails", ())
    groups = auth.get("watch_groups", ())
    email = claims.get("email")
    verified = claims.get("email_verified", False) is True
    if verified and isinstance(emails, (list, tuple)) and email in emails:
        return Role.WATCH
    held = claims.get("groups", ())
    if isinstance(held, (list, tuple)) and any(str(group) in _texts(groups) for group in held):
        return Role.WATCH
    return Role.READER


def _texts(values: object) -> tuple[str, ...]:
    return tuple(map(str, values)) if isinstance(values, (list, tuple)) else ()
