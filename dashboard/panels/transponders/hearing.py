"""The sonar equation as a table: a column per source, a row per term, each with its source."""

from __future__ import annotations

import streamlit as st

from dashboard.panels.text import caution, panel, table, words
from dashboard.view import Seen
from layers.transponders.result import HeardSources, Result
from layers.transponders.sound.hearing import Hearing, terms

CAUTION = (
    "Rests on the profile's age, on noise coefficients and source levels marked 'from memory' or "
    "'invented': ranges can halve or double. Not hearing her proves nothing."
)


def show(seen: Seen) -> None:
    """Show how far each source is heard and every term of it."""
    result: Result | None = seen.picture.result("transponders")
    if result is None:
        return
    heard = result.heard
    if heard.rows:
        heads = ("Term", "Unit", *(row.source.name for row in heard.rows))
        panel(table([_ranges(heard), *_rows(heard)], heads, range(2, 2 + len(heard.rows))))
        with st.expander("Where each term comes from"):
            panel(table(_whence(heard), ("Source", "Term", "Where from")))
    missing = "; ".join(f"{name}: {why}" for name, why in heard.missing)
    if missing:
        panel(words(missing))
    caution(CAUTION)


def _ranges(heard: HeardSources) -> tuple[str, ...]:
    return ("In words", "", *(_said(row) for row in heard.rows))


def _said(row: Hearing) -> str:
    if row.range_50_m is None or row.range_90_m is None:
        return row.why_not
    return f"90 % to {row.range_90_m / 1852:.1f} nmi, 50 % to {row.range_50_m / 1852:.1f} nmi"


def _rows(heard: HeardSources) -> list[tuple[str, ...]]:
    by_source = [terms(row) for row in heard.rows]
    rows = []
    for place, (name, _, unit, _) in enumerate(by_source[0]):
        rows.append((name, unit, *(_figure(each[place][1], unit) for each in by_source)))
    rows.append(("source level is", "", *(row.source.provenance for row in heard.rows)))
    rows.append(("wind", "", *([heard.sea.wind_words] * len(by_source))))
    water = heard.sea.assumed or "as measured by the profile"
    rows.append(("water", "", *([water] * len(by_source))))
    return rows


def _figure(value: float | None, unit: str) -> str:
    """Return a term with the digits that mean something."""
    if value is None:
        return "none"
    digits = {"m": 0, "Hz": 0, "dB/km": 2}.get(unit, 1)
    return f"{value:,.{digits}f}"


def _whence(heard: HeardSources) -> list[tuple[str, str, str]]:
    """Return where each term comes from, the same words said once."""
    rows = [
        (row.source.name, "source level, frequency, band", row.source.provenance)
        for row in heard.rows
    ]
    listener = heard.rows[0].listener
    rows.append((listener.name, "depth, gain, own noise, threshold", listener.provenance))
    own = (
        "source level",
        "frequency",
        "band",
        "own noise in band",
        "array gain",
        "detection threshold",
    )
    rows += [
        ("all", name, whence) for name, _, _, whence in terms(heard.rows[0]) if name not in own
    ]
    return rows
