"""What the page of every layer shows: sentence, caution, chart, every table, each as CSV.

A layer without a page of its own is shown by `page` and needs nothing here. The pages in
``dashboard/screens`` begin with `head` and end with `foot`, and have panels of their own between.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from datetime import datetime
from functools import partial
from typing import cast

import streamlit as st

from dashboard import follow
from dashboard.panels.plot import chart, snapshot
from dashboard.panels.text import caution, line, panel, words
from dashboard.tools import need
from dashboard.view import Seen, current
from layers.catalogue import BY_KEY, LAYERS
from layers.contract import Shown
from layers.earth.clock import dtg
from layers.earth.errors import MusterplotError
from layers.earth.table import Cell, Table
from layers.journal.words.fields import in_plain_words
from layers.scene.spread import table_csv

EVERYTHING = "Everything"


def head(seen: Seen, key: str) -> Shown | None:
    """Show a layer's sentence and its caution, or why there is nothing; return its result."""
    found = seen.picture.layers.get(key)
    if not isinstance(found, Shown):
        reason = found.reason if found else "This layer is not worked out here."
        panel(words(reason))
        need.show(seen, reason, key, _own(key, need.kinds_for(reason)))
        return None
    panel(line(words(found.sentence)))
    if BY_KEY[key].caution:
        caution(BY_KEY[key].caution)
    return seen.picture.shown(key)


def _own(key: str, kinds: tuple[str, ...]) -> tuple[str, ...]:
    """Return the kinds of a layer, then those of the layers it needs; all where there are none."""
    order = (key, *BY_KEY[key].needs)
    mine = [kind for kind in kinds if kind.partition(".")[0] in order]
    return tuple(sorted(mine, key=lambda kind: order.index(kind.partition(".")[0]))) or kinds


def cautions(*keys: str) -> None:
    """Show the cautions of layers where their figures are shown without their sentence."""
    for key in keys:
        if BY_KEY[key].caution:
            caution(BY_KEY[key].caution)


def foot(
    seen: Seen,
    address: str,
    parts: Mapping[str, Callable[[], object]] | None = None,
    *,
    tables_open: bool = False,
) -> None:
    """Show a page's folded parts by name, its tables last, and follow changes.

    One line holds the names, so that a page fits its screen; one part is open at a time, and only
    that one is worked out. The last name opens them all, to be read through or printed.
    """
    shown = {
        layer.title: found
        for layer in LAYERS
        if layer.address == address
        and isinstance(found := seen.picture.layers.get(layer.key), Shown)
    }
    count = sum(1 + len(found.tables) for found in shown.values())
    folded: dict[str, Callable[[], object]] = dict(parts or {})
    if count and not tables_open:
        folded[f"Every table ({count})"] = partial(_tables, seen, address, shown)
    unfold(address, folded)
    if count and tables_open:
        _tables(seen, address, shown)
    follow.changes(seen)


def unfold(address: str, folded: Mapping[str, Callable[[], object]]) -> None:
    """Show the names of what is folded on a page in one line, and under it the one opened."""
    if not folded:
        return
    names, key = [*folded, EVERYTHING] if len(folded) > 1 else list(folded), f"{address}.more"
    if st.session_state.get(key) not in (None, *names):  # what was open is not on this page now
        st.session_state[key] = names[0] if len(names) == 1 else None
    with st.container(key=f"folds_{address}"):
        chosen = st.pills("More", names, key=key, label_visibility="collapsed")
    for name, show in folded.items():
        if chosen == EVERYTHING:
            st.markdown(f"**{name}**")
        if chosen in (name, EVERYTHING):
            show()


def _tables(seen: Seen, address: str, shown: Mapping[str, Shown]) -> None:
    """Show every table of the layers on a page, each to save as CSV."""
    for title, found in shown.items():
        for name, table in {title: found.table, **found.tables}.items():
            _table(seen, address, name, table)


def _table(seen: Seen, address: str, name: str, table: Table) -> None:
    left, right = st.columns([5, 1], vertical_alignment="bottom")
    left.markdown(f"**{name}**")
    stamp = snapshot.stamp_of(seen, name, seen.release)
    content = table_csv(table, stamp).encode("utf-8-sig")
    file = f"{address}-{'-'.join(name.lower().split())}-{seen.moment.at:%d%H%M}Z.csv"
    right.download_button(
        "Save as CSV",
        content,
        file_name=file,
        mime="text/csv",
        key=f"csv_{address}_{name}",
        on_click=_noted,
        args=(seen, file, content),
    )
    if table.rows:
        st.dataframe(in_words(table), hide_index=True, width="stretch")
    else:
        panel(words("No rows."))


def in_words(table: Table) -> list[dict[str, Cell]]:
    """Return the rows as a screen shows them: no empty cell, no raw time, no yes as a box.

    A column of nothing but figures stays one of figures, and is sorted as such.
    """
    rows = table.as_dicts()
    mixed = {head for row in rows for head, cell in row.items() if not _is_figure(cell)}
    return [
        {head: _in_words(cell) if head in mixed else cell for head, cell in row.items()}
        for row in rows
    ]


def _is_figure(cell: Cell) -> bool:
    figure = isinstance(cell, int | float) and not isinstance(cell, bool)
    return figure and math.isfinite(cast("float", cell))


def _in_words(cell: Cell) -> str:
    if cell is None or (isinstance(cell, float) and not math.isfinite(cell)):
        return "–"
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, datetime):
        return dtg(cell)
    return in_plain_words(str(cell))


def _noted(seen: Seen, file: str, content: bytes) -> None:
    try:
        snapshot.note(seen, file, seen.release, content)
    except MusterplotError as reason:
        st.error(str(reason))


def page(address: str) -> None:
    """Show the page of a layer that has no file in ``dashboard/screens``."""
    seen = current()
    keys = [layer.key for layer in LAYERS if layer.address == address]
    for key in keys:
        st.subheader(BY_KEY[key].title)
        head(seen, key)
    chart.show(seen, key=f"{address}_chart", only=keys)
    foot(seen, address, tables_open=True)
