"""The wall: what must be read from four metres, and nothing else.

Three answers in a row with their ages, the two clocks and the chart of the work under them, one
alarm and what is due at the foot. Sizes are parts of the screen's height, so that 1920×1080 and
3840×2160 show the same: figures 12.8 % (9.6 % where there are many counts), their words 3.8 %,
nothing under 2.7 % (LOOK: a capital is 0.66 of the letter; on a 65-inch wall 4 % is 18 minutes of
arc at four metres; ISO 9241-303 wants 16 at least, from memory). A figure is never cut: words
take a second line, and a count stands whole before them.
"""

from __future__ import annotations

from datetime import timedelta
from html import escape

import streamlit as st

from dashboard.live.place import place
from dashboard.panels import events, health, sound
from dashboard.panels.survivors.surface import OLD_PLACE
from dashboard.panels.text import fitting, words
from dashboard.view import Seen
from layers import answer_words
from layers.answer_words import WordedAnswer
from layers.answers import Answers
from layers.catalogue import IN_WORDS
from layers.earth.clock import clock_words, dtg, duration_words
from layers.earth.uncertain import Stated

TOP, FOOT = "wall.top", "wall.foot"
MOST_SAID = 78  # letters that two lines of the foot's left half hold beside a count
MOST_LARGE = 4  # counts of people that stand beside margin and dive in the largest letters,
MOST_FIGURES = 9  # and their letters: a span where accounts differ is as long as three counts


def sheet(*, clocks_large: bool = False) -> str:
    """Return the wall's own style sheet, on top of the page's."""
    clocks = "1.8fr 1fr" if clocks_large else "1fr 1fr"
    return f"""
    body, .stApp, .stMain {{ overflow: hidden !important; }}
    .stMainBlockContainer {{ padding: 0 !important; }}
    div[data-testid="stVerticalBlock"], div[data-testid="stHorizontalBlock"] {{ gap: 0; }}
    div[data-testid="stHorizontalBlock"] {{ display: grid; grid-template-columns: {clocks}; }}
    .stMainBlockContainer div[data-testid="stColumn"] {{ width: auto; min-width: 0; }}
    iframe[title="streamlit_folium.st_folium"] {{ --mp-chart: 55.4vh; border: 0; }}
    .mp-w {{ font-variant-numeric: tabular-nums; white-space: nowrap; line-height: 1.1; }}
    .mp-w .head {{ display: grid; grid-template-columns: 1fr auto 1fr; align-items: center;
      height: 6.2vh; padding: 0 1.8vw; background: var(--panel); font-size: 3.2vh;
      border-bottom: 1px solid var(--line); }}
    .mp-w .head :last-child {{ text-align: right; }}
    .mp-w .plate {{ border: 0.25vh solid var(--ink); padding: 0 1vw; font-weight: 700;
      letter-spacing: 0.06em; justify-self: start; }}
    .mp-w .answers {{ display: flex; height: 28.4vh; border-bottom: 1px solid var(--line); }}
    .mp-w .answer {{ padding: 1.2vh 1.4vw 0; border-right: 1px solid var(--line); flex: 1 1 auto;
      min-width: 0; overflow: hidden; }}
    .mp-w .answer:last-child {{ border-right: 0; }}
    .mp-w .answer.people {{ flex-shrink: 0; }}  /* a count cut in two reads as another count */
    .mp-w .counts {{ display: flex; gap: 1.8vw; }}
    .mp-w .answers.many .figure {{ font-size: 9.6vh; }}
    .mp-w .answers.many .word {{ font-size: 3.2vh; }}
    .mp-w .figure {{ display: block; font-size: 12.8vh; font-weight: 650; line-height: 0.92; }}
    .mp-w .figure small {{ font-size: 5.6vh; color: inherit; font-weight: 400; }}
    .mp-w .word, .mp-w .more {{ display: -webkit-box; -webkit-box-orient: vertical;
      -webkit-line-clamp: 2; overflow: hidden; white-space: normal; }}
    .mp-w .word {{ font-size: 3.8vh; }}
    .mp-w .counts .word {{ display: block; white-space: nowrap; }}
    .mp-w .more {{ font-size: 2.9vh; color: var(--quiet) !important; margin-top: 0.4vh; }}
    .mp-w .late .figure, .mp-w .late .word {{ color: var(--late) !important; }}
    .mp-w .foot {{ display: grid; height: 10vh;
      grid-template-columns: fit-content(58vw) minmax(0, 1fr); align-items: stretch;
      border-top: 1px solid var(--line); }}
    .mp-w .foot > div {{ display: flex; flex-direction: column; justify-content: center;
      padding: 0 1.4vw; overflow: hidden; background: var(--panel); min-width: 0;
      font-size: 2.9vh; }}
    .mp-w .foot > div > span {{ overflow: hidden; text-overflow: ellipsis; }}
    .mp-w .foot .alert {{ background: var(--ink); font-weight: 650; font-size: 4vh;
      white-space: normal; }}
    .mp-w .foot .alert span {{ color: var(--page) !important; }}
    .mp-clocks {{ height: 55.4vh; overflow: hidden; text-align: center; }}
    .mp-clocks .mp-w {{ white-space: normal; padding: 3vh 2vw; }}
    .mp-clocks .quiet {{ font-size: 4vh; }}
    .mp-clocks svg {{ width: 100%; height: 100%; }}
    .mp-clocks .on-wall {{ height: 100%; }}
    .mp-clocks .in-hand {{ display: none; }}
    @media (max-aspect-ratio: 1/1) {{  /* held in a hand: one below the other, to be scrolled */
      body, .stApp, .stMain {{ overflow: auto !important; }}
      div[data-testid="stHorizontalBlock"] {{ grid-template-columns: 1fr; }}
      .mp-w .head {{ grid-template-columns: 1fr auto; height: auto; font-size: 4.2vw; }}
      .mp-w .head > span:nth-child(2) {{ grid-row: 2; }}
      .mp-w .answers {{ flex-wrap: wrap; height: auto; }}
      .mp-w .answer {{ flex: 1 1 100%; border-right: 0; padding: 2vw 3vw; }}
      .mp-w .figure, .mp-w .answers.many .figure {{ font-size: 13vw; }}
      .mp-w .figure small {{ font-size: 6vw; }}
      .mp-w .word, .mp-w .answers.many .word {{ font-size: 4.4vw; }}
      .mp-w .more {{ font-size: 3.8vw; }}
      .mp-w .foot {{ grid-template-columns: 1fr; height: auto; }}
      .mp-w .foot > div, .mp-w .foot .alert {{ font-size: 4.4vw; white-space: normal; }}
      .mp-clocks {{ height: auto; padding: 2vw 1.2vw; }}
      .mp-clocks .on-wall {{ display: none; }}
      .mp-clocks .in-hand {{ display: block; }}
      .mp-clocks svg {{ height: auto; }}
      .mp-clocks .quiet {{ font-size: 4.4vw; }}
      iframe[title="streamlit_folium.st_folium"] {{ --mp-chart: 80vw; }}
    }}
    """


def style(*, clocks_large: bool = False) -> None:
    """Put the wall's style sheet on the page."""
    st.html(f"<style>{sheet(clocks_large=clocks_large)}</style>")


def top(seen: Seen) -> None:
    """Show exercise, stage and time, then the answers with their ages."""
    place(TOP, seen, top_html(seen))


def top_html(seen: Seen) -> str:
    """Return the upper half; every text in it is escaped here."""
    name = seen.exercise.removeprefix("Exercise ").upper()
    plate = f"EXERCISE {name}" if name else seen.journal.name
    css = "plate" if name else ""
    head = "".join(
        (
            f'<span class="{css}">{escape(plate)}</span>',
            words(seen.watch.stage_words()),
            f"<b>{words(dtg(seen.moment.at))}</b>",
        )
    )
    return (
        f'<div class="mp-w" role="status"><div class="head">{head}</div>'
        f"{answers_html(seen.answers, _nearest(seen))}</div>"
    )


def _nearest(seen: Seen) -> str:
    """Return who can be first at the people adrift, or that nobody recorded can."""
    found = seen.picture.shown("survivors")
    if found is None or found.result.guarded or not found.result.surface:
        return ""
    at = seen.moment.at
    said = []
    for group in found.result.surface:
        one = group.nearest
        if one is not None:
            there = clock_words(at + timedelta(hours=one.hours), at)
            old = " ?" if at - one.fixed_at > OLD_PLACE else ""
            said.append(f"{one.craft}, {one.distance_nmi:.0f} nmi, there {there}{old}")
        elif group.position is not None:
            said.append("nobody recorded can be there")
    return f"nearest to those adrift: {'; '.join(said)}" if said else ""


def answers_html(found: Answers, nearest: str) -> str:
    """Return people, margin and dive; with the dive what a vehicle does that is down now."""
    counts = [one for one in answer_words.persons(found) if not one.key.endswith("on_board")]
    board = [one for one in answer_words.persons(found) if one.key.endswith("on_board")]
    people = "".join(f"<span{_key(one)}>{_figure(one)}{_word(one)}</span>" for one in counts)
    margin, dive = answer_words.margin(found), answer_words.dive(found)
    inner = "".join(
        (
            f'<div class="answer people"><div class="counts">{people}</div>'
            f"{_more(_people_more(found, board))}{_more(nearest)}</div>",
            _answer(margin, "margin, ", answer_words.air_age(found)),
            _answer(dive, "dive, ", "; ".join(filter(None, (_down(found), dive.more)))),
        )
    )
    letters = sum(len(one.figure) for one in counts)
    many = " many" if len(counts) > MOST_LARGE or letters > MOST_FIGURES else ""
    return f'<div class="answers{many}">{inner}</div>'


def _down(found: Answers) -> str:
    if not isinstance(found.sortie, Stated) or not found.sortie.value.phase:
        return ""
    said = answer_words.sortie(found)
    return f"sortie: {said.figure}, {said.word}"


def _people_more(found: Answers, board: list[WordedAnswer]) -> str:
    said = [f"{one.figure} {one.word}" for one in board]
    return " · ".join(filter(None, (*said, answer_words.told_age(found))))


def _answer(said: WordedAnswer, name: str, more: str) -> str:
    css = "answer late" if said.late else "answer"
    return f'<div class="{css}"{_key(said)}>{_figure(said)}{_word(said, name)}{_more(more)}</div>'


def _key(said: WordedAnswer) -> str:
    return f' data-answer="{escape(said.key)}"'


def _figure(said: WordedAnswer) -> str:
    unit = f" <small>{escape(said.unit)}</small>" if said.unit else ""
    return f'<span class="figure">{escape(said.figure)}{unit}</span>'


def _word(said: WordedAnswer, name: str = "") -> str:
    return f'<span class="word">{escape(name + said.word)}</span>'


def _more(text: str) -> str:
    return f'<span class="more">{escape(text)}</span>' if text else ""


def foot(seen: Seen) -> None:
    """Show the gravest trouble in full, then the next decision, what is late, and how old it is.

    A process that is gone is said at once, with its age.
    """
    place(FOOT, seen, foot_html(seen))


def foot_html(seen: Seen) -> str:
    """Return the foot; every text in it is escaped here."""
    rings = sound.told(seen)
    return f'<div class="mp-w" role="alert"{rings}><div class="foot">{_foot(seen)}</div></div>'


def _foot(seen: Seen) -> str:
    at = seen.moment.at
    troubles = [
        *health.sentences(seen),
        *(alarm.words(at) for alarm in events.untaken(seen.watch)),
    ]
    left = ""
    if troubles:
        more = len(troubles) - 1
        count = f" · {more} more {'alarm' if more == 1 else 'alarms'}" if more else ""
        said = shortened(fitting(troubles[0], MOST_SAID), MOST_SAID)
        left = f'<div class="alert">{words(said + count)}</div>'
    return f"{left or '<div></div>'}<div>{''.join(words(one) for one in due_lines(seen))}</div>"


def due_lines(seen: Seen) -> list[str]:
    """Return the next decision, what is late, and the stalest feed, each as a few words.

    How late and how many stand first: a name may be cut at the edge.
    """
    at = seen.moment.at
    lines = []
    decision = answer_words.next_decision(seen.answers)
    if decision.known:
        lines.append(f"{decision.figure} {shortened(decision.word, 40)}")
    late = seen.watch.overdue
    if late:
        others = f" (and {len(late) - 1} more)" if len(late) > 1 else ""
        first = late[0]
        lines.append(f"OVERDUE {duration_words(at - first.at)}{others}: {first.sort}, {first.who}")
    lines += events.taken_lately(seen, seen.watch)[:1]
    oldest = answer_words.oldest(seen.answers)
    lines.append(f"{oldest.figure} {oldest.word}")
    return [*lines, *layer_lines(seen)]


def layer_lines(seen: Seen) -> list[str]:
    """Return what layers have declared for the wall, a line each."""
    said = [
        layer.wall_line(shown.result)
        for layer in IN_WORDS
        if layer.wall_line and (shown := seen.picture.shown(layer.key)) is not None
    ]
    return [shortened(text, 40) for text in said if text]


def shortened(said: str, most: int) -> str:
    """Return a text as long as there is room, cut behind a whole word and with dots there."""
    return said if len(said) <= most else f"{said[:most].rpartition(' ')[0]}…"
