"""When something first stands in a frame that a real Chromium has painted.

The page notes it by itself, at every frame, in the time of this machine. A frame's callbacks come
before it is painted: what stands at one callback has been painted when the next one comes.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

Name = TypeVar("Name", bound=Hashable)

# Records by their number in the log, from the words on every mark; who is not told the numbers of
# records has none.
NOTE_RECORDS = r"""() => {
  window.painted = {};
  let drawn = 0;
  const look = () => {
    if (musterplot.drawnAt !== drawn) {
      drawn = musterplot.drawnAt;
      const told = new Set();
      for (const mark of musterplot.marks)
        for (const cited of (mark.p.t || "").matchAll(/\brecords? (\d+(?:, \d+)*)/g))
          for (const number of cited[1].split(", ")) told.add(number);
      requestAnimationFrame(() => {
        const at = Date.now() / 1000;
        for (const number of told) if (!(number in painted)) painted[number] = at;
      });
    }
    requestAnimationFrame(look);
  };
  requestAnimationFrame(look);
}"""
RECORDS = "() => painted"

# How many are out, as the muster says it in large figures.
NOTE_OUT = r"""() => {
  window.counted = {};
  const look = () => {
    const out = document.querySelector(".mp-strip [data-answer='persons.out'] b");
    const count = out && out.textContent.trim();
    if (count && !(count in counted)) {
      counted[count] = null;
      requestAnimationFrame(() => { counted[count] = Date.now() / 1000; });
    }
    requestAnimationFrame(look);
  };
  requestAnimationFrame(look);
}"""
OUT = "() => counted"


@dataclass(frozen=True, slots=True)
class Waited:
    """How long it took until each thing, or a newer one in its place, was seen."""

    seconds: list[float]  # infinite for what was never seen
    overtaken: int = 0  # not seen by itself: a newer one came first

    def cut(self, hundredths: int) -> float:
        """Return what so many of a hundred did not exceed."""
        return float(np.percentile(self.seconds, hundredths, method="higher"))

    def words(self) -> str:
        """Return it in a few words."""
        overtaken = f", {self.overtaken} overtaken" if self.overtaken else ""
        return f"p50 {self.cut(50):.1f} s p95 {self.cut(95):.1f} s{overtaken}"


def waited(begun: Mapping[Name, float], seen: Mapping[Name, float | None]) -> Waited:
    """Return how long after its beginning each was seen, or one of those that followed it.

    Parameters
    ----------
    begun, seen : mapping
        Seconds of one clock by what was looked for; each that began takes the place of the one
        before it, so that whoever sees the newer one is no longer behind with the older.
    """
    seconds, overtaken, newest = [], 0, math.inf
    for name, at in sorted(begun.items(), key=lambda one: -one[1]):
        own = seen.get(name)
        overtaken += own is None
        newest = min(newest, math.inf if own is None else own)
        seconds.append(newest - at)
    return Waited(seconds[::-1], overtaken)


def together(each: Iterable[Waited]) -> Waited:
    """Return what many waited for as one."""
    held = list(each)
    return Waited([s for one in held for s in one.seconds], sum(one.overtaken for one in held))
