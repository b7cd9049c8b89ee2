"""Names that look alike: what can not be seen is written out, and two are told apart.

Whoever sends a ship's name can put characters into it that show nothing, turn the direction of
reading, or look like other letters. A screen then shows two ships under one name. Here such a
character is written as its number in the standard (The Unicode Standard, chapter 23: format and
control characters), a letter of another script within a word is marked, and names are compared
by what a person sees (after Unicode Technical Standard 39, section 4: skeletons; the letters that
look like Latin ones are a selection from memory, not its whole table).
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from functools import lru_cache

# controls but tab and line ends, soft hyphen, fillers, zero width, direction, tags, halves
_UNSEEN = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u00ad\u034f\u061c\u115f\u1160\u17b4\u17b5\u180b-\u180e"
    "\u200b-\u200f\u2028-\u202e\u2060-\u206f\u3164\ufe00-\ufe0f\ufeff\uffa0\ufff0-\ufffb"
    "\ufffe\uffff\ud800-\udfff\U000e0000-\U000e0fff]"
)
_TURNED = re.compile("[\u202e\u2067](.*?)(?:[\u202c\u2069]|$)", re.DOTALL)
_SCRIPTS = ("LATIN", "CYRILLIC", "GREEK", "ARMENIAN", "CHEROKEE", "COPTIC", "FULLWIDTH LATIN")
_LOOKS = str.maketrans(
    "АВСЕНІЈКМОРЅТХҮԁаеіјорсухѕԛԝһАΑΒΕΖΗΙΚΜΝΟΡΤΥΧαινορυӀӏ0|1",
    "ABCEHIJKMOPSTXYdaeijopcyxsqwhAABEZHIKMNOPTYXaivopuIlOII",
)

_IMPOSTORS = frozenset(chr(code) for code in _LOOKS if code > 127)
_FOREIGN = re.compile(f"[{''.join(sorted(_IMPOSTORS))}]")
_WORD = re.compile(r"[^\W\d_]+")
# a figure between letters in a word that has no other, one before capitals, a small L
# between them: P0RT, 0RION, LlMPET
_SLIP = re.compile(
    r"(?<![^\W_])(?=(?:[01]*[A-Za-z]){3})(?=[a-z01]*[A-Z])[A-Za-z]+(?:[01]+[A-Za-z]+)+"
    r"(?![^\W_]| ‹with )|(?<![^\W_])[A-Z]+(?:l+[A-Z]+)+(?![^\W_]| ‹with )"
    r"|(?<![^\W_])0[A-Z]{4,}(?![^\W_]| ‹with )"
)
_MARK = re.compile(" ?‹with [^‹›]*›|‹U\\+[0-9A-F]{4,6}›")  # as they are written below
_SIGNS = {
    "I": "capital I", "l": "small L", "1": "figure 1", "|": "a stroke",
    "O": "capital O", "0": "figure 0",
}  # fmt: skip
_MAY_SLIP = re.compile("[A-Za-z][01][A-Za-z]|[A-Z]l+[A-Z]|0[A-Z]{4}")  # short: asked of each


def visible(text: str) -> str:
    """Return a text in which nothing looks like what it is not.

    What can not be seen is written out, as ‹U+200B›; a word with letters of another script that
    look like Latin ones is followed by ‹with Cyrillic letters›, in whatever name it stands; one
    with a figure in the place of a letter by ‹with figure 0›.
    """
    if _MAY_SLIP.search(text):
        text = _SLIP.sub(_slipped, text)
    if text.isascii() and text.isprintable():
        return text
    seen = _UNSEEN.sub(lambda found: f"‹U+{ord(found[0]):04X}›", text)
    return _WORD.sub(_named, seen) if _FOREIGN.search(seen) else seen


def _slipped(found: re.Match[str]) -> str:
    word = found[0]
    signs = [f"figure {figure}" for figure in "01" if figure in word] or ["small L"]
    return f"{word} ‹with {' and '.join(signs)}›"


def _named(found: re.Match[str]) -> str:
    word = found[0]
    if found.string.startswith(" ‹with ", found.end()):
        return word
    strange = sorted({_script(letter) for letter in word if letter in _IMPOSTORS})
    # a word that is foreign as a whole is what it is, as long as it can be seen to be
    latin = all(c.isascii() or c in _IMPOSTORS or not c.isalpha() for c in word)
    told = strange and (latin or any("a" <= c.lower() <= "z" for c in word)) and len(word) > 1
    return f"{word} ‹with {' and '.join(strange)} letters›" if told else word


@lru_cache(maxsize=4096)
def shown(name: str) -> str:
    """Return a name as it is, with what can not be seen and foreign letters in words marked.

    A name all in one script stands as it is.
    """
    seen = visible(name)
    if seen.isascii() or "‹with " in seen:
        return seen
    strange = sorted({_script(c) for word in name.split() for c in _mixed(word)})
    return f"{seen} ‹with {' and '.join(strange)} letters›" if strange else seen


def plain_name(name: str) -> str:
    """Return a ship's name as names are compared: without blanks, hyphens and capitals."""
    return "".join(name.split()).replace("-", "").casefold()


def _script(letter: str) -> str:
    told = unicodedata.name(letter, "")
    return next((script.title() for script in _SCRIPTS if told.startswith(script)), "")


def _mixed(word: str) -> Iterable[str]:
    """Return the letters of a word that are not of the script of most of its letters."""
    scripts = {c: _script(c) for c in word if c.isalpha() and _script(c)}
    if len(set(scripts.values())) < 2:
        return ()
    counts = [scripts[c] for c in word if c in scripts]
    most = max(sorted(set(counts)), key=counts.count)
    return [c for c, script in scripts.items() if script != most]


@lru_cache(maxsize=65_536)
def skeleton(name: str) -> str:
    """Return what two names have in common that look the same: capitals, no gaps, Latin looks.

    A small L is an I to many eyes, and a capital one is the same letter: all three are one here.
    """
    turned = _TURNED.sub(lambda found: found[1][::-1], name)
    plain = unicodedata.normalize("NFKD", _UNSEEN.sub("", turned)).translate(_LOOKS)
    bare = "".join(c for c in plain if not unicodedata.combining(c))
    return "".join(bare.upper().translate(_LOOKS).replace("L", "I").split())


@lru_cache(maxsize=65_536)
def looks(name: str) -> str:
    """Return how a name looks: equal for two that no eye tells apart, small letters small.

    An I, a small L and a figure 1 are one to many eyes, an O and a nought too; gaps count once.
    """
    turned = _TURNED.sub(lambda found: found[1][::-1], name)
    plain = unicodedata.normalize("NFKC", _UNSEEN.sub("", turned)).translate(_LOOKS)
    return " ".join(plain.replace("l", "I").split())


def unmarked(name: str) -> str:
    """Return a name without what is written here beside one: somebody may send it so."""
    return _MARK.sub("", name)


def ways_to_tell(name: str, other: str) -> Iterator[str]:
    """Return ways of writing a name that looks like another, of which a reader needs the first.

    What it is made of where the two differ, then also at which place, then all of it.
    """
    seen = visible(name)
    yield seen
    differ = [(at, c) for at, c in enumerate(name) if c != other[at : at + 1]]
    if len(name) != len(other):
        differ = [(at, c) for at, c in enumerate(name) if c in _SIGNS or not c.isascii()]
    signs = dict.fromkeys(_sign(c) for _, c in differ if c != " ")
    if (blanks := name.count(" ")) != other.count(" "):
        signs[f"{blanks} blank{'s' if blanks != 1 else ''}"] = None
    if signs:
        yield f"{seen} ‹with {' and '.join(signs)}›"
    yield f"{seen} ‹with {' and '.join(f'{_sign(c)} at {at + 1}' for at, c in differ)}›"
    yield f"{seen} ‹with {' '.join(f'U+{ord(c):04X}' for c in name)}›"


def _sign(letter: str) -> str:
    return _SIGNS.get(letter, "a blank" if letter == " " else f"U+{ord(letter):04X}")


def told_apart(
    names: Mapping[str, str], sure: Iterable[str], numbers: Mapping[str, str]
) -> dict[str, str]:
    """Return the names to show, of which no two look the same.

    Parameters
    ----------
    names : mapping of str to str
        Whose name; an empty one stays empty.
    sure : iterable of str
        Those whose name the watch entered: the first of them keeps it bare.
    numbers : mapping of str to str
        What tells each apart, as said: ``"MMSI 235009999"``.
    """
    held: dict[str, list[str]] = {}
    for subject, name in names.items():
        if name:
            held.setdefault(skeleton(name), []).append(subject)
    known = set(sure)
    found = {subject: shown(name) for subject, name in names.items()}
    for subjects in held.values():
        if len(subjects) < 2:
            continue
        first = next((subject for subject in subjects if subject in known), None)
        for subject in subjects:
            if subject == first:
                continue
            more = "" if first is None or subject in known else ", not the one entered"
            found[subject] += f" ({numbers.get(subject, subject)}{more})"
    return found
