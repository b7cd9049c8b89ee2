"""The grammar of heard lines, made from the catalogue: nothing here names a kind or a layer."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from layers.contract.heard_roles import POSITION, SHARED, TIME
from layers.earth.said import quantity
from layers.heard.parts import Meaning
from layers.journal.kinds import Kind
from layers.journal.words.heard import HeardWords, Slot

CONFIRMED = "confirmed"  # an unusual figure, said again on purpose


@dataclass(frozen=True, slots=True, kw_only=True)
class Form:
    """One kind as a line may tell it."""

    kind: Kind
    heard: HeardWords
    roles: Mapping[str, Slot]
    needs: tuple[tuple[str, ...], ...]
    cores: tuple[frozenset[str], ...]
    able: frozenset[str]  # sorts of part, and of name, that any role of it can take

    @property
    def order(self) -> tuple[str, ...]:
        """The roles in the order in which they are read back."""
        return tuple(self.roles)


@dataclass(frozen=True)
class Grammar:
    """Every kind that can be told, and every phrase that is known."""

    kinds: Mapping[str, Kind]
    forms: dict[str, Form] = field(init=False)
    phrases: dict[str, tuple[Meaning, ...]] = field(init=False)
    heads: dict[str, Form] = field(init=False)  # a word that opens a line of free text

    def __post_init__(self) -> None:
        forms = {name: form_of(kind) for name, kind in self.kinds.items() if kind.heard}
        phrases: dict[str, dict[Meaning, None]] = {}
        for form in forms.values():
            for phrase, meaning in _phrases(form):
                phrases.setdefault(" ".join(re.split(r"[\s-]+", phrase.lower())), {})[meaning] = (
                    None
                )
        phrases[CONFIRMED] = {Meaning(sort="choice", key=CONFIRMED): None}
        object.__setattr__(self, "forms", forms)
        object.__setattr__(self, "phrases", {k: tuple(v) for k, v in phrases.items()})
        heads = {
            word.lower(): form
            for form in forms.values() if form.heard.text for word in form.heard.words
        }  # fmt: skip
        object.__setattr__(self, "heads", heads)

    @cached_property
    def pattern(self) -> re.Pattern[str]:
        """Matches the longest phrase that is known, at a word's beginning."""
        ways = sorted(self.phrases, key=len, reverse=True)
        shapes = [r"[\s-]+".join(re.escape(part) for part in way.split(" ")) for way in ways]
        return re.compile(rf"(?:{'|'.join(shapes)})(?![A-Za-z0-9])", re.IGNORECASE)

    def said_in(self, text: str) -> bool:
        """Whether any word of a kind stands in a text."""
        return any(self.pattern.match(text, word.start()) for word in re.finditer(r"\b\w", text))

    @cached_property
    def with_role(self) -> dict[str, frozenset[str]]:
        """Kinds by the roles that they may have."""
        found: dict[str, set[str]] = {}
        for name, form in self.forms.items():
            for key in form.roles:
                found.setdefault(key, set()).add(name)
        return {key: frozenset(names) for key, names in found.items()}

    @cached_property
    def wordless(self) -> frozenset[str]:
        """Kinds that names, places and figures alone may call."""
        return frozenset(
            name for name, form in self.forms.items()
            if any(all(form.roles[key].sort != "choice" for key in core) for core in form.cores)
        )  # fmt: skip

    @cached_property
    def others(self) -> frozenset[str]:
        """Things that no kind tells of and that are no names by themselves."""
        return frozenset(word for form in self.forms.values() for word in form.heard.others)

    @cached_property
    def single_words(self) -> tuple[str, ...]:
        """Words of five letters or more that a slip of the pen may have been meant for."""
        return tuple(
            sorted(
                {
                    w
                    for phrase in self.phrases
                    for w in phrase.split()
                    if len(w) >= 5 and w.isalpha()
                }
            )
        )


def form_of(kind: Kind) -> Form:
    """Return a kind's form: its own roles, those that all share, and those of its fields.

    Raises
    ------
    ValueError
        A role is named that is none of these: a mistake in the declaration.
    """
    heard = kind.heard
    assert heard is not None
    own = {role.key: role for role in heard.roles}
    asked = [tuple(need.split("|")) for need in heard.needs]
    takes = [key for take in heard.takes for key in take.split("|")]
    roles: dict[str, Slot] = {}
    schema = kind.model.model_json_schema()
    for key in (*(key for need in asked for key in need), *takes):
        if key in ("longitude_deg",):
            continue
        if key == "latitude_deg":
            roles[POSITION.key] = POSITION
            continue
        role = own.get(key) or _of_field(key, schema) or SHARED.get(key)
        if role is None:
            raise ValueError(f"{kind.name}: {key!r} is neither a role nor a field of its model")
        roles[key] = role
    if heard.text and heard.text not in roles:
        roles[heard.text] = own.get(heard.text) or Slot(
            key=heard.text, title=heard.text, sort="text"
        )
    if heard.whom and heard.whom not in roles:
        roles[heard.whom] = own[heard.whom]
    if heard.timed and TIME.key not in roles:
        roles[TIME.key] = own.get(TIME.key, TIME)
    needs = tuple(
        dict.fromkeys(
            tuple(POSITION.key if key in ("latitude_deg", "longitude_deg") else key for key in need)
            for need in (*asked, *(((TIME.key,),) if heard.needs_time else ()))
        )
    )
    cores = tuple(frozenset(core) for core in heard.cores)
    able = {_TAKEN_BY.get(role.sort, "") for role in roles.values()}
    if any(role.sort == "word" for role in roles.values()):
        able.add("name")  # a name that is known may be told again
    named = {name for role in roles.values() if role.sort == "name" for name in role.names}
    return Form(kind=kind, heard=heard, roles=roles, needs=needs, cores=cores,
                able=frozenset(able | named))  # fmt: skip


# what alone can take a part of a sort: a kind without it is not tried on a line that has one
_TAKEN_BY = {"position": "position", "time": "time", "word": "unknown"}
ALONE = frozenset({"position", "time", "unknown", "name"})


def _phrases(form: Form) -> Iterable[tuple[str, Meaning]]:
    for word in form.heard.words:
        yield word, Meaning(sort="word", key=form.kind.name)
    for role in form.roles.values():
        for cue in role.cues:
            yield cue, Meaning(sort="cue", key=role.key)
        for phrase, value in role.choices.items():
            yield phrase, Meaning(sort="choice", key=role.key, value=value)


def _of_field(key: str, schema: Mapping[str, Any]) -> Slot | None:
    """Return the role that a payload field makes by itself: cue, unit and bounds are its own."""
    told = schema.get("properties", {}).get(key)
    if told is None or key in SHARED:
        return None
    while "$ref" in told or "anyOf" in told:
        if "$ref" in told:
            told = schema["$defs"][told["$ref"].rsplit("/", 1)[-1]]
        else:
            told = next(option for option in told["anyOf"] if option.get("type") != "null")
    words = _words_of(key)
    bounds: dict[str, Any] = {
        "least": float(told.get("minimum", told.get("exclusiveMinimum", float("-inf")))),
        "most": float(told.get("maximum", told.get("exclusiveMaximum", float("inf")))),
    }
    if "enum" in told or "const" in told:
        values = told.get("enum", [told.get("const")])
        return Slot(key=key, title=words, sort="choice", choices={str(v): v for v in values})
    if told.get("format") == "date-time":
        return Slot(
            key=key, title=words, sort="time", cues=(words,), preps=("", "at", "by"), ahead=True
        )
    kind = told.get("type")
    if kind in ("number", "integer"):
        found = quantity.sort_of(key)
        if key.endswith("_true_deg"):
            return Slot(key=key, title=words, sort="direction", cues=(words,), alone=True)
        if found is not None:
            return Slot(key=key, title=words, sort="quantity", cues=(words,), measure=found[0],
                        unit=found[1], **bounds)  # fmt: skip
        if kind == "integer":
            return Slot(key=key, title=words, sort="count", cues=(words,), loose=True, **bounds)
        return Slot(key=key, title=words, sort="number", cues=(words,), **bounds)
    if kind == "string":
        return Slot(key=key, title=words, sort="word", cues=(words,))
    return None


def _words_of(key: str) -> str:
    last = key.rsplit(".", 1)[-1]
    for ending, _, _ in quantity.ENDINGS:
        if ending.startswith("_") and last.endswith(ending):
            last = last.removesuffix(ending).removesuffix("_true")
            break
    return last.replace("_", " ")
