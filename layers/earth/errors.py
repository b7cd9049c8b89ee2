"""The few errors that Musterplot raises on purpose.

::

    MusterplotError
    ├── InputError          something a person or a feed gave is not usable
    │   ├── TwoReadings     it can be read in two ways; both are named
    │   └── RecordRefused   the journal will not take this record
    │       └── AskedFirst  something stands that it may repeat or contradict
    ├── JournalError        the journal cannot be opened, read or written
    │   └── JournalAway     its database, or the way to it, is gone; it may come back
    └── NotAllowed          the actor may not do this

An error says what was wrong, where, and what is accepted; the parts stay available as
attributes so that a form can point at the field.
"""

from __future__ import annotations

import lzma
import zipfile
import zlib

# what Python's libraries raise on a damaged or crafted archive: zlib's and LZMA's own errors
# belong to no family, and an encrypted member is a RuntimeError
ARCHIVE_DAMAGED = (
    OSError, EOFError, zipfile.BadZipFile, zlib.error, lzma.LZMAError, NotImplementedError,
    RuntimeError, ValueError, KeyError, TypeError, MemoryError,
)  # fmt: skip


class MusterplotError(Exception):
    """The root of the family; catch it in one place and show its text whole.

    Where one is the reason of an answer that is not known, people read ``short`` in a headline
    and ``words`` in its panel.
    """

    @property
    def short(self) -> str:
        """What is lacking, in one clause."""
        return str(self)

    @property
    def words(self) -> str:
        """What is lacking and what to ask for, as it is said to people."""
        return str(self)


class InputError(MusterplotError, ValueError):
    """Something given from outside is not usable.

    Parameters
    ----------
    what : str
        What was wrong, with the offending text, as a clause: ``"'91N' is not a latitude"``.
    where : str, optional
        File and line, field, or form: ``"datum.csv row 3, latitude_deg"``.
    accepted : str, optional
        What would be accepted: ``"-90 to 90 degrees"``.
    """

    def __init__(self, what: str, *, where: str = "", accepted: str = "") -> None:
        self.what = what
        self.where = where
        self.accepted = accepted
        text = f"{where}: {what}" if where else what
        if accepted:
            text = f"{text}; accepted: {accepted}"
        super().__init__(text)

    @property
    def short(self) -> str:
        """What is lacking, in one clause."""
        return self.what

    @property
    def words(self) -> str:
        """What is lacking and what to ask for, as it is said to people."""
        text = f"{self.where}: {self.what}" if self.where else self.what
        return f"{text}; to ask for: {self.accepted}" if self.accepted else text

    def at(self, where: str) -> InputError:
        """Return the same error with its place put in front."""
        place = f"{where}, {self.where}" if self.where else where
        return type(self)(self.what, where=place, accepted=self.accepted)


class TwoReadings(InputError):
    """Something can be read in two ways, and nobody but its writer knows which.

    Parameters
    ----------
    readings : tuple of str
        Each way to write it that leaves no doubt.
    """

    def __init__(self, what: str, readings: tuple[str, ...], *, where: str = "") -> None:
        self.readings = readings
        super().__init__(what, where=where, accepted=" or ".join(readings))

    def at(self, where: str) -> TwoReadings:
        """Return the same error with its place put in front."""
        place = f"{where}, {self.where}" if self.where else where
        return TwoReadings(self.what, self.readings, where=place)


class RecordRefused(InputError):
    """The journal will not take this record, and nothing was changed."""


class AskedFirst(RecordRefused):
    """Something stands already that this may repeat or contradict; a person says which.

    Parameters
    ----------
    about : tuple of str
        The ids of the records that it is about; named as answered, the record is taken.
    """

    def __init__(self, what: str, about: tuple[str, ...], *, accepted: str = "") -> None:
        self.about = about
        super().__init__(what, accepted=accepted)


class JournalError(MusterplotError):
    """The journal cannot be opened, read or written; the text is one plain sentence."""


class JournalAway(JournalError):
    """The journal's database, or the way to it, is gone; what was shown is still true of then."""


class NotAllowed(MusterplotError):
    """The actor's role does not allow what was asked."""
