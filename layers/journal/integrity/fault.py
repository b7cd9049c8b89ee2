"""Something in a journal that is not as it was recorded."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from typing import NamedTuple

MOST = 5  # faults told of one sort; what is beyond them is told in one


class Fault(NamedTuple):
    """What does not fit, and where.

    Parameters
    ----------
    record : int or None
        The number of the record, or the first of those, that it concerns.
    what, where : str
        In words: what does not fit; in which records, table, file.
    found : str
        A digest of what stands there now: what is altered again is another fault.
    """

    record: int | None
    what: str
    where: str
    found: str = ""

    @property
    def key(self) -> str:
        """The same for the same fault, so that it is acknowledged once."""
        told = f"{self.record} {self.what} {self.where}" + (f" {self.found}" if self.found else "")
        return digest_of(told)

    def words(self) -> str:
        """Return it as it is said: ``journal altered at record 7: …``."""
        at = f" at record {self.record}" if self.record is not None else ""
        return f"journal altered{at}: {self.where}, {self.what}"


def digest_of(told: object) -> str:
    """Return a short digest of what stands somewhere."""
    return hashlib.sha256(str(told).encode("utf-8", "surrogatepass")).hexdigest()[:16]


def first_few(found: Iterable[Fault], where: str) -> Iterator[Fault]:
    """Give the first faults of a sort, and one for all others that changes with any of them."""
    more: list[Fault] = []
    for number, fault in enumerate(found):
        if number < MOST:
            yield fault
        else:
            more.append(fault)
    if more:
        keys = digest_of(" ".join(fault.key for fault in more))
        yield Fault(more[0].record, f"{len(more)} more do not fit", where, keys)
