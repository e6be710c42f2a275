"""The sheets of a PDF: their letters, paragraphs that are folded, and what is kept on one of them."""

from __future__ import annotations

import datetime
from collections.abc import Callable

from fpdf.fonts import TTFFont

from predictor.pages.blocks import PAPERS, Page
from predictor.pages.pdf_letters import fold, font_file, shown
from predictor.pages.pdf_tags import Tagged
from predictor.unseen import visible

MARGIN_MM = 9.0
MM_PER_POINT = 25.4 / 72
# No letter is smaller, in points.
LEAST_POINTS = 6.0
# The height of a line as a part of the size of its letters; of the large ones of a card it is smaller.
LEADING, CLOSE = 1.32, 1.22
# A paragraph of up to so many lines is not split over two sheets.
SHORT_TEXT = 4
GREY = (61, 61, 61)


class Sheets(Tagged):
    """Sheets with plain text of one size."""

    def __init__(self, page: Page, points: float):
        super().__init__(*PAPERS[page.paper], visible(page.title))
        self.points = points
        self.large = page.points is not None  # Whether no letter may be much smaller than plain text
        self.spacing = CLOSE if self.large else LEADING
        # a page that must fit on a sheet has no room to give away
        self.gap = 0.0 if page.one or self.large else 0.25 * self.leading  # Millimetres below a paragraph
        # the day of the page's evidence, not of its making, so that the same page gives the same bytes
        day = datetime.date.fromisoformat(page.date or "1970-01-01")
        self.set_creation_date(datetime.datetime.combine(day, datetime.time(), datetime.UTC))
        self.set_producer("predictor")
        self.alias_nb_pages("")  # else {nb} in a name would become the number of pages
        self.set_auto_page_break(True, MARGIN_MM)
        self.set_margins(MARGIN_MM, MARGIN_MM)
        for bold in (False, True):
            self.add_font("text", "B" if bold else "", font_file(bold))
        self.add_page()

    @property
    def leading(self) -> float:
        """Height of a line of plain text in millimetres."""
        return self.points * MM_PER_POINT * self.spacing

    @property
    def room(self) -> float:
        """Millimetres that are left on this sheet."""
        return float("inf") if self.measuring else self.page_break_trigger - self.y

    def close_fonts(self) -> None:
        """Close the files of the fonts, which the library leaves open."""
        for font in self.fonts.values():
            if isinstance(font, TTFFont):
                font.ttfont.close()

    def pen(self, scale: float = 1.0, bold: bool = False, grey: bool = False) -> None:
        """Set size, weight and colour of the text that follows."""
        self.set_font("text", "B" if bold else "", max(self.points * scale, LEAST_POINTS))
        self.set_text_color(*(GREY if grey else (0, 0, 0)))

    def say(self, text: str, scale: float = 1.0, bold: bool = False, grey: bool = False) -> None:
        """A paragraph over the whole width."""
        self.pen(scale, bold, grey)
        self.set_x(self.l_margin)
        self.fill_in(self.epw, text)

    def fill_in(self, width: float, text: str) -> None:
        """Text folded to a width, from here to the beginning of the next line."""
        x, high = self.x, self.font_size * self.spacing
        lines = self.folded(text, width)
        for k, line in enumerate(lines):
            # the last line does not go alone to the next sheet
            if self.will_page_break(high * (2 if k == len(lines) - 2 else 1)):
                self.add_page()
            self.write_line(x, line, high, last=k == len(lines) - 1)
            self.y += high
        self.x = self.l_margin

    def folded(self, text: str, width: float) -> list[str]:
        """Text in lines of at most so many millimetres, in the letters that are set."""
        return fold(text, width / self.font_size, self.font_style == "B")

    def write_line(self, x: float, line: str, high: float, *, last: bool = True) -> None:
        """One line in the middle of its height, at this height on the sheet; what the font lacks is shown as a box."""
        # who listens hears the words of two lines apart by the space between them
        self.text(x, self.y + 0.5 * high + 0.3 * self.font_size, shown(line if last else f"{line} "))

    def height(self, draw: Callable[[], object]) -> float:
        """Millimetres that a drawing takes, if it is drawn from here without a break."""
        before, at, margins = self.measuring, (self.x, self.y), (self.l_margin, self.r_margin)
        letters = (self.font_family, self.font_style, self.font_size_pt)
        self.measuring = True
        try:
            draw()
            return self.y - at[1]
        finally:
            self.measuring, (self.x, self.y), (self.l_margin, self.r_margin) = before, at, margins
            self.font_family = ""  # so that the font is set again: setting it while measuring left no trace
            if letters[0]:
                self.set_font(*letters)

    def keep(self, millimetres: float) -> None:
        """Begin a new sheet where so many millimetres no longer fit on this one."""
        if self.will_page_break(min(millimetres, self.eph)) and self.y > self.t_margin + 1:
            self.add_page()

    def number(self, name: str) -> None:
        """The number of each sheet at its foot, where there are several."""
        count = self.page_no()
        for sheet in range(1, count + 1) if count > 1 else ():
            self.page, self.font_family = sheet, ""
            self.pen(1.0 if self.large else 0.8, grey=True)
            text, number = shown(name), f"page {sheet} of {count}"
            with self.decoration():
                self.text(self.w - self.r_margin - self.get_string_width(number), self.h - 0.55 * MARGIN_MM, number)
                room = self.epw - self.get_string_width(number) - 4
                self.text(self.l_margin, self.h - 0.55 * MARGIN_MM, self.folded(text, room)[0])
