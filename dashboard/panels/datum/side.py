"""The side of the Search page: where, what to ask first, what to steer next, the reports."""

from __future__ import annotations

from contextvars import ContextVar
from html import escape

import streamlit as st

from dashboard.panels.text import caution
from layers.answers import Answers
from layers.datum.result import Adrift, DatumResult, Evidence, Planned, SearchPlan
from layers.earth.clock import clock_words, duration_words, hhmm
from layers.earth.said.written import distance_words
from layers.earth.told import PersonsNow
from layers.earth.uncertain import chance_words
from layers.earth.units import M_PER_NMI

SHOWN = 8  # reports that stand open; the rest are in the folded list


def show(result: DatumResult, sentence: str, answers: Answers) -> None:
    """Show what the page is about: her until she is found, then who is adrift.

    How many are adrift now is the muster's answer; an object's own number is of when it was told.
    """
    _parts.set([])
    if result.is_fix:
        found = [item for item in result.adrift if item.still_sought]
        _found(result, found, sentence, answers)
        plans = [plan for plan in result.plans if plan.object in {item.name for item in found}]
    else:
        _lost(result)
        plans = list(result.plans)
    _ask(result, plans)
    for plan in plans:
        _next(plan, result)
    if not plans and (not result.is_fix or result.adrift):
        _html('<div class="mp-quiet">No searcher is told: who can search, from where, how fast, '
              "for how many hours? Add one below.</div>")  # fmt: skip
    if not result.is_fix:
        _reports(result)
    st.markdown("".join(_parts.get()), unsafe_allow_html=True)
    caution(
        "A datum is not a fix. A chance holds if reports and sweep widths are right; a low one is "
        "never a reason to stop. The ship's officer checks every leg."
    )


def about(result: DatumResult) -> Adrift | None:
    """Return whom the page is about once she is found: who is adrift, the most people first."""
    sought = [item for item in result.adrift if item.still_sought]
    if not result.is_fix or not sought:
        return None
    return max(sought, key=lambda item: item.persons or 0)


def _lost(result: DatumResult) -> None:
    reports = "1 report" if result.reports == 1 else f"{result.reports} reports"
    _html(
        f'<div class="mp-big" data-answer="position">Within '
        f"{escape(distance_words(result.radius_95_m))} "
        f'<span class="mp-quiet">95 %, {reports}</span></div>'
        f"<div><b>{escape(str(result.position))}</b> at {hhmm(result.at)}</div>"
        f'<div class="mp-quiet">A datum is not a fix. Last heard '
        f"{escape(clock_words(result.last_heard, result.at))}.</div>"
    )
    if len(result.places) > 1:
        rows = "".join(
            f'<div class="mp-line"><i>{escape(str(place.position))}</i>'
            f"<b>{100.0 * place.share:.0f}</b><small>of 100, 95 % of that within "
            f"{escape(distance_words(place.radius_95_m))}</small></div>"
            for place in result.places
        )
        _html(f"<div>She may be in one of {len(result.places)} places:</div>{rows}")


def _found(result: DatumResult, found: list[Adrift], sentence: str, answers: Answers) -> None:
    rest = "This page looks for:" if found else "Nobody is searched for."
    _html(
        f'<div class="mp-quiet" data-answer="position">She is found. {escape(sentence)}</div>'
        f'<div class="mp-quiet" style="margin:6px 0 10px">{rest}</div>'
    )
    told = sum(item.persons or 0 for item in found)
    now = answers.persons.adrift if isinstance(answers.persons, PersonsNow) else told
    alone = len(found) == 1  # of several objects nobody tells who was picked up from which
    if len(found) > 1:
        _html(f'<div class="mp-big" data-answer="persons.adrift"><b>{now}</b> adrift in all</div>')
    for item in found:
        since = duration_words(result.at - item.from_at)
        counted = alone and now > 0
        key = ' data-answer="persons.adrift"' if counted else ""
        many = f"<b>{now}</b> adrift" if counted else escape(item.name)
        differs = item.persons is not None and not (alone and item.persons == now)
        was = f"; told with {item.persons} at first" if differs else ""
        _html(
            f'<div class="mp-big"{key}><span style="color:var(--people)">{many}</span></div>'
            f"<div><b>{escape(str(item.position))}</b>, 95 % within "
            f"{escape(distance_words(item.radius_95_m))}</div>"
            f'<div class="mp-quiet">{escape(item.object_type)}{was}; drift reckoned '
            f"from {escape(clock_words(item.from_at, result.at))}, {since} ago; "
            f"searches so far would have missed {escape(chance_words(item.still_there))}</div>"
        )
    if found and now == 0:
        _html('<div class="mp-quiet">The muster has nobody adrift; the search stands until '
              "someone says that it ends.</div>")  # fmt: skip


def _ask(result: DatumResult, plans: list[SearchPlan]) -> None:
    """Show the one question that gains most: the report all hangs on, or the lapsed searcher."""
    lapsed = [one for plan in plans for one in plan.lapsed]
    item = None if result.is_fix else _hangs_on(result)
    if item is not None and item.radius_without_m is not None:
        head = f"Ask again: {item.says.partition(' (')[0]}, {clock_words(item.at, result.at)}"
        body = (
            f"95 % within {distance_words(result.radius_95_m)} with it, "
            f"{distance_words(item.radius_without_m)} without. Read it back."
        )
    elif lapsed:
        head, body = f"Ask {lapsed[0].name}", f"{lapsed[0].why}. Ask {lapsed[0].ask}."
    else:
        return
    _html(
        '<div style="border:2px solid var(--ink);padding:8px 12px;margin:6px 0">'
        f"<b>{escape(head)}</b><div class='mp-quiet'>{escape(body)}</div></div>"
    )


def _hangs_on(result: DatumResult) -> Evidence | None:
    """Return the report without which she would be least known, if that is much."""
    counting = [item for item in result.evidence if item.radius_without_m is not None]
    if not counting:
        return None
    best = max(counting, key=lambda item: item.radius_without_m or 0.0)
    return best if (best.radius_without_m or 0.0) > 1.3 * result.radius_95_m else None


def _next(plan: SearchPlan, result: DatumResult) -> None:
    name = "her" if plan.object == "DISSUB" else plan.object
    _html(f"<div style='margin-top:8px'><b>Next search for {escape(name)}</b> "
          f'<span class="mp-quiet">from now; finds, in 100</span></div>')  # fmt: skip
    for item in plan.planned:
        _html(_planned_line(item, result))
    for sent in plan.sent:
        _html(
            f'<div class="mp-line"><i>{escape(sent.searcher)} '
            f"{escape(clock_words(sent.begins, result.at))} to "
            f"{escape(clock_words(sent.ends, result.at))}</i><b>{_in_100(sent.pos)}</b>"
            f"<small>sent: {escape(sent.pattern)}; as it was worth then</small></div>"
        )
    for one in plan.lapsed:
        _html(
            f'<div class="mp-line"><i>{escape(one.name)}</i><b>–</b>'
            f"<small>{escape(one.why)}; ask {escape(one.ask)}</small></div>"
        )
    if len(plan.planned) + len(plan.sent) > 1:
        _html(f'<div class="mp-quiet">All together, if it is there: '
              f"{escape(chance_words(plan.pos))}.</div>")  # fmt: skip


def _planned_line(item: Planned, result: DatumResult) -> str:
    pattern = item.pattern
    spacing = (
        f", {item.spacing_m / M_PER_NMI:.2f} nmi apart" if item.spacing_m else ""
    )  # a sector search has none
    creep = "" if item.creep_true_deg is None else f", creeping {item.creep_true_deg:03.0f}°T"
    legs = sum(pattern.searching)
    height = "" if item.height_m is None else f", at {item.height_m:.0f} m"
    others = "; ".join(f"{kind} {100.0 * pos:.0f}" for kind, pos in item.others)
    return (
        f'<div class="mp-line"><i>{escape(item.searcher.name)} '
        f"{escape(clock_words(item.begins, result.at))} to "
        f"{escape(clock_words(item.ends, result.at))}</i><b>{_in_100(item.pos)}</b>"
        f"<small>{escape(pattern.title)}, {legs} legs, {pattern.track_m / M_PER_NMI:.0f} nmi"
        f"{spacing}{creep}, {pattern.speed_kn:g} kn; leaves for it "
        f"{escape(clock_words(item.leaves_for_it, result.at))}, must leave "
        f"{escape(clock_words(item.must_leave, result.at))}"
        f"{height}{'; else ' + escape(others) if others else ''}</small></div>"
    )


def _in_100(chance: float) -> str:
    """Return a chance as a figure in 100; never 0 and never 100."""
    if chance < 0.01:
        return "&lt;1"
    return "&gt;99" if chance > 0.99 else f"{100.0 * chance:.0f}"


def _reports(result: DatumResult) -> None:
    counting = sorted(
        (item for item in result.evidence if item.radius_without_m is not None),
        key=lambda item: -(item.radius_without_m or 0.0),
    )
    if not counting:
        return
    rows = "".join(
        f'<div class="mp-line"><i style="font-weight:400">{hhmm(item.at)} '
        f"{escape(item.says.partition(' (')[0])}{' ?' if item.disputed else ''}</i>"
        f'<b style="font-size:0.9375rem">{(item.radius_without_m or 0.0) / M_PER_NMI:.1f}</b></div>'
        for item in counting[:SHOWN]
    )
    more = len(counting) - SHOWN
    _html(
        '<div style="margin-top:8px"><b>Reports</b> <span class="mp-quiet">95 % radius without '
        f"it, nmi</span></div>{rows}"
        + (f'<div class="mp-quiet">{more} more below</div>' if more > 0 else "")
    )


_parts: ContextVar[list[str]] = ContextVar("side_parts")


def _html(text: str) -> None:
    """Take a piece of the side: all go out as one block, for blocks of the page overlap."""
    _parts.get().append(text)
