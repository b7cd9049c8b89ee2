"""What a model would not take, in words of a watch and not of a program."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pydantic import ValidationError

from layers.earth.clock import ACCEPTED_TIMES
from layers.earth.errors import InputError
from layers.journal.kinds import Kind
from layers.journal.record import canonical

MOST_SHOWN = 80
NOTHING = "nothing was given"
_NUMBER = ("is not a number", "a number")
_WHOLE = ("is not a whole number", "a whole number")
_TIME = ("is not a time", ACCEPTED_TIMES)
# pydantic's names of what can be wrong -> what is said, what is accepted
_SAID: Mapping[str, tuple[str, str]] = {
    "float_type": _NUMBER,
    "float_parsing": _NUMBER,
    "finite_number": _NUMBER,
    "int_type": _WHOLE,
    "int_parsing": _WHOLE,
    "int_from_float": _WHOLE,
    "bool_type": ("is neither yes nor no", "true or false"),
    "string_type": ("is not text", "text"),
    "datetime_type": _TIME,
    "datetime_parsing": _TIME,
    "datetime_from_date_parsing": _TIME,
    "timezone_aware": ("has no time zone", ACCEPTED_TIMES),
    "extra_forbidden": ("is no field of this kind", ""),
    "greater_than_equal": ("is too small", "{ge:g} or more"),
    "greater_than": ("is too small", "more than {gt:g}"),
    "less_than_equal": ("is too large", "{le:g} or less"),
    "less_than": ("is too large", "less than {lt:g}"),
    "literal_error": ("is not one of the words known here", "{expected}"),
    "string_too_long": ("is too long", "at most {max_length} letters"),
    "string_too_short": ("is too short", "at least {min_length} letters"),
    "string_pattern_mismatch": ("is not written as asked for", "{pattern}"),
    "too_short": ("are too few", "at least {min_length}"),
    "too_long": ("are too many", "at most {max_length}"),
}


def refused(failure: ValidationError, where: str = "") -> InputError:
    """Return the first thing a model would not take, as an error that can be read out.

    Parameters
    ----------
    failure : ValidationError
        As pydantic raised it.
    where : str
        What was being read; the field's name is put behind it.
    """
    first = failure.errors()[0]
    place = ".".join(str(part) for part in first["loc"])
    what, accepted = _said(first["type"], first.get("input"), first.get("ctx", {}), first["msg"])
    return InputError(
        what, where=", ".join(part for part in (where, place) if part), accepted=accepted
    )


def all_refused(kind: Kind, payload: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Return everything a kind's model would not take: the field, and why with what is accepted.

    What is about no one field has an empty place.
    """
    try:
        kind.model.model_validate_json(canonical(payload))
    except ValidationError as failure:
        found = []
        for each in failure.errors():
            what, accepted = _said(
                each["type"], each.get("input"), each.get("ctx", {}), each["msg"]
            )
            place = ".".join(str(part) for part in each["loc"])
            found.append((place, f"{what}; accepted: {accepted}" if accepted else what))
        return found
    return []


def _said(sort: str, given: Any, limits: Mapping[str, Any], message: str) -> tuple[str, str]:
    if sort == "value_error":  # a sentence of our own
        return message[:300].removeprefix("Value error, "), ""
    if sort == "missing" or given in ("", None):
        return NOTHING, _accepted(sort, limits)
    shown = "these" if isinstance(given, list | tuple | dict) else repr(str(given)[:MOST_SHOWN])
    if sort not in _SAID:
        return f"{shown}: {message[:300]}", ""
    return f"{shown} {_SAID[sort][0]}", _accepted(sort, limits)


def _accepted(sort: str, limits: Mapping[str, Any]) -> str:
    known = {
        name: float(limit) if isinstance(limit, int | float) and name in ("ge", "gt", "le", "lt")
        else limit
        for name, limit in limits.items()
    }  # fmt: skip
    if sort == "string_too_short" and known.get("min_length") == 1:
        return "any text"
    return _SAID.get(sort, ("", ""))[1].format(**known)
