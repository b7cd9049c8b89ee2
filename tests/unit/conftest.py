"""What every unit test starts from."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator

import pytest


@pytest.fixture(autouse=True)
def no_loop_of_another_test_runs() -> Iterator[None]:
    """Set aside the loop that a browser, open since an earlier test, keeps running here."""
    held = asyncio._get_running_loop()
    asyncio._set_running_loop(None)
    yield
    asyncio._set_running_loop(held)
