"""Numbers as they are spoken, made figures: digit by digit, tens, hundreds, thousands, decimals.

Sources: IMO Standard Marine Communication Phrases, resolution A.918(22), General (digit by digit,
tree, fower, fife, ait, niner, tousand); ITU Radio Regulations, Appendix 14 (nadazero to novenine,
decimal); ACP 125 (exact thousands). "oh" for zero is taken although it is not the rule.
"""

from __future__ import annotations

import re

from layers.heard.halves import whole_numbers

DIGITS = {
    "zero": "0", "oh": "0", "nadazero": "0", "one": "1", "unaone": "1", "two": "2",
    "bissotwo": "2", "three": "3", "tree": "3", "terrathree": "3", "four": "4", "fower": "4",
    "kartefour": "4", "five": "5", "fife": "5", "pantafive": "5", "six": "6", "soxisix": "6",
    "seven": "7", "setteseven": "7", "eight": "8", "ait": "8", "oktoeight": "8", "nine": "9",
    "niner": "9", "novenine": "9",
}  # fmt: skip
TEENS = {
    word: str(value)
    for value, word in enumerate(
        [
            "ten",
            "eleven",
            "twelve",
            "thirteen",
            "fourteen",
            "fifteen",
            "sixteen",
            "seventeen",
            "eighteen",
            "nineteen",
        ],
        10,
    )
}
TENS = {
    word: str(value)
    for value, word in zip(
        range(20, 100, 10),
        ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"],
        strict=True,
    )
}
POINTS = ("point", "decimal")
SCALES = {"hundred": 100, "thousand": 1000, "tousand": 1000}
NUMBER_WORDS = frozenset({*DIGITS, *TEENS, *TENS, *POINTS, *SCALES})
COUNTING = frozenset({*DIGITS, *TEENS, *TENS})
# heard for four, two, eight, one: between figures nobody knows which
LIKE_NUMBERS = frozenset({"for", "fore", "to", "too", "ate", "won"})
_HALF = re.compile(r"\bhalf(?:\s+an?)?(?=\s+(?:mile|cable|hour|cubic)\b)", re.IGNORECASE)
_ONE = re.compile(r"\b(within|good to|accurate to)\s+an?\s+(?=(?:nautical\s+)?(?:mile|cable)\b)",
                  re.IGNORECASE)  # fmt: skip
_KNOTS = r"(?:kn|kts?|knots?)\b"
_WORDS = "|".join(sorted(COUNTING, key=len, reverse=True))
_COUNT = rf"\d{{1,2}}(?:\.\d)?|(?:{_WORDS})(?:[ -](?:{_WORDS}))?"
_SPEEDS = re.compile(
    rf"\b(?P<cue>(?:speed|spd|making|doing|proceeding at)\s+(?:of\s+)?)?(?:between\s+|from\s+)?"
    rf"(?P<least>{_COUNT})\s*(?:{_KNOTS})?\s*(?:to|and|[-–])\s*(?P<most>{_COUNT})(?![\d./])"
    rf"\s*(?P<unit>{_KNOTS})?",
    re.IGNORECASE,
)
_TOKEN = re.compile(r"[A-Za-z]+|\d+(?:[.,]\d+)*|[^A-Za-z\d]+")
_SMEARED = re.compile(r"(?<![A-Za-z0-9.,])[OoIl\d]*\d[OoIl\d]*(?![OoIl\d])")


def figures(text: str) -> str:
    """Return the text with spoken numbers as figures; what may be a number or a word is marked.

    A mark is the word in ``« »``, which nothing else can read: it is asked for.
    """
    text = _SPEEDS.sub(
        _stretch, _HALF.sub("0.5", _ONE.sub(r"\1 1 ", whole_numbers(text, COUNTING)))
    )
    tokens = _TOKEN.findall(text)
    words = [token.lower() for token in tokens]
    out: list[str] = []
    at = 0
    while at < len(tokens):
        word = words[at]
        if word == "figures" and _next_word(words, at) in NUMBER_WORDS:
            at += 2  # the word and the space behind it
            continue
        if word in NUMBER_WORDS and word not in (*POINTS, *SCALES):
            end, run = _run(words, at)
            out.append(_joined(run))
            at = end
            continue
        if word in LIKE_NUMBERS and _between(words, at):
            out.append(f"«{tokens[at]}»")
            at += 1
            continue
        if word.isdigit() and _next_word(words, at) in (*POINTS, *SCALES):
            end, run = _run(words, at)
            out.append(_joined(run))
            at = end
            continue
        out.append(tokens[at])
        at += 1
    return "".join(out)


def _stretch(found: re.Match[str]) -> str:
    """Return *speed 4 to 7* with both ends said; no speed is 427, so the *to* is a word."""
    if not found["cue"] and not found["unit"]:
        return found[0]
    return f"{found['cue'] or ''}{found['least']} kn up to {found['most']} kn"


def _next_word(words: list[str], at: int) -> str:
    return words[at + 2] if at + 2 < len(words) and words[at + 1].strip(" -") == "" else ""


def _run(words: list[str], at: int) -> tuple[int, list[str]]:
    """Return where a run of number words ends, and the words of it."""
    run = [words[at]]
    while True:
        following = _next_word(words, at)
        joins = following in NUMBER_WORDS or (following.isdigit() and run[-1] in POINTS)
        if not joins or (following in POINTS and any(word in POINTS for word in run)):
            return at + 1, run
        at += 2
        run.append(following)


def _joined(run: list[str]) -> str:
    """Return the figures of a run: 215 of two one five, 52 of fifty two, 16000, 3.2."""
    out, at = "", 0
    while at < len(run):
        word = run[at]
        following = run[at + 1] if at + 1 < len(run) else ""
        if word in POINTS:
            out += "." if out else "0."
        elif word in SCALES:
            if "." in out:
                return f"«{'-'.join(run)}»"
            behind = run[at + 1 :]
            whole = int(out or "1") * SCALES[word]
            wide = 4 if re.fullmatch(r"0\d", out) and word == "hundred" else 0  # zero six hundred
            if behind and behind[0] not in POINTS:
                rest = _below(SCALES[word], behind)
                return f"{whole + rest:0{wide}d}" if rest is not None else f"«{'-'.join(run)}»"
            out = f"{whole:0{wide}d}"
        elif word in TENS and following in DIGITS and DIGITS[following] != "0":
            out += str(int(TENS[word]) + int(DIGITS[following]))
            at += 1
        else:
            out += DIGITS.get(word) or TEENS.get(word) or TENS.get(word) or word
        at += 1
    return out


def _below(scale: int, run: list[str]) -> int | None:
    """Return the one number below a scale that follows it, None if that is not one number."""
    text = _joined(run)
    return int(text) if text.isdigit() and int(text) < scale else None


def _between(words: list[str], at: int) -> bool:
    """Whether a word stands between two numbers; four figures on both sides are two times."""
    before = words[at - 2] if at >= 2 and words[at - 1].strip(" -") == "" else ""
    following = _next_word(words, at)
    both = (before in NUMBER_WORDS, following in NUMBER_WORDS)
    if not all(both):
        return False
    return not (
        words[at] == "to" and _length_before(words, at) >= 4 and _length_after(words, at) >= 4
    )


def _length_before(words: list[str], at: int) -> int:
    run, at = 0, at - 2
    while at >= 0 and words[at] in NUMBER_WORDS:
        run, at = run + 1, at - 2
    return run


def _length_after(words: list[str], at: int) -> int:
    run, at = 0, at + 2
    while at < len(words) and words[at] in NUMBER_WORDS:
        run, at = run + 1, at + 2
    return run


_ON_BOW = re.compile(
    r"\b(\d{3})(\d{2,3})(?=\s*(?:degrees|°)?\s+on\s+(?:the|my|her)?\s*(?:port|starboard|stbd)\b)",
    re.IGNORECASE,
)


def part_heading(text: str) -> str:
    """Return the text with a heading parted from the degrees on a bow spoken on behind it."""
    return _ON_BOW.sub(r"\1 \2", text)


def mend_letters(text: str) -> tuple[str, bool]:
    """Return the text with O, I and l between figures as 0 and 1, and whether any was there.

    Never in ``o2``, and never a small o before a letter: ``25on board`` and ``06om`` are asked.
    """

    def mend(found: re.Match[str]) -> str:
        run = found[0]
        follows = text[found.end() : found.end() + 1]
        if len(run) < 3 or run.isdigit() or (run.endswith("o") and follows.isalpha()):
            return run
        if run[-1] in "oOIl" and follows.isalpha() and follows.islower() and run[-1] == "O":
            return run
        return run.replace("O", "0").replace("o", "0").replace("I", "1").replace("l", "1")

    mended = _SMEARED.sub(mend, text)
    return mended, mended != text
