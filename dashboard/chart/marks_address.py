"""The address of one layer's marks, from which the browser fetches them once.

They go the way that a download goes: held in memory while a session shows them, under the hash
of their own content, which nobody can guess who has not been shown it, and never on disk.
"""

from __future__ import annotations

from base64 import b64encode

from streamlit import runtime

PACKED = "application/gzip"  # already small: the server does not pack it again


def marks_address(layer: str, content: bytes) -> str:
    """Return the address of packed marks, relative to the chart's own frame.

    Parameters
    ----------
    layer : str
        Whose marks; a session holds the last of each layer.
    content : bytes
        As `dashboard.chart.shared.KeptTexts.part` gives them.
    """
    if not runtime.exists():  # a page under test has no server: the content is its own address
        return f"data:{PACKED};base64,{b64encode(content).decode()}"
    held = runtime.get_instance().media_file_mgr
    return "../.." + held.add(content, PACKED, f"marks {layer}")
