"""Who may write, by a log-in: the real command against an OpenID provider on loopback."""

from __future__ import annotations

import time
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.chart import PATIENCE_MS
from tests.browser.conftest import Server, free_port, start
from tests.browser.provider import CLIENT, SECRET, Provider

pytestmark = [pytest.mark.browser, pytest.mark.servers]

WATCH = {"name": "First Watch", "email": "first.watch@example", "email_verified": True}
OPENING_MS = 2 * PATIENCE_MS


@pytest.fixture(scope="module")
def provider() -> Iterator[Provider]:
    made = Provider()
    yield made
    made.end()


@pytest.fixture(scope="module")
def guarded(provider: Provider, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """A server on an empty exercise that asks the provider who is there."""
    folder = tmp_path_factory.mktemp("guarded")
    port = free_port()
    (folder / "secrets.toml").write_text(
        f"""[auth]
redirect_uri = "http://127.0.0.1:{port}/oauth2callback"
cookie_secret = "{"0123456789abcdef" * 3}"
client_id = "{CLIENT}"
client_secret = "{SECRET}"
server_metadata_url = "{provider.address}/.well-known/openid-configuration"
watch_emails = ["first.watch@example"]
watch_groups = ["rescue-watch"]
"""
    )
    running = start(folder, "--empty", "--exercise", "LOG IN", port=port)
    yield running
    running.end()


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    context = browser.new_context(viewport={"width": 1366, "height": 768})
    yield context.new_page()
    context.close()


def log_in(page: Page, server: Server, provider: Provider, lie: str = "", **claims: object) -> None:
    provider.claims, provider.lie = claims, lie
    page.goto(f"{server.address}/log")
    page.get_by_role("button", name="Log in").click(timeout=OPENING_MS)
    page.wait_for_url(f"{server.address}/", timeout=OPENING_MS)


def is_watch(page: Page) -> None:
    expect(page.get_by_text("(watch)")).to_be_visible(timeout=OPENING_MS)
    expect(page.get_by_text("reading only")).to_have_count(0)


def is_reader(page: Page) -> None:
    expect(page.get_by_text("reading only").first).to_be_visible(timeout=OPENING_MS)


def test_without_a_log_in_loopback_is_no_identity(page: Page, guarded: Server) -> None:
    page.goto(f"{guarded.address}/log")
    expect(page.get_by_role("button", name="Log in")).to_be_visible(timeout=OPENING_MS)
    is_reader(page)


def test_whom_the_server_names_is_the_watch_and_can_log_out(
    page: Page, guarded: Server, provider: Provider
) -> None:
    log_in(page, guarded, provider, **WATCH)
    is_watch(page)
    expect(page.get_by_text("First Watch")).to_be_visible()
    page.get_by_role("button", name="Log out").click()
    expect(page.get_by_role("button", name="Log in")).to_be_visible(timeout=OPENING_MS)
    is_reader(page)


def test_the_cookie_is_closed_to_scripts_and_other_sites(
    page: Page, guarded: Server, provider: Provider
) -> None:
    log_in(page, guarded, provider, **WATCH)
    is_watch(page)
    cookie = next(c for c in page.context.cookies() if c["name"] == "_streamlit_user")
    assert cookie["httpOnly"]
    assert cookie["sameSite"] == "Lax"


@pytest.mark.parametrize(
    "claims",
    [
        {"name": "Unproven", "email": "first.watch@example", "email_verified": False},
        {"name": "Somebody", "email": "somebody@example", "email_verified": True},
        {"name": "Kitchen", "groups": ["kitchen"]},
    ],
    ids=["not verified", "not named", "another group"],
)
def test_everybody_else_who_logs_in_reads(
    page: Page, guarded: Server, provider: Provider, claims: dict[str, object]
) -> None:
    log_in(page, guarded, provider, **claims)
    expect(page.get_by_text(f"{claims['name']} (reader)")).to_be_visible(timeout=OPENING_MS)
    is_reader(page)


def test_with_two_roles_the_one_that_the_server_names_counts(
    page: Page, guarded: Server, provider: Provider
) -> None:
    log_in(page, guarded, provider, name="Two Roles", groups=["kitchen", "rescue-watch"])
    expect(page.get_by_text("Two Roles (watch)")).to_be_visible(timeout=OPENING_MS)


@pytest.mark.parametrize("lie", ["issuer", "expired", "forged", "audience", "nonce", "unsigned"])
def test_a_token_that_is_not_right_logs_nobody_in(
    page: Page, guarded: Server, provider: Provider, lie: str
) -> None:
    before = len(provider.issued)
    log_in(page, guarded, provider, lie, **WATCH)
    expect(page.get_by_role("button", name="Log in")).to_be_visible(timeout=OPENING_MS)
    is_reader(page)
    assert len(provider.issued) == before + 1  # it was the token that was refused
    assert not [c for c in page.context.cookies() if c["name"] == "_streamlit_user" and c["value"]]


def test_a_log_in_that_has_run_out_reads(page: Page, guarded: Server, provider: Provider) -> None:
    long_ago = int(time.time()) - 13 * 3600
    log_in(page, guarded, provider, **WATCH, iat=long_ago, exp=int(time.time()) + 600)
    expect(page.get_by_text("log-in has run out")).to_be_visible(timeout=OPENING_MS)
    is_reader(page)


def test_a_cookie_changed_by_hand_logs_nobody_in(
    page: Page, guarded: Server, provider: Provider
) -> None:
    log_in(page, guarded, provider, name="Reader", email="r@example", email_verified=True)
    expect(page.get_by_text("Reader (reader)")).to_be_visible(timeout=OPENING_MS)
    cookies = page.context.cookies()
    mine = next(c for c in cookies if c["name"] == "_streamlit_user")
    mine["value"] = mine["value"][:-6] + ("AAAAAA" if mine["value"][-6:-1] != "AAAAA" else "BBBBBB")
    page.context.add_cookies([mine])
    page.reload()
    expect(page.get_by_role("button", name="Log in")).to_be_visible(timeout=OPENING_MS)
    is_reader(page)


def test_a_copied_cookie_reads_once_its_owner_has_logged_out(
    browser: Browser, page: Page, guarded: Server, provider: Provider
) -> None:
    log_in(page, guarded, provider, **WATCH)
    is_watch(page)
    copied = page.context.cookies()
    page.get_by_role("button", name="Log out").click()
    expect(page.get_by_role("button", name="Log in")).to_be_visible(timeout=OPENING_MS)
    context = browser.new_context()
    context.add_cookies(copied)
    other = context.new_page()
    other.goto(f"{guarded.address}/log")
    expect(other.get_by_text("First Watch (reader, logged out)")).to_be_visible(timeout=OPENING_MS)
    is_reader(other)
    context.close()
