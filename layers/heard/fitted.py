"""What a kind took of a stretch of a line, or why it could not."""

from __future__ import annotations

from dataclasses import dataclass, field

from layers.heard.grammar import Form
from layers.heard.parts import Doubt, LinePart
from layers.heard.values import SAID, Bound


@dataclass(slots=True, kw_only=True)
class Fitted:
    """A kind that takes a whole stretch.

    ``lacking`` are titles of roles that were called for and got nothing, or are needed;
    ``own_word`` says that a word or cue of its own called it, not only names and figures.
    """

    form: Form
    bound: dict[str, Bound]
    lacking: list[str] = field(default_factory=list)
    own_word: bool = False
    about: bool = False  # "about" was said: kept as a mark
    was: bool = False  # told as past
    inherited: tuple[str, ...] = ()
    confirmed: bool = False  # an unusual figure, or a far place, said on purpose
    carried: bool = False  # one more of a list of the kind before it

    @property
    def doubts(self) -> list[Doubt]:
        """All that must be asked or refused about what was said."""
        return [doubt for bound in self.bound.values() for doubt in bound.doubts]


@dataclass(frozen=True, slots=True)
class Misfit:
    """Why a kind can not take a stretch: the first part that it has no role for."""

    part: LinePart | None


def able(form: Form, part: LinePart) -> bool:
    """Whether any role of a kind can take a part of this sort at all."""
    if part.sort == "name" and "name" not in form.able:
        return any(name.sort in form.able for name in part.value)
    return part.sort in form.able


def weak(one: Bound) -> bool:
    """Whether a role got its value without a cue, so that it can not call a kind."""
    if one.role.sort == "count":
        return one.worth != SAID
    return one.role.sort in ("quantity", "direction", "pressure", "gas", "number")


def elsewhere(form: Form, part: LinePart) -> bool:
    """Whether a part is where something goes, or what it is told from, and not the thing itself.

    TENACE *to* 4310N 00820E is not there; what bears 335T *from* the buoy is not the buoy.
    """
    if part.sort == "phrase" and part.prep == "from":
        said = [form.roles[m.key] for m in part.value if m.sort == "choice" and m.key in form.roles]
        return any("from" not in role.preps for role in said if part.text.lower() in role.choices)
    return part.sort == "position" and part.prep in ("to", "for", "into", "onto") and not any(
        role.sort == "position" and part.prep in role.preps for role in form.roles.values()
    )  # fmt: skip
