"""``python -m dashboard``: checks what is needed, makes the exercise, runs the four processes.

The web server, two computing processes and the feed reader run beside each other; whichever dies
is started again. What cannot work is said in one line, with exit status 2. The web server is
started before anything large is imported here: whoever waits for the plot waits for it.
"""

from __future__ import annotations

import argparse
import os
import re
import signal
import socket
import sys
import threading
import time
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn
from urllib.error import URLError
from urllib.request import urlopen

from dashboard.door import names
from dashboard.server import opening, secrets_file
from dashboard.server.processes import REFUSED, Child, cut_coastline, end_all
from layers import ours
from layers.earth.errors import InputError, JournalError, MusterplotError
from layers.journal import naming

if TYPE_CHECKING:
    from layers.journal.store import Journal

PORT = 8501
TICK_S = 0.5
FIRST_VIEW_S = 8.0  # that a first viewer has both cores to themselves
BASE = re.compile(r"[A-Za-z0-9_-]+(/[A-Za-z0-9_-]+)*")
MOST_DEATHS = 4  # of a web server that never answered


class _Parser(argparse.ArgumentParser):
    """An argument parser that complains in one line."""

    def error(self, message: str) -> NoReturn:
        sys.stderr.write(f"python -m dashboard: {message}; see --help\n")
        raise SystemExit(2)


def arguments(words: Sequence[str] | None) -> argparse.Namespace:
    """Return what was asked for on the command line."""
    parser = _Parser(prog="python -m dashboard", description="Musterplot, with the exercise in it.")
    parser.add_argument("--empty", action="store_true", help="start without the exercise")
    parser.add_argument("--exercise", metavar="NAME", help="an exercise of your own, begun empty")
    parser.add_argument("--clock", metavar="TIME", help="what its clock shows; else it begins now")
    parser.add_argument("--name", metavar="NAME", help="with --empty: what the journal is called")
    parser.add_argument(
        "--journal",
        type=naming.address,
        metavar="URL",
        help=f"an SQLite file or a PostgreSQL URL; one with a password: in {naming.DATABASE}",
    )
    opening.add(parser)
    parser.add_argument("--room", metavar="NAME", default="", help="what this room is called")
    parser.add_argument("--server", metavar="NAME", default="", help="what this server is called")
    parser.add_argument("--port", type=int, default=PORT)
    parser.add_argument("--address", default="127.0.0.1", help="the address to listen on")
    parser.add_argument("--base", metavar="PATH", default="", help="path behind a proxy: /plot")
    parser.add_argument(
        "--host", metavar="NAME", action="append", default=[],
        help="a further name under which readers come: plot.example; may be told several times",
    )  # fmt: skip
    parser.add_argument("--secrets", metavar="FILE", help="the log-in's secrets.toml")
    asked = parser.parse_args(words)
    asked.empty = asked.empty or bool(asked.exercise) or asked.next
    if asked.clock and not asked.exercise:
        parser.error(
            "--clock goes with --exercise NAME: an operation goes by this computer's clock"
        )
    return asked


def say(text: str) -> None:
    """Print a line for whoever started the program."""
    sys.stderr.write(f"{text}\n")
    sys.stderr.flush()


def check_port(address: str, port: int) -> None:
    """Refuse a port that is in use or an address that is not ours.

    Raises
    ------
    InputError
        Says which, and what is accepted.
    """
    if not 1 <= port <= 65535:
        raise InputError(f"{port} is not a port", where="--port", accepted="1 to 65535")
    try:
        family, kind, _, _, place = socket.getaddrinfo(
            address, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE
        )[0]
        with socket.socket(family, kind) as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            probe.bind(place)
    except (OSError, UnicodeError) as fault:
        if getattr(fault, "errno", None) in (98, 48, 10048):  # EADDRINUSE: Linux, macOS, Windows
            raise InputError(
                f"port {port} on {address} is in use",
                where="--port",
                accepted="a free port, such as --port 8600",
            ) from None
        raise InputError(
            f"cannot listen on {address}:{port} ({fault})",
            where="--address",
            accepted="an address of this computer",
        ) from None


def check_folder(folder: Path) -> None:
    """Refuse a data folder that cannot be made or written."""
    from layers.journal.tables.engine import writable_folder

    writable_folder(folder / "x")
    probe = folder / f".probe-{os.getpid()}"
    try:
        probe.write_bytes(b"x")
        probe.unlink()
    except OSError as fault:
        raise JournalError(
            f"the folder {folder} cannot be written ({fault.strerror}); name another one in "
            f"{naming.FOLDER}"
        ) from None


def make_ready(asked: argparse.Namespace, url: str) -> None:
    """Make the journal, with the exercise in it unless asked not to; set its clock going."""
    from layers import incidents

    journal = _opened(asked, url)
    try:
        if not asked.empty:
            if journal.exercise and journal.revision() == 0:
                _fill(url)
            elif journal.exercise:
                resume(url)
        elif journal.exercise:
            _resume_own(asked, url)
        incidents.claim(journal, url)
    finally:
        journal.close()


def _opened(asked: argparse.Namespace, url: str) -> Journal:
    from layers.journal.store import open_journal

    if asked.empty:
        exercise, name = bool(asked.exercise), asked.exercise or asked.name or "Operation"
    else:
        from demo_data.scenario import NAME

        exercise, name = True, NAME
    journal = open_journal(url, {}, name=name, exercise=exercise)
    if asked.exercise and (journal.name, journal.exercise) != (name, True):
        # never a real operation, or another exercise, under the name of this one
        sort = "the exercise" if journal.exercise else "the operation"
        held = f"{journal.place} holds {sort} {journal.name!r}"
        journal.close()
        raise InputError(held, where="--exercise", accepted="another file, by --journal FILE")
    return journal


def _fill(url: str) -> None:
    started = time.monotonic()
    say("making the exercise's journal, once: a few seconds …")
    from demo_data.load import fill
    from layers.catalogue import KINDS
    from layers.journal.store import open_journal

    # Another program may be making the same exercise on the same database: wait for it.
    whole = open_journal(url, KINDS, busy_s=300.0)
    count = fill(whole)
    whole.close()
    say(f"… {count} records in {time.monotonic() - started:.0f} s")


def resume(url: str) -> None:
    """Let the exercise's clock go on from where it stopped, in a record, unless it is kept."""
    from layers.journal.store import open_journal
    from layers.watch import KINDS, exercise_clock

    journal = open_journal(url, {kind.name: kind for kind in KINDS})  # importing all takes a second
    try:
        journal.revision()
        kept = journal.kept_clock()
        if abs((journal.now() - kept).total_seconds()) > 60.0:
            # without a record the check of the journal would call it altered
            exercise_clock.put_clock(journal, exercise_clock.PROGRAM, kept, "started again")
    finally:
        journal.close()


def _resume_own(asked: argparse.Namespace, url: str) -> None:
    """Let an exercise of one's own go on, or begin: now, or at the time told."""
    from layers.earth.clock import parse_time
    from layers.journal.store import open_journal
    from layers.watch import KINDS, exercise_clock

    journal = open_journal(url, {kind.name: kind for kind in KINDS})
    try:
        if asked.clock:
            at = parse_time(asked.clock, "--clock")
            exercise_clock.put_clock(journal, exercise_clock.PROGRAM, at, "told at the start")
        elif question := exercise_clock.resume(journal):
            say(f"{question} The page asks.")
    finally:
        journal.close()


def children(asked: argparse.Namespace, url: str = "") -> list[Child]:
    """Return the four processes, not started yet, and `on_journal` where it is known later."""
    environment = {
        **os.environ,
        naming.DATABASE: url,
        naming.FOLDER: str(naming.data_folder()),
        opening.CHANGE: str(opening.change_file()),
        "MUSTERPLOT_LISTENS": asked.address,
        "MUSTERPLOT_PORT": str(asked.port),
        "MUSTERPLOT_WORKER": "1",
        "MUSTERPLOT_SERVER": asked.server or f"{socket.gethostname()}:{asked.port}",
        **({"MUSTERPLOT_ROOM": asked.room} if asked.room else {}),
    }
    secrets = secrets_file.find(asked.secrets, naming.data_folder())
    if secrets is not None:
        environment[secrets_file.LOG_IN] = "1"
    web = (
        "-m",
        "dashboard.server.web",
        f"--port={asked.port}",
        f"--address={asked.address}",
        *(f"--host={name}" for name in asked.host),
        *((f"--base={base(asked)}",) if base(asked) else ()),
        *((f"--secrets={secrets.resolve()}",) if secrets is not None else ()),
    )
    worker = ("-m", "layers.worker", "--part")
    return [
        # each of its many threads would else keep a heap of its own that only grows
        Child("web server", web, {"MALLOC_ARENA_MAX": "2", **environment}),
        # viewers and feeds come before the next picture, as `layers.worker` says of itself
        Child("computing process", (*worker, "quick"), environment, waits=True, gives_way=2),
        Child("margin's process", (*worker, "slow"), environment, waits=True, gives_way=4),
        Child("feed reader", ("-m", "layers.feeds"), environment, waits=True, gives_way=1),
    ]


def on_journal(held: Sequence[Child], url: str) -> None:
    """Let processes work on a journal, also when they are started again."""
    for child in held:
        child.environment = {**child.environment, naming.DATABASE: url}


def address_words(asked: argparse.Namespace) -> str:
    """Return the address to open in a browser."""
    host = "127.0.0.1" if asked.address in ("0.0.0.0", "::", "") else asked.address  # nosec B104 not bound
    path = f"{base(asked)}/" if base(asked) else ""
    return f"http://{f'[{host}]' if ':' in host else host}:{asked.port}/{path}"


def base(asked: argparse.Namespace) -> str:
    """Return the path that the pages lie under, without slashes at its ends.

    Raises
    ------
    InputError
        It is not a plain path.
    """
    path = str(asked.base).strip("/")
    if path and not BASE.fullmatch(path):
        raise InputError(f"{asked.base!r} is not a path", where="--base", accepted="such as /plot")
    return path


def answers(address: str) -> bool:
    """Return whether the web server answers."""
    try:
        with urlopen(f"{address}_stcore/health", timeout=1.0) as answer:  # nosec B310 own http address
            return bool(answer.status == 200)
    except (URLError, OSError):
        return False


def run(asked: argparse.Namespace, held: Sequence[Child]) -> int:
    """Run the four processes until told to end; the web server may be there already."""
    ending: list[int] = []
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda number, _frame: ending.append(number))
    said: float | None = None
    try:
        for child in held:
            if child.held:
                child.let_go()
            elif not child.waits:
                child.start()
        while not ending:
            if url := opening.asked_change(opening.change_file()):
                held, said = _changed(asked, held, url), None
            if held[0].code() == REFUSED:  # it has said why
                return REFUSED
            if said is None and held[0].deaths >= MOST_DEATHS:
                say("the web server does not start; see the lines above")
                return 1
            if said is None and answers(address_words(asked)):
                said = time.monotonic()
                say(f"Musterplot is at {address_words(asked)} (Ctrl-C ends it)")
                say(opening.words(held[0].environment[naming.DATABASE]))
                # In a thread: whoever dies meanwhile is started again all the same.
                folder = naming.data_folder()
                threading.Thread(target=cut_coastline, args=(folder, say), daemon=True).start()
            seen = said is not None and time.monotonic() - said > FIRST_VIEW_S
            for child in held:
                if seen or not child.waits:
                    child.tend(say)
            time.sleep(0.1 if said is None else TICK_S)
    finally:
        end_all(held)
    say("ended; everything recorded is kept")
    return 0


def _changed(asked: argparse.Namespace, held: Sequence[Child], url: str) -> Sequence[Child]:
    """End the four processes and return those of another incident; the same when it can not be."""
    before = asked.exercise, asked.clock, asked.empty
    asked.exercise, asked.clock = None, None
    from layers import incidents

    asked.empty = url != str(naming.exercise_file().resolve())
    say("changing to another incident")
    try:
        make_ready(asked, url)
        incidents.use(url)
    except MusterplotError as reason:
        say(" ".join(str(reason).split()))
        asked.exercise, asked.clock, asked.empty = before
        return held
    end_all(held)
    made = children(asked, url)
    made[0].start()
    return made


def main(words: Sequence[str] | None = None) -> int:
    """Check, make ready, run; one line and status 2 when that cannot be."""
    asked = arguments(words)
    try:
        check_port(asked.address, asked.port)
        base(asked)
        for name in asked.host:
            names.checked(name)
        ours.keep_to_ourselves(naming.data_folder())
        secrets = secrets_file.find(asked.secrets, naming.data_folder())
        if secrets is not None:
            secrets_file.checked(secrets)
            if ours.seen_by_others(secrets):
                say(f"other accounts of this computer can read {secrets}: chmod 600 it")
    except MusterplotError as reason:
        return _complain(reason)
    held = children(asked)
    web = held[0]
    web.held = True  # it imports what it needs beside what is imported here
    web.start()
    ready = False
    try:
        url = opening.url_for(asked)
        on_journal(held, url)
        made = naming.is_made(url)
        if made:  # it may listen already; its pages wait until the journal is ready
            web.tell(url)
        from layers.journal.tables.engine import parse_url

        parse_url(url)
        check_folder(naming.data_folder())
        ours.servers_key(naming.data_folder())  # one that can not be used is said now
        make_ready(asked, url)
        if not made:
            web.tell(url)
        ready = True
    except MusterplotError as reason:
        return _complain(reason)
    finally:
        if not ready:
            end_all(held)
    return run(asked, held)


def _complain(reason: MusterplotError) -> int:
    say(" ".join(str(reason).split()))
    return 2


if __name__ == "__main__":
    raise SystemExit(main())
