"""A cookie of our own for each browser, so that what is given to one is of no use in another.

It says nothing about who somebody is; a page's token holds its hash (`dashboard.live.token`).
"""

from __future__ import annotations

import re
import secrets
from collections.abc import MutableMapping
from typing import Any

from starlette.types import ASGIApp, Receive, Scope, Send

COOKIE = "plot_browser"
HELD = re.compile(rf"(?:^|;\s*){COOKIE}=[0-9a-f]{{32}}(?:;|$)")


class Browser:
    """Gives a browser its cookie with the first page that it fetches, as an ASGI middleware.

    Parameters
    ----------
    app : ASGI application
        What lies behind it.
    base : str
        The path that the pages lie under.
    """

    def __init__(self, app: ASGIApp, base: str = "") -> None:
        self.app, self.path = app, f"/{base}" if base else "/"

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through; put the cookie on the answer where it is missing."""
        if scope["type"] != "http" or scope["method"] != "GET" or not _wants_one(scope):
            await self.app(scope, receive, send)
            return

        async def sent(message: MutableMapping[str, Any]) -> None:
            if message["type"] == "http.response.start":
                told = f"{COOKIE}={secrets.token_hex(16)}; Path={self.path}; HttpOnly; SameSite=Lax"
                secure = "; Secure" if scope.get("scheme") == "https" else ""
                headers = [*message.get("headers", ()), (b"set-cookie", (told + secure).encode())]
                message = {**message, "headers": headers}
            await send(message)

        await self.app(scope, receive, sent)


def _wants_one(scope: Scope) -> bool:
    """Whether a page is asked for, and no cookie of ours came with it."""
    headers = [(name.lower(), value) for name, value in scope["headers"]]
    cookies = b"; ".join(value for name, value in headers if name == b"cookie")
    page = any(name == b"accept" and b"text/html" in value for name, value in headers)
    return page and HELD.search(cookies.decode("latin-1")) is None
