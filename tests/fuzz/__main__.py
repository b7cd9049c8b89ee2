"""``python -m tests.fuzz --inputs 200000``: damaged inputs for every reader, all accounted for."""

from __future__ import annotations

import argparse
import hashlib
import logging
import random
import sys
import time
from collections import Counter
from pathlib import Path

from layers.ingest import all_feeds
from layers.ingest.isolated import end_children
from tests.fuzz.judge import MOST_BYTES, judge, peak_bytes
from tests.fuzz.mutate import mutated
from tests.fuzz.seeds import has_seeds, seed

# Decoders of large files take tens of milliseconds or more each; their share is smaller.
SHARES = {
    "s57": 0.002,
    "depth_raster": 0.02,
    "depth_netcdf": 0.02,
    "netcdf-forecast": 0.02,
    "grib": 0.03,
    "bufr": 0.1,
    "argo": 0.05,
    "runways": 0.2,
    "wpi": 0.4,
    "edf": 0.6,
}
WITHOUT_FEED = 0.1  # this part is left to be recognised


def main() -> int:
    """Run, print a line for each feed, and keep each input that showed a fault."""
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz")
    parser.add_argument("--inputs", type=int, default=200_000)
    parser.add_argument("--seed", type=int, default=20270313)
    parser.add_argument("--feed", action="append", help="only these feeds")
    parser.add_argument("--keep", type=Path, default=Path(".fuzz"))
    asked = parser.parse_args()
    logging.disable(logging.CRITICAL)  # a stumble is counted, not shown a thousand times
    feeds = [feed for feed in all_feeds() if has_seeds(feed.key)]
    if asked.feed:
        feeds = [feed for feed in feeds if feed.key in asked.feed]
    missing = [feed.key for feed in all_feeds() if not has_seeds(feed.key)]
    if missing:
        print(f"no seeds for {', '.join(missing)}")
    weights = [SHARES.get(feed.key, 1.0) for feed in feeds]
    total, wrong, begun = 0, 0, time.monotonic()
    for feed, weight in zip(feeds, weights, strict=True):
        count = max(1, round(asked.inputs * weight / sum(weights)))
        rng = random.Random(f"{asked.seed} {feed.key}")
        counts: Counter[str] = Counter()
        slowest = 0.0
        judge(feed, seed(feed.key, rng))  # a decoder loads its libraries once, not counted
        for _ in range(count):
            content = mutated(seed(feed.key, rng), seed(feed.key, rng), rng)
            verdict = judge(None if rng.random() < WITHOUT_FEED else feed, content)
            counts["records"] += verdict.records
            counts["rejects"] += verdict.rejects
            counts["passed over"] += verdict.passed
            slowest = max(slowest, verdict.taken_s)
            for fault in verdict.faults:
                counts["faults"] += 1
                _keep(asked.keep, feed.key, content, fault)
        total += count
        wrong += counts["faults"]
        print(
            f"{feed.key}: {count} inputs, {counts['records']} records, {counts['rejects']} "
            f"rejects, {counts['passed over']} passed over, slowest {slowest:.2f} s, "
            f"{counts['faults']} faults",
            flush=True,
        )
    end_children()
    peak = peak_bytes()
    print(
        f"{total} inputs in {time.monotonic() - begun:.0f} s, {wrong} faults, "
        f"peak memory {peak / 1024**2:.0f} MB"
    )
    return 1 if wrong or peak > MOST_BYTES else 0


def _keep(folder: Path, key: str, content: bytes, fault: str) -> None:
    folder.mkdir(exist_ok=True)
    name = f"{key}-{hashlib.sha256(content).hexdigest()[:12]}"
    (folder / name).write_bytes(content)
    with (folder / "faults.txt").open("a", encoding="utf-8") as file:
        file.write(f"{name}: {fault}\n")


if __name__ == "__main__":
    sys.exit(main())
