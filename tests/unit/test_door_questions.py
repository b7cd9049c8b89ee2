"""What a page may ask on our own routes: rubbish is refused in words."""

from __future__ import annotations

import asyncio
import json
from typing import Any

import pytest

from dashboard.live import routes, token

RUBBISH = (
    "", "{}", "[]", "null", "[" * 20_000, "x" * 40_000, '{"token": 1, "since": 2, "have": 3}',
    json.dumps({"token": "", "since": [0, 0], "have": {}}),
    '{"token": "", "since": [1e999, 0], "have": {}}',
    '{"token": "", "since": [NaN, 0], "have": {}}',
    '{"token": "a.b", "since": ["1", "2"], "have": {"\\u0000": "\\ud800"}}',
)  # fmt: skip


@pytest.mark.parametrize("said", RUBBISH, ids=range(len(RUBBISH)))
def test_a_question_that_is_none_is_refused(said: str) -> None:
    with pytest.raises(token.NotTold):
        routes.asked(said, "a" * 32, {"host": "127.0.0.1:8501"})


def test_a_socket_that_says_no_text_is_left_without_a_fault() -> None:
    class Page:
        async def receive_text(self) -> str:
            message: dict[str, Any] = {"type": "websocket.receive", "bytes": b"\xff"}
            return str(message["text"])  # as the framework reads it

    asyncio.run(routes._talk(Page(), "a" * 32, {}))  # type: ignore[arg-type]  # a stand-in with what is asked of it
