"""The letters of a PDF: which its font has, how wide they are, and how a text is folded."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from functools import cache, lru_cache
from importlib.metadata import distribution
from typing import TYPE_CHECKING, Any

from predictor.text.letters import BOX
from predictor.unseen import visible

if TYPE_CHECKING:
    from predictor.pages.blocks import Page

# What only changes the letters beside it: joiners, and the choice of a variant.
_JOINERS = re.compile("[\u200c\u200d\ufe00-\ufe0f]")
# Where a word that is wider than its line is cut first.
_CUTS = re.compile(r"(?<=[-/+,;:._])(?=.)")


def font_file(bold: bool) -> str:
    """The file of the font, which comes with matplotlib."""
    name = "DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf"
    return str(distribution("matplotlib").locate_file(f"matplotlib/mpl-data/fonts/ttf/{name}"))


@cache
def _widths(bold: bool) -> dict[str, float]:
    """The width of every letter of the font, as a part of its size."""
    from fontTools.ttLib import TTFont  # type: ignore[import-untyped]

    with TTFont(font_file(bold), lazy=True) as font:
        widths, whole = font["hmtx"].metrics, font["head"].unitsPerEm
        return {chr(code): widths[name][0] / whole for code, name in font.getBestCmap().items()}


@lru_cache(maxsize=10_000)
def _is_shown(letter: str) -> bool:
    """Whether the page can show a letter: those of scripts from right to left would stand in the wrong order."""
    backward = unicodedata.bidirectional(letter) in ("R", "AL")
    return not backward and letter in _widths(False) and letter in _widths(True)


def lacking(page: Page) -> tuple[str, ...]:
    """Every letter of a page that its PDF cannot show, once, as they come."""
    found: dict[str, None] = {}
    for text in _texts(page):
        if not text.isascii():
            found.update((letter, None) for letter in _plain(text) if not _is_shown(letter))
    return tuple(found)


def _texts(value: Any) -> Iterator[str]:
    """Every text in blocks, also those in pictures."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, tuple):
        for each in value:
            yield from _texts(each)
    elif is_dataclass(value):
        for field in fields(value):
            yield from _texts(getattr(value, field.name))
    elif hasattr(value, "findobj"):
        yield from (each.get_text() for each in value.findobj(lambda artist: hasattr(artist, "get_text")))


def _plain(text: str) -> str:
    """Text as it is written: invisible characters written out, joiners and line ends left out."""
    return re.sub(r"[\t\r\n]", " ", _JOINERS.sub("", visible(text, lines=True)))


def shown(text: str) -> str:
    """Text with a box for each letter that the font lacks."""
    text = visible(text, lines=True)
    if text.isascii():
        return text
    return "".join(each if each in "\t\r\n" or _is_shown(each) else BOX for each in _JOINERS.sub("", text))


@lru_cache(maxsize=50_000)
def measure(text: str, bold: bool) -> float:
    """The width of a text, as a part of the size of its letters."""
    widths = _widths(bold)
    return sum(widths.get(each, 0.6) for each in text)


def words(text: str) -> list[str]:
    """The words of a text, which are not broken where there is room for them."""
    return [each for each in re.split(r"[ \t\r\n]+", text) if each]


def fold(text: str, width: float, bold: bool) -> list[str]:
    """Text in lines of at most this width, as a part of the size of its letters.

    >>> fold("three lines of it", 6.0, False)
    ['three lines', 'of it']
    """
    lines: list[str] = []
    for part in shown(text).splitlines() or [""]:
        lines += _fold_line(part, width, bold)
    return lines


def _fold_line(text: str, width: float, bold: bool) -> list[str]:
    """One line, folded."""
    lines, line, used, space = [], "", 0.0, measure(" ", bold)
    for word in words(text):
        wide = measure(word, bold)
        if line and used + space + wide <= width:
            line, used = f"{line} {word}", used + space + wide
            continue
        if line:
            lines.append(line)
        *cut, line = [word] if wide <= width else _cut(word, width, bold)
        lines += cut
        used = measure(line, bold)
    return [*lines, line]


def _cut(word: str, width: float, bold: bool) -> list[str]:
    """A word that is wider than its line, in pieces: cut behind a hyphen or the like, or else anywhere."""
    pieces: list[str] = [""]
    for part in _CUTS.split(word):
        for each in [part] if measure(part, bold) <= width else part:
            if pieces[-1] and measure(pieces[-1] + each, bold) > width:
                pieces.append("")
            pieces[-1] += each
    return pieces
