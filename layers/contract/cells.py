"""Text of a cell as the plain JSON value that a payload's field wants."""

from __future__ import annotations

import json
import types
from typing import Any, Union, get_args, get_origin

from pydantic import BaseModel

from layers.earth.errors import InputError

DEEPEST = 40


def parsed_json(text: str) -> Any:
    """Return what JSON says; refuse what is nested without end, NaN, and a key given twice."""
    depth = deepest = 0
    quoted = escaped = False
    for character in text if text.count("[") + text.count("{") > DEEPEST else "":
        if quoted:
            quoted = escaped or character != '"'
            escaped = character == "\\" and not escaped
        elif character == '"':
            quoted = True
        elif character in "[{":
            depth += 1
            deepest = max(deepest, depth)
        elif character in "]}":
            depth -= 1
        if deepest > DEEPEST:
            raise ValueError(f"nested more than {DEEPEST} deep")
    return json.loads(text, parse_constant=_no_constant, object_pairs_hook=_once)


def _no_constant(name: str) -> Any:
    raise ValueError(f"{name} is not a number; accepted: finite numbers or null")


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError("an object with the same key twice")
    return found


def plain_number(text: str) -> float:
    """Return what a file writes as a number.

    Raises
    ------
    ValueError
        It is none; ``4_9``, which Python would take for 49, is none either.
    """
    if "_" in text:
        raise ValueError(f"{text[:40]!r} is not a number")
    return float(text)


def plain_value(model: type[BaseModel], name: str, text: str, where: str) -> Any:
    """Return a cell as the value that the field of a payload wants.

    Raises
    ------
    InputError
        No such field, or a text that cannot be its value; what the model itself refuses is left
        to the model.
    """
    field = model.model_fields.get(name)
    if field is None:
        raise InputError(
            f"a record of this kind has no field {name[:60]!r}",
            where=f"{where}, {name[:60]}",
            accepted=", ".join(model.model_fields),
        )
    wanted = _leaves(field.annotation)
    try:
        if wanted & {bool} and text.lower() in ("true", "false", "yes", "no"):
            return text.lower() in ("true", "yes")
        if int in wanted and float not in wanted:
            return int(text.replace("_", "?"))
        if float in wanted and not _is_word(text):
            return plain_number(text)
        if text[:1] in ("[", "{"):
            return parsed_json(text)
    except ValueError:
        raise InputError(
            f"{text[:60]!r} is not {'a whole number' if int in wanted else 'usable'}",
            where=f"{where}, {name}",
            accepted=field.description or "a value as in the record's own form",
        ) from None
    return text


def _is_word(text: str) -> bool:
    try:
        plain_number(text)
    except ValueError:
        return True
    return False


def _leaves(annotation: Any) -> set[Any]:
    """Return the plain types that an annotation lets in."""
    if get_origin(annotation) in (Union, types.UnionType):
        return set().union(*(_leaves(part) for part in get_args(annotation)))
    return {annotation}
