"""A page as PDF, with the same blocks as the HTML."""

from __future__ import annotations

import datetime
import io
import logging
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

from predictor.pages.blocks import (
    PAPERS,
    Block,
    Facts,
    Frame,
    Grid,
    Heading,
    Items,
    Lines,
    Page,
    Picture,
    Sign,
    Text,
    visible,
)

if TYPE_CHECKING:
    from fpdf import FPDF

MARGIN_MM = 9.0
# Room left and right of a table's text.
SIDE_MM = 1.2
# Tables of so many rows are not torn over two sheets.
SHORT_TABLE = 24
# Letters of a cell that surely fit on one sheet.
MOST_LETTERS = 400
# Points of plain text, largest first: a page that must fit on one sheet takes the first that does.
SIZES = {"a5": (9.0, 8.5, 8.0, 7.5, 7.0), "a4": (9.5,)}
GREY, SHADE = (61, 61, 61), (236, 236, 236)


def to_pdf(page: Page) -> bytes:
    """The page as PDF.

    A page that should fit on one sheet takes the largest letters with which it does; where none do, more sheets.
    """
    # a name in letters the font lacks is shown with gaps; that needs no lines about fonts on the screen
    logging.getLogger("fpdf").setLevel(logging.ERROR)
    logging.getLogger("fontTools").setLevel(logging.ERROR)
    sizes = SIZES["a5" if page.paper in ("a5", "half-letter") else "a4"]
    for size in sizes:
        made = _Made(page, size)
        fits = not page.one or made.pdf.page_no() == 1
        data = bytes(made.pdf.output()) if fits or size == sizes[-1] else b""
        for font in made.pdf.fonts.values():  # the library leaves their files open
            font.ttfont.close()
        if fits:
            break
    return data


class _Made:
    """One attempt at a page, with plain text of one size."""

    def __init__(self, page: Page, size: float):
        from fpdf import FPDF

        self.size = size
        self.pdf: FPDF = FPDF(unit="mm", format=PAPERS[page.paper])
        # the day of the page's evidence, not of its making: the same page gives the same bytes
        day = datetime.date.fromisoformat(page.date or "1970-01-01")
        self.pdf.set_creation_date(datetime.datetime.combine(day, datetime.time(), datetime.UTC))
        self.pdf.set_producer("predictor")
        self.pdf.set_title(visible(page.title))
        self.pdf.set_lang("en")
        self.pdf.alias_nb_pages("")  # or {nb} in a name would become the number of pages
        self.pdf.set_auto_page_break(True, MARGIN_MM)
        self.pdf.set_margins(MARGIN_MM, MARGIN_MM)
        fonts = Path(find_spec("matplotlib").origin).parent / "mpl-data" / "fonts" / "ttf"
        self.pdf.add_font("text", "", fonts / "DejaVuSans.ttf")
        self.pdf.add_font("text", "B", fonts / "DejaVuSans-Bold.ttf")
        self.pdf.add_page()
        self.put(Heading(page.title, 1))
        for block in page.blocks:
            self.put(block)
        if page.footer:
            self.pdf.ln(1)
            self.put(Text(page.footer, small=True))

    @property
    def line(self) -> float:
        """Height of a line of plain text, millimetres."""
        return self.size * 0.3528 * 1.32

    def font(self, scale: float = 1.0, bold: bool = False, grey: bool = False) -> None:
        self.pdf.set_font("text", "B" if bold else "", self.size * scale)
        self.pdf.set_text_color(*(GREY if grey else (0, 0, 0)))

    def write(self, text: str, scale: float = 1.0, bold: bool = False, grey: bool = False, indent: float = 0.0) -> None:
        self.font(scale, bold, grey)
        self.pdf.set_x(self.pdf.l_margin + indent)
        self.pdf.multi_cell(
            self.pdf.epw - indent, self.line * scale, visible(text), align="L", new_x="LMARGIN", new_y="NEXT"
        )

    def put(self, block: Block) -> None:
        match block:
            case Heading(text, level):
                self.keep_together(11)
                self.pdf.ln(0 if level == 1 else self.line * 0.4)
                self.write(text, (1.5, 1.2, 1.05)[level - 1], bold=True)
            case Text(text, strong, small):
                self.keep_together(3 if strong else 1)
                self.write(text, 0.85 if small else 1.0, strong, small)
            case Items(items):
                for each in items:
                    self.write(f"\u2022 {each}", 0.95)
            case Facts(rows):
                self.facts(rows)
            case Sign(label, value):
                self.write(label, 0.95, bold=True)
                self.write(value, 2.0, bold=True)
            case Lines(labels):
                self.lines(labels)
            case Picture(figure, alt):
                from predictor.plots.style import render

                wide, tall = figure.get_size_inches()
                width = min(0.8 * self.pdf.epw, (self.pdf.eph - 4) * wide / tall)
                self.pdf.image(io.BytesIO(render(figure, "png", 110)), w=width, alt_text=alt)
            case Frame(blocks):
                self.frame(blocks)
            case Grid():
                self.grid(block)

    def facts(self, rows: tuple[tuple[str, str], ...]) -> None:
        label = max(min(0.24 * self.pdf.epw, 50.0), 24.0)
        for name, value in rows:
            top = self.pdf.get_y()
            self.font(0.92, grey=True)
            self.pdf.multi_cell(label, self.line, visible(name), align="L", new_x="RIGHT", new_y="TOP")
            after_name = self.pdf.get_y()
            self.pdf.set_xy(self.pdf.l_margin + label, top)
            self.font(1.0, bold=True)
            self.pdf.multi_cell(
                self.pdf.epw - label, self.line, visible(value), align="L", new_x="LMARGIN", new_y="NEXT"
            )
            self.pdf.set_y(max(self.pdf.get_y(), after_name))

    def lines(self, labels: tuple[str, ...]) -> None:
        self.pdf.ln(self.line * 1.8)
        gap, width = 4.0, (self.pdf.epw - 4.0 * (len(labels) - 1)) / len(labels)
        self.font(0.8)
        y = self.pdf.get_y()
        for k, label in enumerate(labels):
            x = self.pdf.l_margin + k * (width + gap)
            self.pdf.line(x, y, x + width, y)
            self.pdf.set_xy(x, y)
            self.pdf.cell(width, self.line, visible(label))
        self.pdf.set_xy(self.pdf.l_margin, y + self.line * 1.2)

    def frame(self, blocks: tuple[Block, ...]) -> None:
        with self.pdf.offset_rendering() as trial:  # where it would be torn, it begins on a new sheet
            self.framed(blocks)
        if trial.page_break_triggered and self.pdf.get_y() > MARGIN_MM + 1:
            self.pdf.add_page()
        top = self.pdf.get_y()
        sheet = self.pdf.page_no()
        self.framed(blocks)
        bottom = self.pdf.get_y()
        if self.pdf.page_no() == sheet:
            self.pdf.set_line_width(0.5)
            self.pdf.rect(self.pdf.l_margin, top, self.pdf.epw, bottom - top)
            self.pdf.set_line_width(0.2)
        self.pdf.set_y(bottom + 1.6)

    def framed(self, blocks: tuple[Block, ...]) -> None:
        pad, left, right = 2.0, self.pdf.l_margin, self.pdf.r_margin
        self.pdf.set_left_margin(left + pad)
        self.pdf.set_right_margin(right + pad)
        self.pdf.set_y(self.pdf.get_y() + pad / 2)
        for block in blocks:
            self.put(block)
        self.pdf.set_left_margin(left)
        self.pdf.set_right_margin(right)
        self.pdf.set_y(self.pdf.get_y() + pad / 2)

    def grid(self, grid: Grid) -> None:
        from fpdf.fonts import FontFace

        short = len(grid.rows) <= SHORT_TABLE
        self.keep_together(1.7 * len(grid.rows) + 4 if short else 5)
        if grid.caption:
            self.write(grid.caption, bold=True)
        rows = [[visible(cell) for cell in row] for row in (grid.header, *grid.rows)]
        aligns = tuple("RIGHT" if k in grid.numeric else "LEFT" for k in range(len(grid.header)))
        widths = self.widths(rows)
        self.font(0.9)
        with self.pdf.table(
            text_align=aligns,
            col_widths=widths,
            line_height=self.line * 0.95,
            borders_layout="HORIZONTAL_LINES",
            headings_style=FontFace(emphasis="BOLD", fill_color=SHADE),
            padding=(0.5, SIDE_MM),
        ) as table:
            for row in rows:
                for piece in _pieces(row):
                    table.row(piece)
        self.pdf.ln(self.line * 0.4)

    def widths(self, rows: list[list[str]]) -> tuple[float, ...]:
        """Widths of a table's columns in millimetres: no word is broken that has room, the rest goes to long cells."""
        self.font(0.9, bold=True)
        columns = list(zip(*rows, strict=True))
        measure, pad = self.pdf.get_string_width, 2 * SIDE_MM + 0.6
        wide = self.pdf.epw
        words = [
            min(max(measure(word) for cell in column for word in cell.split() or [""]), 0.3 * wide) + pad
            for column in columns
        ]
        whole = [max(measure(cell[:200]) for cell in column) + pad for column in columns]
        if sum(words) >= wide:
            # short words stay whole; the long ones share what is left
            narrow = [min(each, wide / len(words)) for each in words]
            spare, over = wide - sum(narrow), [each - least for each, least in zip(words, narrow, strict=True)]
            return tuple(least + spare * more / (sum(over) or 1.0) for least, more in zip(narrow, over, strict=True))
        wish = [max(full - least, 0.0) for full, least in zip(whole, words, strict=True)]
        share = (wide - sum(words)) / max(sum(wish), wide - sum(words))
        found = [least + share * each for least, each in zip(words, wish, strict=True)]
        return tuple(each * wide / sum(found) for each in found)

    def keep_together(self, lines: float) -> None:
        """Begin a new sheet where so many lines of plain text no longer fit on this one."""
        if self.pdf.will_page_break(lines * self.line) and self.pdf.get_y() > MARGIN_MM + 1:
            self.pdf.add_page()


def _pieces(row: list[str]) -> list[list[str]]:
    """A row as one or several: a cell of many lines goes on in the next, since no row may be higher than a sheet."""
    count = max(1, *(-(-len(cell) // MOST_LETTERS) for cell in row))
    return [[cell[k * MOST_LETTERS : (k + 1) * MOST_LETTERS] for cell in row] for k in range(count)]
