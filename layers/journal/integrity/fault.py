"""Something in a journal that is not as it was recorded."""

from __future__ import annotations

import hashlib
from typing import NamedTuple


class Fault(NamedTuple):
    """What does not fit, and where.

    Parameters
    ----------
    record : int or None
        The number of the record, or the first of those, that it concerns.
    what, where : str
        In words: what does not fit; in which records, table, file.
    """

    record: int | None
    what: str
    where: str

    @property
    def key(self) -> str:
        """The same for the same fault, so that it is acknowledged once."""
        return hashlib.sha256(f"{self.record} {self.what} {self.where}".encode()).hexdigest()[:16]

    def words(self) -> str:
        """Return it as it is said: ``journal altered at record 7: …``."""
        at = f" at record {self.record}" if self.record is not None else ""
        return f"journal altered{at}: {self.where}, {self.what}"
