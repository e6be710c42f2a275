"""The form of a file that rows are added to: encoding, separator, line ends, and where each record is."""

import re
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from predictor.errors import InputError, Problem, Problems
from predictor.files.signs import Seen, seen_in
from predictor.files.split import Records, split
from predictor.files.table import Header, Table
from predictor.files.text import as_read, composed, decode, encoding_of

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

    records: Records  # The header first
    columns: tuple[str, ...]  # Normalised names
    mark: bytes  # Byte order mark
    encoding: str
    newline: str
    kind: Kind
    widths: set[int]  # How many cells a row may have
    seen: Seen  # What its numbers and dates show

    @cached_property
    def spans(self) -> list[tuple[int, int]]:
        """Start and end of each record in the text."""
        return self.records.spans()

    @cached_property
    def cells_of(self) -> list[list[str]]:
        """The cells of each record; picked from the columns once, since a single one takes nearly as long."""
        return list(self.records.cells)

    @property
    def text(self) -> str:
        """The text of the file."""
        return self.records.text

    def encode(self, text: str) -> bytes:
        """Text as the file's bytes."""
        return self.mark + text.encode(self.encoding)

    def line(self, cells: Sequence[str]) -> str:
        """A record with its line end. Quotes around its last cells show whether a record was cut short.

        Letters are composed first, as the reader will do: a Greek question mark becomes a semicolon, and needs quotes.
        """
        *others, last = map(composed, cells)
        named = min(self.widths) - 1  # a row that ends there is whole, too
        return self._joined(others, named) + self.records.separator + _in_quotes(last) + self.newline

    def _joined(self, cells: Sequence[str], in_quotes: int = -1) -> str:
        """Cells with separators between them; one of them, or a first one that begins with #, in quotes anyway."""
        special = {self.records.separator, '"', "\n", "\r"}
        return self.records.separator.join(
            _in_quotes(cell) if k == in_quotes or special & set(cell) or (k == 0 and cell.lstrip()[:1] == "#") else cell
            for k, cell in enumerate(cells)
        )

    @property
    def ended(self) -> bool:
        """Whether the last line has its line end."""
        return self.text.endswith(("\n", "\r"))

    def lacks(self, values: Mapping[str, Value]) -> list[str]:
        """Columns that are missing for values that are not empty."""
        names = [name for name, value in values.items() if value != "" and self.place(name) is None]
        return [next(iter(self.kind.measures.get(name, [name]))) for name in names]

    def place(self, name: str) -> tuple[int, float] | None:
        """Where a value goes, and how much the unit of its column is; None where there is no such column."""
        for column, unit in self.kind.measures.get(name, {name: 1.0}).items():
            if column in self.columns:
                return self.columns.index(column), unit
        return None

    def cells(self, values: Mapping[str, Value], decimal: str) -> list[str]:
        """The cells of a new record; the user's own columns stay empty."""
        cells = [""] * len(self.columns)
        for name, value in values.items():
            place = self.place(name)
            if place is None:
                continue
            index, unit = place
            if isinstance(value, tuple):
                cells[index] = ";".join(self._number(each / unit, decimal) for each in value)
            else:
                cells[index] = self._number(value / unit, decimal) if isinstance(value, float) else harmless(value)
                if decimal == "," and name in self.kind.measures and decimal not in cells[index]:
                    cells[index] += ",0"  # in a file of whole numbers only this shows the decimal sign
        return cells

    def _number(self, value: float, decimal: str) -> str:
        """A number with nine digits, written so that it cannot be mistaken for thousands."""
        text = f"{value:.9g}"
        if (self.records.separator != "," or decimal == ",") and len(text.partition(".")[2]) == 3:
            text += "0"
        return text.replace(".", decimal)

    def _all_alike(self) -> bool:
        """Whether each line is a record, with as many cells as the header, and ends as lines mostly do."""
        rows, ends, text = self.records.rows, self.records.ends, self.text
        a_line_each = len(rows) == len(ends) == ends[-1] and len(self.records.cells.others) == 1
        return a_line_each and text.endswith("\n") and text.count("\r") == text.count("\r\n")

    def with_columns(self, names: list[str]) -> str:
        """The text with more columns, which are empty; everything else stays as it was."""
        header, separator = self.records.cells[0], self.records.separator
        named = min(self.widths)  # those beyond have no name and are empty
        if named == len(header) and self._all_alike():
            head, _, rows = self.text.partition("\n")
            body, empty = head.rstrip("\r"), separator * len(names)
            rows = rows.replace("\n", f"{empty}\n").replace(f"\r{empty}\n", f"{empty}\r\n")
            return separator.join([body, *names]) + f"{head[len(body) :]}\n{rows}"
        width = max(len(header), named + len(names))
        parts, at = [], 0
        for k, ((start, end), cells) in enumerate(zip(self.spans, self.records.cells, strict=True)):
            body = self.text[start:end].rstrip("\r\n")
            new = body
            if k == 0 and named == len(header):
                new = separator.join([body, *names])
            elif k == 0:
                new = self._joined([*header[:named], *names, *[""] * (width - named - len(names))])
            elif len(cells) in self.widths:
                new = body + separator * (width - len(cells))
            elif len(cells) > len(header):  # it must not fit by the new columns: the reader goes on reporting it
                new = body + separator * (width - len(header))
            parts += [self.text[at:start], new]
            at = start + len(body)
        return "".join([*parts, self.text[at:]])


def _in_quotes(cell: str) -> str:
    """A cell in quotes."""
    cell = cell.replace('"', '""')
    return f'"{cell}"'


def harmless(text: str) -> str:
    """Text that no spreadsheet takes for a formula: a space before it, which readers strip."""
    return f" {text}" if text[:1] in ("=", "+", "-", "@") and not _LEVER_READING(text) else text


def form_of(data: bytes, file: str, kind: Kind, known: Records | None = None) -> Form:
    """The form of a file; raises an InputError if the header or the last row cannot be read.

    `known` are its records, if the same bytes were read before.
    """
    read = known.text if known is not None else decode(data, file)  # raises an InputError if the bytes are wrong
    mark, encoding = encoding_of(data)
    text, problems = data[len(mark) :].decode(encoding), Problems(file)
    if known is not None and read == text == as_read(text):  # what is written back is not composed
        records = known
    else:
        records = split(as_read(text), kind.header.known, problems)
    if not records:
        problems.add(f"There is no header. Write this line at its top: {kind.new_header}")
        raise problems.error()
    columns, widths = records.of_header(), records.widths()
    for missing in kind.header.missing(columns):
        problems.add(f"The column {missing} is missing.", records.rows[0])
    last = records.cells[-1]
    short = len(last) not in widths and len(last) < len(columns)
    if not text.endswith(("\n", "\r")) and len(records) > 1 and (short or before_id(text, last, columns)):
        problems.add("The last row was cut short. Complete it or delete it, then try again.", records.rows[-1])
    problems.check()
    seen = _seen(records, columns, widths, kind)
    if seen.signs(records.separator).undecided:  # a number written now would settle the meaning of the others
        raise two_readings(kind, file)
    records.text = text
    return Form(records, columns, mark, encoding, newline_of(records), kind, widths, seen)


def before_id(text: str, cells: Sequence[str], columns: Sequence[str]) -> bool:
    """Whether a last row without its line end may be cut short where the id of its entry was to follow.

    It could be read, but sent again it would be there twice. A row that was to have no id ends with quotes.
    """
    lacks = "entry" in columns and not any(map(str.strip, cells[columns.index("entry") :]))
    return lacks and not text.endswith('"')


def two_readings(kind: Kind, file: str) -> InputError:
    """The error for a file in which a new number would change how another one is read."""
    message = f"Nothing was saved. A number of the file can be read in two ways. {kind.again}"
    return InputError([Problem(message, file)])


def newline_of(records: Records) -> str:
    """The line end of new records: that of others, and not one within a cell; CRLF where any record ends with it."""
    text = records.text
    if "\r" not in text:
        return "\n"
    if text.endswith("\r\n") and records.rows[-1] == len(records.ends):  # quicker than to look for others
        return "\r\n"
    signs = [sign for sign in ("\r\n", "\n", "\r") if sign in text]
    if len(signs) < 2:
        return signs[0]
    spans = records.spans()
    return next((sign for sign in signs if any(text.endswith(sign, start, end) for start, end in spans)), signs[0])


def _seen(records: Records, columns: Sequence[str], widths: Collection[int], kind: Kind) -> Seen:
    """What the rows that are read show of the signs in the file."""
    numbers, dates = columns_with_signs(columns, kind)
    texts = different(records, columns, widths)
    settings = texts("setting") if "setting" in columns else ()
    return seen_in(map(texts, numbers), map(texts, dates), settings)


def different(records: Records, columns: Sequence[str], widths: Collection[int]) -> Callable[[str], list[str]]:
    """Gives the different texts of a column in the rows that are read."""
    inner = records.cells.columns()
    others = [cells for k, cells in records.cells.others.items() if k and len(cells) in widths]

    def texts(name: str) -> list[str]:
        k = columns.index(name)
        column = inner[k].different if inner else []
        return list({text.strip() for text in (*column, *(cells[k] for cells in others))})

    return texts


def columns_with_signs(columns: Sequence[str], kind: Kind) -> tuple[list[str], list[str]]:
    """The columns of numbers and those of dates."""
    there = [name for name in dict.fromkeys(columns) if name]
    dates = [name for name in there if name in kind.header.words and name.endswith("date")]
    return [name for name in there if name in kind.header.numbers], dates
