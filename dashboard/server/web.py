"""The web server: Streamlit's own behind one door, with the pages imported before anybody comes.

``python -m dashboard`` starts ``python -m dashboard.server.web --port …`` before all else. While
the journal is still made ready, and while the first viewer's browser still loads, what the pages
need is imported; otherwise that viewer would wait for it. Where the journal was there before it
listens meanwhile, and its pages wait until it is ready.
"""

from __future__ import annotations

import argparse
import gc
import logging
import os
import sys
import threading
import time
from collections.abc import Sequence
from importlib import import_module
from pathlib import Path

from streamlit import net_util, runtime

from dashboard.door.names import Names
from dashboard.door.patience import be_patient_no_longer
from dashboard.door.served import application
from dashboard.server import secrets_file
from dashboard.server.processes import HELD, REFUSED
from dashboard.settings import READY
from layers.earth.errors import MusterplotError
from layers.earth.unswept import unswept
from layers.journal.naming import DATABASE

log = logging.getLogger(__name__)

CATALOGUE = "layers.catalogue"
# Nothing that declares a component: Streamlit takes those from a page only.
FIRST = (
    "numpy",
    "layers.journal.store",
    CATALOGUE,
    "dashboard.view",
    "folium.plugins",
    "pyarrow",
    "layers.heard",
    "layers.scene.snapshot",
)
OPTIONS: dict[str, object] = {
    "server.headless": True,
    "server.fileWatcherType": "none",
    "server.maxUploadSize": 100,
    "server.enableWebsocketCompression": True,  # a page is text; a slow line has 256 kbit/s
    "browser.gatherUsageStats": False,
    # Collecting garbage after every run costs 100 ms a fragment with many small objects alive.
    "runner.postScriptGC": False,
    "client.toolbarMode": "minimal",
    "client.showErrorDetails": "none",
    "client.allowedOrigins": [],  # no page of another site may frame and command this one
    "logger.hideWelcomeMessage": True,  # the starter says where the plot is
}
PATIENCE_S = 60.0
GOES = threading.Event()


def warm() -> None:
    """Import what the first page needs; while the server gets ready to listen, stand aside."""
    with unswept():
        for name in FIRST:
            _warm(name)
    gc.freeze()  # none of it is ever garbage: it is not looked through again


def _warm(name: str) -> None:
    end = time.monotonic() + PATIENCE_S
    while GOES.is_set() and not runtime.exists() and time.monotonic() < end:
        time.sleep(0.02)
    try:
        import_module(name)
        if name == CATALOGUE:
            import_module("dashboard.page_table").check()
    except MusterplotError as reason:  # layers that clash: there is no plot of them
        sys.stderr.write(f"{' '.join(str(reason).split())}\n")
        sys.stderr.flush()
        os._exit(REFUSED)
    except Exception:  # the page will say it to whoever opens it
        log.exception("%s could not be imported", name)


def ask_nobody() -> None:
    """Keep Streamlit from asking the network for this machine's addresses.

    It asks for each socket with a foreign origin, in the event loop, for seconds: whoever can
    open sockets would stop every viewer, and a third party would hear that a plot runs here. The
    door lets none of them come so far; this holds should one.
    """
    net_util.get_external_ip = lambda: None
    net_util.get_internal_ip = lambda: None


def arguments(words: Sequence[str] | None) -> argparse.Namespace:
    """Return what the starter said."""
    parser = argparse.ArgumentParser(prog="python -m dashboard.server.web")
    parser.add_argument("--port", type=int, required=True)
    parser.add_argument("--address", default="127.0.0.1")
    parser.add_argument("--base", default="")
    parser.add_argument("--host", action="append", default=[])
    parser.add_argument("--secrets")
    return parser.parse_args(words)


def options(asked: argparse.Namespace, names: Names) -> dict[str, object]:
    """Return the framework's options for what was asked."""
    told: dict[str, object] = {
        **OPTIONS,
        "server.port": asked.port,
        "server.address": asked.address,
        "server.allowedHosts": names.for_streamlit(),
    }
    if asked.base:
        told["server.baseUrlPath"] = asked.base
    if asked.secrets:
        told["secrets.files"] = [asked.secrets]
    return told


def _until_let_go() -> None:
    """Let the pages go on when the journal is ready."""
    if not sys.stdin.buffer.read(1):
        os._exit(0)  # who would have let it go has ended
    READY.set()


def main(words: Sequence[str] | None = None) -> None:
    """Run the server, when the starting process says for which journal."""
    asked = arguments(words)
    threading.Thread(target=warm, name="warming", daemon=True).start()
    if os.environ.get(HELD):
        READY.clear()
        url = sys.stdin.buffer.readline()
        if not url:
            return  # what would have let it go has ended
        os.environ[DATABASE] = url.decode().strip()
        threading.Thread(target=_until_let_go, name="held", daemon=True).start()
    GOES.set()
    ask_nobody()
    be_patient_no_longer()
    auth = secrets_file.checked(Path(asked.secrets)) if asked.secrets else {}
    names = Names.of(asked.address, asked.host, str(auth.get("redirect_uri", "")))
    application(names, asked.base).run(config=options(asked, names))


if __name__ == "__main__":
    main()
