"""From text to records: the cells of each row, the row a spreadsheet would give it, and where it is in the text."""

import csv
import io
import itertools
import math
import re
from collections.abc import Collection, Iterator
from dataclasses import dataclass, field

import numpy as np

from predictor.errors import Problems
from predictor.files.cells import Rows
from predictor.files.plain_lines import columns_of, places_of, plainly_closed
from predictor.files.text import holds_controls, normalised
from predictor.unseen import UNSEEN

# Other blanks than the tab, which may begin a line of a file that tabs separate.
_BLANKS = " \xa0\u1680\u2000\u2001\u2002\u2003\u2004\u2005\u2006\u2007\u2008\u2009\u200a\u202f\u205f\u3000"
# A first line with which spreadsheets state the separator.
_SEPARATOR_LINE = re.compile(r"sep=[,;\t]\s*", re.IGNORECASE).fullmatch

# Lines that are read at once, few enough for their cells to be still in the processor's cache; and so few that their
# halves are not tried.
_AT_ONCE, _FEW = 16_000, 1000
# Letters that are taken apart at once where few lines may be wanted.
_PIECE = 50_000
# Begins a comment that was a row cut short.
CUT_SHORT = "# cut short:"


@dataclass
class Records:
    """The records of a CSV text. Rows count as in a spreadsheet: comments and blank rows too."""

    text: str
    separator: str
    rows: list[int] = field(default_factory=list)  # Row of each record
    cells: Rows = field(default_factory=Rows)
    remarks: list[tuple[int, str]] = field(default_factory=list)  # Row and text of each comment; "" for one in quotes
    ends: list[int] = field(default_factory=list)  # For each row, how many lines of the text it and all before it take

    unclosed: bool = False  # Whether the text ends within quotes

    def __len__(self) -> int:
        return len(self.rows)

    def width(self) -> int:
        """How many columns have a name, or a cell that is filled: beyond them a spreadsheet adds empty ones."""
        header = self.cells[0]
        named = _filled(header)
        return named if named == len(header) else min(len(header), max(map(_filled, self.cells)))

    def widths(self) -> set[int]:
        """How many cells a row may have."""
        return {self.width(), len(self.cells[0])}

    def spans(self) -> list[tuple[int, int]]:
        """Start and end of each record in the text, its line end included."""
        lines = lines_of(self.text)
        starts = list(itertools.accumulate(map(len, lines), initial=0))
        ends = [0, *self.ends]
        return [(starts[ends[row - 1]], starts[ends[row]]) for row in self.rows]

    def start_of_last(self) -> int:
        """Where the last row begins, be it a record or not."""
        before = self.ends[-2] if len(self.ends) > 1 else 0
        return sum(map(len, itertools.islice(lines_of(self.text), before)))

    def header_text(self) -> str:
        """The text of the header, without its line end."""
        row = self.rows[0]
        start, end = (self.ends[each - 1] if each else 0 for each in (row - 1, row))
        return "".join(itertools.islice(lines_of(self.text), start, end)).rstrip("\r\n")

    def of_header(self) -> tuple[str, ...]:
        """Normalised names of the columns; empty where there is no record."""
        return tuple(map(normalised, self.cells[0])) if self.cells else ()


def _filled(cells: list[str]) -> int:
    """How many cells there are up to the last one that is filled."""
    return next((len(cells) - i for i, cell in enumerate(reversed(cells)) if cell.strip()), 0)


class _Lines(Iterator[str]):
    """Lines for the CSV reader, without the text of comments: a quote in one would hide what follows."""

    def __init__(self, lines: Iterator[str], separator: str):
        self._lines = lines
        self._blanks = _BLANKS if separator == "\t" else None
        self.between, self.comment = True, ""

    def __next__(self) -> str:
        line = next(self._lines)
        if self.between and line.lstrip(self._blanks)[:1] == "#":
            self.comment = line
            return "#\n"
        self.between = False
        return line


def lines_of(text: str) -> Iterator[str]:
    """The lines of a text with their ends: piece by piece, since often few are asked for."""
    start = 0
    while start < len(text):
        end = text.find("\n", start + _PIECE) + 1 or len(text)
        yield from _lines_in(text[start:end].encode("utf-8", "surrogatepass"))
        start = end


def _lines_in(data: bytes) -> Iterator[str]:
    """The lines of bytes of UTF-8; a `StringIO` would keep four bytes for each letter of a large file."""
    return io.TextIOWrapper(io.BytesIO(data), "utf-8", "surrogatepass", newline="")


def split(text: str, known: Collection[str], problems: Problems, most: float = math.inf) -> Records:
    """The records of a text, or the first ones. One that breaks the rules of CSV is left out and noted as a problem."""
    found = Records(text, _separator(text, known))
    if most < math.inf:
        _read(lines_of(text), found, problems, most)
    else:
        _read_all(text.encode("utf-8", "surrogatepass"), found, problems)
    if holds_controls("\n".join(found.cells.texts())):
        leave_out_controls(found, problems)
    return found


def _read_all(data: bytes, found: Records, problems: Problems) -> None:
    """Read lines: many at once where all are plainly rows, else half as many, and a few by the rules of CSV."""
    ends = places_of(np.frombuffer(data, np.uint8), ord("\n")) + 1
    starts = np.concatenate([[0], ends[ends < len(data)], [len(data)]])
    blocks = [(first, min(first + _AT_ONCE, len(starts) - 1)) for first in range(0, len(starts) - 1, _AT_ONCE)][::-1]
    while blocks and data:
        first, last = blocks.pop()
        part = data[starts[first] : starts[last]]
        columns = columns_of(part, found.separator, len(found.cells[0])) if found else None
        if columns is not None:
            row, end, count = len(found.ends) + 1, found.ends[-1] + 1, last - first
            found.rows.extend(range(row, row + count))
            found.ends.extend(range(end, end + count))
            found.cells.extend(columns)
        elif last - first > _FEW:
            middle = (first + last) // 2
            blocks += [(middle, last), (first, middle)]
        elif _closed(list(_lines_in(part)), found.separator):
            _read(_lines_in(part), found, problems)
        else:  # a cell goes on beyond these lines, and may end anywhere
            _read(_lines_in(data[starts[first] :]), found, problems)
            break


def _read(plain: Iterator[str], found: Records, problems: Problems, most: float = math.inf) -> None:
    """Read lines by the rules of CSV."""
    separator, rows, kept, ends = found.separator, found.rows, found.cells, found.ends
    lines = _Lines(plain, separator)
    feed = lines if "#" in found.text else plain  # quicker, where there are no comments
    while not problems.enough:
        reader = csv.reader(feed, delimiter=separator, strict=True, skipinitialspace=True)
        before = ends[-1] if ends else 0
        try:
            for cells in reader:
                ends.append(before + reader.line_num)
                lines.between = True
                first = cells[0].lstrip() if cells else ""
                # in quotes it is a name, unless nothing follows: a spreadsheet has quoted a comment with commas
                if first[:1] == "#" and (lines.comment or not any(map(str.strip, cells[1:]))):
                    found.remarks.append((len(ends), lines.comment))
                    lines.comment = ""
                elif len(ends) == 1 and _SEPARATOR_LINE(separator.join(cells)):
                    continue
                elif first or any(map(str.strip, cells)):
                    rows.append(len(ends))
                    kept.append(cells)
                    if len(kept) >= most:
                        break
            break
        except csv.Error as error:
            ends.append(before + reader.line_num)
            lines.between = True
            found.unclosed = "unexpected end" in str(error)
            problems.add(_broken(str(error)), len(ends))


def ends_whole(text: str, known: Collection[str]) -> bool:
    """Whether a text ends with a whole line, outside quotes; quick for a large file."""
    if not text.endswith(("\n", "\r")):
        return False
    separator = _separator(text, known)
    plain = '"' not in text or ("#" not in text and plainly_closed(text, separator))  # a comment may hold any quotes
    if plain and not _has_long_line(text):
        return True
    lines = lines_of(text)
    chunks = iter(lambda: list(itertools.islice(lines, _FEW)), [])
    return all(_closed(chunk, separator) or _closed(itertools.chain(chunk, lines), separator) for chunk in chunks)


def _has_long_line(text: str) -> bool:
    """Whether a line may be longer than a cell may be."""
    start, most = 0, csv.field_size_limit()
    while len(text) - start > most:
        end = text.rfind("\n", start, start + most + 1)
        if end < 0:
            return True
        start = end + 1
    return False


def _closed(lines: Collection[str] | Iterator[str], separator: str) -> bool:
    """Whether lines that begin outside quotes keep the rules of CSV and end outside quotes."""
    if isinstance(lines, list) and not any('"' in line for line in lines):
        return max(map(len, lines)) <= csv.field_size_limit()
    outside = _Lines(iter(lines), separator)
    try:
        for _ in csv.reader(outside, delimiter=separator, strict=True, skipinitialspace=True):
            outside.between = True
    except csv.Error:
        return False
    return True


def _separator(text: str, known: Collection[str]) -> str:
    """The sign between cells that suits the header best: by known columns, then by the number of cells."""

    def fit(sign: str) -> tuple[int, int]:
        try:
            cells = next(csv.reader([head], delimiter=sign, skipinitialspace=True), [])
        except csv.Error:
            return 0, 0
        return sum(normalised(cell) in known for cell in cells), len(cells)

    lines = enumerate(lines_of(text))
    heads = (each for k, each in lines if each.lstrip()[:1] != "#" and not (k == 0 and _SEPARATOR_LINE(each)))
    head = next((each for each in heads if each.strip().strip(",;")), "")
    return max(",;\t", key=fit)


def _broken(error: str) -> str:
    """A sentence for what the CSV reader could not read."""
    if "expected after" in error:
        words = "In this row, text or a space follows a closing quote."
    elif "field larger" in error:
        words = "A cell of this row is far too long. A quote is opened in it and closed much later, or never."
    else:
        words = "A quote is opened in this row and never closed."
    return f'{words} Check the " signs.'


def leave_out_controls(found: Records, problems: Problems) -> None:
    """Take out the records that contain an invisible character, and note them as problems."""
    kept = Records("", "")
    for row, cells in zip(found.rows, found.cells, strict=True):
        if problems.enough:
            break
        place = next((i for i, cell in enumerate(cells) if UNSEEN.search(cell.strip())), None)
        if place is None:
            kept.rows.append(row)
            kept.cells.append(cells)
            continue
        header = kept.of_header()
        column = header[place] if place < len(header) else None
        problems.add("The cell contains an invisible character. Clear the cell and retype it.", row, column)
    found.rows, found.cells = kept.rows, kept.cells
