"""Working windows as they are said on the telephone and written beside the place."""

from __future__ import annotations

from datetime import datetime

from layers.earth.clock import clock_words, relative_words
from layers.weather.result import WeatherResult
from layers.weather.sea.dive import Dive
from layers.weather.sea.windows import OperationOutlook, Window


def dive_words(dive: Dive) -> str:
    """Return whether the sea lets a sortie begin: ``sea for a dive: NO until 170346Z``."""
    if dive.open is None:
        return "sea for a dive: ?"
    if dive.in_doubt:
        return f"sea for a dive: ? {dive.because.split(';')[0]}"
    figure, end = ("YES", dive.until) if dive.open else ("NO", dive.begins)
    until = f" until {clock_words(end, dive.at)}" if end else ""
    return f"sea for a dive: {figure}{until}"


def windows_words(result: WeatherResult) -> str:
    """Return the label of the place: may a whole sortie begin; nothing where no limit is set."""
    if result.dive_withheld:
        return ""
    return dive_words(result.dive) if result.limits or result.dive.sortie.parts else ""


def short_words(each: OperationOutlook, now: datetime) -> str:
    """Return one operation's window in the fewest words, and what is not counted in it."""
    return f"{_short(each, now)}{_not_counted(each)}"


def _not_counted(each: OperationOutlook) -> str:
    """Return the limits that nothing known is held against: an open window may be shut by them."""
    if not each.unchecked or not each.windows:
        return ""
    return f", {' and '.join(each.unchecked)} not known and not counted"


def _short(each: OperationOutlook, now: datetime) -> str:
    first = next(iter(each.windows), None)
    if first is None:
        return f"{each.operation}: {'no forecast' if each.unforecast else 'no window seen'}"
    if not first.open_now:
        return f"{each.operation} from {clock_words(first.opens, now)}"
    if first.closes is None:
        return f"{each.operation} open"
    return f"{each.operation} to {clock_words(first.closes, now)}"


def window_sentence(each: OperationOutlook, now: datetime) -> str:
    """Return one operation's window as a clause that can be read out."""
    return f"{_sentence(each, now)}{_not_counted(each)}"


def _sentence(each: OperationOutlook, now: datetime) -> str:
    if not each.windows:
        if each.unforecast:
            now_is = (
                f"outside now for {' and '.join(each.binding)}" if each.binding else "within now"
            )
            return f"{each.operation}: {now_is}; {each.why_none}, so no window ahead is known"
        why = f", outside now for {' and '.join(each.binding)}" if each.binding else ""
        return f"no {each.operation} window is seen to the end of the forecast{why}"
    first = each.windows[0]
    if not first.open_now:
        if each.within_now:  # within limits, but not for as long as the operation takes
            short = (
                f"{each.operation} is within limits but no longer for {each.limit.duration_h:g} h"
            )
            return f"{short}; the window opens {_when(first.opens, now)}"
        return f"{each.operation} window opens {_when(first.opens, now)}"
    if first.closes is None:
        return f"{each.operation} window is open to the end of the forecast"
    return f"{each.operation} window closes {_when(first.closes, now)}{decision_words(first, now)}"


def decision_words(window: Window, now: datetime) -> str:
    """Return by when to decide, or that it is too late for this window."""
    if window.decide_by is None:
        return ""
    if window.decide_by < now:
        return ", too late now to decide for it"
    return f", decide by {clock_words(window.decide_by, now)}"


def _when(at: datetime, now: datetime) -> str:
    return f"{relative_words(at, now)} ({clock_words(at, now)})"
