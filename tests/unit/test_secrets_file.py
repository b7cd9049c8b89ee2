"""The log-in's secrets: what cannot be used ends the start, in a sentence that tells no secret."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from dashboard.access import has_run_out
from dashboard.server import secrets_file
from layers.earth.errors import InputError

GOOD = """[auth]
redirect_uri = "https://plot.example/oauth2callback"
cookie_secret = "0123456789abcdef0123456789abcdef"
client_id = "plot"
client_secret = "hidden"
server_metadata_url = "https://id.example/.well-known/openid-configuration"
watch_emails = ["first.watch@example"]
"""


def test_a_whole_file_is_taken_and_found_in_the_data_folder(tmp_path: Path) -> None:
    assert secrets_file.find(None, tmp_path) is None
    path = tmp_path / secrets_file.NAME
    path.write_text(GOOD)
    assert secrets_file.find(None, tmp_path) == path
    assert secrets_file.checked(path)["client_id"] == "plot"


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("[auth]", "[other]", "no section"),
        ("[auth]", "[auth", "not TOML"),
        ('client_id = "plot"\n', "", "lacks client_id"),
        ("0123456789abcdef0123456789abcdef", "hidden", "short"),
        ("/oauth2callback", "/elsewhere", "does not end"),
        ('["first.watch@example"]', '"first.watch@example"', "not a list"),
    ],
)
def test_a_bad_file_is_refused_in_words(tmp_path: Path, old: str, new: str, said: str) -> None:
    path = tmp_path / "s.toml"
    path.write_text(GOOD.replace(old, new))
    with pytest.raises(InputError, match=said) as refused:
        secrets_file.checked(path)
    assert "hidden" not in str(refused.value)


def test_a_named_file_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot be read"):
        secrets_file.checked(tmp_path / "none.toml")


@pytest.mark.parametrize(
    ("made_h_ago", "auth", "out"),
    [(0.1, {}, False), (11.9, {}, False), (12.1, {}, True), (2.0, {"log_in_hours": 1}, True),
     (-0.05, {}, False), (-1.0, {}, True), (13.0, {"log_in_hours": "24"}, True)],
)  # fmt: skip
def test_a_log_in_lasts_a_watch(made_h_ago: float, auth: dict[str, object], out: bool) -> None:
    now = datetime(2027, 3, 16, tzinfo=UTC)
    assert has_run_out({"iat": now.timestamp() - made_h_ago * 3600}, auth, now) is out


def test_a_log_in_without_its_time_does_not_count() -> None:
    now = datetime(2027, 3, 16, tzinfo=UTC)
    assert has_run_out({}, {}, now)
    assert has_run_out({"iat": True}, {}, now)
