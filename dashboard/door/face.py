"""The plot's own face while a page still loads: its title and its icon, not the framework's.

The framework's first answer is a bare page with a title and an icon of its own; the page's own
come seconds later. This puts ours into that answer. All else passes untouched.
"""

from __future__ import annotations

from pathlib import Path
from urllib.parse import quote

from starlette.types import ASGIApp, Message, Receive, Scope, Send

ICON = Path(__file__).resolve().parents[1] / "pictures" / "icon.svg"
TITLE = b"<title>Streamlit</title>"
LINK = b'<link rel="shortcut icon" href="./favicon.png" />'


def own_face(page: bytes) -> bytes:
    """Return the framework's bare page with our title and icon; others as they are."""
    icon = quote(ICON.read_text("utf-8"), safe=" =:/,;()-.")
    link = f'<link rel="icon" type="image/svg+xml" href="data:image/svg+xml,{icon}" />'
    return page.replace(TITLE, b"<title>Musterplot</title>").replace(LINK, link.encode())


class OwnFace:
    """Puts title and icon into a page's first answer, as an ASGI middleware."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on; of a page's address the answer is changed."""
        if not _is_page(scope):
            await self.app(scope, receive, send)
            return
        # two kilobytes are not worth packing, and packed they could not be read here
        headers = [pair for pair in scope["headers"] if pair[0] != b"accept-encoding"]
        begun: list[Message] = []
        held: list[bytes] = []

        async def changed(message: Message) -> None:
            if message["type"] == "http.response.start":
                begun.append(message)
                return
            held.append(message.get("body", b""))
            if message.get("more_body"):
                return
            page = own_face(b"".join(held))
            start = begun[0]
            kept = [pair for pair in start["headers"] if pair[0].lower() != b"content-length"]
            length = (b"content-length", str(len(page)).encode())
            await send({**start, "headers": [*kept, length]})
            await send({**message, "body": page})

        await self.app({**scope, "headers": headers}, receive, changed)


def _is_page(scope: Scope) -> bool:
    if scope["type"] != "http" or scope["method"] != "GET":
        return False
    last = str(scope["path"]).rpartition("/")[2]
    wants = next((value for name, value in scope["headers"] if name == b"accept"), b"")
    return "." not in last and "_stcore" not in scope["path"] and b"text/html" in wants
