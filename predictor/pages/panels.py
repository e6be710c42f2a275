"""A panel: how large its setting is, whether beside the rest or above it, and how it is drawn in a PDF."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from predictor.pages.blocks import Panel
from predictor.pages.pdf_letters import measure

if TYPE_CHECKING:
    from predictor.pages.pdf_sheets import Sheets

MM_PER_POINT = 25.4 / 72
# Sizes are counted in letters (em) of the page's plain text. Capitals and figures of usual fonts are 0.70 to 0.73 em
# high: with plain text of 10.6 points settings are 11 to 15 mm high, weights 5 to 6 mm, and nothing is below 2.5 mm.
LARGEST, LEAST, TINY = 5.2, 4.25, 1.9
WEIGHT, NAME, VERB, WITH = 2.0, 1.15, 1.15, 1.7
# Width of the part with the setting, and of both parts together on the smallest sheet.
COLUMN, MOST_COLUMN, WHOLE = 12.4, 18.0, 32.5
# Letters of the other side, as a part of those of the front.
BACK = 0.945
PAD, GAP, THIN, THICK = 0.5, 0.5, 0.12, 0.3
# Letters by their width in bold letters of a wide font.
_NARROW, _BROAD = ".,:;'|!/-ijlft()[] ", "mwMW@%"


@dataclass(frozen=True)
class Layout:
    """Where the setting is and how large, in letters of plain text."""

    size: float  # Of the setting
    column: float  # Width of its part; 0 where it is above the rest, over the whole width
    wide: float  # Width of the setting in letters of its own size


def layout(panel: Panel) -> Layout:
    """As large as fits beside the rest; a long setting goes above it, and is smaller where two lines do not hold it."""
    wide = max(width(panel.value), 1.0)
    size = min(LARGEST, (COLUMN - 2 * PAD) / wide)
    if size >= LEAST:
        return Layout(size, COLUMN, wide)
    if wide * LEAST + 2 * PAD <= MOST_COLUMN:
        return Layout(LEAST, wide * LEAST + 2 * PAD, wide)
    room = WHOLE - 2 * PAD
    if wide * LEAST <= room:
        return Layout(min(LARGEST, room / wide), 0.0, wide)
    return Layout(max(min(LEAST, 1.6 * room / wide), TINY), 0.0, wide)


def width(text: str) -> float:
    """Width of a text in bold letters of a wide font, in their own size.

    Examples
    --------
    >>> round(width("14.5"), 2), round(width("AB-3"), 2)
    (2.52, 2.68)
    """
    return sum(0.42 if each in _NARROW else 1.1 if each in _BROAD else 0.78 if each.isupper() else 0.7 for each in text)


@dataclass(frozen=True)
class _Line:
    """A text with its size in letters of plain text, and plain letters behind it."""

    text: str
    size: float = 1.0
    bold: bool = False
    more: str = ""
    leading: float = 1.2  # Height of a line in its own letters


@dataclass(frozen=True)
class _Place:
    """Where lines are written, millimetres."""

    x: float
    y: float
    room: float
    white: bool = False
    middle: bool = False


def draw(sheets: Sheets, panel: Panel) -> None:
    """The panel on a sheet of a PDF, on which there is room for it."""
    em, found = sheets.points * MM_PER_POINT, layout(panel)
    pad, beside = PAD * em, found.column > 0
    across = found.column * em if beside else sheets.epw
    one, two = across - 2 * pad, sheets.epw - 2 * pad - (across if beside else 0.0)
    name, setting, rest = _parts(panel, found.size)
    above = _height(sheets, [*setting, _Line(panel.dark)], one) + 2 * pad
    below = _height(sheets, [name, *rest], two) + 2 * pad
    tall = max(above, below) if beside else above + below
    x, y = sheets.l_margin, sheets.y
    if panel.dark:
        sheets.set_fill_color(0, 0, 0)
        sheets.rect(x, y, across, tall if beside else above, style="F")
    start = _Place(x + across + pad, y + pad, two) if beside else _Place(x + pad, y + above + pad, two)
    free = (tall - above) / 2 if beside else 0.0
    shown = _Place(x + pad, y + pad + free, one, white=bool(panel.dark), middle=True)
    with sheets.tag("Sect"):
        start = _write(sheets, "H2", [name], start)
        shown = _write(sheets, "P", setting, shown)
        _write(sheets, "P", [_Line(panel.dark)], shown)
        for each in rest:
            start = _write(sheets, "P", [each], start)
    sheets.set_line_width(THICK * em if panel.dark else THIN * em)
    sheets.rect(x, y, sheets.epw, tall)
    sheets.set_line_width(0.2)
    sheets.set_xy(x, y + tall + GAP * em)


def _parts(panel: Panel, size: float) -> tuple[_Line, list[_Line], list[_Line]]:
    """The name, the setting and the rest of a panel as lines."""
    setting = [
        _Line(panel.verb, VERB if panel.value else WITH, bold=True),
        _Line(panel.value, size, bold=True, leading=0.98),
        _Line(panel.with_value, WITH, bold=True, leading=1.05),
        _Line(panel.where),
        _Line(panel.then, VERB, bold=True),
    ]
    weight = [_Line(panel.weight, WEIGHT, bold=True, leading=1.1)] if panel.weight else []
    name = _Line(panel.name, NAME, bold=True, more=panel.more_name)
    return name, [each for each in setting if each.text], [*weight, *map(_Line, panel.lines)]


def _height(sheets: Sheets, lines: Sequence[_Line], room: float) -> float:
    """Millimetres that lines take below each other."""
    return sum(high for line in lines for _, high, _ in _folded(sheets, line, room))


def _folded(sheets: Sheets, line: _Line, room: float) -> list[tuple[list[tuple[str, _Line]], float, float]]:
    """Each line of a text: its pieces, its height and its width in millimetres."""
    if not line.text:
        return []
    high = line.size * sheets.points * MM_PER_POINT * line.leading
    found = [([(each, line)], high, _wide(sheets, each, line)) for each in _fold(sheets, line, room)]
    if line.more:  # who listens hears the words apart by a space
        plain = _Line(line.more)
        pieces, _, used = found[-1]
        more = _wide(sheets, f"  {line.more}", plain)
        if used + more <= room:
            found[-1] = [*pieces, (f"  {line.more}", plain)], high, used + more
        else:
            found[-1] = [(f"{text} ", each) for text, each in pieces], high, used
            found += _folded(sheets, plain, room)
    return found


def _fold(sheets: Sheets, line: _Line, room: float) -> list[str]:
    sheets.pen(line.size, line.bold)
    return sheets.folded(line.text, room)


def _wide(sheets: Sheets, text: str, line: _Line) -> float:
    sheets.pen(line.size, line.bold)
    return float(measure(text, line.bold) * sheets.font_size)


def _write(sheets: Sheets, tag: str, lines: Sequence[_Line], at: _Place) -> _Place:
    """Lines below each other as one element; gives where the next begins."""
    y = at.y
    with sheets.tag(tag):
        for line in lines:
            for pieces, high, wide in _folded(sheets, line, at.room):
                x = at.x + (at.room - wide) / 2 if at.middle else at.x
                for text, each in pieces:
                    width = _wide(sheets, text, each)
                    sheets.set_text_color(*((255, 255, 255) if at.white else (0, 0, 0)))
                    sheets.y = y
                    sheets.write_line(x, text, high, last=line is lines[-1])
                    x += width
                y += high
    return replace(at, y=y)
