"""Check a copy of a journal: run `python3 check.py` beside its files. Python alone is needed.

Each line of records.jsonl is one record, byte for byte as it was hashed. A block's hash is the
SHA-256 of the hash before it and, for each of its records, the line's length in eight bytes and
the line. Compare the head that is printed with the one on any export of that time.
"""

import csv
import hashlib
import sys
from pathlib import Path


def check(folder: Path) -> str:
    """Return what was found, beginning with ALTERED when something does not fit."""
    # the first block rests on what the journal is; on nothing in one that an older program began
    about = folder / "journal.json"
    held = hashlib.sha256(about.read_bytes()).hexdigest() if about.exists() else "0" * 64
    expected = 1
    with (
        (folder / "records.jsonl").open("rb") as lines,
        (folder / "blocks.csv").open(newline="", encoding="utf-8") as table,
    ):
        for block in csv.DictReader(table):
            digest = hashlib.sha256(bytes.fromhex(held))
            for seq in range(expected, int(block["last"]) + 1):
                raw = lines.readline().rstrip(b"\n")
                if not raw.startswith(b"[%d," % seq):
                    return f"ALTERED: record {seq} is not where it should be"
                digest.update(len(raw).to_bytes(8, "big") + raw)
            held = digest.hexdigest()
            if held != block["hash"]:
                return f"ALTERED: somewhere in records {expected} to {block['last']}"
            expected = int(block["last"]) + 1
        if lines.readline():
            return f"ALTERED: something follows after record {expected - 1}"
    for blob in sorted((folder / "blobs").glob("*")):
        if hashlib.sha256(blob.read_bytes()).hexdigest() != blob.name:
            return f"ALTERED: the file {blob.name}"
    return f"{expected - 1} records, nothing altered; head {held}"


if __name__ == "__main__":
    answer = check(Path(__file__).parent)
    sys.stdout.write(answer + "\n")
    sys.exit(answer.startswith("ALTERED"))
