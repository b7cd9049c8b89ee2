"""What of a line can be told when the words that nothing knows are left out: offered, never taken.

Whoever presses it reads what is left out beside it, and reads the record back once more. No such
answer stands where a word that is left out could turn the rest round: *not*, *or*, *wrong*.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from layers.heard.compete import compete
from layers.heard.fitted import Fitted
from layers.heard.grammar import Grammar
from layers.heard.names import LineContext
from layers.heard.parts import LinePart
from layers.heard.result import Ask
from layers.heard.values import NO_NAME

# words that turn round, doubt, plan or take back what stands beside them
TURNING = NO_NAME.union(
    [
        "wrong",
        "false",
        "mistaken",
        "mistake",
        "error",
        "should",
        "instead",
        "corrected",
        "corr",
        "correction",
        "cancelled",
        "forecast",
        "possible",
        "probable",
        "likely",
        "relays",
        "relayed",
        "passes",
        "passed",
    ],
    [
        "before",
        "after",
        "until",
        "till",
        "except",
        "but",
        "expected",
        "expects",
        "planned",
        "plans",
        "ordered",
        "intends",
    ],
    [
        "will",
        "would",
        "could",
        "may",
        "might",
        "can",
        "cannot",
        "can't",
        "reciprocal",
        "opposite",
        "plus",
        "minus",
        "than",
        "over",
    ],
    [
        "under",
        "below",
        "above",
        "least",
        "most",
        "only",
        "almost",
        "nearly",
        "nothing",
        "nobody",
        "none",
        "nil",
        "zero",
        "died",
    ],
    [
        "drowned",
        "dead",
        "previous",
        "last",
        "first",
        "second",
        "next",
        "other",
        "another",
        "both",
        "half",
        "old",
        "stale",
        "gone",
    ],
    [
        "left",
        "says",
        "told",
        "tell",
        "thinks",
        "believes",
        "suspected",
        "drill",
        "practice",
        "test",
        "reverse",
        "towards",
    ],
    [
        "toward",
        "away",
        "ahead",
        "astern",
        "local",
        "near",
        "between",
        "around",
        "unknown",
        "unconfirmed",
        "rumour",
        "drop",
    ],
    [
        "dropped",
        "fewer",
        "more",
        "less",
        "late",
        "early",
        "delayed",
        "again",
        "still",
        "every",
        "each",
        "times",
        "x",
    ],
    [
        "did",
        "does",
        "do",
        "stopped",
        "stops",
        "ceased",
        "ended",
        "faded",
        "longer",
        "gauge",
        "bottom",
        "aborted",
        "exceeded",
        "received",
        "came",
        "arrived",
        "rising",
        "falling",
        "up",
        "down",
        "easing",
        "building",
        "increasing",
        "decreasing",
        "changed",
        "thought",
        "back",
        "seat",
        "vacuum",
        "asks",
        "whether",
        "denies",
    ],
)
MOST = 3  # words left out: of more the rest is no line any more


def left_out(
    segment: str,
    parts: Sequence[LinePart],
    words: Sequence[str],
    grammar: Grammar,
    around: LineContext,
) -> Ask:
    """Return the question of the words that nothing knows, with what the rest of the line tells.

    Parameters
    ----------
    segment : str
        The line.
    parts : sequence of LinePart
        Of the whole line.
    words : sequence of str
        What nothing knows, as it stands in the line.
    """
    about = f"not understood: {', '.join(words)}"
    part = words[0] if len(words) == 1 else ""
    unknown = [one for one in parts if one.sort == "unknown"]
    turned = any(w in TURNING for one in unknown for w in one.text.lower().split())
    if (
        turned
        or len(unknown) > MOST
        or _weighs(parts, segment)
        or any(one.text.startswith("«") or one.prep for one in unknown)
    ):
        return Ask(about=about, part=part)
    rest = [one for one in parts if one.sort != "unknown"]
    ways = [way for way in compete(rest, grammar, around.now) if not way.shared_ships]
    if not ways or not all(_surely(one) for way in ways for one in way.drafts):
        return Ask(about=about, part=part)
    line = segment
    for word in words:
        line = re.sub(rf"\s*(?<!\w){re.escape(word)}(?!\w)", "", line, count=1).strip()
    said = f"{line} (left out: {' '.join(words)})"
    return Ask(about=about, readings=(said,), lines=(line,), part=part)


def _weighs(parts: Sequence[LinePart], segment: str) -> bool:
    """Whether a word that nothing knows may say what a figure beside it is, or who told it.

    Force 7, 2 tons; KINGFISHER relays ALTAIR.
    """
    for at, part in enumerate(parts):
        if part.sort != "unknown":
            continue
        beside = [one for one in parts[max(at - 1, 0) : at + 2] if one.sort == "number"]
        if any(len(one.text) < 4 for one in beside):
            return True
        if len(part.text) > 2 and part.text.isupper() and not segment.isupper():
            return True
    return False


def _surely(one: Fitted) -> bool:
    """Whether a word of its own called it, and it lacks at most one thing that is then asked."""
    return bool(one.bound) and one.own_word and len(one.lacking) < 2
