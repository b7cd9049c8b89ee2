"""What every reader must keep to, whatever it is given."""

from __future__ import annotations

import resource
import time
from dataclasses import dataclass, field
from datetime import UTC, datetime

from layers.catalogue import KINDS
from layers.contract import Feed, Origin, Reading
from layers.earth.errors import InputError
from layers.ingest import read_content
from layers.ingest.isolated import _CHILDREN, name_of, read_isolated
from layers.journal.known import check_payload
from tests.fuzz.bounds import outside, outside_grids

AT = datetime(2027, 3, 16, 6, 35, tzinfo=UTC)
LONGEST_S = 2.0
MOST_BYTES = 500 * 1024 * 1024
DRAFTS_CHECKED = 5


@dataclass(slots=True)
class Verdict:
    """What became of one input."""

    records: int = 0
    rejects: int = 0
    passed: int = 0
    taken_s: float = 0.0
    faults: list[str] = field(default_factory=list)


def peak_bytes() -> int:
    """Return the most memory this process and its decoders have held."""
    own = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    children = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss
    return max(own, children) * 1024


def judge(feed: Feed | None, content: bytes, name: str = "input") -> Verdict:
    """Read one input with a feed, or with whichever recognises it, and say what is wrong.

    A crash, a hang or an exception is a fault; so is an input of which nothing is left: neither
    a record, nor a reject, nor a count of what was passed over; and a value outside nature that
    would be taken as the truth.
    """
    verdict = Verdict()
    got: list[Reading] = []
    if feed is not None and feed.isolated:
        _warm(feed)
    start = time.process_time()
    wall = time.perf_counter()
    try:
        read_content(content, name, AT, got.append, feed=feed)
    except Exception as fault:  # the very thing that is looked for
        verdict.faults.append(f"raised {type(fault).__name__}: {fault}")
    verdict.taken_s = time.process_time() - start
    if feed is not None and feed.isolated:
        verdict.taken_s = time.perf_counter() - wall
    for reading in got:
        verdict.records += len(reading.drafts)
        verdict.rejects += len(reading.rejects)
        verdict.passed += sum(reading.passed_over.values())
        verdict.faults += [
            f"stumbled: {reject.reason}"
            for reject in reading.rejects
            if "could not make sense of the file" in reject.reason
        ]
        _check_drafts(reading, verdict)
    if content.strip(b"\x00 \t\r\n") and not verdict.records + verdict.rejects + verdict.passed:
        verdict.faults.append("nothing is left of it: no record, no reject")
    if verdict.taken_s > LONGEST_S:
        verdict.faults.append(f"took {verdict.taken_s:.1f} s")
    return verdict


def _warm(feed: Feed) -> None:
    """Let a decoder that an earlier input ended load its libraries; that is not this one's time."""
    child = _CHILDREN.get(name_of(feed.read))
    if child is None or child._process is None or child._process.poll() is not None:
        read_isolated(feed, b"\n", Origin(source="warm", received_at=AT, digest="0" * 64))


def _check_drafts(reading: Reading, verdict: Verdict) -> None:
    """Whatever is drafted is taken by the journal, or refused with a sentence."""
    verdict.faults += outside_grids(reading)
    for number, draft in enumerate(reading.drafts):
        kind = KINDS.get(draft.kind)
        if kind is None:
            verdict.faults.append(f"a draft of the unknown kind {draft.kind}")
            continue
        found = list(outside(draft))
        if found or number < DRAFTS_CHECKED:
            try:
                check_payload(kind, draft.payload, "draft")
            except InputError:
                continue
            except Exception as fault:  # anything else would stop the feed
                verdict.faults.append(f"its draft raised {type(fault).__name__}: {fault}")
        verdict.faults += found
        if draft.valid_at.tzinfo is None or draft.heard_at.tzinfo is None:
            verdict.faults.append("a draft without a time zone")
