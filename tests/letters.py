"""Makes the two files of `dashboard/letters` from the framework's: ``python -m tests.letters``.

The framework's symbols are 375 kB and its letters 170 kB: 17 s on a line of 256 kbit/s.
Ours hold the symbols that its scripts may ask for, and the Latin and Greek letters with the signs
of the trade; what is beyond is fetched from the whole file, when something asks for it.

Material Symbols stand under the Apache License 2.0, Source Sans under the SIL Open Font License
1.1, by which a file that was changed carries another name.
"""

from __future__ import annotations

import io
import re
import sys
from collections.abc import Iterable
from functools import cache
from pathlib import Path
from types import ModuleType

import pyarrow
import streamlit
from fontTools.subset import Options, Subsetter
from fontTools.ttLib import TTFont

from dashboard.door.letters import FOLDER, ICONS, LETTERS, RANGES

STATIC = Path(streamlit.__file__).parent / "static" / "static"
SPECIAL = re.compile(r"[\"'`:/]([a-z0-9_]{2,40})[\"'`:]")
SYMBOL = re.compile(r":material/([a-z0-9_]+):")
ROOT = Path(__file__).resolve().parents[1]
OURS = "Plot Letters"


def _unpack(data: bytes) -> bytes:
    return pyarrow.CompressedInputStream(pyarrow.BufferReader(data), "brotli").read()


def _pack(data: bytes, *_more: object, **_named: object) -> bytes:
    return pyarrow.compress(data, codec="brotli", asbytes=True)


def opened(data: bytes) -> TTFont:
    """Return a letter file read; pyarrow, which the framework brings, unpacks it."""
    packing = ModuleType("brotli")
    packing.decompress, packing.compress, packing.MODE_FONT = _unpack, _pack, 2  # type: ignore[attr-defined]  # what the package keeps to itself
    sys.modules.setdefault("brotli", packing)
    import fontTools.ttLib.woff2 as woff2

    woff2.brotli, woff2.haveBrotli = packing, True
    return TTFont(io.BytesIO(data), lazy=False)


def framework(start: str) -> bytes:
    """Return one letter file of the framework's own."""
    (found,) = (STATIC / "media").glob(f"{start}*.woff2")
    return found.read_bytes()


@cache
def names_in(font: bytes) -> dict[str, str]:
    """Return the symbols of a file: the word that each stands for, and its glyph."""
    held = opened(font)
    letters = {glyph: chr(code) for code, glyph in held.getBestCmap().items()}
    return {
        "".join(letters[part] for part in (first, *one.Component)): one.LigGlyph
        for lookup in held["GSUB"].table.LookupList.Lookup
        for table in lookup.SubTable
        for first, many in getattr(table, "ExtSubTable", table).ligatures.items()
        for one in many
    }


def asked_for() -> set[str]:
    """Return every word in the framework's scripts and pages that is a symbol's name."""
    texts = [path.read_text("utf-8", "replace") for path in (STATIC / "js").glob("*.js")]
    package = Path(streamlit.__file__).parent
    words = {word for text in texts for word in SPECIAL.findall(text)}
    for folder in (package, ROOT / "dashboard"):
        words |= {w for path in folder.rglob("*.py") for w in SYMBOL.findall(path.read_text())}
    return words & names_in(framework("MaterialSymbols-Rounded")).keys()


def icons() -> TTFont:
    """Return the symbols that may be asked for."""
    whole = framework("MaterialSymbols-Rounded")
    font, kept = opened(whole), asked_for()
    letters = {glyph: chr(code) for code, glyph in font.getBestCmap().items()}
    for lookup in font["GSUB"].table.LookupList.Lookup:
        for table in lookup.SubTable:
            table = getattr(table, "ExtSubTable", table)
            table.ligatures = {
                first: [
                    one
                    for one in many
                    if "".join(letters[part] for part in (first, *one.Component)) in kept
                ]
                for first, many in table.ligatures.items()
            }
    return _cut(font, map(ord, "abcdefghijklmnopqrstuvwxyz0123456789_ "), ["*"])


def letters() -> TTFont:
    """Return the letters of `RANGES`, under a name of their own."""
    font = opened(framework("SourceSansVF-Upright"))
    for record in font["name"].names:
        if record.nameID in (1, 3, 4, 6, 16, 25):
            said = OURS.replace(" ", "") if record.nameID in (6, 25) else OURS
            record.string = said.encode(record.getEncoding())
    codes = [code for least, most in RANGES for code in range(least, most + 1)]
    wanted = ["kern", "mark", "mkmk", "ccmp", "locl", "liga", "pnum", "sups", "subs"]
    return _cut(font, codes, wanted)


def _cut(font: TTFont, codes: Iterable[int], features: list[str]) -> TTFont:
    options = Options(layout_features=features, name_IDs=["*"], hinting=False, notdef_outline=True)
    worker = Subsetter(options)
    worker.populate(unicodes=codes)
    worker.subset(font)
    font.flavor = "woff2"
    return font


def main() -> None:
    """Write both."""
    FOLDER.mkdir(exist_ok=True)
    for name, font in ((ICONS, icons()), (LETTERS, letters())):
        font.save(FOLDER / name)
        print(f"{name}: {(FOLDER / name).stat().st_size / 1e3:.0f} kB")


if __name__ == "__main__":
    main()
