"""``python -m layers VERB …``: the same work without a screen.

With ``--json`` one JSON object goes to standard output and nothing else. Bad input ends with
status 2 and one line on standard error; never a traceback.
"""

from __future__ import annotations

import argparse
import json
import os
import pkgutil
import sys
from collections.abc import Sequence
from datetime import datetime
from importlib import import_module
from types import ModuleType
from typing import NoReturn

import layers.commands
from layers.earth.clock import iso
from layers.earth.errors import MusterplotError
from layers.earth.said.alike import visible


class _Parser(argparse.ArgumentParser):
    """An argument parser that complains in one line, not with its whole usage."""

    def error(self, message: str) -> NoReturn:
        sys.stderr.write(f"{self.prog}: {message}; see {self.prog} --help\n")
        raise SystemExit(2)


def verbs(words: Sequence[str] = ()) -> dict[str, ModuleType]:
    """Return the verb modules by name; only the one that is meant, where the words name one.

    Measuring a bearing must not wait for every layer to be loaded.
    """
    names = sorted(info.name for info in pkgutil.iter_modules(layers.commands.__path__))
    if words and words[0] in names:
        names = [words[0]]
    found = {name: import_module(f"layers.commands.{name}") for name in names}
    return {name: module for name, module in found.items() if hasattr(module, "add")}


def main(words: Sequence[str] | None = None) -> int:
    """Run one verb; return the exit status."""
    given = list(sys.argv[1:] if words is None else words)
    parser = _Parser(
        prog="python -m layers",
        description="Musterplot without a screen.",
        epilog=_layers() if given and given[0] in ("-h", "--help") else None,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parsers = parser.add_subparsers(dest="verb", required=True, parser_class=_Parser)
    found = verbs(given)
    for module in found.values():
        module.add(parsers)
    for sub in parsers.choices.values():
        sub.add_argument("--json", action="store_true", help="print one JSON object, nothing else")
    arguments = parser.parse_args(given)
    module = found[arguments.verb]
    try:
        if catalogue := sys.modules.get("layers.catalogue"):
            catalogue.check()
        answer = module.run(arguments)
    except MusterplotError as reason:
        sys.stderr.write(visible(" ".join(str(reason).split())) + "\n")
        return 2
    text = json.dumps(answer, default=_plain, ensure_ascii=False)
    try:
        # what stands in a file's name or a record must not command the terminal
        print(text if arguments.json else visible(module.say(answer)), flush=True)
    except BrokenPipeError:  # whoever read it has heard enough
        sys.stdout = open(os.devnull, "w")  # noqa: SIM115  closed by the interpreter at its end
    return int(getattr(module, "status", lambda _answer: 0)(answer))


def _layers() -> str:
    from layers.catalogue import table_of_layers  # only who asks for help waits for it

    return f"The layers, from below to above:\n\n{table_of_layers()}"


def _plain(value: object) -> object:
    if isinstance(value, datetime):
        return iso(value)
    if hasattr(value, "tolist"):
        return value.tolist()
    raise TypeError(f"{type(value).__name__} has no JSON form")


if __name__ == "__main__":
    raise SystemExit(main())
