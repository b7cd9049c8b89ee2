"""Every reader against damaged files: no crash, no hang, everything accounted for.

A few thousand inputs here; ``python -m tests.fuzz --inputs 200000`` runs the whole.
"""

from __future__ import annotations

import gzip
import io
import json
import logging
import random
import zipfile

import pytest
from hypothesis import HealthCheck, given, settings, strategies as st

from layers.ingest import all_feeds
from tests.fuzz.judge import MOST_BYTES, judge, peak_bytes
from tests.fuzz.mutate import mutated
from tests.fuzz.seeds import has_seeds, seed

QUICK = [feed for feed in all_feeds() if not feed.isolated]
ISOLATED = [feed for feed in all_feeds() if feed.isolated]
QUIET = settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))


@pytest.fixture(autouse=True)
def _quiet():
    logging.disable(logging.CRITICAL)
    yield
    logging.disable(logging.NOTSET)


def held(feed):
    if not has_seeds(feed.key):
        pytest.skip(f"not run: there are no samples of the kind {feed.key} here")


# numpy warns when pandas turns a column of nonsense into whole numbers; the row is then rejected
@pytest.mark.filterwarnings("ignore:invalid value encountered in cast:RuntimeWarning")
@pytest.mark.parametrize("feed", QUICK, ids=lambda feed: feed.key)
def test_damaged_files_end_as_records_or_rejects(feed):
    held(feed)
    rng = random.Random(f"quick {feed.key}")
    for _ in range(120):
        content = mutated(seed(feed.key, rng), seed(feed.key, rng), rng)
        verdict = judge(feed, content)
        assert verdict.faults == [], content[:400]


@pytest.mark.parametrize("feed", ISOLATED, ids=lambda feed: feed.key)
def test_damaged_binaries_never_stop_the_program(feed):
    held(feed)
    rng = random.Random(f"quick {feed.key}")
    judge(feed, seed(feed.key, rng))  # loads its libraries once
    for _ in range(2 if feed.key == "s57" else 6):
        content = mutated(seed(feed.key, rng), seed(feed.key, rng), rng)
        verdict = judge(feed, content)
        # on a machine under load the wall clock says little: the whole run judges the time
        assert [fault for fault in verdict.faults if not fault.startswith("took")] == []


@QUIET
@given(st.binary(max_size=3_000), st.sampled_from(QUICK))
def test_any_bytes_at_all(content, feed):
    assert judge(feed, content).faults == []


@QUIET
@given(st.text(max_size=2_000), st.sampled_from(QUICK))
def test_any_text_at_all(text, feed):
    assert judge(feed, text.encode("utf-8", "surrogatepass")).faults == []


@QUIET
@given(
    st.recursive(
        st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=20),
        lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=12), inner),
        max_leaves=20,
    ),
    st.sampled_from(["kind", "valid_at", "heard_at", "source", "id", "payload"]),
)
def test_typed_records_with_anything_in_a_field(value, field):
    record = {"kind": "journal.retract", "valid_at": "2027-03-16T05:00Z",
              "payload": {"target": "0" * 32, "reason": "x"}}  # fmt: skip
    record[field] = value
    assert judge(None, json.dumps(record).encode(), "x.json").faults == []


def laughs(entities: int) -> bytes:
    lines = ['<?xml version="1.0"?><!DOCTYPE gpx [<!ENTITY a0 "ha">']
    lines += [f'<!ENTITY a{n} "{f"&a{n - 1};" * 10}">' for n in range(1, entities)]
    name = f"&a{entities - 1};"
    return (
        "".join(lines)
        + f']><gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="x">'
        f'<wpt lat="1" lon="1"><name>{name}</name></wpt></gpx>'
    ).encode()


def zipped(members: dict[str, bytes]) -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return packed.getvalue()


ATTACKS = {
    "billion laughs": laughs(10),
    "entity of a file": b'<?xml version="1.0"?><!DOCTYPE gpx [<!ENTITY a SYSTEM "file:///etc/passwd">]>'
    b'<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="x">'
    b'<wpt lat="1" lon="1"><name>&a;</name></wpt></gpx>',
    "deep xml": b'<gpx version="1.1" creator="x">' + b"<trk>" * 50_000,
    "deep json": b'{"kind": "x", "valid_at": ' + b"[" * 200_000,
    "deep json object": b'{"kind": "x", "valid_at": ' + b'{"a":' * 100_000,
    "json of quotes": b'{"kind": "x", "valid_at": "' + b'\\"' * 500_000 + b'"}',
    "long number": b'{"kind": "x", "valid_at": ' + b"9" * 90_000 + b"}",
    "gzip bomb": gzip.compress(bytes(300 * 1024**2), 9),
    "zip bomb": zipped({"a": bytes(120 * 1024**2), "b": bytes(120 * 1024**2)}),
    "endless line": b"!AIVDM,1,1,,A," + b"1" * (20 * 1024**2),
    "endless heads": b"kind,valid_at," + b"a," * 2_000_000,
    "a million columns": b"kind,valid_at," + b",".join(b"c%d" % n for n in range(20_000)) + b"\n",
    "a place of 50,000 figures": b"mmsi,time,lat,lon\n"
    + b"299000101,2027-03-16T05:00:00Z,50.%b!,-8\n" % (b"9" * 50_000) * 4,
    "a head of 50,000 blanks": b"mmsi,time,lat,lon,speed%b(kn\nx,x,x,x,x\n" % (b" \t" * 25_000),
    "a last figure of 50,000": b"mmsi,time,lat,lon\nx,2027-03-16T05:00Z,1,%b!" % (b"9" * 50_000),
    "unclosed quote": b'kind,valid_at,reason\n"' + b"x,\n" * 200_000,
    "many empty lines": b"!AIVDM,1,1,,A,,0*26\n" + b"\n" * 150_000,
}


@pytest.mark.parametrize("name", ATTACKS)
def test_attacks_end_as_rejects_in_time_and_memory(name):
    before = peak_bytes()  # of this whole test process, all that it held for other tests too
    verdict = judge(None, ATTACKS[name], f"{name}.json" if "json" in name else name)
    assert verdict.faults == []
    assert verdict.rejects >= 1
    if "xml" in name or "laughs" in name or "entity" in name:
        assert verdict.records == 0
    assert peak_bytes() <= max(before, 4 * MOST_BYTES)
