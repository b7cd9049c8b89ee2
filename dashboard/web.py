"""The web server: Streamlit's own, which has imported the pages before the first viewer comes.

``python -m dashboard`` starts ``python -m dashboard.web run …`` with the words that Streamlit's
command takes. While the first viewer's browser still loads, what the pages need is imported;
otherwise that viewer would wait for it.
"""

from __future__ import annotations

import logging
import sys
import threading
import time
from importlib import import_module

from streamlit import runtime
from streamlit.web import cli

log = logging.getLogger(__name__)

# Nothing that declares a component: Streamlit takes those from a page only.
FIRST = ("dashboard.view", "folium", "layers.scene.snapshot")
PATIENCE_S = 60.0


def warm() -> None:
    """Import what the first page needs, once the server listens."""
    end = time.monotonic() + PATIENCE_S
    while not runtime.exists() and time.monotonic() < end:
        time.sleep(0.02)
    for name in FIRST:
        try:
            import_module(name)
        except Exception:  # the page will say it to whoever opens it
            log.exception("%s could not be imported", name)


def main() -> None:
    """Run the server with the words of the command line."""
    threading.Thread(target=warm, name="warming", daemon=True).start()
    cli.main(sys.argv[1:], prog_name="streamlit")


if __name__ == "__main__":
    main()
