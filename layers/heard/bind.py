"""One kind against one stretch of a line: every part must be used, or the kind can not have it.

This one rule makes negation, alternatives and doubt safe without being understood: *not*, *or*,
*if* and *lost* are no fillers, so no kind takes a line that holds one.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import datetime
from itertools import pairwise

from layers.heard.fitted import Fitted, Misfit, able, elsewhere, weak
from layers.heard.grammar import ALONE, CONFIRMED, Form
from layers.heard.parts import LinePart, Meaning
from layers.heard.values import ASKED, NOT, SAID, TAKEN, Bound, bind, chosen, worth
from layers.journal.words.heard import Name, Slot


def fit(
    form: Form,
    parts: Sequence[LinePart],
    now: datetime,
    *,
    called: bool = False,
    amending: bool = False,
) -> Fitted | Misfit:
    """Return how a kind takes a stretch, or what it can not take.

    Parameters
    ----------
    called : bool
        It need not be called by a word of its own or by its core.
    amending : bool
        A part may take any role of its sort that it alone can be.
    """
    for part in parts:
        unable = part.sort in ALONE and not able(form, part)
        if unable or (not amending and elsewhere(form, part)):
            return Misfit(part)
    return _State(form, parts, now, called, amending).run()


class _State:
    def __init__(
        self, form: Form, parts: Sequence[LinePart], now: datetime, called: bool, amending: bool
    ) -> None:
        self.form, self.now, self.amending = form, now, amending
        self.parts = list(parts)
        self.used: set[int] = set()
        self.found = Fitted(form=form, bound={})
        self.cued: set[str] = set()
        self.called = called
        self.before = False

    def run(self) -> Fitted | Misfit:
        cues = self._phrases()
        if isinstance(cues, Misfit):
            return cues
        self._cues(cues)
        left = self._rest()
        if left is not None:
            return left
        bound = self.found.bound
        strong = {key for key, one in bound.items() if not weak(one)} | self.cued
        if not self.called and not any(core <= strong for core in self.form.cores):
            return Misfit(None)
        words = {key for key in self.cued} | {
            key for key, one in bound.items() if one.role.sort == "choice"
        }
        self.found.own_word = self.called or any(core & words for core in self.form.cores)
        for need in self.form.needs:
            if not any(key in bound for key in need):
                titles = (self.form.roles[key].title for key in need)
                title = " or ".join(one for one in titles if one)
                if title not in self.found.lacking:
                    self.found.lacking.append(title)
        so_too = {r.title for r in self.form.roles.values() if r.or_else in bound}
        self.found.lacking = [title for title in self.found.lacking if title not in so_too]
        for one in bound.values():
            if any(key in bound for key in one.role.not_beside.split("|")):
                self.found.lacking.append(f"how many of them are {one.role.cues[0]}")
        for need in self.form.needs:
            told = [key for key in need if key in bound]
            sorts = {self.form.roles[key].sort for key in told}
            if len(told) > 1 and {"name", "position"} <= sorts:
                return Misfit(bound[told[1]].part)  # where it is, told in two ways
        self._sure()
        return self.found

    def _phrases(self) -> list[tuple[int, list[Slot]]] | Misfit:
        """Take words and choices; return the cues with the roles that they call for."""
        cues: list[tuple[int, list[Slot]]] = []
        for at, part in enumerate(self.parts):
            if part.sort in ("filler", "comma"):
                self.found.about |= part.value == "about"
                self.found.was |= part.text.lower() == "was"
                self.used.add(at)
                continue
            if part.sort == "doubt":
                continue
            if part.sort != "phrase":
                continue
            own = [m for m in part.value if m.sort == "word" and m.key == self.form.kind.name]
            said = " ".join(re.split(r"[\s-]+", part.text.lower()))
            choices = [m for m in part.value if m.sort == "choice" and self._has(m, said)]
            roles = [self.form.roles[m.key] for m in part.value
                     if m.sort == "cue" and self._has(m, said)]  # fmt: skip
            roles.sort(key=lambda role: role.sort != "direction")
            free = [m for m in choices if m.key not in self.found.bound]
            if part.text.lower() == CONFIRMED:
                self.found.confirmed = True
                self.used.add(at)
            elif free:
                role = self.form.roles[free[0].key]
                self.found.bound[role.key] = chosen(role, free[0].value, part)
                self.used.add(at)
                if roles:  # two lifejackets: what was seen, and a cue for how many
                    cues.append((at, roles))
                self.called |= bool(own)  # new aircraft: the kind, and what she is for
            elif choices and not own and not self._said_again(choices):
                return Misfit(part)  # debris and oil: two things, of which one record holds one
            elif roles or own:
                if roles:
                    cues.append((at, roles))
                self.called |= bool(own)
                self.used.add(at)
            else:
                return Misfit(part)
        return cues

    def _said_again(self, choices: list[Meaning]) -> bool:
        return any(self.found.bound[m.key].value == m.value for m in choices)

    def _has(self, meaning: Meaning, said: str) -> bool:
        """Whether this kind's own role of that name knows the phrase."""
        role = self.form.roles.get(meaning.key)
        if role is None:
            return False
        known = role.cues if meaning.sort == "cue" else role.choices
        return any(" ".join(re.split(r"[\s-]+", way.lower())) == said for way in known)

    def _cues(self, cues: list[tuple[int, list[Slot]]]) -> None:
        """Give each cue its values: what adjoins first, the better worth before the doubtful."""
        marks = [-1, *(at for at, _ in cues), len(self.parts)]
        bounds = {
            at: (before, behind)
            for (before, at), behind in zip(pairwise(marks[:-1]), marks[2:], strict=False)
        }
        self.before = self._counts_before(cues)
        for least in (TAKEN, ASKED):
            for at, roles in cues:
                for role in roles:
                    if role.key not in self.found.bound:
                        self._give(role, at, *bounds[at], least)
        for at, roles in cues:
            keys = {role.key for role in roles}
            self.cued |= keys & set(self.found.bound)
            if not keys & set(self.found.bound):
                own = any(m.sort in ("word", "choice") for m in self.parts[at].value)
                if not own:
                    self.found.lacking.append(roles[0].title)
                    self.cued.add(roles[0].key)

    def _counts_before(self, cues: list[tuple[int, list[Slot]]]) -> bool:
        """Whether each count stands before its word: 27 alive 1 dead 3 injured."""
        ats = [at for at, roles in cues if any(role.sort == "count" for role in roles)]
        beside = [[at and self._next(at, -1) for at in ats], [self._next(at, 1) for at in ats[-1:]]]
        number = [[k is not None and self.parts[k].sort == "number" for k in row] for row in beside]
        return all(number[0]) and not any(number[1])

    def _give(self, role: Slot, at: int, before: int, behind: int, least: int) -> None:
        ahead = [k for k in range(at + 1, behind) if self._free(k)]
        back = [k for k in range(at - 1, before, -1) if self._free(k)]
        adjoining = [k for k in (self._next(at, 1), self._next(at, -1)) if k is not None]
        if role.sort == "count" and self.before:
            adjoining.sort()
        within = role.sort == "count" and self.parts[at].text.lower().startswith("in ")
        if role.counts or within:  # two lifejackets, 4 in raft 2: in front, or not at all
            adjoining, ahead, back = [k for k in adjoining if k < at], [], []
        for some in (adjoining[:1], adjoining[1:], ahead, back):
            best, most = None, least - 1
            for k in some:
                value = self._worth(role, self.parts[k])
                if value == ASKED and self._is_relative(role, at, k):
                    value = SAID
                if value > most:
                    best, most = k, value
            if best is not None:
                if self._is_relative(role, at, best):
                    self._relative(best)
                self._take(role, best, most)
                return

    def _is_relative(self, role: Slot, at: int, k: int) -> bool:
        """Whether bare figures are counted from the bow, by the word before them."""
        said = self.parts[at].text.lower().startswith("relative")
        return said and role.sort == "direction" and self.parts[k].sort == "number"

    def _relative(self, at: int) -> None:
        """Read the bare figures behind *relative* as counted from the bow."""
        part = self.parts[at]
        if part.sort == "number" and re.fullmatch(r"\d{3}", part.value.figures):
            self.parts[at] = replace(
                part, sort="direction", value=(float(part.value.figures) % 360.0, "relative")
            )

    def _next(self, at: int, step: int) -> int | None:
        k = at + step
        while 0 <= k < len(self.parts) and self.parts[k].sort == "filler":
            k += step
        return k if 0 <= k < len(self.parts) and self._free(k) else None

    def _free(self, at: int) -> bool:
        return at not in self.used and (self.parts[at].is_value or self.parts[at].sort == "unknown")

    def _worth(self, role: Slot, part: LinePart) -> int:
        if part.sort == "pair":
            first = role.sort == "direction"
            speed = role.sort == "quantity" and role.unit == "kn"
            return TAKEN if first or speed else NOT
        return worth(role, part)

    def _take(self, role: Slot, at: int, value: int) -> None:
        part = self.parts[at]
        if part.sort == "pair":
            self._pair(role, at)
            return
        self._bind(role, part, value)
        self.used.add(at)

    def _bind(self, role: Slot, part: LinePart, value: int) -> None:
        made = bind(role, part, self.now, value, future_s=self.form.kind.future_s)
        self.found.bound[role.key] = made

    def _pair(self, role: Slot, at: int) -> bool:
        """Take both halves of 240/12: the direction for this role or its partner, and the speed."""
        part = self.parts[at]
        partner = self._partner(role)
        if partner is None:
            return False
        first, second = (role, partner) if role.sort == "direction" else (partner, role)
        turn, speed = part.value
        whole = LinePart(sort="number", text=part.text, value=turn)
        unit = LinePart(sort="quantity", text=part.text, value=speed)
        self._bind(first, whole, TAKEN)
        self._bind(second, unit, TAKEN)
        self.cued |= {first.key, second.key} if role.key in self.cued else set()
        self.used.add(at)
        return True

    def _partner(self, role: Slot) -> Slot | None:
        wanted = "quantity" if role.sort == "direction" else "direction"
        stem = role.key.split("_")[0]
        for other in self.form.roles.values():
            if other.sort != wanted or other.key in self.found.bound:
                continue
            if wanted == "quantity" and other.unit != "kn":
                continue
            if {role.key, other.key} == {"course", "speed"} or other.key.split("_")[0] == stem:
                return other
        return None

    def _on_bow(self, at: int, part: LinePart) -> bool:
        """Take red 50 as a bearing: it is whole without a cue, and calls for one."""
        for role in self.form.roles.values():
            if role.sort == "direction" and not role.alone and role.key not in self.found.bound:
                if "relative" not in role.cues:
                    continue
                self._bind(role, part, SAID)
                self.cued.add(role.key)
                self.used.add(at)
                return True
        return False

    def _rest(self) -> Misfit | None:
        """Give what no cue took a role that this kind alone can give it, or say what is left."""
        for at, part in enumerate(self.parts):
            if at in self.used:
                continue
            if part.sort == "doubt":
                if not self._doubtful(part):
                    return Misfit(part)
                self.used.add(at)
                continue
            if part.sort == "direction" and part.value[1] == "relative" and self._on_bow(at, part):
                continue
            options = list(self._options(part))
            if not options:
                return Misfit(part)
            role, value = options[0]
            if part.sort == "pair":
                if not self._pair(role, at):
                    return Misfit(part)
            else:
                self._bind(role, part, value)
            self.used.add(at)
        return None

    def _options(self, part: LinePart) -> Iterable[tuple[Slot, int]]:
        roles = [
            role for role in self.form.roles.values()
            if role.key not in self.found.bound and self._may(role, part)
        ]  # fmt: skip
        if part.sort == "pair":
            yield from (
                (role, TAKEN)
                for role in roles
                if role.sort == "direction" and role.paired and self._partner(role)
            )
            return
        exact = [
            (role, worth(role, part)) for role in roles
            if role.sort in ("time", "name", "position", "word") and not self._cue_only(role, part)
        ]  # fmt: skip
        exact = [(role, value) for role, value in exact if value]
        if part.sort == "time" or exact:
            yield from sorted(exact, key=lambda one: -self._prep_rank(one[0], part))
            if part.sort != "number":
                return
        loose = [
            (role, worth(role, part))
            for role in roles
            if (role.loose or self.amending)
            and role.sort not in ("time", "name", "position", "word")
        ]
        loose = [(role, value) for role, value in loose if value >= (TAKEN if exact else ASKED)]
        if self.amending:  # 27 people of a headcount: what it must say, before what it may
            needed = {key for need in self.form.needs for key in need}
            loose = [one for one in loose if one[0].key in needed] or loose
            loose = [one for one in loose if one[0].loose] or loose
        said = [one for one in loose if one[1] > TAKEN]
        if said:
            yield from said[:1] if len(said) == 1 else ()
        elif not exact and len(loose) == 1 and (self.called or part.sort != "number"):
            yield loose[0]

    def _may(self, role: Slot, part: LinePart) -> bool:
        """Whether a role that goes only with another may be told here; a word stands behind it."""
        if not role.only_with:
            return True
        wanted = role.only_with.split("|")
        if role.sort == "word":
            before = self._before(part)
            return any(key in self.found.bound and self.found.bound[key].part is before
                       for key in wanted)  # fmt: skip
        if any(key in self.found.bound for key in wanted):
            return True
        others = [self.form.roles[key] for key in wanted if key in self.form.roles]
        left = [other for k, other in enumerate(self.parts) if k not in self.used]
        return any(self._worth(other, one) for other in others for one in left)

    def _before(self, part: LinePart) -> LinePart | None:
        """Return the part that stands before another, fillers left out."""
        at = next((k for k, one in enumerate(self.parts) if one is part), 0) - 1
        while at >= 0 and self.parts[at].sort == "filler":
            at -= 1
        return self.parts[at] if at >= 0 else None

    def _cue_only(self, role: Slot, part: LinePart) -> bool:
        """Whether it stands beside its cue only: a time that is due, a word."""
        if role.sort == "time" and role.key != "time":
            return part.prep not in role.preps or (part.prep == "" and bool(role.cues))
        return role.sort == "word" and not role.loose

    def _prep_rank(self, role: Slot, part: LinePart) -> int:
        return 2 if part.prep and part.prep in role.preps else 1 if "" in role.preps else 0

    def _doubtful(self, part: LinePart) -> bool:
        """Keep a part that can not be read beside the role that it was meant for."""
        assert part.doubt is not None
        sort = (
            "direction"
            if "bearing" in part.doubt.about or "grid" in part.doubt.about
            else "position"
        )
        for role in self.form.roles.values():
            if role.sort == sort and role.key not in self.found.bound:
                self.found.bound[role.key] = Bound(
                    role=role, value=None, part=part, shown=part.text, doubts=(part.doubt,)
                )
                if role.title in self.found.lacking:
                    self.found.lacking.remove(role.title)
                self.cued.add(role.key)
                return True
        return False

    def _sure(self) -> None:
        """Ask no figure again for being unusual that was confirmed."""
        bound = self.found.bound
        if not any(part.text.lower() == CONFIRMED for part in self.parts) and not any(
            isinstance(one.value, Name) and one.value.fast for one in bound.values()
        ):
            return
        for key, one in self.found.bound.items():
            kept = tuple(doubt for doubt in one.doubts if "unusual" not in doubt.about)
            self.found.bound[key] = replace(one, doubts=kept)
