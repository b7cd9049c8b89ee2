"""Rows of a bulk kind cut by whose they are and when: the last of each, and stretches of time.

A journal of a million positions is never read whole for a picture. What a picture needs is each
subject's last row, and of the subjects shown a stretch before it; both come by an index on
(subject, valid time). The same cuts on arrays in memory are here, the ones in SQL in
`layers.journal.tables.stretch_sql`.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping

import numpy as np
import numpy.typing as npt

from layers.earth.arrays import Array

Columns = dict[str, Array]
Asked = Mapping[str, tuple[int, int]]  # whose: first and last valid time, microseconds

ALWAYS_US = 2**62  # later than any time; 64 bits hold it


def latest_in(
    columns: Columns, by: str, last_us: int, having: str = "", without: Collection[int] = ()
) -> Columns:
    """Return the last row by valid time, then seq, of each value of a text column.

    Parameters
    ----------
    columns : dict
        A side table as arrays.
    by : str
        The column that says whose a row is; rows without it are left out.
    last_us : int
        Rows valid later than this are left out, UTC microseconds.
    having : str
        Only rows in which this column is not missing; empty for all.
    without : collection of int
        Rows, by seq, that do not count.

    Returns
    -------
    dict
        In order of the value.
    """
    import pandas as pd  # imported here: it takes a third of a second of every start

    keep = (columns["valid_at_us"] <= last_us) & (columns[by] != "")
    if having:
        keep &= _present(columns[having])
    if without:
        keep &= ~np.isin(columns["seq"], list(without))
    rows = np.flatnonzero(keep)
    codes, _ = pd.factorize(columns[by][rows], sort=True)
    order = np.lexsort((columns["seq"][rows], columns["valid_at_us"][rows], codes))
    codes, rows = codes[order], rows[order]
    last = np.ones(len(rows), dtype=bool)
    last[:-1] = codes[1:] != codes[:-1]
    return {name: values[rows[last]] for name, values in columns.items()}


def stretches_in(
    columns: Columns, by: str, asked: Asked, most: int, without: Collection[int] = ()
) -> Columns:
    """Return, of each value asked for, the rows of its stretch and the one row before it.

    Of more than ``most`` rows in a stretch the last are taken, and none before. In order of seq.
    """
    counts = np.ones(len(columns["seq"]), dtype=bool)
    if without:
        counts = ~np.isin(columns["seq"], list(without))
    keep = np.zeros(len(counts), dtype=bool)
    at = columns["valid_at_us"]
    for value, (first_us, last_us) in asked.items():
        rows = np.flatnonzero(counts & (columns[by] == value) & (at <= last_us))
        inside = np.sort(at[rows][at[rows] >= first_us])
        before = at[rows][at[rows] < first_us]
        if len(inside) >= most:
            first_us = int(inside[-most])
        elif len(before):
            first_us = int(before.max())
        keep[rows[at[rows] >= first_us]] = True
    return {name: values[keep] for name, values in columns.items()}


def joined(first: Columns, second: Columns) -> Columns:
    """Return the rows of both in order of seq."""
    if not len(second["seq"]):
        return first
    both = {name: np.concatenate((first[name], second[name])) for name in first}
    order = np.argsort(both["seq"], kind="stable")
    return {name: values[order] for name, values in both.items()}


def reaching(touched: Columns, found: Columns, by: str, asked: Asked, most: int) -> Columns:
    """Return those touched rows that lie in the stretches as they were found without them."""
    keep = np.zeros(len(touched["seq"]), dtype=bool)
    for value, (first_us, last_us) in asked.items():
        mine = found["valid_at_us"][found[by] == value]
        if len(mine) >= most:
            first_us = int(mine.min())
        elif len(mine):
            first_us = min(first_us, int(mine.min()))
        at = touched["valid_at_us"]
        keep |= (touched[by] == value) & (at >= first_us) & (at <= last_us)
    return {name: values[keep] for name, values in touched.items()}


def _present(values: Array) -> npt.NDArray[np.bool_]:
    present: npt.NDArray[np.bool_] = (
        values != "" if values.dtype == object else ~np.isnan(values.astype(np.float64))
    )
    return present
