"""What one room does to a record of another: corrected, replaced, settled, reported on, signed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import timedelta

from layers.journal.holds import opinion_words
from layers.journal.kinds import OPINION_NAMES
from layers.journal.known import Known
from layers.journal.record import Record
from layers.journal.side_by_side import POINTS, twice_is_harmless
from layers.journal.signature import Signature, read_signature
from layers.journal.words.payloads import payload_words

LATELY = timedelta(hours=4)  # a watch


@dataclass(frozen=True, slots=True)
class DoneByOthers:
    """A record of another room that names one of this room's."""

    act: Record
    target: Record

    def words(self, known: Known, most: int) -> str:
        """Return what was done to it, in words."""
        if self.act.kind in OPINION_NAMES:
            return opinion_words(known, self.act, most)
        kind = known.kinds[self.act.kind]
        rest = {k: v for k, v in self.act.payload.items() if k not in POINTS}
        return f"{kind.title}: {payload_words(rest, most=most, kind=self.act.kind)}"


def changed_by_others(known: Known, here: Signature) -> tuple[DoneByOthers, ...]:
    """Return what other rooms have lately done to this room's records, oldest first.

    What only takes note of a record (an acknowledgement, a tick) changes nothing and is left out.

    Parameters
    ----------
    known : Known
        What is known now.
    here : Signature
        This room and server.
    """
    acts = [
        act
        for act in (*_opinions(known), *_naming(known))
        if known.as_of - act.recorded_at <= LATELY
        and read_signature(act.author).server
        and read_signature(act.author).desk != here.desk
    ]
    targets = known.with_ids({one for act in acts for one in named(act)})
    return tuple(
        DoneByOthers(act, target)
        for act in sorted(acts, key=lambda one: one.seq)
        for one in named(act)
        if (target := targets.get(one)) is not None
        and read_signature(target.author).desk == here.desk
    )


def named(act: Record) -> Iterator[str]:
    """Give the ids of the records that a record names."""
    for field in POINTS:
        held = act.payload.get(field)
        yield from (held,) if isinstance(held, str) and held else ()
        yield from map(str, held) if isinstance(held, list | tuple) else ()


def _opinions(known: Known) -> Iterable[Record]:
    return (one for held in known.opinions().values() for one in held)


def _naming(known: Known) -> Iterator[Record]:
    for name, kind in known.kinds.items():
        if name in OPINION_NAMES or kind.columns or kind.ask is twice_is_harmless:
            continue
        if any(field in kind.model.model_fields for field in POINTS):
            yield from (entry.record for entry in known.entries(name))
