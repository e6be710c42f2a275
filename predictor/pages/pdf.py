"""A page as PDF, with the same blocks as the HTML."""

from __future__ import annotations

import datetime
import io
import logging
from importlib.metadata import distribution

from fpdf import FPDF
from fpdf.fonts import FontFace, TTFFont

from predictor.pages import blocks
from predictor.pages.blocks import PAPERS, Block, Grid, Heading, Page, Text
from predictor.unseen import visible

MARGIN_MM = 9.0
# Room left and right of a table's text.
SIDE_MM = 1.2
# A table of up to this many rows is not split over two sheets.
SHORT_TABLE = 24
# A cell with up to this many letters surely fits on one sheet.
MOST_LETTERS = 400
# Points of plain text, largest first: a page that must fit on one sheet takes the first that does.
SIZES = {True: (9.0, 8.5, 8.0, 7.5, 7.0, 6.8), False: (9.5,)}
GREY, SHADE = (61, 61, 61), (236, 236, 236)


def to_pdf(page: Page) -> bytes:
    """The page as PDF.

    A page that should fit on one sheet takes the largest letters with which it does; where none do, more sheets.
    """
    # a letter that the font lacks leaves a gap, and needs no message on the screen
    logging.getLogger("fpdf").setLevel(logging.ERROR)
    logging.getLogger("fontTools").setLevel(logging.ERROR)
    sizes = SIZES[page.small]
    for size in sizes:
        sheets = _Sheets(page, size)
        done = not page.one or sheets.page_no() == 1 or size == sizes[-1]
        data = bytes(sheets.output()) if done else b""
        sheets.close_fonts()
        if done:
            break
    return data


class _Sheets(FPDF):
    """One attempt at a page, with plain text of one size in points."""

    def __init__(self, page: Page, points: float):
        super().__init__(unit="mm", format=PAPERS[page.paper])
        self.points = points
        self.leading = points * 0.3528 * 1.32  # Height of a line of plain text, millimetres
        # the day of the page's evidence, not of its making, so that the same page gives the same bytes
        day = datetime.date.fromisoformat(page.date or "1970-01-01")
        self.set_creation_date(datetime.datetime.combine(day, datetime.time(), datetime.UTC))
        self.set_producer("predictor")
        self.set_title(visible(page.title))
        self.set_lang("en")
        self.alias_nb_pages("")  # else {nb} in a name would become the number of pages
        self.set_auto_page_break(True, MARGIN_MM)
        self.set_margins(MARGIN_MM, MARGIN_MM)
        for style, name in (("", "DejaVuSans.ttf"), ("B", "DejaVuSans-Bold.ttf")):
            font = distribution("matplotlib").locate_file(f"matplotlib/mpl-data/fonts/ttf/{name}")
            self.add_font("text", style, str(font))
        self.add_page()
        for block in (Heading(page.title, 1), *page.blocks):
            self.put(block)
        if page.footer:
            self.ln(1)
            self.put(Text(page.footer, small=True))

    def close_fonts(self) -> None:
        """Close the files of the fonts, which the library leaves open."""
        for font in self.fonts.values():
            if isinstance(font, TTFFont):
                font.ttfont.close()

    def pen(self, scale: float = 1.0, bold: bool = False, grey: bool = False) -> None:
        """Set size, weight and colour of the text that follows."""
        self.set_font("text", "B" if bold else "", self.points * scale)
        self.set_text_color(*(GREY if grey else (0, 0, 0)))

    def say(self, text: str, scale: float = 1.0, bold: bool = False, grey: bool = False) -> None:
        """A paragraph over the whole width."""
        self.pen(scale, bold, grey)
        self.set_x(self.l_margin)
        self.fill_in(self.epw, text, self.leading * scale)

    def fill_in(self, width: float, text: str, leading: float) -> None:
        """Text folded to a width, from here to the beginning of the next line."""
        self.multi_cell(width, leading, visible(text, lines=True), align="L", new_x="LMARGIN", new_y="NEXT")

    def put(self, block: Block) -> None:
        """One block."""
        match block:
            case blocks.Heading(text, level):
                self.keep_together(11)
                self.ln(0 if level == 1 else self.leading * 0.4)
                self.say(text, (1.5, 1.2, 1.05)[level - 1], bold=True)
            case blocks.Text(text, strong, small):
                self.keep_together(3 if strong else 1)
                self.say(text, 0.85 if small else 1.0, strong, small)
            case blocks.Items(items):
                for each in items:
                    self.say(f"\u2022 {each}", 0.95)
            case blocks.Facts(rows):
                self.facts(rows)
            case blocks.Sign(label, value):
                self.say(label, 0.95, bold=True)
                self.say(value, 2.0, bold=True)
            case blocks.Lines(labels):
                self.lines(labels)
            case blocks.Picture(figure, alt):
                from predictor.plots.style import render

                wide, tall = figure.get_size_inches()
                width = min(0.8 * self.epw, (self.eph - 4) * wide / tall)
                self.image(io.BytesIO(render(figure, "png", 110)), w=width, alt_text=alt)
            case blocks.Frame(inside):
                self.frame(inside)
            case Grid():
                self.grid(block)

    def facts(self, rows: tuple[tuple[str, str], ...]) -> None:
        """Labels in grey at the left, values beside them."""
        label = max(min(0.24 * self.epw, 50.0), 24.0)
        for name, value in rows:
            top = self.get_y()
            self.pen(0.92, grey=True)
            self.fill_in(label, name, self.leading)
            after_name = self.get_y()
            self.set_xy(self.l_margin + label, top)
            self.pen(bold=True)
            self.fill_in(self.epw - label, value, self.leading)
            self.set_y(max(self.get_y(), after_name))

    def lines(self, labels: tuple[str, ...]) -> None:
        """Lines to write on, side by side, with a label under each."""
        self.ln(self.leading * 1.8)
        gap, width = 4.0, (self.epw - 4.0 * (len(labels) - 1)) / len(labels)
        self.pen(0.8)
        y = self.get_y()
        for k, label in enumerate(labels):
            x = self.l_margin + k * (width + gap)
            self.line(x, y, x + width, y)
            self.set_xy(x, y)
            self.cell(width, self.leading, visible(label))
        self.set_xy(self.l_margin, y + self.leading * 1.2)

    def frame(self, inside: tuple[Block, ...]) -> None:
        """Blocks with a border. A frame that would be split begins on a new sheet."""
        with self.offset_rendering() as trial:
            self.framed(inside)
        if trial.page_break_triggered and self.get_y() > MARGIN_MM + 1:
            self.add_page()
        top, sheet = self.get_y(), self.page_no()
        self.framed(inside)
        bottom = self.get_y()
        if self.page_no() == sheet:
            self.set_line_width(0.5)
            self.rect(self.l_margin, top, self.epw, bottom - top)
            self.set_line_width(0.2)
        self.set_y(bottom + 1.6)

    def framed(self, inside: tuple[Block, ...]) -> None:
        """What is inside a border."""
        pad = 2.0
        self.set_margin_sides(pad)
        self.set_y(self.get_y() + pad / 2)
        for block in inside:
            self.put(block)
        self.set_margin_sides(-pad)
        self.set_y(self.get_y() + pad / 2)

    def set_margin_sides(self, more: float) -> None:
        """Move both side margins in, or out."""
        self.set_left_margin(self.l_margin + more)
        self.set_right_margin(self.r_margin + more)

    def grid(self, grid: Grid) -> None:
        """A table; a short one is kept on one sheet."""
        self.keep_together(1.7 * len(grid.rows) + 4 if len(grid.rows) <= SHORT_TABLE else 5)
        if grid.caption:
            self.say(grid.caption, bold=True)
        rows = [[visible(cell) for cell in row] for row in (grid.header, *grid.rows)]
        widths = self.widths(rows)
        self.pen(0.9)
        with self.table(
            text_align=tuple("RIGHT" if k in grid.numeric else "LEFT" for k in range(len(grid.header))),
            col_widths=widths,
            line_height=self.leading * 0.95,
            borders_layout="HORIZONTAL_LINES",
            headings_style=FontFace(emphasis="BOLD", fill_color=SHADE),
            padding=(0.5, SIDE_MM),
        ) as table:
            for row in rows:
                for piece in _pieces(row):
                    table.row(piece)
        self.ln(self.leading * 0.4)

    def widths(self, rows: list[list[str]]) -> tuple[float, ...]:
        """Widths of a table's columns in millimetres: no word is broken that has room, the rest goes to long cells."""
        self.pen(0.9, bold=True)
        columns = list(zip(*rows, strict=True))
        measure, pad, wide = self.get_string_width, 2 * SIDE_MM + 0.6, self.epw
        words = [
            min(max(measure(word) for cell in column for word in cell.split() or [""]), 0.3 * wide) + pad
            for column in columns
        ]
        if sum(words) < wide:
            whole = [max(measure(cell[:200]) for cell in column) + pad for column in columns]
            return _shared(wide, words, whole)
        # short words stay whole; the long ones share what is left
        return _shared(wide, [min(each, wide / len(words)) for each in words], words)

    def keep_together(self, lines: float) -> None:
        """Begin a new sheet where so many lines of plain text no longer fit on this one."""
        if self.will_page_break(lines * self.leading) and self.get_y() > MARGIN_MM + 1:
            self.add_page()


def _shared(wide: float, least: list[float], wish: list[float]) -> tuple[float, ...]:
    """Widths that fill `wide`: the least that each column needs, and of the rest as much as each wishes more."""
    more = [max(wished - needed, 0.0) for wished, needed in zip(wish, least, strict=True)]
    share = (wide - sum(least)) / max(sum(more), wide - sum(least), 1e-9)
    found = [needed + share * each for needed, each in zip(least, more, strict=True)]
    return tuple(each * wide / sum(found) for each in found)


def _pieces(row: list[str]) -> list[list[str]]:
    """A row as one or several: a cell of many lines goes on in the next, since no row may be higher than a sheet."""
    count = max(1, *(-(-len(cell) // MOST_LETTERS) for cell in row))
    return [[cell[k * MOST_LETTERS : (k + 1) * MOST_LETTERS] for cell in row] for k in range(count)]
