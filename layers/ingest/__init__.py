"""From bytes to drafts and rejects: what kind of file is it, and what does it say.

`read_path` and `read_content` are the way in: a file or an upload, of any kind that the
catalogue or this package can read, packed or not. Nothing is lost silently: what cannot be read
ends as a `Reject` with a sentence.
"""

from layers.contract.feed import ASKS_WHAT, MEANT
from layers.ingest.pieces import ACCEPTED_SIZE, PIECE_BYTES
from layers.ingest.reading import FileOutcome, FileTold, Summary, read_content, read_path
from layers.ingest.recognition import all_feeds, feed_by_key, recognise

__all__ = [
    "ACCEPTED_SIZE",
    "ASKS_WHAT",
    "MEANT",
    "PIECE_BYTES",
    "FileOutcome",
    "FileTold",
    "Summary",
    "all_feeds",
    "feed_by_key",
    "read_content",
    "read_path",
    "recognise",
]
