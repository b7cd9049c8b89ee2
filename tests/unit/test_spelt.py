"""What servers share is text that carries no code, and comes back as it was."""

from __future__ import annotations

import dataclasses
import json
import math
import zlib
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from enum import Enum
from typing import Any

import numpy as np
import pytest
from pydantic import BaseModel

from layers.catalogue import LAYERS
from layers.earth.position import Position
from layers.earth.table import Table
from layers.journal.known import Known
from layers.picture import Picture
from layers.spelt import NotSpelt, read, spelt
from layers.survivors.air.learning.again import PacesKept


def alike(a: Any, b: Any, where: str = "") -> None:
    """Compare two values all the way down, types with them."""
    assert type(a) is type(b), where
    if isinstance(a, np.ndarray):
        assert a.dtype == b.dtype, where
        np.testing.assert_array_equal(a, b, err_msg=where)
    elif dataclasses.is_dataclass(a):
        for field in dataclasses.fields(a):
            alike(getattr(a, field.name), getattr(b, field.name), f"{where}.{field.name}")
    elif isinstance(a, BaseModel):
        assert a == b, where
    elif isinstance(a, PacesKept):
        assert len(b) == 0, (
            "what follows from the rest, and is as large as all of it, is left behind"
        )
    elif isinstance(a, Mapping):
        assert list(a) == list(b), where
        for key in a:
            alike(a[key], b[key], f"{where}[{key}]")
    elif isinstance(a, tuple | list):
        assert len(a) == len(b), where
        for number, (one, other) in enumerate(zip(a, b, strict=True)):
            alike(one, other, f"{where}[{number}]")
    elif isinstance(a, float) and math.isnan(a):
        assert math.isnan(b), where
    elif isinstance(a, Enum):
        assert a is b, where
    else:
        assert a == b, where


@pytest.mark.parametrize("key", [layer.key for layer in LAYERS])
def test_every_layer_s_result_comes_back_as_it_was(demo: tuple[Picture, Known], key: str) -> None:
    made = demo[0].layers[key]
    alike(made, read(spelt(made)), key)


def test_values_come_back_to_the_last_digit() -> None:
    for value in (
        0.1 + 0.2, -0.0, math.inf, 2**80, "½ nautical mile\n\u2028", None, True, (), [1, (2,)],
        frozenset({1, 2}), {(1, "a"): [None]}, datetime(2027, 3, 15, 23, 40, 0, 5, tzinfo=UTC),
        timedelta(days=-1, microseconds=3), np.float64(0.1), np.int32(7),
        np.array([[1.5, np.nan]]), np.array([], dtype=bool), np.array(["ab", "c"]),
        np.array(["ab", None, "c"], dtype=object),
        np.array(["2027-03-15T23:40"], dtype="datetime64[us]"), Position(49.5, -9.0),
    ):  # fmt: skip
        alike(value, read(spelt(value)))
    assert math.copysign(1.0, read(spelt(-0.0))) == -1.0


def test_what_was_one_thing_comes_back_as_one() -> None:
    place = Position(49.5, -9.0)
    first, second = read(spelt([place, place]))
    assert first is second


@pytest.mark.parametrize("value", [
    print, lambda: None, open, object(), type, np.array([object()]), Position, {"a": print},
])  # fmt: skip
def test_what_is_no_value_is_not_written(value: Any) -> None:
    with pytest.raises(NotSpelt):
        spelt(value)


@pytest.mark.parametrize("told", [
    ["o", "os:system", ["command", "true"]],
    ["o", "subprocess:Popen"],
    ["o", "builtins:object"],
    ["n", "layers.results:Results"],
    ["o", "layers.results:Results"],
    ["e", "layers.worker:Path", "x"],
    ["o", "layers.spelt:dataclasses"],
    ["o", "layers.earth.position:np"],
    ["o", "layers.nowhere:Nothing"],
    ["o", "layers.earth.position:Position", ["latitude_deg", 1.0]],
    ["o", "layers.earth.position:Position", ["__class__", 1.0]],
    ["a", "|O", [1], "AAAAAAAAAAA="],
    ["b", [1], [["t", "2027-03-15", 0]]],
    ["k", "layers.results:Results"],
    ["r", 0], ["zz"], {"a": 1}, [], ["e"], ["(", ["r", -1]],
])  # fmt: skip
def test_what_names_anything_but_a_value_of_this_program_is_refused(told: Any) -> None:
    with pytest.raises(NotSpelt):
        read(zlib.compress(json.dumps(told).encode()))


def test_what_is_cut_off_or_no_text_is_refused() -> None:
    whole = spelt(
        Table.of(
            (),
        )
    )
    for data in (b"", b"x", whole[:-3], zlib.compress(b"nothing"), zlib.compress(b"[" * 100_000)):
        with pytest.raises(NotSpelt):
            read(data)
