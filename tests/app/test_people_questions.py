"""Ten questions that people ask, answered from the wall alone; the strip holds four of them.

Written from the questions; the figures are those of the exercise's opening, 160635Z, as its story
tells them (38 in the hull, 2 adrift, 12 not heard of, 18 out, 1 dead of 71; the air read at 0315Z;
a swell that shuts the recovery until the next morning).
"""

from __future__ import annotations

import re

from streamlit.testing.v1 import AppTest

from tests.app.conftest import on_page, texts
from tests.one_answer import plain

NEAREST = r"nearest to those adrift: SALTMARSH, \d+ nmi, there 0\d{3}Z"
MARGIN = r"[+−]\d+ h margin, .*(after|forward) refuge, \w.* binds"
DIVE = r"NO dive, until 17\d{4}Z, in \d+ h.*recovery shuts"


def span(minutes: int) -> str:
    """Return a span of hours as it is said, a minute more or less: parts are made in turn."""
    near = (f"{m // 60} h {m % 60:02d}" for m in (minutes - 1, minutes, minutes + 1))
    return f"({'|'.join(near)})"


def asked_of_the_wall(minute: int) -> dict[str, str]:
    """Return each question with what must be told, so many minutes after 160600Z."""
    read = span(165 + minute)  # since 0315Z
    return {
        "how many are still in the hull?": r"38 in hull",
        "is anyone adrift?": r"2 adrift",
        "who is nearest to them, and when?": NEAREST,
        "who has nobody heard of?": r"12 not heard of",
        "how many are out, how many dead, of how many?": r"18 out.*71 POB, 1 dead",
        "how old is the count?": r"told 0555Z, \d+ min ago",
        "will the last be out in time, and what binds?": MARGIN,
        "how old is the air that this rests on?": f"air read 0315Z, {read} ago",
        "may we dive, else from when, and why not?": DIVE,
        "what must be decided next, and when?": f"0800Z in {span(120 - minute)}: When can the",
        "what is overdue?": r"OVERDUE \d\d min.*: report, SALTMARSH",
        "what is the oldest thing we rely on?": f"{read} oldest: air, (after|forward|both)",
        "who leaves next?": r"A2",
        "what time is it there, and how long since?": r"SUBSUNK \+2 d 17 h 1606\d\dZ MAR 27",
    }


ON_THE_STRIP = ("38 in hull", "2 adrift", "12 not heard of", "18 out", "71 POB, 1 dead", "Margin",
                "Dive NO until 17", "oldest: air", "alarm")  # fmt: skip


def test_the_wall_alone_answers_what_people_ask(app: AppTest) -> None:
    page = on_page(app, "wall")
    assert not page.exception, page.exception
    said = plain(texts(page))
    clock = re.search(r"1606(\d\d)Z MAR 27", said)
    assert clock, said
    asked = asked_of_the_wall(int(clock[1]))
    assert [one for one, told in asked.items() if not re.search(told, said)] == [], said


def test_the_strip_alone_holds_the_four_answers_and_the_alarms(app: AppTest) -> None:
    said = plain(texts(on_page(app, "log")))
    assert [told for told in ON_THE_STRIP if told not in said] == [], said[:600]
