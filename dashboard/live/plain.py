"""The answers on one plain page of our own, by a route: for a slow line and for a telephone.

It runs no script and fetches nothing. It comes through the same door and shows what its viewer's
release makes: who asks from this room where nobody logs in sees what the watch sees, everybody
else what readers may see.
"""

from __future__ import annotations

import asyncio
import gzip
import json
from html import escape
from string import Template

from starlette.requests import Request
from starlette.responses import Response

from dashboard import access, looks
from dashboard.cache import opened
from dashboard.door import from_this_room
from dashboard.live.hub import HUB
from dashboard.live.token import BROWSER, Eyes
from dashboard.settings import listens_on_loopback
from dashboard.view import allowed_to
from layers.earth.errors import MusterplotError
from layers.journal.actor import Actor, Role
from layers.scene.ink import DAY

PARTS = ("strip", "alarms", "five_lines", "clocks.small")
WAIT_S = 12.0  # for the first picture
AGAIN_S = 20
OLD_S = 20.0
PAGE = Template("""<!doctype html><html lang="en"><head><meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="refresh" content="$again"><title>Musterplot, the answers</title><style>
body { margin: 0; padding: 8px; background: $page; color: $ink; font: 17px/1.35 sans-serif; }
a { color: inherit; text-decoration: none; } svg { max-width: 100%; height: auto; }
i { font-style: normal; } small { display: block; font-size: 15px; }
.cell, .mp-panel, .mp-alarm, .mp-trouble { display: block; padding: 6px 0;
  border-bottom: 1px solid currentColor; }
.cell > span { display: inline-block; vertical-align: top; margin-right: 18px; }
.cell b { font-size: 25px; } .ex { font-weight: 700; letter-spacing: 0.05em; }
.late, .mp-alarm, .mp-trouble, .old { font-weight: 700; }
.mp-line { padding: 4px 0; } .mp-line i { display: block; font-size: 14px; }
</style></head><body><div class="$css" role="status">$said</div>$parts
<p>$caution</p><p><a href="./"><u>The whole plot</u></a></p></body></html>""")
NOT_YET = (
    '<!doctype html><meta charset="utf-8"><meta http-equiv="refresh" content="3">'
    "<title>Musterplot</title><p>The first picture is being worked out; it comes by itself.</p>"
)
CAUTION = (
    "As reported; unknown is not dead. Margins, dives and times rest on what was told and defer to "
    "licensed practice and local procedure. This page asks again every 20 s."
)


async def plain(request: Request) -> Response:
    """Answer with the page, or with a line that says what is missing."""
    headers = {name.lower(): told for name, told in request.headers.items()}
    own = {"cache-control": "no-store"}
    try:
        eyes = await asyncio.to_thread(eyes_of, headers, request.cookies.get(BROWSER, ""))
    except MusterplotError as reason:
        return Response(f"{reason}\n", 503, {**own, "retry-after": "5"}, "text/plain")
    have = dict.fromkeys(PARTS, "")
    found = await HUB.later_than(eyes, (0, 0), have, WAIT_S)
    age_s = HUB.age_s(eyes, have)
    if found is None or age_s is None:
        return Response(NOT_YET, 503, {**own, "retry-after": "5"}, "text/html")
    return Response(html(json.loads(gzip.decompress(found))["parts"], age_s), 200, own, "text/html")


def eyes_of(headers: dict[str, str], cookie: str = "") -> Eyes:
    """Return as whom somebody sees who brings no token: the watch in its room, or a reader."""
    room = not access.log_in_is_set_up() and listens_on_loopback() and from_this_room(headers)
    actor = Actor(name="", role=Role.WATCH if room else Role.READER, via="plain page")
    allowed = allowed_to(actor, wall=False)
    release = opened.key_of(allowed)
    if not room:
        looks.see_plain(cookie, allowed)
    return Eyes(release=release, writable=room, wall=False, ink=DAY.name)


def html(parts: dict[str, str], age_s: float) -> str:
    """Return the page of these parts, each ready HTML, found to be so some seconds ago."""
    old = age_s > OLD_S
    said = f"NO UPDATE: what stands here is {age_s:.0f} s old" if old else "The answers now"
    return PAGE.substitute(
        again=AGAIN_S,
        page=DAY.page,
        ink=DAY.ink,
        css="old" if old else "",
        said=escape(said),
        parts="".join(parts[name] for name in PARTS),
        caution=escape(CAUTION),
    )
