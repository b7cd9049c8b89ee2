from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from urllib.request import urlopen

import psutil
import pytest

from dashboard import __main__ as command
from dashboard.server.processes import ROOT, Child, end_all
from layers.earth.errors import InputError, JournalError
from layers.journal import naming
from layers.journal.store import open_journal
from tests.journals import KINDS

HELD_PROGRAM = """
import os, pathlib, sys, time
pathlib.Path({ready!r}).touch()
held = os.environ.get("MUSTERPLOT_HELD")
pathlib.Path({went!r}).write_text(sys.stdin.buffer.read(1).decode() if held else "")
time.sleep(60)
"""
ENV = dict(os.environ)


def until(true: object, seconds: float = 20.0) -> bool:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if callable(true) and true():
            return True
        time.sleep(0.05)
    return False


@pytest.fixture
def child(tmp_path: Path) -> Iterator[Child]:
    script = tmp_path / "lives.py"
    script.write_text("import time\ntime.sleep(60)\n")
    made = Child("sleeper", (str(script),), dict(os.environ))
    yield made
    end_all([made])


def test_a_child_that_is_killed_is_started_again_and_said(child: Child) -> None:
    said: list[str] = []
    child.tend(said.append)
    assert child.process is not None
    first = child.process.pid
    child.process.kill()
    child.process.wait()
    assert until(lambda: child.tend(said.append) or child.running())
    assert child.process.pid != first
    assert said == ["the sleeper was ended by signal 9; starting it again in 1 s"]


def test_a_child_that_dies_young_again_and_again_waits_longer(tmp_path: Path) -> None:
    script = tmp_path / "dies.py"
    script.write_text("raise SystemExit(3)\n")
    made = Child("short-lived", (str(script),), dict(os.environ))
    said: list[str] = []
    assert until(lambda: made.tend(said.append) or made.deaths >= 2)
    assert said[0].endswith("ended with status 3; starting it again in 1 s")
    assert said[1].endswith("starting it again in 2 s")
    end_all([made])


def test_a_held_child_gets_ready_and_goes_on_when_it_is_let_go(tmp_path: Path) -> None:
    ready, went = tmp_path / "ready", tmp_path / "went"
    made = Child("held", ("-c", HELD_PROGRAM.format(ready=str(ready), went=str(went))), ENV)
    made.held = True
    made.start()
    try:
        assert until(ready.exists)
        time.sleep(0.3)
        assert made.running()
        assert not went.exists()
        made.let_go()
        assert until(went.exists)
        assert went.read_text() == "1"
        went.unlink()
        assert made.process is not None
        made.process.kill()
        made.process.wait()
        # started again after a death it waits for nobody
        assert until(lambda: made.tend(lambda _: None) or went.exists())
        assert went.read_text() == ""
        again = Child("dead", ("-c", "raise SystemExit(3)"), ENV, held=True)
        again.start()
        assert until(lambda: not again.running())
        again.let_go()  # nothing is raised
        assert not again.held
    finally:
        end_all([made])


def test_a_held_child_ends_when_nobody_can_let_it_go_any_more(tmp_path: Path) -> None:
    made = Child(
        "held", ("-m", "dashboard.server.web", "--port=1"), {**os.environ, "PYTHONPATH": str(ROOT)}
    )
    made.held = True
    made.start()
    assert made.process is not None
    assert made.process.stdin is not None
    made.process.stdin.close()
    assert made.process.wait(60) == 0


def test_the_web_server_is_started_before_anything_large_is_imported() -> None:
    asked = (
        "import sys; from dashboard.__main__ import arguments, children; "
        "children(arguments(['--port', '8599'])); "
        "print(sorted({'sqlalchemy', 'numpy', 'streamlit', 'layers.catalogue'} & set(sys.modules)))"
    )
    done = subprocess.run(
        [sys.executable, "-c", asked], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"


def test_where_the_journal_was_there_the_server_listens_and_its_pages_wait(tmp_path: Path) -> None:
    place = tmp_path / "journal.sqlite"
    open_journal(place, KINDS).close()
    assert naming.is_made(str(place))
    assert not naming.is_made(str(tmp_path / "none.sqlite"))
    port = free_port()
    more = {"PYTHONPATH": str(ROOT), naming.FOLDER: str(tmp_path), "MUSTERPLOT_PORT": str(port)}
    made = Child("web", ("-m", "dashboard.server.web", f"--port={port}"), {**os.environ, **more})
    made.held = True
    made.start()
    address = f"http://127.0.0.1:{port}/"
    try:
        made.tell(str(place))
        assert until(lambda: command.answers(address), 90)
        with pytest.raises(TimeoutError), urlopen(f"{address}plain", timeout=8.0):
            pass
        made.let_go()
        with urlopen(f"{address}plain", timeout=90.0) as answer:
            assert answer.status == 200
    finally:
        end_all([made])


def test_a_web_server_that_can_not_be_ends_the_start(tmp_path: Path) -> None:
    made = Child("web server", ("-c", "raise SystemExit(2)"), ENV)
    before = [signal.getsignal(number) for number in (signal.SIGTERM, signal.SIGINT)]
    try:
        assert command.run(command.arguments(["--port", str(free_port())]), [made]) == 2
    finally:
        signal.signal(signal.SIGTERM, before[0])
        signal.signal(signal.SIGINT, before[1])
    assert made.deaths == 0, "it is not started again"


def test_layers_that_clash_are_said_by_the_web_server(
    monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    from dashboard import page_table
    from dashboard.server import web

    def clash() -> None:
        raise InputError("the page 'log' is named by the program itself and by layer 'ice'")

    def ended(status: int) -> None:
        raise SystemExit(status)

    monkeypatch.setattr(page_table, "check", clash)
    monkeypatch.setattr(web.os, "_exit", ended)
    with pytest.raises(SystemExit) as end:
        web._warm(web.CATALOGUE)
    assert end.value.code == 2
    said = capfd.readouterr().err
    assert said == "the page 'log' is named by the program itself and by layer 'ice'\n"


def test_all_end_together_even_one_that_will_not(tmp_path: Path) -> None:
    deaf = tmp_path / "deaf.py"
    deaf.write_text(
        "import signal, time, sys\nsignal.signal(signal.SIGTERM, signal.SIG_IGN)\n"
        "print('up', flush=True)\ntime.sleep(60)\n"
    )
    made = Child("deaf", (str(deaf),), dict(os.environ))
    made.start()
    time.sleep(0.5)
    began = time.monotonic()
    end_all([made])
    assert not made.running()
    assert time.monotonic() - began < 15


def test_a_port_in_use_has_its_sentence() -> None:
    with socket.socket() as held:
        held.bind(("127.0.0.1", 0))
        held.listen()
        port = held.getsockname()[1]
        with pytest.raises(InputError, match=f"port {port} on 127.0.0.1 is in use"):
            command.check_port("127.0.0.1", port)
    with pytest.raises(InputError, match="70000 is not a port"):
        command.check_port("127.0.0.1", 70000)
    with pytest.raises(InputError, match=r"cannot listen on 192\.0\.2\.1"):
        command.check_port("192.0.2.1", 8599)


def test_a_folder_that_cannot_be_made_has_its_sentence(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(JournalError, match="cannot be made"):
        command.check_folder(tmp_path / "file" / "below")


def complaint(folder: Path, *words: str, **more: str) -> tuple[int, str]:
    environment = {**os.environ, naming.FOLDER: str(folder), **more}
    environment.pop(naming.DATABASE, None)
    done = subprocess.run(
        [sys.executable, "-m", "dashboard", *words],
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.stdout == ""
    return done.returncode, done.stderr


def test_what_cannot_work_is_one_line_and_status_2(tmp_path: Path) -> None:
    newer = tmp_path / "newer.sqlite"
    journal = open_journal(newer, KINDS)
    with journal.engine.begin() as connection:
        connection.exec_driver_sql("UPDATE alembic_version SET version_num = '9000'")
    journal.close()
    code, text = complaint(tmp_path, "--journal", str(newer), "--port", "8598")
    assert (code, text.count("\n")) == (2, 1)
    assert "made by a newer version" in text
    code, text = complaint(tmp_path, "--port", "none")
    assert (code, text.count("\n")) == (2, 1)
    (tmp_path / "file").write_text("")
    code, text = complaint(tmp_path / "file" / "below", "--port", "8598")
    assert (code, text.count("\n")) == (2, 1)


def free_port() -> int:
    with socket.socket() as held:
        held.bind(("127.0.0.1", 0))
        return int(held.getsockname()[1])


def children_of(parent: subprocess.Popen[bytes]) -> list[psutil.Process]:
    return list(psutil.Process(parent.pid).children())


def test_the_command_runs_its_processes_and_ends_them_all(tmp_path: Path) -> None:
    port = free_port()
    environment = {**os.environ, naming.FOLDER: str(tmp_path)}
    environment.pop(naming.DATABASE, None)
    (tmp_path / "land").mkdir()
    log = (tmp_path / "log").open("w")
    command_line = [sys.executable, "-m", "dashboard", "--empty", "--port", str(port)]
    parent = subprocess.Popen(command_line, cwd=ROOT, env=environment, stderr=log, stdout=log)
    try:
        assert until(lambda: command.answers(f"http://127.0.0.1:{port}/"), 90)
        words = ("dashboard.server.web", "quick", "slow", "layers.feeds")
        assert until(lambda: all(any(w in p.cmdline() for p in children_of(parent)) for w in words))
        family = children_of(parent)
        web = next(p for p in family if "dashboard.server.web" in p.cmdline())
        web.kill()
        assert until(lambda: not web.is_running() or web.status() == psutil.STATUS_ZOMBIE)
        assert until(lambda: command.answers(f"http://127.0.0.1:{port}/"), 90)
        family = psutil.Process(parent.pid).children(recursive=True)
        parent.send_signal(signal.SIGTERM)
        assert parent.wait(30) == 0
        _, alive = psutil.wait_procs(family, timeout=10)
        assert alive == []
    finally:
        parent.kill()
        parent.wait()
        log.close()
    said = (tmp_path / "log").read_text()
    assert f"Musterplot is at http://127.0.0.1:{port}/" in said
    assert "the web server was ended by signal 9; starting it again" in said
    assert "everything recorded is kept" in said


def test_the_children_die_with_a_parent_that_is_killed(tmp_path: Path) -> None:
    if sys.platform != "linux":
        pytest.skip("not run: only Linux ends a child with its parent")
    script = tmp_path / "parent.py"
    script.write_text(
        "import os, sys, time\nfrom dashboard.server.processes import Child\n"
        "child = Child('c', ('-c', 'import time; time.sleep(60)'), dict(os.environ))\n"
        "child.start()\nprint(child.process.pid, flush=True)\ntime.sleep(60)\n"
    )
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    with subprocess.Popen(
        [sys.executable, str(script)], env=environment, stdout=subprocess.PIPE, text=True
    ) as parent:
        assert parent.stdout is not None
        pid = int(parent.stdout.readline())
        parent.kill()

    def gone() -> bool:
        state = Path(f"/proc/{pid}/stat")
        return not state.exists() or state.read_text().rsplit(") ", 1)[1].startswith("Z")

    assert until(gone)


def test_what_computes_gives_way_to_what_is_shown() -> None:
    told = Path("/proc/self/autogroup")
    if not told.exists():
        pytest.skip("not run: this system does not share its time between sessions")
    held = command.children(command.arguments(["--port", "8599"]))
    by_name = {child.name: child.gives_way for child in held}
    assert by_name["web server"] == 0
    assert by_name["web server"] < by_name["feed reader"] < by_name["computing process"]
    assert by_name["computing process"] < by_name["margin's process"]
    say = f"import sys, pathlib; sys.exit(int(pathlib.Path({str(told)!r}).read_text().split()[-1]))"
    made = Child("giving way", ("-c", say), ENV, gives_way=7)
    made.start()
    try:
        assert until(lambda: made.code() is not None)
        assert made.code() == 7
    finally:
        end_all([made])
