"""Results written as text that carries no code, and read back.

What another server put into a database is read by this alone. A class is named, and a name is
looked up only among the dataclasses, enumerations and payloads that modules of this program which
are already loaded declare; an object is put together from its fields, and nothing of it is called.
"""

from __future__ import annotations

import base64
import dataclasses
import json
import sys
import zlib
from collections.abc import Callable, Mapping
from datetime import date, datetime, timedelta
from enum import Enum
from types import MappingProxyType, NoneType
from typing import Any

import numpy as np
from pydantic import BaseModel

OURS = "layers."
MOST_BYTES = 64_000_000  # of text, once it is unpacked
NUMBERS = "biufMm"  # the kinds of array: booleans, numbers, times
PLAIN = (bool, int, float, str)
LISTS: Mapping[str, type] = MappingProxyType(
    {"(": tuple, "[": list, "{": set, "f": frozenset}
)  # fmt: skip


class NotSpelt(ValueError):
    """It can not be written so, or was not written by this program."""


def spelt(value: Any) -> bytes:
    """Return a value as packed text.

    Raises
    ------
    NotSpelt
        There is something in it that is no value: a function, say.
    """
    text = json.dumps(_Writing().told(value), separators=(",", ":"))
    return zlib.compress(text.encode(), 1)


def read(data: bytes) -> Any:
    """Return the value of a packed text.

    Raises
    ------
    NotSpelt
        It is none, or names what no loaded module of this program declares.
    """
    unpacking = zlib.decompressobj()
    try:
        text = unpacking.decompress(data, MOST_BYTES)
        if unpacking.unconsumed_tail or not unpacking.eof:
            raise NotSpelt("too long, or cut off")
        return _Reading().made(json.loads(text))
    except NotSpelt:
        raise
    except (zlib.error, ValueError, TypeError, KeyError, IndexError, AttributeError,
            OverflowError, RecursionError) as fault:  # fmt: skip
        raise NotSpelt(str(fault)) from None


def _class(name: str, sort: Callable[[type], bool]) -> type:
    """Return a class that a loaded module of ours declares under its own name."""
    module, _, own = name.partition(":")
    found = vars(sys.modules[module]).get(own) if module.startswith(OURS) else None
    if not isinstance(found, type) or found.__module__ != module or not sort(found):
        raise NotSpelt(f"{name} is no value of this program")
    return found


def _name(cls: type, sort: Callable[[type], bool]) -> str:
    name = f"{cls.__module__}:{cls.__qualname__}"
    if cls.__module__ not in sys.modules or _class(name, sort) is not cls:
        raise NotSpelt(f"{name} is no value of this program")
    return name


def _is_enum(cls: type) -> bool:
    return issubclass(cls, Enum)


def _is_model(cls: type) -> bool:
    return issubclass(cls, BaseModel)


def _is_left_behind(cls: type) -> bool:
    """Whether it follows from what it stands in, and comes back empty."""
    return issubclass(cls, dict) and bool(vars(cls).get("LEFT_BEHIND"))


def _is_named_tuple(cls: type) -> bool:
    return issubclass(cls, tuple) and hasattr(cls, "_fields")


def _words(shape: list[int], words: list[str | None]) -> Any:
    """Return an array of texts of any length."""
    if not all(type(one) in (str, NoneType) for one in words):
        raise NotSpelt("that was not written here")
    found = np.empty(len(words), dtype=object)
    found[:] = words
    return found.reshape(shape)


class _Writing:
    """What was written already is told by its number: what was one thing comes back as one."""

    def __init__(self) -> None:
        self._numbers: dict[int, int] = {}
        self._held: list[Any] = []  # so that no identity is given twice

    def told(self, value: Any) -> Any:
        """Return what JSON takes for a value."""
        if value is None or type(value) in PLAIN:
            return value
        if (number := self._numbers.get(id(value))) is not None:
            return ["r", number]
        made = self._made(value)
        self._numbers[id(value)] = len(self._held)
        self._held.append(value)
        return made

    def _made(self, value: Any) -> list[Any]:
        cls = type(value)
        for tag, sort in LISTS.items():
            if cls is sort:
                return [tag, *map(self.told, value)]
        if isinstance(value, Enum):
            return ["e", _name(cls, _is_enum), self.told(value.value)]
        if cls in (dict, MappingProxyType):
            pairs = [[self.told(key), self.told(held)] for key, held in value.items()]
            return [":" if cls is dict else "m", *pairs]
        if isinstance(value, np.ndarray | np.generic):
            return self._array(value)
        if cls is datetime:
            return ["t", value.isoformat(), value.fold]
        if cls is date:
            return ["y", value.isoformat()]
        if cls is timedelta:
            return ["d", value.days, value.seconds, value.microseconds]
        if _is_left_behind(cls):
            return ["k", _name(cls, _is_left_behind)]
        if _is_named_tuple(cls):
            return ["n", _name(cls, _is_named_tuple), *map(self.told, value)]
        if dataclasses.is_dataclass(cls):
            names = [field.name for field in dataclasses.fields(cls)]
            return ["o", _name(cls, dataclasses.is_dataclass),
                    *([name, self.told(getattr(value, name))] for name in names)]  # fmt: skip
        if isinstance(value, BaseModel):
            told = [[name, self.told(held)] for name, held in vars(value).items()]
            return ["p", _name(cls, _is_model), sorted(value.model_fields_set), *told]
        raise NotSpelt(f"a {cls.__module__}.{cls.__qualname__} is no value")

    def _array(self, value: Any) -> list[Any]:
        if value.dtype == object and all(type(one) in (str, NoneType) for one in value.flat):
            return ["b", list(value.shape), list(value.flat)]
        if value.dtype.kind not in NUMBERS + "U" or type(value) is np.ma.MaskedArray:
            raise NotSpelt(f"an array of {value.dtype} is no value")
        tag = "a" if isinstance(value, np.ndarray) else "s"
        content = base64.b64encode(np.ascontiguousarray(value).tobytes()).decode()
        return [tag, value.dtype.str, list(value.shape), content]


class _Reading:
    """The way back; things are numbered as they were when they were written."""

    def __init__(self) -> None:
        self._held: list[Any] = []

    def made(self, told: Any) -> Any:
        """Return the value of what JSON gave."""
        if not isinstance(told, list):
            if isinstance(told, dict):
                raise NotSpelt("that was not written here")
            return told
        tag, *rest = told
        if tag == "r":
            return self._held[rest[0]]
        value = self._value(tag, rest)
        self._held.append(value)
        return value

    def _value(self, tag: str, rest: list[Any]) -> Any:
        if tag in LISTS:
            return LISTS[tag](map(self.made, rest))
        if tag in (":", "m"):
            pairs = {self.made(key): self.made(held) for key, held in rest}
            return pairs if tag == ":" else MappingProxyType(pairs)
        if tag == "e":
            return _class(rest[0], _is_enum)(self.made(rest[1]))
        if tag in ("a", "s"):
            return self._array(tag, *rest)
        if tag == "b":
            return _words(*rest)
        if tag == "t":
            return datetime.fromisoformat(rest[0]).replace(fold=rest[1])
        if tag == "y":
            return date.fromisoformat(rest[0])
        if tag == "d":
            return timedelta(*rest)
        if tag == "k":
            return dict.__new__(_class(rest[0], _is_left_behind))
        if tag == "n":
            cls: Any = _class(rest[0], _is_named_tuple)
            values = tuple(map(self.made, rest[1:]))
            return tuple.__new__(cls, values)
        if tag == "o":
            return self._object(*rest)
        if tag == "p":
            model: Any = _class(rest[0], _is_model)
            held = {name: self.made(value) for name, value in rest[2:]}
            return model.model_construct(set(rest[1]), **held)
        raise NotSpelt("that was not written here")

    def _array(self, tag: str, sort: str, shape: list[int], content: str) -> Any:
        kind = np.dtype(sort)
        if kind.kind not in NUMBERS + "U":
            raise NotSpelt("that was not written here")
        found = np.frombuffer(base64.b64decode(content), kind).reshape(shape)
        return found.copy() if tag == "a" else found[()]

    def _object(self, name: str, *fields: list[Any]) -> Any:
        cls: Any = _class(name, dataclasses.is_dataclass)
        held = {field: self.made(value) for field, value in fields}
        if held.keys() != {field.name for field in dataclasses.fields(cls)}:
            raise NotSpelt(f"{name} has other fields here")
        made = object.__new__(cls)
        for field, value in held.items():
            object.__setattr__(made, field, value)
        return made
