"""A table in a PDF: columns as wide as their words, a head on every sheet, rows that may go on over a break."""

from __future__ import annotations

from predictor.pages.blocks import Grid
from predictor.pages.pdf_letters import measure, shown, words
from predictor.pages.pdf_sheets import LEAST_POINTS, MM_PER_POINT, Sheets
from predictor.pages.pdf_tags import Element

# Room beside and above the text of a cell, millimetres.
SIDE_MM, ABOVE_MM = 1.2, 0.5
# A table of up to this part of a sheet is not split over two.
SHORT_TABLE = 0.5
# The height of a line as a part of its letters, and these as a part of those of plain text; in a table of many columns
# they are smaller.
LINE, SCALE = 1.25, 0.9
WIDE_TABLE, WIDE_SCALE = 9, 0.8
# A cell of more letters does not widen its column, and a word of more, which no language has, may be broken.
MOST_LETTERS, LONGEST = 200, 32
SHADE = (236, 236, 236)


class Table:
    """A table in the widths and letters in which it will be drawn."""

    def __init__(self, sheets: Sheets, grid: Grid):
        self.sheets, self.grid = sheets, grid
        scale = WIDE_SCALE if len(grid.header) >= WIDE_TABLE else SCALE
        self.points, self.widths = _letters_and_widths(grid, scale * sheets.points, sheets.epw)
        self.line = self.points * MM_PER_POINT * LINE
        self.head = self.folded(grid.header, bold=True)

    def folded(self, row: tuple[str, ...], bold: bool = False) -> list[list[str]]:
        """The lines of each cell."""
        self.sheets.set_font("text", "B" if bold else "", self.points)
        cells = zip(row, self.widths, strict=True)
        return [self.sheets.folded(cell, width - 2 * SIDE_MM) for cell, width in cells]

    def tall(self, cells: list[list[str]]) -> float:
        """Height of a row in millimetres."""
        return max(map(len, cells)) * self.line + 2 * ABOVE_MM

    def start(self) -> float:
        """Millimetres with which the table may begin on a sheet: all of a short one, or else head and two rows."""
        most = SHORT_TABLE * self.sheets.eph
        tall = self.tall(self.head) + (1.5 * self.sheets.leading if self.grid.caption else 0.0)
        begun = tall
        for k, row in enumerate(self.grid.rows):
            tall += self.tall(self.folded(row))
            begun = tall if k < 2 else begun
            if tall > most:
                return min(begun, most)
        return tall

    def draw(self) -> None:
        """Draw it from here, on as many sheets as it takes."""
        with self.sheets.tag("Table"):
            if self.grid.caption:
                with self.sheets.tag("Caption"):
                    self.sheets.say(self.grid.caption, bold=True)
            self.row(self.head, head=True)
            for k, row in enumerate(self.grid.rows):
                inverse = k in self.grid.inverse
                self.row(self.folded(row, bold=inverse), inverse=inverse)
        self.sheets.set_xy(self.sheets.l_margin, self.sheets.y + 0.4 * self.sheets.leading)

    def row(self, cells: list[list[str]], head: bool = False, inverse: bool = False) -> None:
        """One row; what does not fit on a whole sheet goes on on the next."""
        tall, done = self.tall(cells), 0
        whole = self.sheets.eph - self.tall(self.head)
        with self.sheets.tag("TR"):
            elements = [self.element(column, head) for column in range(len(cells))]
            while done < max(map(len, cells)):
                if self.sheets.room < (tall if tall <= whole and not done else self.line * 2 + 2 * ABOVE_MM):
                    self.next_sheet(head)
                fit = max(int((min(self.sheets.room, tall) - 2 * ABOVE_MM + 0.01) / self.line), 1)
                part = [each[done : done + fit] for each in cells]
                self.ground(part, head, inverse)
                self.lines(elements, part, bold=head or inverse, white=inverse)
                done += fit

    def element(self, column: int, head: bool) -> Element | None:
        """The tag of a cell."""
        scope = "Column" if head else "Row" if self.grid.named and column == 0 else ""
        if not scope:
            return self.sheets.element("TD")
        return self.sheets.element("TH", attributes=f"/O /Table /Scope /{scope}")

    def next_sheet(self, head: bool) -> None:
        """Go on on a new sheet, with the head again, which is read out once only."""
        self.sheets.add_page()
        if not head:
            with self.sheets.decoration():
                self.row(self.head, head=True)

    def ground(self, cells: list[list[str]], head: bool, inverse: bool) -> None:
        """What is behind a row: grey behind a head, black behind one that is inverse, but where it is written in."""
        sheets, x, tall = self.sheets, self.sheets.l_margin, self.tall(cells)
        if head or inverse:
            sheets.set_fill_color(*(SHADE if head else (0, 0, 0)))
            for width, cell in zip(self.widths, cells, strict=True):
                if head or any(cell):
                    sheets.rect(x, sheets.y, width, tall, style="F")
                x += width
            sheets.set_fill_color(0, 0, 0)

    def lines(self, elements: list[Element | None], cells: list[list[str]], *, bold: bool, white: bool) -> None:
        """Lines of a row that fit on this sheet."""
        sheets = self.sheets
        top, x, low = sheets.y, sheets.l_margin, sheets.y + self.tall(cells)
        sheets.set_font("text", "B" if bold else "", self.points)
        sheets.set_text_color(*((255, 255, 255) if white else (0, 0, 0)))
        for column, (element, cell) in enumerate(zip(elements, cells, strict=True)):
            with sheets.within(element):
                self.cell(x, top, column, cell, bold)
            x += self.widths[column]
        sheets.line(sheets.l_margin, low, sheets.l_margin + sheets.epw, low)
        sheets.set_xy(sheets.l_margin, low)

    def cell(self, x: float, top: float, column: int, lines: list[str], bold: bool) -> None:
        """The lines of a cell, at the left or at the right."""
        sheets = self.sheets
        for k, line in enumerate(lines):
            left = x + SIDE_MM
            if column in self.grid.numeric:
                left = x + self.widths[column] - SIDE_MM - measure(line, bold) * sheets.font_size
            sheets.y = top + ABOVE_MM + k * self.line
            sheets.write_line(left, line, self.line, last=k == len(lines) - 1)


def _letters_and_widths(grid: Grid, points: float, wide: float) -> tuple[float, list[float]]:
    """The largest letters up to `points` in which no word is broken, and the width of each column in millimetres."""
    pad = 2 * SIDE_MM + 0.1
    columns = [[shown(row[k]) for row in (grid.header, *grid.rows)] for k in range(len(grid.header))]
    word = [
        max((measure(each, True) for cell in column for each in words(cell) if len(each) <= LONGEST), default=0.0)
        for column in columns
    ]
    whole = [max(measure(cell[:MOST_LETTERS], True) for cell in column) for column in columns]
    room = wide - pad * len(columns)
    size = min(max(room / MM_PER_POINT / max(sum(word), 1e-9), LEAST_POINTS), points) * MM_PER_POINT
    least = [each * size for each in word]
    if sum(least) > room:
        # the words that are longest are broken
        return size / MM_PER_POINT, [each + pad for each in _shared(room, [0.0] * len(least), least)]
    return size / MM_PER_POINT, [each + pad for each in _shared(room, least, [each * size for each in whole])]


def _shared(room: float, least: list[float], wish: list[float]) -> list[float]:
    """Widths that fill the room: what each column needs, and then more for all alike, up to what each wishes."""
    found, left = list(least), room - sum(least)
    order = sorted(range(len(least)), key=lambda k: wish[k] - least[k])
    for place, k in enumerate(order):
        more = min(max(wish[k] - least[k], 0.0), left / (len(order) - place))
        found[k] += more
        left -= more
    return [each * room / sum(found) if sum(found) else room / len(found) for each in found]
