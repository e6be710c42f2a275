"""A page as PDF, with the same blocks as the HTML."""

from __future__ import annotations

import logging
from collections.abc import Sequence

from predictor.pages import blocks, panels
from predictor.pages.blocks import Block, Grid, Heading, Page, Text
from predictor.pages.pdf_letters import lacking
from predictor.pages.pdf_sheets import SHORT_TEXT, Sheets
from predictor.pages.pdf_table import Table
from predictor.text.letters import in_pdf

__all__ = ["lacking", "to_pdf"]

# Points of plain text, largest first: a page that must fit on one sheet takes the first that does.
SIZES = {True: (9.0, 8.5, 8.0, 7.5, 7.0, 6.8), False: (9.5,)}
# Points of each level of heading, as a part of those of plain text.
HEADINGS = (1.5, 1.2, 1.05)
BULLET = "\u2022"
# Room within a border, and below it, millimetres.
PAD_MM, BELOW_MM = 2.0, 1.6


def to_pdf(page: Page) -> bytes:
    """The page as PDF, with tags.

    A page that should fit on one sheet takes the largest letters with which it does; where none do, more sheets.
    """
    logging.getLogger("fpdf").setLevel(logging.ERROR)
    logging.getLogger("fontTools").setLevel(logging.ERROR)
    content: list[Block] = [Heading(page.title, 1), *page.blocks]
    content += [Text(page.footer, small=True)] if page.footer else []
    letters = lacking(page)
    content += [Text(in_pdf(letters), small=True)] if letters else []
    sheets = _Document(page, page.points or SIZES[page.small][0])
    try:
        if page.one:
            sheets.fit(content, SIZES[page.small])
        sheets.put_all(content)
        sheets.number(page.title)
        return bytes(sheets.output())
    finally:
        sheets.close_fonts()


class _Document(Sheets):
    """Sheets on which blocks are put."""

    def fit(self, content: Sequence[Block], sizes: Sequence[float]) -> None:
        """Take the largest letters with which all of this fits on one sheet; where none do, the smallest."""
        for self.points in sizes:
            if self.height(lambda: self.put_all(content)) <= self.eph:
                return

    def put_all(self, content: Sequence[Block]) -> None:
        """Blocks below each other, none begun at the foot of a sheet where too little of it has room."""
        for k, block in enumerate(content):
            if not self.measuring:
                self.keep(self.needed(content[k:]))
            self.put(block)

    def needed(self, content: Sequence[Block]) -> float:
        """Millimetres that the first of these blocks must have, with what follows it where it heads that."""
        first, rest = content[0], content[1:]
        match first:
            case blocks.Heading() | blocks.Text(strong=True):
                return self.height(lambda: self.put(first)) + (self.needed(rest) if rest else 0.0)
            case blocks.Grid():
                return Table(self, first).start()
            case blocks.Text() | blocks.Items() | blocks.Facts():
                return min(self.height(lambda: self.put(first)), SHORT_TEXT * self.leading)
            case _:
                return self.height(lambda: self.put(first))

    def put(self, block: Block) -> None:
        """One block."""
        match block:
            case blocks.Heading(text, level):
                self.heading(text, level)
            case blocks.Text(text, strong, small):
                with self.tag("P"):
                    self.say(text, 0.85 if small else 1.0, strong, small)
                self.ln(0.0 if strong else self.gap)
            case blocks.Items(items):
                self.items(items)
            case blocks.Facts(rows):
                self.facts(rows)
            case blocks.Sign(label, value):
                with self.tag("P"):
                    self.say(label, 0.95, bold=True)
                with self.tag("P"):
                    self.say(value, 2.0, bold=True)
            case blocks.Panel():
                panels.draw(self, block)
            case blocks.NewSheet():
                self.turn()
            case blocks.Lines(labels):
                self.lines(labels)
            case blocks.Picture():
                from predictor.pages.pdf_picture import draw_picture

                draw_picture(self, block)
            case blocks.Frame(inside):
                self.frame(inside)
            case Grid():
                Table(self, block).draw()

    def turn(self) -> None:
        """Begin the other side, in its smaller letters."""
        if not self.measuring:
            self.add_page()
            self.points *= panels.BACK

    def heading(self, text: str, level: int) -> None:
        """A heading, which a reader of a long document finds in its outline as well."""
        self.ln(0 if level == 1 else self.leading * 0.4)
        if level > 1 and not self.measuring:
            self.start_section(text, level - 2, strict=False)
        with self.tag(f"H{level}"):
            self.say(text, HEADINGS[level - 1], bold=True)

    def items(self, items: tuple[str, ...]) -> None:
        """A list with its marks in the margin."""
        with self.tag("L", attributes="/O /List /ListNumbering /Disc"):
            for each in items:
                scale = 1.0 if self.large else 0.95
                self.pen(scale)
                indent = self.get_string_width(f"{BULLET} ")
                lines = len(self.folded(each, self.epw - indent))
                self.keep((lines if lines <= SHORT_TEXT else 2) * self.leading)
                with self.tag("LI"):
                    with self.tag("Lbl"):
                        self.write_line(self.l_margin, BULLET, scale * self.leading)
                    with self.tag("LBody"):
                        self.set_x(self.l_margin + indent)
                        self.fill_in(self.epw - indent, each)
        self.ln(self.gap)

    def facts(self, rows: tuple[tuple[str, str], ...]) -> None:
        """Labels in grey at the left, values beside them."""
        with self.tag("L"):
            for name, value in rows:
                tall = self.height(lambda: self.fact(name, value))  # noqa: B023
                self.keep(tall)
                with self.tag("LI"):
                    self.fact(name, value)

    def fact(self, name: str, value: str) -> None:
        """A label with its value."""
        label, top, sheet = max(min(0.24 * self.epw, 50.0), 24.0), self.y, self.page
        self.pen(0.92, grey=True)
        with self.tag("Lbl"):
            self.set_x(self.l_margin)
            self.fill_in(label, name)
        after_name = self.y
        self.set_xy(self.l_margin + label, top)
        self.pen(bold=True)
        with self.tag("LBody"):
            self.fill_in(self.epw - label, value)
        if self.page == sheet:
            self.y = max(self.y, after_name)

    def lines(self, labels: tuple[str, ...]) -> None:
        """Lines to write on, side by side, with a label under each."""
        self.ln(self.leading * 1.8)
        gap, width = 4.0, (self.epw - 4.0 * (len(labels) - 1)) / len(labels)
        top, bottom = self.y, self.y
        for k, label in enumerate(labels):
            x = self.l_margin + k * (width + gap)
            self.line(x, top, x + width, top)
            self.pen(0.95 if self.large else 0.8)
            self.set_xy(x, top)
            with self.tag("P"):
                self.fill_in(width, label)
            bottom = max(bottom, self.y)
        self.set_xy(self.l_margin, bottom + self.leading * 0.2)

    def frame(self, inside: tuple[Block, ...]) -> None:
        """Blocks with a border, on one sheet where one has room for them."""
        top, sheet = self.y, self.page
        with self.tag("Sect"):
            self.set_margin_sides(PAD_MM)
            self.y += PAD_MM / 2
            self.put_all(inside)
            self.set_margin_sides(-PAD_MM)
            self.y += PAD_MM / 2
        if self.page == sheet:
            self.set_line_width(0.5)
            self.rect(self.l_margin, top, self.epw, self.y - top)
            self.set_line_width(0.2)
        self.set_xy(self.l_margin, self.y + BELOW_MM)

    def set_margin_sides(self, more: float) -> None:
        """Move both side margins in, or out."""
        self.set_left_margin(self.l_margin + more)
        self.set_right_margin(self.r_margin + more)
