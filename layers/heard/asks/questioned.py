"""A question is no report: what is only asked, or doubted by a question mark, is told by nobody."""

from __future__ import annotations

import re

from layers.heard.names import LineContext
from layers.heard.result import Ask

_ALWAYS = re.compile(
    r"\s*(?:(?:and|but|so)\s+)?(?:did|does|do\s+(?:you|they|we)|what|which|whose|why|whether|"
    r"where\s+(?:is|was|are|were|did|does)|when\s+(?:is|was|are|were|will|did|does|can)|"
    r"who\s+(?:is|was|are|has|did|heard|saw)|how\s+(?:many|much|far|long|deep|is|are|was|did)|"
    r"any\s+(?:news|word|sign|contact|answer|chance))\b",
    re.IGNORECASE,
)
# was due 1214 and has 20 people are told; was it, has she and was TENACE are asked
_TURNED = re.compile(
    r"\s*(?:was|were|is|are|has|have|had|can|could|will|would|should|shall|may|might|do)\s+"
    r"(?=(it|she|he|they|there|that|this|those|these|you|we|any\w*|the)\b)?",
    re.IGNORECASE,
)


def questioned(said: str, around: LineContext) -> Ask | None:
    """Return the question what was reported, where a line only asks; None where it tells.

    Parameters
    ----------
    said : str
        One fact of a line.
    around : LineContext
        Whose names are known: *has TENACE heard* is asked, *has 20 people* is told.
    """
    turned = _TURNED.match(said)
    asked = bool(_ALWAYS.match(said)) or (
        turned is not None and bool(turned[1] or around.match(said, turned.end()))
    )
    if not asked and "?" not in said:
        return None
    return Ask(
        about="a question is no report: what was reported? say it without asking",
        readings=("keep it as a note",), lines=(f"note: {said}",), part=said,
    )  # fmt: skip
