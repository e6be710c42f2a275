"""A page as blocks. HTML and PDF are made from the same blocks, so that the two cannot disagree."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from matplotlib.figure import Figure

Paper = Literal["a5", "half-letter", "a4", "letter"]


@dataclass(frozen=True)
class Heading:
    """A heading of level 1 to 3."""

    text: str
    level: int = 2


@dataclass(frozen=True)
class Text:
    """A paragraph."""

    text: str
    strong: bool = False  # For what must not be missed
    small: bool = False  # For notes


@dataclass(frozen=True)
class Items:
    """A list of short sentences."""

    items: tuple[str, ...]


@dataclass(frozen=True)
class Facts:
    """Labels with their values, a pair on each line."""

    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Grid:
    """A table with a header."""

    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]  # Each as long as the header
    numeric: frozenset[int] = frozenset()  # Columns to be aligned at the right, counted from 0
    caption: str = ""  # "" for none
    named: bool = False  # Whether the first cell of a row names it
    inverse: frozenset[int] = frozenset()  # Rows to be found at a glance: white on black, but for cells to write in
    folds: bool = False  # Whether all of it is to be seen on a phone at once, with cells of several lines


@dataclass(frozen=True)
class Sign:
    """A text to be read from two steps away."""

    label: str
    value: str  # In large letters


@dataclass(frozen=True)
class Panel:
    """A setting to be read at arm's length, and beside it what goes with it; kept on one sheet."""

    name: str
    more_name: str  # In plain letters behind the name; "" for none
    verb: str
    value: str  # In the largest letters; "" for none
    with_value: str  # Below it, part of the setting as well, such as "on high"; "" for none
    where: str  # In plain letters; "" for none
    then: str  # "" for none
    joint: str  # What stands before it in a sentence, such as ", "
    dark: str  # What says that it is not ready, on black; "" where it is ready, black on white
    weight: str  # In large letters; "" for none
    lines: tuple[str, ...]


@dataclass(frozen=True)
class NewSheet:
    """What follows begins on a new sheet, such as the other side of a card, in somewhat smaller letters."""


@dataclass(frozen=True)
class Picture:
    """A drawing, and what it shows in words."""

    figure: Figure
    alt: str  # What it shows, in words


@dataclass(frozen=True)
class Lines:
    """Lines to be filled in by hand, such as a signature."""

    labels: tuple[str, ...]


@dataclass(frozen=True)
class Frame:
    """Blocks that belong together: they have a border and are kept on one sheet."""

    blocks: tuple[Block, ...]


Block = Heading | Text | Items | Facts | Grid | Sign | Panel | NewSheet | Picture | Lines | Frame


@dataclass(frozen=True)
class Page:
    """A document."""

    title: str
    blocks: tuple[Block, ...]
    paper: Paper = "half-letter"
    one: bool = False  # Whether it should fit on one sheet
    footer: str = ""
    date: str = ""  # Day of the evidence, as YYYY-MM-DD; "" where there is none
    points: float | None = None  # Size of plain text in print; None for that of the paper

    @property
    def small(self) -> bool:
        """Whether it is for a small sheet."""
        return self.paper in ("a5", "half-letter")


# Width and height in millimetres.
PAPERS: dict[Paper, tuple[float, float]] = {
    "a5": (148.0, 210.0),
    "half-letter": (139.7, 215.9),
    "a4": (210.0, 297.0),
    "letter": (215.9, 279.4),
}
