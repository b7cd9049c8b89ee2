"""A page's first answer bears our title and icon; the framework's page is as we expect."""

from __future__ import annotations

import asyncio
from pathlib import Path
from xml.etree import ElementTree

import pytest
import streamlit

from dashboard.door.face import ICON, LINK, TITLE, OwnFace, own_face

INDEX = (Path(streamlit.__file__).parent / "static" / "index.html").read_bytes()


def test_the_frameworks_page_still_has_what_is_replaced() -> None:
    page = own_face(INDEX)
    assert TITLE in INDEX
    assert LINK in INDEX
    assert b"<title>Musterplot</title>" in page
    assert b"favicon.png" not in page
    assert ElementTree.fromstring(ICON.read_text("utf-8")).tag.endswith("svg")  # our own file


@pytest.mark.parametrize(
    ("path", "accept", "ours"),
    [("/watch", b"text/html,*/*", True), ("/", b"text/html", True),
     ("/static/js/index.js", b"*/*", False), ("/watch", b"*/*", False)],
)  # fmt: skip
def test_only_a_page_is_changed_and_its_length_is_true(
    path: str, accept: bytes, ours: bool
) -> None:
    async def framework(scope, receive, send) -> None:  # type: ignore[no-untyped-def]  # as its framework calls it
        assert not ours or not [one for one in scope["headers"] if one[0] == b"accept-encoding"]
        await send({"type": "http.response.start", "status": 200,
                    "headers": [(b"content-length", str(len(INDEX)).encode())]})  # fmt: skip
        await send({"type": "http.response.body", "body": INDEX[:500], "more_body": True})
        await send({"type": "http.response.body", "body": INDEX[500:]})

    said: list[dict] = []

    async def send(message) -> None:  # type: ignore[no-untyped-def]  # as its framework calls it
        said.append(message)

    scope = {"type": "http", "method": "GET", "path": path,
             "headers": [(b"accept", accept), (b"accept-encoding", b"gzip")]}  # fmt: skip
    asyncio.run(OwnFace(framework)(scope, None, send))  # type: ignore[arg-type]  # a stand-in with what is asked of it
    body = b"".join(one.get("body", b"") for one in said)
    assert (b"Musterplot" in body) is ours
    assert dict(said[0]["headers"])[b"content-length"] == str(len(body)).encode()
