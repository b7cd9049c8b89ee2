"""What changed, made once for all who see the same, and kept until something newer is there.

One thread asks the journal for all open pages together. When there is something new it makes
the parts that somebody looks at, once for each way of seeing, and hands them to the routes, which
only compare and send.
"""

from __future__ import annotations

import asyncio
import logging
import threading
import time
from collections.abc import Mapping
from dataclasses import dataclass, replace

from dashboard.away.link import LINK
from dashboard.cache import opened, pictures
from dashboard.cache.ready import Coming
from dashboard.live.made import LAYER, Have, State, made_parts, shape, steps_from
from dashboard.live.token import Eyes, NotTold
from dashboard.view import Seen, allowed_to, seen_now
from layers.earth.errors import JournalAway, MusterplotError
from layers.journal.actor import Actor, Role
from layers.journal.releases.released import ReleaseShelf
from layers.journal.releases.rules import Release
from layers.results import minute_of
from layers.scene.ink import INKS

log = logging.getLogger(__name__)

TICK_S = 0.1
AGAIN_S = 1.0  # that ages on a page stand
REFINE_S = 0.3  # the same while a slow layer is still worked out
WANTED_S = 60.0  # after the last question for a part nobody looks at it any more
LOOKS_S = 0.05  # between two looks whether what is waited for is there
# Readers are many, and each message goes to all of them: what is whole a moment later is not told
# them in two parts. Who records sees at once what is ready.
SO_FAR_S = 0.3
PATIENCE_S = 2.0  # for the computing process, once something is new; what is ready shows at once
Who = tuple[str, bool, bool]  # release, writable, wall


@dataclass(frozen=True, slots=True, eq=False)
class Sight:
    """What somebody sees, None where they may no longer; until when it stands, and what was new."""

    seen: Seen | None
    told: object
    again: float


class Hub:
    """Who looks at what, the newest of it, and the thread that makes it."""

    def __init__(self) -> None:
        self.closing = False
        self._states: dict[Eyes, State] = {}
        self._news: dict[Eyes, asyncio.Event] = {}
        self._wanted: dict[Eyes, dict[str, float]] = {}
        self._built: dict[Eyes, tuple[float, Sight, set[str]]] = {}
        self._sights: dict[Who, Sight] = {}
        self._comes: dict[Who, float] = {}  # until when a page that was just made may ask
        self._looks: set[Who] = set()  # that are under way
        self._made: dict[Eyes, State] = {}  # the thread's own
        self._bases: dict[Who, tuple[tuple[object, ...], object]] = {}
        self._waits: dict[Who, float] = {}  # since when for the computing process
        self._coming: dict[Who, Coming] = {}  # what is worked out for them meanwhile
        self._lock = threading.Lock()
        self._nudge = threading.Event()
        self._loop: asyncio.AbstractEventLoop | None = None

    # ---- for the routes, in the server's loop

    def want(self, eyes: Eyes, names: Have) -> None:
        """Note that somebody looks at these parts."""
        now = time.monotonic()
        with self._lock:
            held = self._wanted.setdefault(eyes, {})
            fresh = any(name not in held for name in names if not name.startswith(LAYER))
            held.update(dict.fromkeys((n for n in names if not n.startswith(LAYER)), now))
            first = self._loop is None
            self._loop = asyncio.get_running_loop()
        if first:
            threading.Thread(target=self.run, name="changes", daemon=True).start()
        if fresh:
            self._nudge.set()

    def seen(self, seen: Seen, *, wall: bool) -> None:
        """Take what a page has just been made of: nothing is waited for until there is newer."""
        who = (opened.key_of(seen.release), seen.writable, wall)
        held = self._sights.get(who)
        if held is None or (held.seen is not None and held.seen.version < seen.version):
            told = None if held is None else held.told
            mine = replace(seen, actor=_looking(who))
            self._comes[who] = time.monotonic() + WANTED_S
            self._sights[who] = Sight(mine, told, 0.0 if held is None else held.again)

    async def later_than(
        self, eyes: Eyes, since: tuple[int, int], have: Have, wait_s: float
    ) -> bytes | None:
        """Return what is other than somebody has, when it is there; None when nothing came.

        Raises
        ------
        NotTold
            They may no longer see it.
        """
        end = time.monotonic() + wait_s
        while not self.closing:
            self.want(eyes, have)
            held = self._states.get(eyes)
            if held is not None and held.refused:
                raise NotTold(403, "another release is in force")
            if held is not None and held.version >= since and held.has(have) and held.wanted(have):
                return held.message(have)
            left = end - time.monotonic()
            if left <= 0.0:
                break
            event = self._news.setdefault(eyes, asyncio.Event())
            try:
                await asyncio.wait_for(event.wait(), left)
            except TimeoutError:
                break
        return None

    def age_s(self, eyes: Eyes, have: Have) -> float | None:
        """Return how long ago what is newest was found to be so; None when it never was."""
        held = self._states.get(eyes)
        if held is None or held.refused or not held.has(have):
            return None
        return max(0.0, time.time() - held.version[1] / 1e3)

    def close(self) -> None:
        """Let all who wait go."""
        self.closing = True
        for event in self._news.values():
            event.set()

    def end_soon(self) -> None:
        """Let all who wait go, asked from a signal."""
        self.closing = True
        if self._loop is not None:
            self._loop.call_soon_threadsafe(self.close)

    def _put(self, eyes: Eyes, state: State | None) -> None:
        if state is None:
            self._states.pop(eyes, None)
        else:
            self._states[eyes] = state
        event = self._news.pop(eyes, None)
        if event is not None:
            event.set()

    # ---- the thread

    def run(self) -> None:
        """Look for what is new for as long as the server lives."""
        hears = False
        while not self.closing:
            self._nudge.wait(LOOKS_S if self._waits else TICK_S)
            self._nudge.clear()
            try:
                if not hears:
                    opened.news().wake(self._nudge.set)
                    hears = True
                self.tick(time.monotonic())
            except JournalAway as reason:
                LINK.failed(reason)
            except MusterplotError as reason:
                log.warning("%s", reason)
                time.sleep(1.0)
            except Exception:  # pages then say how old they are; the next one may go well
                log.exception("what changed could not be made; trying again")
                time.sleep(1.0)

    def tick(self, at: float) -> None:
        """Make what is due at a time of the monotonic clock."""
        groups = self._looked_at(at)
        for who in list(self._sights):
            if who not in groups and at >= self._comes.get(who, 0.0):
                self._sights.pop(who, None)  # who comes later sees anew
                self._coming.pop(who, None)
        if not groups or LINK.loss is not None:
            return
        base = (opened.news().revision(), minute_of(opened.book().now()))
        for who in sorted(groups, key=lambda one: one[0] != ""):  # the watch first
            told = self._told(who, base)
            sight = self._sights.get(who)
            if who not in self._looks and (
                sight is None or sight.told != told or at >= sight.again
            ):
                self._looks.add(who)
                threading.Thread(target=self._look, args=(who, told), daemon=True).start()
            if sight is not None:
                self._build(sight, groups[who], at)

    def _told(self, who: Who, base: tuple[object, ...]) -> object:
        """Return what is new to them: nothing is made anew at a record that is withheld here."""
        before = self._bases.get(who)
        if before is None or before[0] != base:
            allowed = _allowed(who)
            told = _last_open(allowed) if opened.key_of(allowed) == who[0] else "refused"
            self._bases[who] = before = (base, (told, base[1]))
        return before[1]

    def _looked_at(self, at: float) -> dict[Who, dict[Eyes, set[str]]]:
        groups: dict[Who, dict[Eyes, set[str]]] = {}
        with self._lock:
            for eyes, held in list(self._wanted.items()):
                names = {name for name, last in held.items() if at - last < WANTED_S}
                self._wanted[eyes] = {name: held[name] for name in names}
                if names:
                    who = (eyes.release, eyes.writable, eyes.wall)
                    groups.setdefault(who, {})[eyes] = names
                else:
                    del self._wanted[eyes]
                    self._built.pop(eyes, None)
                    self._made.pop(eyes, None)
                    self._call(eyes, None)
        return groups

    def _look(self, who: Who, told: object) -> None:
        """See what there is, beside the thread: a picture that takes long holds up no other."""
        try:
            at, allowed = time.monotonic(), _allowed(who)
            if opened.key_of(allowed) != who[0]:
                self._sights[who] = Sight(None, told, at + AGAIN_S)
                return
            here = opened.present(allowed)
            ready = pictures.is_ready(here.shown, here.shown, here.revision, allowed)
            if not self.may_show(who, at, ready=ready):
                coming = self._coming.setdefault(who, Coming())
                coming.ask(here, allowed)
                if who[1] or at - self._waits.get(who, at) >= SO_FAR_S:
                    self._show_so_far(who, allowed, here, coming)
                return  # asked again at the next tick
            self._coming.pop(who, None)
            seen = seen_now(_looking(who), allowed, here, INKS["night"])
            whole = pictures.is_complete(seen.moment, here.revision, allowed)
            self._sights[who] = Sight(seen, told, at + (AGAIN_S if whole else REFINE_S))
            self._nudge.set()
        except JournalAway as reason:
            LINK.failed(reason)
        except Exception:  # pages then say how old they are; the next look may go well
            log.exception("what changed could not be seen; trying again")
            time.sleep(1.0)
        finally:
            self._looks.discard(who)

    def _show_so_far(
        self, who: Who, allowed: Release, here: opened.Present, coming: Coming
    ) -> None:
        """Show the layers that are ready at once; the others stand as they were."""
        held = self._sights.get(who)
        before = None if held is None or held.seen is None else held.seen.picture
        made = coming.newest(here, allowed, before)
        if made is None or held is None or self._sights.get(who) is not held:
            return
        seen = seen_now(_looking(who), allowed, here, INKS["night"], made)
        self._sights[who] = Sight(seen, held.told, held.again)
        self._nudge.set()

    def _build(self, sight: Sight, group: Mapping[Eyes, set[str]], at: float) -> None:
        """Make the parts of what was seen; ages and what is wrong here go on between two looks."""
        for eyes, names in group.items():
            before = self._built.get(eyes)
            if before is not None and before[1:] == (sight, names) and at < before[0]:
                continue
            self._built[eyes] = (at + AGAIN_S, sight, names)
            if sight.seen is None:
                self._call(eyes, State((0, 0), {}, "", refused=True))
                continue
            seen = replace(sight.seen, ink=INKS[eyes.ink])
            parts = made_parts(seen, names, eyes.chart)
            steps = steps_from(self._made.get(eyes), parts)
            self._made[eyes] = State(seen.version, parts, shape(seen), steps=steps)
            self._call(eyes, self._made[eyes])

    def may_show(self, who: Who, at: float, *, ready: bool) -> bool:
        """Whether what is new is to be shown, be it not ready: records do not prolong the wait."""
        if not ready and at - self._waits.setdefault(who, at) < PATIENCE_S:
            return False
        self._waits.pop(who, None)
        return True

    def _call(self, eyes: Eyes, state: State | None) -> None:
        if self._loop is not None:
            self._loop.call_soon_threadsafe(self._put, eyes, state)


def _looking(who: Who) -> Actor:
    return Actor(name="", role=Role.WATCH if who[1] else Role.READER, via="changes")


def _last_open(allowed: Release) -> object:
    """Return the last record that they see and may be told of at once, by its number."""
    shelf, here = opened.read_by(allowed), opened.present(allowed)
    if isinstance(shelf, ReleaseShelf):
        return here.told, shelf.last_open(here.revision)
    return here.told


def _allowed(who: Who) -> Release:
    return allowed_to(_looking(who), wall=who[2])


HUB = Hub()
