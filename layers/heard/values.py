"""What a part is worth for a role, the value that it gives, and what must be asked about it."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from layers.earth.clock import clock_words
from layers.earth.errors import InputError
from layers.earth.said import quantity
from layers.earth.said.direction import direction_printed
from layers.earth.said.quantity import figure, printed, readings
from layers.earth.said.times import SLACK, told_time
from layers.earth.said.written import dm_text
from layers.heard.parts import Doubt, Figures, LinePart
from layers.heard.when import shown_time, which_day
from layers.journal.words.heard import Name, Slot

SAID, TAKEN, ASKED, NOT = 3, 2, 1, 0  # what a value is worth in a role
# negation, alternatives and doubt, which no name begins with
NO_NAME = frozenset({"or", "not", "no", "nor", "if", "lost", "either", "neither", "maybe",
                     "perhaps", "overdue", "missing", "sunk", "silent", "unless", "possibly",
                     "without", "never"})  # fmt: skip
# a word before a name, never one: boat on the surface
NOT_A_NAME = re.compile(
    r"on|in|at|to|from|by|off?|for|into|aboard|up|down|a(?:float|shore|ground|drift|wash|live)|safe|"
    r"fine|ok(?:ay)?|gone|found|bottom|surface|dead|well|intact|deep|shallow|stuck|here|there|near|still|quiet|"
    r"whole|[a-z]+(?:ing|ed|ly)"  # boat sinking
)
GASES = {"%": "percent", "percent": "percent", "per cent": "percent", "pct": "percent",
         "% sev": "sev_percent", "kpa": "kPa", "mbar": "mbar", "millibar": "mbar"}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Bound:
    """A role with the value that a part gave it.

    ``shown`` is how it is written so that it reads back to the same; ``words`` how it is said.
    """

    role: Slot
    value: Any
    part: LinePart | None
    shown: str
    words: str = ""
    doubts: tuple[Doubt, ...] = ()
    worth: int = SAID


def worth(role: Slot, part: LinePart) -> int:
    """Return what a part is worth for a role: 3 said, 2 taken, 1 must be asked, 0 can not be."""
    return {
        "position": _worth_position, "time": _worth_time, "direction": _worth_direction,
        "quantity": _worth_quantity, "pressure": _worth_pressure, "gas": _worth_gas,
        "count": _worth_count, "number": _worth_number, "record": _worth_record,
        "name": _worth_name, "word": _worth_word,
    }.get(role.sort, lambda _role, _part: NOT)(role, part)  # fmt: skip


def _worth_position(role: Slot, part: LinePart) -> int:
    return SAID if part.sort == "position" else NOT


def _worth_time(role: Slot, part: LinePart) -> int:
    if part.sort == "time":
        return SAID
    bare = part.sort == "number" and not part.value.unit
    return TAKEN if bare and re.fullmatch(r"\d{4}", part.value.figures) else NOT


def _worth_direction(role: Slot, part: LinePart) -> int:
    if part.sort == "direction":
        return ASKED if part.doubt or (role.alone and part.value[1] == "magnetic") else SAID
    if part.sort != "number" or part.value.unit not in ("", "°"):
        return NOT
    figures = part.value.figures
    if re.fullmatch(r"\d{3}(?:\.\d{1,2})?", figures):
        return TAKEN if role.alone else ASKED
    return ASKED if re.fullmatch(r"\d{1,2}", figures) else NOT


def _worth_quantity(role: Slot, part: LinePart) -> int:
    assert role.measure is not None
    if part.sort == "number" and part.value.unit == "°":
        return SAID if role.measure in (quantity.ANGLE, quantity.TEMPERATURE) else NOT
    if part.sort == "number" and not re.fullmatch(r"0\d+", part.value.figures):
        return TAKEN if role.alone else ASKED
    if _capital_m(part) and role.measure is quantity.LENGTH:
        return SAID
    if part.sort != "quantity":
        return NOT
    unit = part.value.unit
    if unit == "M" and role.measure is quantity.LENGTH:
        return SAID
    return SAID if " ".join(unit.lower().split()) in role.measure.spelled else NOT


def _capital_m(part: LinePart) -> str:
    """Return the figures of ``142 M``: a length in capitals, or a magnetic direction."""
    found = re.fullmatch(r"(\d{3}) +M", part.text) if part.sort == "direction" else None
    return found[1] if found else ""


def _worth_pressure(role: Slot, part: LinePart) -> int:
    if part.sort != "quantity":
        return ASKED if part.sort == "number" else NOT
    return SAID if quantity.pressure_parts(part.value.unit) is not None else NOT


def _worth_gas(role: Slot, part: LinePart) -> int:
    if part.sort == "quantity":
        return SAID if part.value.unit.lower() in GASES else NOT
    return ASKED if part.sort == "number" and not part.value.unit else NOT


def _worth_count(role: Slot, part: LinePart) -> int:
    if part.sort == "quantity":
        return SAID if part.value.unit.lower() in quantity.COUNT.spelled else NOT
    bare = part.sort == "number" and not part.value.unit
    return TAKEN if bare and re.fullmatch(r"[1-9]\d{0,2}|0", part.value.figures) else NOT


def _worth_number(role: Slot, part: LinePart) -> int:
    bare = part.sort == "number" and not part.value.unit
    most = len(f"{role.most:.0f}")  # four figures are a time
    none = "|0" if role.least == 0.0 else ""
    few = not role.counts or (
        bare and re.fullmatch(rf"[1-9]\d{{0,{most - 1}}}{none}", part.value.figures)
    )
    return TAKEN if bare and few else NOT


def _worth_record(role: Slot, part: LinePart) -> int:
    return TAKEN if part.sort == "number" and re.fullmatch(r"\d+", part.value.figures) else NOT


def _worth_name(role: Slot, part: LinePart) -> int:
    if part.sort != "name" or part.prep not in role.preps:
        return NOT
    return SAID if any(name.sort in role.names for name in part.value) else NOT


def _worth_word(role: Slot, part: LinePart) -> int:
    if part.sort == "name" and any(name.sort in role.names for name in part.value):
        return SAID if part.prep in role.preps else NOT
    words = part.text.split()
    if any(word.lower() in NO_NAME or NOT_A_NAME.fullmatch(word) for word in words):
        return NOT
    bare = part.sort == "number" and not role.loose and not part.value.unit  # pod 3
    fits = all(re.fullmatch(role.pattern, word) for word in words)
    if (part.sort == "unknown" or bare) and fits:
        return TAKEN if part.prep in role.preps else NOT
    return NOT


def bind(role: Slot, part: LinePart, now: datetime, worth_: int, *, future_s: float) -> Bound:
    """Return a role with the value of a part and all that must be asked about it."""
    made = {
        "position": _position, "time": _time, "direction": _direction, "quantity": _quantity,
        "pressure": _pressure, "gas": _gas, "count": _count, "number": _plain, "record": _plain,
        "name": _name, "word": _word,
    }[role.sort]  # fmt: skip
    bound = made(role, part, now, future_s)
    doubts = (part.doubt,) if part.doubt else bound.doubts
    # in a line no figure stands in groups of three
    shown = bound.shown.replace("\u202f", "")
    return replace(bound, shown=shown, doubts=doubts, worth=worth_)


def chosen(role: Slot, value: Any, part: LinePart | None) -> Bound:
    """Return a choice that a phrase made."""
    first = next(phrase for phrase, held in role.choices.items() if held == value)
    return Bound(role=role, value=value, part=part, shown=first)


def _position(role: Slot, part: LinePart, now: datetime, future_s: float) -> Bound:
    shown = dm_text(part.value, 6)
    return Bound(role=role, value=part.value, part=part, shown=shown, words=dm_text(part.value, 2))


def _time(role: Slot, part: LinePart, now: datetime, future_s: float) -> Bound:
    text = part.value if part.sort == "time" else part.value.figures
    ahead = None if role.ahead else max(SLACK, timedelta(seconds=0.0 if role.past else future_s))
    try:
        at = told_time(text, now, role.title, ahead=ahead)
    except InputError as reason:
        lies = "lies ahead" in reason.what
        offered = (re.findall(r"(\d{6}Z) meant", reason.what) if lies else [])[:1]
        year = "or the hour" in reason.what  # 28 Nov 2026
        if year:
            offered = [f"{text[:-2]}:{text[-2:]}"]
        about = reason.what if lies or year or "zone" in reason.what else f"{text} is not a time"
        refused = "which zone" not in reason.what and not year
        doubt = Doubt(about=about, readings=tuple(offered), refused=refused)
        return Bound(role=role, value=now, part=part, shown=text, doubts=(doubt,))
    which = which_day(role, text, at, now)
    return Bound(role=role, value=at, part=part, shown=shown_time(at, now, ahead),
                 words=clock_words(at, now), doubts=which)  # fmt: skip


def _direction(role: Slot, part: LinePart, now: datetime, future_s: float) -> Bound:
    if part.sort == "direction":
        degrees, sense = part.value
        doubts: tuple[Doubt, ...] = ()
        if role.alone and sense == "magnetic":
            about = f"{role.title} {part.text}: magnetic is not turned to true here; true?"
            doubts = (Doubt(about=about, readings=(f"{degrees:03.0f}T",)),)
        elif role.alone and sense == "relative":
            doubts = (Doubt(about=f"{role.title} {part.text} is relative; true?"),)
    else:
        figures = part.value.figures
        degrees, sense = float(figures), "true" if role.alone else ""
        doubts = _direction_doubts(role, figures, degrees)
    return Bound(role=role, value=(degrees % 360.0, sense), part=part,
                 shown=direction_printed(degrees % 360.0, sense), doubts=doubts)  # fmt: skip


def _direction_doubts(role: Slot, figures: str, degrees: float) -> tuple[Doubt, ...]:
    if degrees > 360.0:
        return (Doubt(about=f"{figures} is no {role.title}: 000 to 360", refused=True),)
    whole = figures.partition(".")[0]
    if len(whole) < 3:
        shown = f"{whole:0>3}"
        senses: tuple[str, ...] = (shown + "T",) if role.alone else (shown + "T", shown + "M")
        return (Doubt(about=f"{role.title} {figures}: three figures?", readings=senses),)
    if not role.alone:
        senses = tuple(f"{figures}{letter}" for letter in "TM")
        return (Doubt(about=f"{role.title} {figures}: true or magnetic?", readings=senses),)
    return ()


def _quantity(role: Slot, part: LinePart, now: datetime, future_s: float) -> Bound:
    assert role.measure is not None
    if figures := _capital_m(part):
        part = replace(part, sort="quantity", value=Figures(figures=figures, unit="M"))
    told: Figures = part.value
    unit = told.unit if part.sort == "quantity" else ""
    if told.unit == "°":
        keys: tuple[str, ...] = (role.unit,)
    elif unit == "M":
        keys = ("m", "nmi")
    elif unit:
        keys = (role.measure.spelled[" ".join(unit.lower().split())],)
    else:
        keys = (role.unit,)
    options = [
        (key, value, quantity.convert(value, role.measure, key, role.unit))
        for key in keys for value in readings(told.figures)
    ]  # fmt: skip
    fits = [option for option in options if role.least <= option[2] <= role.most]
    said = f"{told.figures} {unit}".strip()
    if not fits:
        unit_word = quantity.WORDS.get(role.unit, role.unit)
        limits = f"{figure(role.least)} to {figure(role.most)} {unit_word}"
        about = f"{role.title} {said} is outside {limits}".rstrip()
        return _doubtful(role, part, said, Doubt(about=about, refused=True))
    if len(fits) > 1:
        offered = tuple(printed(value, key) for key, value, _ in fits)
        about = f"{said}: {' or '.join(offered)}?"
        return _doubtful(role, part, said, Doubt(about=about, readings=offered))
    key, value, kept = fits[0]
    doubts: tuple[Doubt, ...] = ()
    if part.sort == "number" and told.unit != "°" and not role.alone:
        offered = tuple(printed(value, key) for key in _offered(role))
        doubts = (Doubt(about=f"{role.title} {said}: unit?", readings=offered),)
    elif not role.usual[0] <= kept <= role.usual[1]:
        doubts = (_unusual(role, printed(value, key)),)
    return Bound(role=role, value=kept, part=part, shown=printed(value, key), doubts=doubts)


def _unusual(role: Slot, shown: str) -> Doubt:
    return Doubt(about=f"{role.title} {shown} is unusual: a figure or a point lost?",
                 readings=(f"{shown} confirmed",))  # fmt: skip


def _offered(role: Slot) -> tuple[str, ...]:
    assert role.measure is not None
    if role.measure is quantity.LENGTH:
        return ("m", "ft") if role.most <= 1_000.0 else ("nmi", "m", "km")
    return tuple(role.measure.units)[:3]


def _doubtful(role: Slot, part: LinePart, said: str, doubt: Doubt) -> Bound:
    return Bound(role=role, value=0.0, part=part, shown=said, doubts=(doubt,))


def _pressure(role: Slot, part: LinePart, now: datetime, future_s: float) -> Bound:
    told: Figures = part.value
    if part.sort == "number":
        doubt = Doubt(
            about=f"{role.title} {told.figures}: unit, and absolute or gauge?",
            readings=(f"{told.figures} bar abs", f"{told.figures} bar gauge"),
        )
        return _doubtful(role, part, told.figures, doubt)
    parts = quantity.pressure_parts(told.unit)
    assert parts is not None
    unit, reference = parts
    word = quantity.WORDS.get(unit, unit)
    numbers = readings(told.figures)
    said = f"{told.figures} {told.unit}"
    if len(numbers) != 1:
        offered = tuple(f"{figure(value)} {word} {reference}".strip() for value in numbers)
        return _doubtful(role, part, said, Doubt(about=f"{said}: {' or '.join(offered)}?",
                                                 readings=offered))  # fmt: skip
    if not reference:
        offered = (f"{figure(numbers[0])} {word} abs", f"{figure(numbers[0])} {word} gauge")
        about = f"{role.title} {said}: absolute or gauge?"
        return _doubtful(role, part, said, Doubt(about=about, readings=offered))
    bar = quantity.convert(numbers[0], quantity.PRESSURE, unit, "bar")
    bar += 1.01325 if reference == "gauge" else 0.0
    shown = f"{figure(numbers[0])} {word} {'abs' if reference == 'absolute' else 'gauge'}"
    doubts: tuple[Doubt, ...] = ()
    if not role.least <= bar <= role.most:
        doubts = (
            Doubt(
                about=f"{role.title} {shown} is outside {role.least:g} to {role.most:g} bar",
                refused=True,
            ),
        )
    elif not role.usual[0] <= bar <= role.usual[1]:
        doubts = (_unusual(role, shown),)
    kept = {"value": numbers[0], "unit": word, "reference": reference}
    return Bound(role=role, value=kept, part=part, shown=shown, doubts=doubts)


def _gas(role: Slot, part: LinePart, now: datetime, future_s: float) -> Bound:
    told: Figures = part.value
    numbers = readings(told.figures)
    if part.sort == "number":
        offered = (f"{told.figures} %", f"{told.figures} % sev", f"{told.figures} kPa")
        doubt = Doubt(about=f"{role.title} {told.figures}: unit?", readings=offered)
        return _doubtful(role, part, told.figures, doubt)
    unit = GASES[told.unit.lower()]
    word = {"percent": "%", "sev_percent": "% sev"}.get(unit, unit)
    value = numbers[-1]
    shown = f"{figure(value)} {word}"
    doubts: tuple[Doubt, ...] = ()
    if unit.endswith("percent") and value > 100.0:
        doubts = (Doubt(about=f"{role.title} {shown} is outside 0 to 100", refused=True),)
    elif unit.endswith("percent") and not role.usual[0] <= value <= role.usual[1]:
        doubts = (_unusual(role, shown),)
    words = shown.replace(" %", " % by volume") if unit == "percent" else shown
    return Bound(role=role, value={"value": value, "unit": unit}, part=part, shown=shown,
                 words=words, doubts=doubts)  # fmt: skip


def _count(role: Slot, part: LinePart, now: datetime, future_s: float) -> Bound:
    told: Figures = part.value
    numbers = readings(told.figures)
    said = part.text
    if not numbers or numbers[0] != int(numbers[0]):
        return _doubtful(
            role, part, said, Doubt(about=f"{said} is not a whole number", refused=True)
        )
    if len(numbers) > 1:
        offered = tuple(f"{figure(value)} people" for value in numbers)
        return _doubtful(role, part, said, Doubt(about=f"{said}: which number?", readings=offered))
    value = int(numbers[0])
    shown = f"{value} people" if told.unit or not role.cues or role.loose else f"{value}"
    doubts: tuple[Doubt, ...] = ()
    if not role.least <= value <= role.most:
        doubts = (Doubt(about=f"{shown} is outside {role.least:g} to {role.most:g}", refused=True),)
    elif not role.usual[0] <= value <= role.usual[1]:
        doubts = (_unusual(role, shown),)
    return Bound(role=role, value=value, part=part, shown=shown, doubts=doubts)


def _plain(role: Slot, part: LinePart, now: datetime, future_s: float) -> Bound:
    numbers = readings(part.value.figures)
    if role.sort == "record":
        return Bound(role=role, value=int(part.value.figures), part=part, shown=part.value.figures)
    if len(numbers) != 1:
        offered = tuple(figure(value) for value in numbers)
        return _doubtful(
            role, part, part.text, Doubt(about=f"{part.text}: which?", readings=offered)
        )
    doubts: tuple[Doubt, ...] = ()
    if not role.least <= numbers[0] <= role.most:
        about = f"{role.title} {figure(numbers[0])} is outside {role.least:g} to {role.most:g}"
        doubts = (Doubt(about=about, refused=True),)
    return Bound(role=role, value=numbers[0], part=part, shown=figure(numbers[0]), doubts=doubts)


def _name(role: Slot, part: LinePart, now: datetime, future_s: float) -> Bound:
    name: Name = next(name for name in part.value if name.sort in role.names)
    return Bound(role=role, value=name, part=part, shown=name.text)


def _word(role: Slot, part: LinePart, now: datetime, future_s: float) -> Bound:
    text = part.value[0].text if part.sort == "name" else part.text
    return Bound(role=role, value=text, part=part, shown=text)
