"""The form of a file that rows are added to: encoding, separator, decimal sign, line ends, and where each record is."""

import csv
import io
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from predictor.errors import InputError, Problem, Problems
from predictor.files.cells import Rows
from predictor.files.signs import signs_of
from predictor.files.split import Records, split
from predictor.files.table import Header, Table
from predictor.files.text import composed, decode, encoding_of

Value = str | float | tuple[float, ...]

_LEVER_READING = re.compile(r"-[0-9]+(?:\.[0-9]+)?").fullmatch


@dataclass(frozen=True)
class Kind:
    """A kind of file that rows are added to."""

    header: Header
    new_header: str  # Of a new file. Its last column is text: a number cut short could be mistaken for a smaller one
    # For each value that has a unit, the columns it may stand in and how much their unit is; the first one is added
    measures: Mapping[str, Mapping[str, float]]
    check: Callable[[Table], object]  # The reader of a table: raises an InputError
    entry: str  # What a row is, as "catch"
    again: str  # What to do about a number of the file that can be read in two ways


@dataclass(frozen=True)
class Form:
    """The form of a file, and its records."""

    records: Records  # The header first; cells are stripped
    spans: list[tuple[int, int]]  # Start and end of each record in the text
    columns: tuple[str, ...]  # Normalised names
    mark: bytes  # Byte order mark
    encoding: str
    decimal: str
    newline: str
    kind: Kind

    @property
    def text(self) -> str:
        """The text of the file."""
        return self.records.text

    def encode(self, text: str) -> bytes:
        """Text as the file's bytes."""
        return self.mark + text.encode(self.encoding)

    def line(self, cells: Sequence[str]) -> str:
        """A record with its line end. Quotes around the last cell show whether a record was cut short.

        Letters are composed first, as the reader will do: a Greek question mark becomes a semicolon, and needs quotes.
        """
        *others, last = map(composed, cells)
        last = last.replace('"', '""')
        return f'{self._joined(others)}{self.records.separator}"{last}"{self.newline}'

    def _joined(self, cells: Sequence[str]) -> str:
        out = io.StringIO()
        csv.writer(out, delimiter=self.records.separator, lineterminator="\r\n").writerow(cells)
        return out.getvalue().removesuffix("\r\n")  # without line ends the writer would leave those in cells unquoted

    @property
    def ended(self) -> bool:
        """Whether the last line has its line end."""
        return self.text.endswith(("\n", "\r"))

    def lacks(self, values: Mapping[str, Value]) -> list[str]:
        """Columns that are missing for values that are not empty."""
        names = [name for name, value in values.items() if value != "" and self._place(name) is None]
        return [next(iter(self.kind.measures.get(name, [name]))) for name in names]

    def _place(self, name: str) -> tuple[int, float] | None:
        """Where a value goes, and how much the unit of its column is; None where there is no such column."""
        for column, unit in self.kind.measures.get(name, {name: 1.0}).items():
            if column in self.columns:
                return self.columns.index(column), unit
        return None

    def cells(self, values: Mapping[str, Value]) -> list[str]:
        """The cells of a new record; the user's own columns stay empty."""
        cells = [""] * len(self.columns)
        for name, value in values.items():
            place = self._place(name)
            if place is None:
                continue
            index, unit = place
            if isinstance(value, tuple):
                cells[index] = ";".join(self._number(each / unit) for each in value)
            else:
                cells[index] = self._number(value / unit) if isinstance(value, float) else harmless(value)
                if self.decimal == "," and name in self.kind.measures and self.decimal not in cells[index]:
                    cells[index] += ",0"  # in a file of whole numbers only this shows the decimal sign
        return cells

    def _number(self, value: float) -> str:
        """A number with nine digits, written so that it cannot be mistaken for thousands."""
        text = f"{value:.9g}"
        if (self.records.separator != "," or self.decimal == ",") and len(text.partition(".")[2]) == 3:
            text += "0"
        return text.replace(".", self.decimal)

    def with_columns(self, names: list[str]) -> bytes:
        """The file with more columns, which are empty; everything else stays as it was."""
        header = self.records.cells[0]
        named = max(k for k, cell in enumerate(header, 1) if cell)  # those beyond have no name and are empty
        width = max(len(header), named + len(names))
        parts, at = [], 0
        for k, ((start, end), cells) in enumerate(zip(self.spans, self.records.cells, strict=True)):
            body = self.text[start:end].rstrip("\r\n")
            new = body
            if k == 0 and named == len(header):
                new = self.records.separator.join([body, *names])
            elif k == 0:
                new = self._joined([*header[:named], *names, *[""] * (width - named - len(names))])
            elif len(cells) in (named, len(header)):  # others do not fit the header, and the reader reports them
                new = body + self.records.separator * (width - len(cells))
            parts += [self.text[at:start], new]
            at = start + len(body)
        return self.encode("".join([*parts, self.text[at:]]))


def harmless(text: str) -> str:
    """Text that no spreadsheet takes for a formula: a space before it, which readers strip."""
    return f" {text}" if text[:1] in ("=", "+", "-", "@") and not _LEVER_READING(text) else text


def form_of(data: bytes, file: str, kind: Kind) -> Form:
    """The form of a file; raises an InputError if the header or the last line cannot be read."""
    decode(data, file)  # raises an InputError if the bytes are wrong
    mark, encoding = encoding_of(data)
    problems = Problems(file)
    records = split(data[len(mark) :].decode(encoding), kind.header.known, problems)
    if not records:
        problems.add(f"There is no header. Write this line at its top: {kind.new_header}")
        raise problems.error()
    text, columns = records.text, records.of_header()
    for missing in kind.header.missing(columns):
        problems.add(f"The column {missing} is missing.", records.rows[0])
    if not text.endswith(("\n", "\r")) and len(records) > 1 and len(records.cells[-1]) < len(columns):
        problems.add("The last line was cut short.", records.rows[-1])
    problems.check()
    records.cells = Rows(list(map(str.strip, cells)) for cells in records.cells)
    newline = next((sign for sign in ("\r\n", "\n", "\r") if sign in text), "\n")
    return Form(
        records, records.spans(), columns, mark, encoding, _decimal(records, columns, file, kind), newline, kind
    )


def _decimal(records: Records, columns: tuple[str, ...], file: str, kind: Kind) -> str:
    """Decimal sign of the file's numbers, or the usual one for its separator if they do not show it."""
    rows = [cells for cells in records.cells if len(cells) == len(columns)][1:]
    numbers = [[cells[k] for cells in rows] for k, name in enumerate(columns) if name in kind.header.numbers]
    signs, _ = signs_of(numbers, [], records.separator)
    if signs.undecided:  # a number written now would settle the meaning of the others
        message = f"Nothing was saved. A number of the file can be read in two ways. {kind.again}"
        raise InputError([Problem(message, file)])
    points = any("." in cell for cells in numbers for cell in cells)
    return "," if records.separator == ";" and not points else signs.decimal
