"""The land in metres of a frame, written once to files that the browser fetches and keeps.

One says which levels of detail there are, and each of these is a file of its own: a browser
fetches the one that it shows. A file's name is the hash of its content, so that a browser never
keeps an old coast and never fetches the same one twice. The coast is public: nothing operational
is served this way.
"""

from __future__ import annotations

import hashlib
import threading
from pathlib import Path

import streamlit.components.v1 as components

from dashboard import settings
from layers.earth.chart.frames import ChartFrame
from layers.earth.shore.land import Land
from layers.scene.land_metres import VERSION, json_text, land_levels

_making = threading.Lock()


def _folder() -> Path:
    folder = settings.data_folder() / "cache" / "land"
    folder.mkdir(parents=True, exist_ok=True)
    return folder


def land_address(land: Land, frame: ChartFrame) -> str:
    """Return the relative address of the frame's land, empty while there is none."""
    if not land.ready():
        return ""
    folder = _folder()
    components.declare_component("coast", path=str(folder))
    key = hashlib.sha256(f"{VERSION} {frame.projection_key}".encode()).hexdigest()[:20]
    index = folder / f"{key}.index"
    with _making:  # of fifty who come at once, one cuts it
        if not index.exists() or not (folder / index.read_text()).exists():
            levels = [
                {**level, "fill": [], "coast": [], "file": _kept(folder, level)}
                for level in land_levels(land, frame)
            ]
            _write(index, _kept(folder, levels))
    return f"../{__name__}.coast/{index.read_text()}"


def _kept(folder: Path, content: object) -> str:
    """Write something under the hash of its content; return the file's name."""
    text = json_text(content)
    name = hashlib.sha256(text.encode()).hexdigest()[:20] + ".json"
    _write(folder / name, text)
    return name


def _write(path: Path, text: str) -> None:
    part = path.with_suffix(f".part{id(text)}")
    part.write_text(text)
    part.replace(path)  # whole or not at all, also when two viewers ask at once
