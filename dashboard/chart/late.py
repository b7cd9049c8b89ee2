"""A large package that is imported when something of it is first asked for.

The map library imports pandas, half a second, to ask whether what it was given is a table of that.
Nothing here is; a page with such tables imports it when it shows one.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from importlib import import_module
from types import ModuleType
from typing import Any

ASIDE = ("__file__", "__loader__", "__wrapped__")


class _Late(ModuleType):
    """Stands for a package: whatever is asked of it is asked of the package itself."""

    def __getattr__(self, name: str) -> Any:
        if name in ASIDE:  # asked of every module there is, by who looks for one
            raise AttributeError(name)
        _put_back(self)
        return getattr(import_module(self.__name__), name)


def _put_back(stand_in: ModuleType) -> None:
    if sys.modules.get(stand_in.__name__) is stand_in:
        sys.modules.pop(stand_in.__name__, None)


@contextmanager
def late(name: str) -> Iterator[None]:
    """Let what is imported inside have a package without importing it, unless it is there."""
    stand_in = _Late(name)
    if name not in sys.modules:
        sys.modules[name] = stand_in
    try:
        yield
    finally:
        _put_back(stand_in)
