"""The page's letters and symbols in small files, in the stead of the framework's large ones.

Asked for under the framework's own addresses, so that nothing of its scripts changes. What a page
needs beyond them (other alphabets) is fetched whole, when something on it is written so.
`tests/letters.py` makes them; it names their licences.
"""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

from starlette.responses import Response
from starlette.types import ASGIApp, Receive, Scope, Send

FOLDER = Path(__file__).resolve().parents[1] / "letters"
ICONS, LETTERS = "symbols.woff2", "letters.woff2"
WHOLE = b"whole"  # the query that asks for the framework's own
# Latin with its extensions, accents, Greek, punctuation, signs of money, arrows, mathematics,
# boxes and shapes: what the plot says by itself, and names in most alphabets of Latin letters
RANGES = (
    (0x20, 0x7E), (0xA0, 0x24F), (0x2B0, 0x2DD), (0x300, 0x33F), (0x370, 0x3FF),
    (0x1E00, 0x1E9F), (0x2000, 0x206F), (0x2070, 0x20CF), (0x2100, 0x22FF), (0x2500, 0x27BF),
)  # fmt: skip
_PLACE = re.compile(r"/static/media/(MaterialSymbols-Rounded|SourceSansVF-Upright)[.\w-]*\.woff2$")
_OURS = {"MaterialSymbols-Rounded": ICONS, "SourceSansVF-Upright": LETTERS}
_KEPT_S = 86_400  # by a browser: another program may bring other letters


def other_ranges() -> str:
    """Return what our letters do not hold, as a style sheet's `unicode-range`."""
    ends = [-1, *(most for _, most in RANGES)]
    starts = [*(least for least, _ in RANGES), 0x110000]
    return ", ".join(
        f"U+{end + 1:X}-{start - 1:X}"
        for end, start in zip(ends, starts, strict=True)
        if start > end + 1
    )


@cache
def _read(name: str) -> bytes:
    return (FOLDER / name).read_bytes()


class OwnLetters:
    """Answers for two letter files of the framework's, as an ASGI middleware."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, or answer it."""
        asked = scope["type"] == "http" and scope["method"] in ("GET", "HEAD")
        found = _PLACE.search(scope["path"]) if asked else None
        if found is None or scope["query_string"] == WHOLE:
            await self.app(scope, receive, send)
            return
        kept = {"cache-control": f"public, max-age={_KEPT_S}"}
        await Response(_read(_OURS[found[1]]), 200, kept, "font/woff2")(scope, receive, send)
