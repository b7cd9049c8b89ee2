"""Who may write: decided from what the server knows, never from what a browser says."""

from __future__ import annotations

import pytest

from dashboard.access import role_of, through_a_proxy
from dashboard.settings import listens_on_loopback
from layers.journal.actor import Role

AUTH = {"watch_emails": ["first.watch@example"], "watch_groups": ["rescue-watch"]}


@pytest.mark.parametrize(
    ("claims", "role"),
    [
        ({"email": "first.watch@example", "email_verified": True}, Role.WATCH),
        ({"email": "first.watch@example", "email_verified": False}, Role.READER),
        ({"email": "first.watch@example"}, Role.READER),  # not said to be verified
        ({"email": "first.watch@example", "email_verified": "true"}, Role.READER),  # a text
        ({"email": "someone@example", "email_verified": True}, Role.READER),
        ({"groups": ["kitchen", "rescue-watch"]}, Role.WATCH),  # two roles: the watch's counts
        ({"groups": "rescue-watch"}, Role.READER),  # a text is not a list of groups
        ({"groups": [["rescue-watch"]]}, Role.READER),
        ({}, Role.READER),
    ],
)
def test_only_whom_the_server_names_is_of_the_watch(claims: dict[str, object], role: Role) -> None:
    assert role_of(claims, AUTH) is role


def test_with_nobody_named_everybody_reads() -> None:
    assert role_of({"email": "a@example", "email_verified": True}, {}) is Role.READER
    assert role_of({"groups": ["rescue-watch"]}, {"watch_groups": "rescue-watch"}) is Role.READER


@pytest.mark.parametrize("name", ["X-Forwarded-For", "Forwarded", "Via", "x-real-ip"])
def test_a_forwarding_header_means_a_proxy(name: str) -> None:
    assert through_a_proxy({"Host": "127.0.0.1", name: "10.0.0.1"})
    assert not through_a_proxy({"Host": "127.0.0.1", "User-Agent": "x"})


@pytest.mark.parametrize(
    ("address", "loopback"),
    [("127.0.0.1", True), ("::1", True), ("[::1]", True), ("localhost", True),
     ("0.0.0.0", False), ("::", False), ("192.0.2.7", False), ("plot.example", False)],
)  # fmt: skip
def test_only_loopback_is_this_machine_alone(
    monkeypatch: pytest.MonkeyPatch, address: str, loopback: bool
) -> None:
    monkeypatch.setenv("MUSTERPLOT_LISTENS", address)
    assert listens_on_loopback() is loopback
