"""Slips of the pen and stray parts, made by machine: none is read as another fact.

Five thousand lines from those that are understood: a word lost, two exchanged, a letter lost,
wrong or exchanged, a unit lost, two words glued, *not* or *or* put in, a stray part put in. A slip
may be asked, refused or noted; what is understood of it must be what was meant.
"""

from __future__ import annotations

import random
import re
from collections.abc import Iterator

import pytest

from layers.heard.numbers import NUMBER_WORDS
from layers.heard.result import Understood
from tests.heard_world import NOW, SHIPS, heard
from tests.unit.test_heard_lines import LINES

MEANT = [row["line"] for row in LINES if row["verdict"] == "understood"]
# a line with free text takes any word; a spoken figure lost or doubled is a good line in itself.
# A slip in a name there is asked as it is recorded (`unit/test_names_slipped`)
FREE = re.compile(r"(?i)^(scrap|strike|retract|disregard|cancel|correct|amend|decid|decision|note|"
                  r"task|ask|assume|circuit|telephone|call|told|families|help|"
                  r"in charge|requested|custody|who has|(port|hospital|airfield) told|"
                  r"object found|found object|search (suspended|resumed)|same object)"
                  )  # fmt: skip
FIXED = [line for line in MEANT if not FREE.match(line)]
# a name that is told here for the first time may be any word
NAMED = re.compile(
    r"(?i)GREYWETHER|REMORA|(chamber|8 places) .*ARDIS|PIETRA|SPEZIA|engine-room|IBIS|motor room|"
    r"fore ends"
)
WRITTEN = [
    line
    for line in FIXED
    if not NUMBER_WORDS & set(re.findall(r"[a-z]+", line.lower())) and not NAMED.search(line)
]
# what stays a good line in itself when a word is lost: whose report is due, what was seen there,
# of what a share is told. Only the read-back guards these.
GOOD = {
    ("survivors.lift_limits", "weather.limit"),
    ("watch.task", "datum.intended_movement"),
    ("datum.sighting", "tracks.position"),
}
SHARE = re.compile(r"(?i)sev|surface equivalent")
PLACE = ("latitude_deg", "longitude_deg", "position_sigma_m")
STRAY = (
    "060T", "12 kn", "240/12", "26", "4322N 00833E", "GREYFIN", "1.5 nmi", "1200", "4 people",
    "2 m", "17 %", "1.2 bar abs", "red 40", "course 100", "within 3 nmi", "Skarv Light",
)  # fmt: skip
NAMES = ("GREYFIN", "Skarv Light")
SLIPS = 5_000


def slips(rng: random.Random) -> Iterator[tuple[str, str, str, str]]:
    """Yield the sort of slip, the line that was meant, the line with it, and what was put in."""
    while True:
        line = rng.choice(WRITTEN)
        words = line.split(" ")
        at = rng.randrange(len(words))
        word = words[at]
        letters = [k for k, letter in enumerate(word) if letter.isalpha()]
        sort = rng.choice(("lost", "swapped", "letter lost", "letter wrong", "letters swapped",
                           "unit lost", "glued", "not", "or", "stray"))  # fmt: skip
        new, stray = list(words), ""
        if sort == "lost":
            del new[at]
        elif sort == "swapped" and at + 1 < len(words):
            new[at], new[at + 1] = new[at + 1], new[at]
        elif sort.startswith("letter") and len(letters) > 2:
            k = rng.choice(letters)
            if sort == "letter lost":
                new[at] = word[:k] + word[k + 1 :]
            elif sort == "letter wrong":
                new[at] = word[:k] + rng.choice("abcdefghijklmnoprstuwxyz") + word[k + 1 :]
            elif k + 1 < len(word):
                new[at] = word[:k] + word[k + 1] + word[k] + word[k + 2 :]
        elif sort == "unit lost":
            new[at] = re.sub(r"(?<=\d)[A-Za-z%°]+$", "", word)
        elif sort == "glued" and at + 1 < len(words):
            new[at : at + 2] = [word + words[at + 1]]
        elif sort in ("not", "or"):
            new.insert(at, sort)
        elif sort == "stray":
            stray = rng.choice(STRAY)
            new.insert(at, stray)
        text = " ".join(new)
        if text != line and text.strip():
            yield sort, line, text, stray


def another(
    meant: list[Understood], got: list[Understood], sort: str, stray: str, line: str
) -> str:
    """Return how what was understood is another fact than was meant, empty if it is not."""
    by_kind = {one.kind: one for one in meant}
    for one in got:
        if stray in NAMES and stray in (one.payload.get("station"), one.payload.get("observer")):
            continue  # a record of its own, of the name that was put in
        held = by_kind.get(one.kind)
        if held is None:
            good = sort == "lost" and any((kind, one.kind) in GOOD for kind in by_kind)
            if not stray and not good:
                return f"a {one.kind} that nobody told"
            continue
        for name, value in one.payload.items():
            if _may_differ(name, sort, stray, line):
                continue
            if name in held.payload and held.payload[name] != value:
                return f"{one.kind}, {name}: {value} for {held.payload[name]}"
            if name not in held.payload and not stray:
                return f"{one.kind}, {name}: {value} that nobody told"
        told_anew = stray == "26" or (stray and held.valid_at == NOW)
        if one.valid_at not in (held.valid_at, NOW) and not told_anew:
            return f"{one.kind} at {one.valid_at} for {held.valid_at}"
    return ""


def _may_differ(name: str, sort: str, stray: str, line: str) -> bool:
    """Whether a field was not said in the line: it was worked out or taken, and a part says it."""
    if name in PLACE and re.search(r"\d[NS]", stray):
        return not re.search(r"\d\s*[NnSs]\b", line)
    if stray.startswith("within") and name in ("sigma_m", "within_m"):
        return "within" not in line.lower()
    if sort == "lost" and name == "carbon_dioxide":
        return bool(SHARE.search(line))
    return name == "position_sigma_m"


@pytest.mark.parametrize("line", [
    "object found raft 1: by TENACE or TERN, 3 alive, 1 dead",
    "object found raft 1: by TENACE, not 3 alive, 1 dead",
    "object found raft 1 or 2: by TENACE, none alive",
    "search suspended not raft 1: by the duty officer, all areas twice",
])  # fmt: skip
def test_a_fact_of_people_found_is_not_taken_where_it_is_turned(line: str) -> None:
    """The rest of such a line is free text; who was found alive, and where it ends, is not."""
    assert not heard(line).understood


def test_of_five_thousand_slips_none_is_read_as_another_fact() -> None:
    wrong, taken = [], 0
    made = slips(random.Random(17))
    meant = {line: heard(line).understood for line in WRITTEN}
    for _ in range(SLIPS):
        sort, line, text, stray = next(made)
        hearing = heard(text)
        taken += bool(hearing.understood)
        if sort in ("not", "or") and hearing.understood:
            wrong.append((sort, line, text, "understood"))
        elif fault := another(meant[line], hearing.understood, sort, stray, line):
            wrong.append((sort, line, text, fault))
    assert not wrong, "\n".join(map(str, wrong[:40]))
    assert 0 < taken < SLIPS


def test_a_slip_in_a_ships_name_is_never_another_ship() -> None:
    rng = random.Random(5)
    for _ in range(1_000):
        name = rng.choice(list(SHIPS))
        k = rng.randrange(len(name))
        text = name[:k] + rng.choice(("", rng.choice("abcdefghij123"))) + name[k + 1 :]
        hearing = heard(f"{text} 4315N 00830E")
        for one in hearing.understood:
            subject = str(one.payload.get("subject", name)).replace(" ", "")
            assert subject.casefold() == name.replace(" ", "").casefold(), text


@pytest.mark.parametrize("line", FIXED)
def test_the_plain_form_of_a_line_reads_back_to_the_same(line: str) -> None:
    for one in heard(line).understood:
        again = heard(one.plain)
        assert not again.asks, (one.plain, [ask.about for ask in again.asks])
        (two,) = again.understood
        assert (two.kind, two.valid_at) == (one.kind, one.valid_at), one.plain
        assert _same(two.payload, one.payload), one.plain


def _same(one: object, other: object) -> bool:
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(_same(one[k], other[k]) for k in one)
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(_same, one, other))
    if isinstance(one, float) or isinstance(other, float):
        return one == pytest.approx(other, abs=1e-6)
    return one == other
