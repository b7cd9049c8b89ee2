"""A line into parts, from left to right, the longest and strictest form first.

Every letter of the line ends in a part; what nothing knows is a part too, and is asked for.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import replace

from layers.earth.errors import InputError, TwoReadings
from layers.earth.said import quantity
from layers.earth.said.direction import told_direction
from layers.earth.said.parse import parse_position
from layers.heard.grammar import Grammar
from layers.heard.names import LineContext
from layers.heard.parts import Doubt, Figures, LinePart, Meaning

_FILLERS = """
dissub declared a am an and are as been being currently gives had has have her him is it its
measured now observed please presently read reading reads report reported reporting reports said
says she that the them then there this was were whom with
"""
FILLERS = frozenset(_FILLERS.split())
PREPS = ("from", "to", "by", "at", "in", "on", "of", "into", "until", "till", "since", "aboard",
         "onto", "out of", "off", "through", "for")  # fmt: skip
ABOUT = frozenset({"about", "approximately", "approx", "roughly", "estimated"})
_NEAR = re.compile(r"near(?=\s+\d)", re.IGNORECASE)  # near 0630N 08130E: said to be about
_SPACE = re.compile(r"[\s\"“”]+")
_COMMA = re.compile(r"(?:[,.:]+(?=\s|$)|\s[-–—]\s)")
_PREPOSITIONAL = re.compile(r"within|good to|accurate|plus or minus|\+/-|±", re.IGNORECASE)
_WORD = re.compile(r"[^\s,;:]+")
# a ship's name with small words within, in capitals: PRIDE OF ORKNEY
_OF_THE = re.compile(r"[A-Z][A-Z'’.-]+(?:\s+(?:OF|A|THE))+\s+[A-Z][A-Z'’.-]+(?![\w'’])")
_ANGLE = (
    r"(?:lat(?:itude)?\.?\s*|long?(?:itude)?\.?\s*)?"
    r"\d{1,7}(?:[.,]\d+)?"
    r"(?:(?:\s*(?:°|degrees?\b|degs?\b)\s*|[\s-]+)\d{1,2}(?:\.\d+)?"
    r"(?:\s*(?:['’′]|minutes?\b|mins?\b)\s*)?){0,2}"
    r"\s*(?:['’′\"″°]|degrees?\b|degs?\b|minutes?\b|mins?\b|seconds?\b)?\s*"
)
_LETTER = r"(?:N|S|E|W|north|south|east|west)(?![A-Za-z0-9])"
_BEHIND = re.compile(rf"{_ANGLE}{_LETTER}[\s,/]*(?:and\s+)?{_ANGLE}{_LETTER}", re.IGNORECASE)
_BEFORE = re.compile(
    rf"\b(?:N|S|E|W)\s*{_ANGLE.replace('(?:lat', '(?:_lat')}[\s,/]*\b(?:N|S|E|W)\s*"
    r"\d{1,7}(?:\.\d+)?(?:(?:\s*°\s*|[\s-]+)\d{1,2}(?![\dA-Z])(?:\.\d+)?(?:\s*['’′])?){0,2}(?:\s*['’′\"″])?",
    re.IGNORECASE,
)
_UNLETTERED = re.compile(r"\d{4}(?:\.\d+)?\s+\d{5}(?:\.\d+)?(?![\w.])")
_FIGURES = r"(?:\d+(?:[.,]\d+)*)"
_TIMES = re.compile(
    r"""(?:
      \d{4}-\d{2}-\d{2}[T\s]\d{2}:\d{2}(?::\d{2}(?:\.\d+)?)?\s?(?:Z|[+-]\d{2}:?\d{2})
    | \d{6}\s?[A-Z]\s?(?:JAN|FEB|MAR|APR|MAY|JUN|JUL|AUG|SEP|OCT|NOV|DEC)[A-Z]*
      (?:\s\d{4}|\s?\d{2})?(?!\d)
    | \d{1,2}\s(?:JAN(?:UARY)?|FEB(?:RUARY)?|MAR(?:CH)?|APR(?:IL)?|MAY|JUNE?|JULY?|AUG(?:UST)?
      |SEPT?(?:EMBER)?|OCT(?:OBER)?|NOV(?:EMBER)?|DEC(?:EMBER)?)(?:\s\d{4})?,?\s(?:at\s)?
      \d{2}:?\d{2}\s?(?:Z|UTC|GMT|zulu)?(?![\w:])
    | (?:yesterday|today|tomorrow)\s(?:at\s)?\d{2}:?\d{2}\s?(?:Z|UTC|GMT|zulu|local)?\b
    | (?:\d{4}\s?(?:Z|UTC|GMT|zulu)?|\d{2}:\d{2}\s?Z?)\s(?:yesterday|today|tomorrow)\b
    | \d{1,2}\s\d{4}\s?(?:Z|UTC|GMT|zulu)\b
    | (?:\d{6}|\d{4})\s?
      (?:Z|UTC|GMT|zulu|local|(?-i:(?<=\d)[A-FIKLOPQUVXY])(?=[\s,;.]|$))(?![A-Za-z])
    | \d{1,2}:\d{2}\s?(?:Z|UTC|GMT|zulu|local)?(?![\w:])
    | \d{1,3}(?:\.\d+)?\s?(?:h|hours?|min|minutes?|mins)\sago\b
    | in\s\d{1,3}(?:\.\d+)?\s?(?:h|hrs?|hours?|min|minutes?|mins)\b
    | [-−]\s?\d{1,3}\s?(?:min|mins|minutes|h)\b
    | (?:just\s)?now\b
    )""",
    re.VERBOSE | re.IGNORECASE,
)
_ZULU_BEFORE = re.compile(
    r"(?:zulu\s+)?time\s+(\d{4})\s*(Z|UTC|zulu)?(?![\w.])|zulu\s+time\s+(\d{4})\b", re.IGNORECASE
)
_RELATIVE = re.compile(
    r"(?:red|green)\s*\d{1,3}(?:\.\d+)?(?:\s*(?:°|degrees?))?\b|"
    r"\d{1,3}(?:\s*(?:°|degrees?))?\s+on\s+(?:the|my|her|his|our|its)?\s*(?:port|starboard|stbd)"
    r"(?:\s+bow)?\b|\bR\s?\d{3}(?:\.\d+)?\b|\d{3}(?:\.\d+)?\s*°?\s*(?:relative|R)\b(?!\s*(?:red|green|\d))",
    re.IGNORECASE,
)
_DIRECTION = re.compile(
    rf"{_FIGURES}\s*(?:°|degrees?|degs?)?\s*(?:T|M|G|true|magnetic|mag|grid)(?![\w°])",
    re.IGNORECASE,
)
_DEGREES = re.compile(rf"({_FIGURES})\s*(?:°|degrees?\b|degs?\b)(?!\s*[CF]\b)", re.IGNORECASE)
_PAIR = re.compile(
    rf"(\d{{3}})\s*(?:°?T\s*)?/\s*({_FIGURES})(?:\s*(kn|kts?|knots?|m/s))?(?![\w/])", re.IGNORECASE
)
_PAIR_AT = re.compile(rf"(\d{{3}})\s+at\s+({_FIGURES})\s*(kn|kts?|knots?)(?!\w)", re.IGNORECASE)
_SPAN = re.compile(
    r"(\d{4}|\d{2}:\d{2})\s?(Z|UTC)?\s?[-–]\s?(\d{4}|\d{2}:\d{2})\s?(Z|UTC)?(?![\w])", re.IGNORECASE
)
_NUMBER = re.compile(rf"[#№]?\s?{_FIGURES}(?![\w])|[-−+]{_FIGURES}(?![\w])", re.IGNORECASE)
_PRESSURE_UNIT = (
    r"(?:bar\s?a(?:bs(?:olute)?)?|bar\s?g(?:auge|age)?|ata|"
    r"(?:bars?|mbar|millibars?|hpa|kpa|atm(?:ospheres?)?|msw|fsw)(?:\s+(?:abs(?:olute)?|gauge|gage|a|g))?)"
)
_SURFACE = r"(?:percent|per\s+cent|%)\s*(?:sev|surface\s+equivalent)|%?\s*sev"


def _unit_pattern() -> str:
    spelled = {
        way
        for sort in (
            quantity.LENGTH, quantity.SPEED, quantity.SPAN, quantity.MASS, quantity.VOLUME,
            quantity.SHARE, quantity.PARTS, quantity.FREQUENCY, quantity.LEVEL, quantity.POWER,
            quantity.ENERGY, quantity.FLOW, quantity.TEMPERATURE, quantity.COUNT,
        )
        for way in sort.spelled
        if way and way not in ("one", "degrees")
    }  # fmt: skip
    ways = sorted(spelled, key=len, reverse=True)
    return "|".join(re.escape(way).replace(r"\ ", r"\s+") for way in ways)


_QUANTITY = re.compile(
    rf"({_FIGURES})\s*(({_PRESSURE_UNIT})|({_SURFACE})|(?:{_unit_pattern()}))(?![\w³])",
    re.IGNORECASE,
)


def scan(text: str, grammar: Grammar, around: LineContext) -> list[LinePart]:
    """Return the parts of one line without semicolons, in their order."""
    parts: list[LinePart] = []
    at = 0
    steps: tuple[Callable[[str, int], tuple[LinePart | list[LinePart], int] | None], ...] = (
        around.match, _position, _span, _time, _relative, _direction, _pair,
        _quantity, lambda line, start: _phrase(line, start, grammar), _number,
    )  # fmt: skip
    while at < len(text):
        if found := _SPACE.match(text, at):
            at = found.end()
            continue
        if found := _COMMA.match(text, at):
            parts.append(LinePart(sort="comma", text=found[0].strip()))
            at = found.end()
            continue
        if text[at] in ",:()[]!?":
            parts.append(LinePart(sort="comma", text=text[at]))
            at += 1
            continue
        for step in steps:
            made = step(text, at)
            if made is not None:
                more, at = made
                parts += more if isinstance(more, list) else [more]
                break
        else:
            word = _OF_THE.match(text, at) or _WORD.match(text, at)
            assert word is not None
            near = _NEAR.match(text, at)
            at = word.end()
            parts.append(LinePart(sort="filler", text=word[0], value="about") if near
                         else _word(word[0]))  # fmt: skip
    return [_hers(part) for part in _with_preps(parts)]


def _hers(part: LinePart) -> LinePart:
    """Return her own name as a word that adds nothing; *from* her, *to* her is asked."""
    if part.sort != "name" or not all(name.hers for name in part.value):
        return part
    return LinePart(sort="unknown" if part.prep else "filler", text=part.text)


def _word(word: str) -> LinePart:
    plain = word.lower().strip(".!?'’")
    if plain in FILLERS or plain in ABOUT:
        return LinePart(sort="filler", text=word, value="about" if plain in ABOUT else None)
    if plain in PREPS:
        return LinePart(sort="prep", text=plain)
    return LinePart(sort="unknown", text=word.strip(".!?"))


def _with_preps(parts: Sequence[LinePart]) -> list[LinePart]:
    """Return the parts with each preposition noted on what it stands before.

    One that holds nothing (the end, another preposition) is left: a word was lost there.
    """
    out: list[LinePart] = []
    held = ""
    for part in parts:
        if part.sort == "prep":
            if held:
                out.append(LinePart(sort="unknown", text=held))
            held = part.text
        elif part.sort == "filler":
            out.append(part)
        elif part.sort == "comma":
            if held:
                out.append(LinePart(sort="unknown", text=held))
            held = ""
            out.append(part)
        else:
            if held and part.sort == "phrase" and _PREPOSITIONAL.match(part.text):
                out.append(LinePart(sort="unknown", text=held))
                held = ""
            out.append(replace(part, prep=held) if held else part)
            held = ""
    if held:
        out.append(LinePart(sort="unknown", text=held))
    return out


def _position(text: str, at: int) -> tuple[LinePart, int] | None:
    for pattern in (_BEHIND, _BEFORE):
        found = pattern.match(text, at)
        if found is None:
            continue
        said = found[0].strip().rstrip(",")
        if re.match(r"long?", said, re.IGNORECASE) and re.search(r"[NS]", said.split()[1], re.I):
            continue  # an oil slick 1 mile long 3544S 11643E: the word is not of the latitude
        numbers = [len(re.findall(r"\d+(?:\.\d+)?", half)) for half in _halves(said)]
        if len(numbers) == 2 and numbers[0] > numbers[1] and numbers[0] > 1:
            continue  # the figure in front is not of the position
        return _placed(said), found.end()
    if found := _UNLETTERED.match(text, at):
        lat, lon = found[0].split()
        readings = tuple(f"{lat}{ns} {lon}{ew}" for ns in "NS" for ew in "EW")
        doubt = Doubt(about=f"{found[0]}: north or south, east or west?", readings=readings)
        return LinePart(sort="doubt", text=found[0], doubt=doubt), found.end()
    return None


def _halves(said: str) -> list[str]:
    if re.match(r"[NSEW]", said, re.IGNORECASE):
        return [half for half in re.split(r"[NSEWnsew]", said) if re.search(r"\d", half)]
    words = re.split(r"(?:north|south|east|west|[NSEW])(?![A-Za-z])", said, flags=re.IGNORECASE)
    return [half for half in words if re.search(r"\d", half)]


def _has_minutes(half: str) -> bool:
    numbers = re.findall(r"\d+(?:\.\d+)?", half)
    return len(numbers) > 1 or len(numbers[0].partition(".")[0]) > 3


def _placed(said: str) -> LinePart:
    plain = re.sub(r"\s+and\s+", " ", said, flags=re.IGNORECASE)
    halves = _halves(said)
    if len(halves) == 2 and _has_minutes(halves[0]) != _has_minutes(halves[1]):
        about = f"{said}: minutes stand in one of the two angles only; a figure lost?"
        return LinePart(sort="doubt", text=said, doubt=Doubt(about=about))
    if swapped := _decimal_minutes(plain):
        return LinePart(sort="doubt", text=said, doubt=swapped)
    if re.search(r"\d,\d", plain):
        plain = re.sub(r"(\d),(\d)", r"\1.\2", plain)
    try:
        return LinePart(sort="position", text=said, value=parse_position(plain))
    except InputError as reason:
        lost = "figures; one is lost" in reason.what
        about = f"{said}: {reason.what.split(': ', 1)[-1]}"
        if lost:
            about = f"{said}: latitude has 4 figures and longitude 5; lost, or exchanged?"
        return LinePart(sort="doubt", text=said, doubt=Doubt(about=about, refused=not lost))


def _decimal_minutes(said: str) -> Doubt | None:
    """``43.20N 008.40E`` may be degrees and minutes with a point between."""
    found = re.fullmatch(
        r"(\d{1,2})\.([0-5]\d)\s*([NS])[\s,/]+(\d{1,3})\.([0-5]\d)\s*([EW])", said, re.IGNORECASE
    )
    if found is None:
        return None
    a, b, ns, c, d, ew = found.groups()
    return Doubt(
        about=f"{said}: degrees with decimals, or degrees and minutes?",
        readings=(f"{a}.{b}000{ns} {c}.{d}000{ew}", f"{a} {b}{ns} {c} {d}{ew}"),
    )


def _span(text: str, at: int) -> tuple[list[LinePart], int] | None:
    found = _SPAN.match(text, at)
    if found is None:
        return None
    zone = found[2] or found[4] or ""
    start = LinePart(sort="time", text=found[1] + zone, value=found[1] + zone, prep="from")
    end = LinePart(sort="time", text=found[3] + zone, value=found[3] + zone, prep="until")
    return [start, end], found.end()


def _time(text: str, at: int) -> tuple[LinePart, int] | None:
    if found := _ZULU_BEFORE.match(text, at):
        said = (found[1] or found[3]) + "Z"
        return LinePart(sort="time", text=found[0], value=said), found.end()
    found = _TIMES.match(text, at)
    if found is None or (at and text[at - 1].isalnum()):
        return None
    said = found[0].strip()
    if said.lower() == "just now":
        said = "now"
    return LinePart(sort="time", text=said, value=said), found.end()


def _relative(text: str, at: int) -> tuple[LinePart, int] | None:
    found = _RELATIVE.match(text, at)
    if found is None or (at and text[at - 1].isalnum()):
        return None
    return _told(found[0]), found.end()


def _direction(text: str, at: int) -> tuple[LinePart, int] | None:
    found = _DIRECTION.match(text, at)
    if found is None:
        return None
    said = found[0]
    figures = re.match(_FIGURES, said)
    assert figures is not None
    whole = re.split(r"[.,]", figures[0])[0]
    letter = said.rstrip()[-1]
    glued = len(said) > len(figures[0]) and not said[len(figures[0])].isspace()
    if letter in "mM" and float(whole) > 360.0:
        return None  # metres
    if letter in "mMtT" and (len(whole) != 3 or (letter in "mt" and not glued)):
        # "9.4 M" and "12 t" are a length and a mass; a direction has three figures
        if letter in "mtM" or len(whole) > 3:
            return None
        shown = f"{figures[0]:0>3}{letter}"
        doubt = Doubt(about=f"{said}: three figures?", readings=(shown,))
        return LinePart(
            sort="direction", text=said, value=(float(whole), ""), doubt=doubt
        ), found.end()
    return _told(said), found.end()


def _told(said: str) -> LinePart:
    try:
        return LinePart(sort="direction", text=said, value=told_direction(said))
    except TwoReadings as doubt:
        about = Doubt(about=f"{said}: {' or '.join(doubt.readings)}?", readings=doubt.readings)
        return LinePart(sort="doubt", text=said, doubt=about)
    except InputError as reason:
        about = Doubt(about=f"{said} is no bearing: {reason.what}", refused=True)
        return LinePart(sort="doubt", text=said, doubt=about)


def _pair(text: str, at: int) -> tuple[LinePart, int] | None:
    found = _PAIR.match(text, at) or _PAIR_AT.match(text, at)
    if found is None or (at and text[at - 1].isalnum()):
        return None
    both = (Figures(figures=found[1]), Figures(figures=found[2], unit=found[3] or "kn"))
    return LinePart(sort="pair", text=found[0], value=both), found.end()


def _quantity(text: str, at: int) -> tuple[LinePart, int] | None:
    found = _QUANTITY.match(text, at)
    if found is None or (at and text[at - 1].isalnum()):
        return None
    unit = "% sev" if found[4] else " ".join(found[2].split())
    run_on = re.fullmatch(r"\d{5}", found[1])
    if run_on and unit.lower() in quantity.SPEED.spelled:
        # spoken on without a stop behind the three figures of a direction: 24025 knots
        both = (Figures(figures=found[1][:3]), Figures(figures=found[1][3:], unit=unit))
        return LinePart(sort="pair", text=found[0], value=both), found.end()
    doubt = None
    if re.fullmatch(r"0\d{3}", found[1]) and unit.lower() in quantity.LENGTH.spelled:
        cut = f"{found[1][:3]} and {found[1][3:]} {unit}"
        doubt = Doubt(about=f"{found[0]}: {cut}, or {found[1]} {unit}?", readings=(cut,))
    value = Figures(figures=found[1], unit=unit)
    return LinePart(sort="quantity", text=found[0], value=value, doubt=doubt), found.end()


def _phrase(text: str, at: int, grammar: Grammar) -> tuple[LinePart, int] | None:
    found = grammar.pattern.match(text, at)
    if found is None or (at and text[at - 1].isalnum()):
        return None
    meanings: tuple[Meaning, ...] = grammar.phrases[" ".join(re.split(r"[\s-]+", found[0].lower()))]
    return LinePart(sort="phrase", text=found[0], value=meanings), found.end()


def _number(text: str, at: int) -> tuple[LinePart, int] | None:
    if found := _DEGREES.match(text, at):
        return LinePart(
            sort="number", text=found[0], value=Figures(figures=found[1], unit="°")
        ), found.end()
    found = _NUMBER.match(text, at)
    if found is None:
        return None
    said = found[0].lstrip("#№ ").replace("−", "-")
    return LinePart(sort="number", text=found[0], value=Figures(figures=said)), found.end()
