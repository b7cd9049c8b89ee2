"""The web server: Streamlit's own, which has imported the pages before the first viewer comes.

``python -m dashboard`` starts ``python -m dashboard.web run …`` with the words that Streamlit's
command takes. While the journal is still made ready, and while the first viewer's browser still
loads, what the pages need is imported; otherwise that viewer would wait for it.
"""

from __future__ import annotations

import logging
import os
import sys
import threading
import time
from importlib import import_module

from streamlit import net_util, runtime
from streamlit.web import cli

from dashboard.processes import HELD

log = logging.getLogger(__name__)

# Nothing that declares a component: Streamlit takes those from a page only.
FIRST = (
    "numpy",
    "layers.journal.store",
    "layers.catalogue",
    "dashboard.view",
    "folium",
    "layers.scene.snapshot",
)
PATIENCE_S = 60.0
GOES = threading.Event()


def warm() -> None:
    """Import what the first page needs; while the server gets ready to listen, stand aside."""
    end = time.monotonic() + PATIENCE_S
    for name in FIRST:
        while GOES.is_set() and not runtime.exists() and time.monotonic() < end:
            time.sleep(0.02)
        try:
            import_module(name)
        except Exception:  # the page will say it to whoever opens it
            log.exception("%s could not be imported", name)


def ask_nobody() -> None:
    """Keep Streamlit from asking the network for this machine's addresses.

    It asks for each socket with a foreign origin, in the event loop, for seconds: whoever can
    open sockets would stop every viewer, and a third party would hear that a plot runs here.
    """
    net_util.get_external_ip = lambda: None
    net_util.get_internal_ip = lambda: None


def main() -> None:
    """Run the server with the words of the command line, once it is let go."""
    threading.Thread(target=warm, name="warming", daemon=True).start()
    if os.environ.get(HELD) and not sys.stdin.buffer.read(1):
        return  # what would have let it go has ended
    GOES.set()
    ask_nobody()
    cli.main(sys.argv[1:], prog_name="streamlit")


if __name__ == "__main__":
    main()
