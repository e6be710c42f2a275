"""A page as blocks, from which HTML and PDF are made, so that the two cannot disagree."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_UNSEEN = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u200b\u200e\u200f\u2028-\u202e\u2060\u2066-\u2069\ufeff]")


def visible(text: str) -> str:
    """Text without characters that cannot be seen: controls, marks of direction, blanks without width.

    Parameters
    ----------
    text : str

    Returns
    -------
    str

    Examples
    --------
    >>> visible("lot\\u200b A\\u202e")
    'lot A'
    """
    return _UNSEEN.sub("", text)


@dataclass(frozen=True)
class Heading:
    """A heading of level 1 to 3.

    Attributes
    ----------
    text : str
    level : int
    """

    text: str
    level: int = 2


@dataclass(frozen=True)
class Text:
    """A paragraph.

    Attributes
    ----------
    text : str
    strong : bool
        For what must not be missed.
    small : bool
        For notes.
    """

    text: str
    strong: bool = False
    small: bool = False


@dataclass(frozen=True)
class Items:
    """A list of short sentences.

    Attributes
    ----------
    items : tuple of str
    """

    items: tuple[str, ...]


@dataclass(frozen=True)
class Facts:
    """Label and value pairs, one a line.

    Attributes
    ----------
    rows : tuple of (str, str)
    """

    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Grid:
    """A table with a header.

    Attributes
    ----------
    header : tuple of str
    rows : tuple of (tuple of str)
        As long as the header, each.
    numeric : frozenset of int
        Columns that stand to the right, from 0.
    caption : str
        "" for none.
    """

    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numeric: frozenset[int] = frozenset()
    caption: str = ""


@dataclass(frozen=True)
class Sign:
    """What must be read from two steps away.

    Attributes
    ----------
    label : str
    value : str
        In large letters.
    """

    label: str
    value: str


@dataclass(frozen=True)
class Picture:
    """A drawing, and what it shows in words.

    Attributes
    ----------
    figure : Figure
    alt : str
        What it shows, in words.
    """

    figure: Figure
    alt: str


@dataclass(frozen=True)
class Lines:
    """Lines to be filled in by hand: signature, date.

    Attributes
    ----------
    labels : tuple of str
    """

    labels: tuple[str, ...]


@dataclass(frozen=True)
class Frame:
    """Blocks that belong together, with a border and never torn over two pages.

    Attributes
    ----------
    blocks : tuple of Block
    """

    blocks: tuple[Block, ...]


Block = Heading | Text | Items | Facts | Grid | Sign | Picture | Lines | Frame


@dataclass(frozen=True)
class Page:
    """A document.

    Attributes
    ----------
    title : str
    blocks : tuple of Block
    paper : {"a5", "half-letter", "a4", "letter"}
    one : bool
        Whether it should fit on one sheet.
    footer : str
    date : str
        Day of the evidence, as YYYY-MM-DD; "" where there is none.
    """

    title: str
    blocks: tuple[Block, ...]
    paper: str = "half-letter"
    one: bool = False
    footer: str = ""
    date: str = ""


# Width and height in millimetres.
PAPERS: dict[str, tuple[float, float]] = {
    "a5": (148.0, 210.0),
    "half-letter": (139.7, 215.9),
    "a4": (210.0, 297.0),
    "letter": (215.9, 279.4),
}
