"""The incidents of this data folder: each with a place of its own, nothing of one ever in another.

An incident is one journal and what belongs to it: its drop folder, the feeds that are set up for
it, their state, results kept, what waits to be recorded. The place bears a mark that names the
journal; should another journal come to lie under the same name, what was there is set aside.
What belongs to the computer (coastline, log-ins, the room's name and key) is shared.

The next incident is begun by one act, `begin`: the last one's words are closed and archived, or
it is kept as it is.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from sqlalchemy.engine import URL

from layers import ours
from layers.earth.clock import to_us
from layers.earth.errors import InputError, JournalError
from layers.feeds.settings import DROP_FOLDER, FILE as FEEDS
from layers.feeds.state import FILE as FEEDS_STATE
from layers.journal.actor import Actor
from layers.journal.copies.copied import copy_zip
from layers.journal.kinds import Kind
from layers.journal.known import Known
from layers.journal.naming import CURRENT, data_folder, default_url
from layers.journal.record import Draft, form_identity
from layers.journal.side_by_side import ask_first
from layers.journal.store import Journal, open_journal, system_now
from layers.journal.tables.engine import parse_url, url_words

FOLDER, ARCHIVE = "incidents", "archive"
JOURNAL_FILE = "journal.sqlite"
MARK = "incident.json"
BELONGS = (DROP_FOLDER, FEEDS, FEEDS_STATE, "alive", "cache")  # and what waits to be recorded
OF_THE_FOLDER = ("exercise", "journal")  # stems of the journals that are used when none is named
CLOSED = "watch.closed"


def plain_url(url: str | Path) -> URL:
    """Return a journal's address without a password: what may be written down."""
    return parse_url(url).set(password=None)


def _words(url: str | Path) -> str:
    parsed = plain_url(url)
    if parsed.get_backend_name() == "sqlite":
        return str(Path(str(parsed.database)).resolve())
    return parsed.set(drivername="postgresql").render_as_string()


def folder_of(url: str | Path | None = None, data: Path | None = None) -> Path:
    """Return the place of a journal's incident in the data folder, not made here.

    Parameters
    ----------
    url : str or Path, optional
        The journal; the one in use when it is not named.
    data : Path, optional
        Another data folder than the one in use.
    """
    parsed = plain_url(default_url() if url is None else url)
    data = (data or data_folder()).resolve()
    if parsed.get_backend_name() == "sqlite":
        path = Path(str(parsed.database)).resolve()
        if path.name == JOURNAL_FILE and path.parent.parent == data / FOLDER:
            return path.parent
        if path.parent == data and path.suffix == ".sqlite" and path.stem in OF_THE_FOLDER:
            return data / FOLDER / path.stem
        name, told = path.stem, str(path)
    else:
        name, told = str(parsed.database), f"{parsed.host}:{parsed.port}/{parsed.database}"
    return data / FOLDER / f"{_slug(name)}-{hashlib.sha256(told.encode()).hexdigest()[:8]}"


def _slug(name: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")[:40] or "incident"


def claim(journal: Journal, url: str | Path) -> Path:
    """Make a journal's place, and set aside what another journal left there.

    A journal that is older than these places takes the feeds that were set up for it along; its
    drop folder is a new one, which the feeds page names.
    """
    folder = folder_of(url)
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    held = _marked(folder)
    if held and held.get("key") != journal.key:
        _set_aside(folder)
    if not held and journal.revision() and not (folder / FEEDS).exists():
        _bring_along(folder)
    mark = {
        "key": journal.key,
        "name": journal.name,
        "exercise": journal.exercise,
        "url": _words(url),
    }
    if held != mark:
        ours.write(folder / MARK, json.dumps(mark).encode())
    return folder


def _marked(folder: Path) -> dict[str, object]:
    try:
        found = json.loads((folder / MARK).read_text("utf-8"))
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}


def _set_aside(folder: Path) -> None:
    number = 1
    while (aside := folder / f"of-another-{number}").exists():
        number += 1
    aside.mkdir(mode=0o700)
    for path in (*(folder / name for name in BELONGS), *folder.glob("waiting-*.json")):
        if path.exists():
            path.rename(aside / path.name)


def _bring_along(folder: Path) -> None:
    before = data_folder() / FEEDS
    if before.exists():
        ours.write(folder / FEEDS, before.read_bytes())


def left_behind() -> Path | None:
    """Return a drop folder of before with files in it, which is watched no more."""
    before = data_folder() / DROP_FOLDER
    try:
        return before if any(before.iterdir()) else None
    except OSError:
        return None


@dataclass(frozen=True, slots=True, kw_only=True)
class Incident:
    """One incident that can be opened from here; times are None where nothing can be said.

    ``since_closed`` counts records made after it was closed, which no archive holds; ``trouble``
    says why it could not be looked into.
    """

    name: str
    exercise: bool
    url: str
    folder: Path
    began_at: datetime | None = None
    last_at: datetime | None = None
    records: int = 0
    closed_at: datetime | None = None
    since_closed: int = 0
    in_use: bool = False
    trouble: str = ""


def incidents(in_use: str | Path | None = None) -> list[Incident]:
    """Return the incidents of this data folder, the one in use first, then the newest."""
    data = data_folder()
    urls = {_words(path) for path in data.glob("*.sqlite")}
    urls |= {_words(path) for path in (data / FOLDER).glob(f"*/{JOURNAL_FILE}")}
    for mark in (data / FOLDER).glob(f"*/{MARK}"):
        urls.add(str(_marked(mark.parent).get("url") or _words(mark.parent / JOURNAL_FILE)))
    now = _words(in_use) if in_use is not None else ""
    if now:
        urls.add(now)
    found = [_look(url, url == now) for url in urls]
    return sorted(
        (each for each in found if each is not None),
        key=lambda each: (not each.in_use, -to_us(each.last_at) if each.last_at else 0, each.url),
    )


def _look(url: str, in_use: bool) -> Incident | None:
    folder = folder_of(url)
    told = _marked(folder)
    if "://" not in url and not Path(url).exists():
        return None
    try:
        journal = open_journal(url, {}, readonly=True, busy_s=2.0)
    except JournalError as reason:
        return Incident(
            name=str(told.get("name") or url_words(plain_url(url))),
            exercise=bool(told.get("exercise")),
            url=url,
            folder=folder,
            in_use=in_use,
            trouble=str(reason),
        )
    try:
        seq = journal.revision()
        closed = journal.log(upto_seq=seq, kinds=(CLOSED,), limit=1)
        return Incident(
            name=journal.name,
            exercise=journal.exercise,
            url=url,
            folder=folder,
            began_at=journal.recorded_at(1) if seq else None,
            last_at=journal.recorded_at(seq) if seq else None,
            records=seq,
            closed_at=closed[0].valid_at if closed else None,
            since_closed=seq - closed[0].seq if closed else 0,
            in_use=in_use,
        )
    finally:
        journal.close()


def is_closed(journal: Journal) -> bool:
    """Whether an incident is closed: nothing is read into it by itself any more."""
    upto = journal.revision()
    if not journal.last_seq((CLOSED,), upto):
        return False
    return bool(Known(journal, journal.kinds, upto, journal.now()).entries(CLOSED))


def find(name: str) -> Incident:
    """Return the incident of a name, of its folder's name, or of its journal's address.

    Raises
    ------
    InputError
        There is none, or several: which there are.
    """
    held = incidents()
    wanted = name.strip().casefold()
    fits = [
        each
        for each in held
        if wanted in (each.name.casefold(), each.folder.name.casefold(), each.url.casefold())
    ]
    if len(fits) == 1:
        return fits[0]
    there = "; ".join(f"{each.folder.name} ({each.name})" for each in fits or held) or "none yet"
    what = "there are several incidents called" if fits else "there is no incident called"
    raise InputError(f"{what} {name!r}", where="incident", accepted=there)


@dataclass(frozen=True, slots=True, kw_only=True)
class Begun:
    """What became of the act: the new incident's journal and place, the old one's archive."""

    name: str
    url: str
    folder: Path
    archive: Path | None
    closed: str


def begin(
    name: str,
    kinds: Mapping[str, Kind],
    *,
    exercise: bool,
    last: Journal | None = None,
    by: Actor | None = None,
    close: bool = True,
    left_open: Sequence[str] = (),
    url: str = "",
    answered: tuple[str, ...] = (),
) -> Begun:
    """Begin the next incident: a journal and a place of its own; close and archive the last.

    Parameters
    ----------
    name : str
        What it is called.
    exercise : bool
        Whether it is an exercise; that never changes after.
    last : Journal, optional
        The one in use until now, opened for writing.
    close : bool
        Whether the last is closed (a record in it) and a whole copy of it put into the archive.
    left_open : sequence of str
        What stood open when it was closed, in words.
    url : str
        Another place for the journal: an empty PostgreSQL database that several rooms share.
    answered : tuple of str
        What was asked before the last is closed, and is meant so.

    Raises
    ------
    AskedFirst
        People or objects of search stand open in the last; nothing is begun and nothing closed.
    InputError
        No name, or a place where records stand already.
    """
    name = " ".join(name.split())[:120]
    if not name:
        raise InputError("the next incident has no name", accepted="a name")
    closing = None
    if last is not None and close and by is not None:
        closing = _closing(last, by, next_name=name, left_open=left_open, answered=answered)
        known = Known(last, last.kinds, last.revision(), last.now())
        ask_first(last.kinds[CLOSED], None, closing, known, by.name)  # before anything is made
    place = url or str(_free_folder(name) / JOURNAL_FILE)
    Path(place).parent.mkdir(parents=True, exist_ok=True, mode=0o700) if not url else None
    made = open_journal(place, kinds, name=name, exercise=exercise)
    try:
        if made.revision() or (made.name, made.exercise) != (name, exercise):
            raise InputError(
                f"{made.place} holds {made.name!r} already", accepted="an empty place, or none told"
            )
        folder = claim(made, place)
    finally:
        made.close()
    archive, closed = None, ""
    if last is not None and by is not None and closing is not None:
        archive, closed = _archived(last, by, closing), last.name
    use(place)
    return Begun(name=name, url=place, folder=folder, archive=archive, closed=closed)


def _free_folder(name: str) -> Path:
    base, number = _slug(name), 1
    while True:
        folder = data_folder() / FOLDER / (base if number == 1 else f"{base}-{number}")
        if base not in OF_THE_FOLDER and not folder.exists():
            return folder
        base, number = (f"{base}-next", 1) if base in OF_THE_FOLDER else (base, number + 1)


def _closing(
    journal: Journal, by: Actor, *, next_name: str, left_open: Sequence[str],
    answered: tuple[str, ...],
) -> Draft:  # fmt: skip
    now = journal.now()
    return Draft(
        kind=CLOSED,
        payload={
            "by": by.name[:200],
            "next_incident": next_name,
            "left_open": [str(each)[:200] for each in left_open][:200],
        },
        valid_at=now,
        heard_at=now,
        source=by.name[:200],
        identity=form_identity(f"closed {journal.key} {to_us(now)}"),
        answered=answered,
    )


def _archived(journal: Journal, by: Actor, closing: Draft) -> Path:
    journal.append(by, [closing])
    now = closing.valid_at
    _, head = journal.head()
    stamp = f"EXERCISE {journal.name}" if journal.exercise else journal.name
    folder = data_folder() / ARCHIVE
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    path = folder / f"{_slug(journal.name)}-{now:%Y%m%d-%H%M%S}.zip"
    ours.write(path, copy_zip(journal, (stamp, f"closed {now:%Y-%m-%d %H:%MZ}", f"head {head}")))
    return path


def use(url: str | Path) -> None:
    """Note which journal is used from now on where none is named; never with a password."""
    data = data_folder()
    data.mkdir(parents=True, exist_ok=True, mode=0o700)
    ours.write(
        data / CURRENT, json.dumps({"url": _words(url), "at_us": to_us(system_now())}).encode()
    )
