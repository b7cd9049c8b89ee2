"""The pages there are: our own, and one for each layer that the catalogue lists."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from layers import catalogue

SCREENS = Path(__file__).parent / "screens"


@dataclass(frozen=True, slots=True)
class PageLink:
    """One page: title, address, its place among the links."""

    title: str
    address: str
    rank: int
    bare: bool = False  # no line on top and no links: the wall

    @property
    def file(self) -> Path:
        """Where it is written; a layer's page need not have a file."""
        return SCREENS / f"{self.address}.py"


PLOT = PageLink("Plot", "plot", 0)
OWN = (
    PLOT,
    PageLink("Watch", "watch", 35),
    PageLink("Log", "log", 40),
    PageLink("Feeds", "feeds", 45),
    PageLink("Brief", "brief", 50),
    PageLink("Wall", "wall", 55, bare=True),
)
TABLE: tuple[PageLink, ...] = tuple(
    sorted(
        (*OWN, *(PageLink(page.title, page.address, page.rank) for page in catalogue.PAGES)),
        key=lambda link: link.rank,
    )
)


def check() -> None:
    """Refuse a catalogue with layers that clash, with each other or with a page of our own."""
    catalogue.check(taken=[link.address for link in OWN])
