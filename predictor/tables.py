"""Tables of text as people keep them: read strictly, whatever saved them, and never misread in silence."""

from __future__ import annotations

import csv
import datetime
import os
import re
from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from typing import Any

from predictor.csv_text import CONTROL, decode, normalised, read_bytes, split
from predictor.errors import InputError, Problem
from predictor.numbers import parse_number, quoted

__all__ = ["Cells", "Row", "Table", "frame_table", "near", "parse_number", "quoted", "read_table"]

YES = frozenset({"yes", "y", "true", "t", "1", "on"})
NO = frozenset({"no", "n", "false", "f", "0", "off"})

_ISO_DATE = re.compile(r"([0-9]{4})-([0-9]{1,2})-([0-9]{1,2})(?:[ T][0-9]{2}:[0-9]{2}(?::[0-9.]+)?)?").fullmatch
_LOCAL_DATE = re.compile(r"([0-9]{1,2})([/.-])([0-9]{1,2})\2([0-9]{4})(?: 0?0:00(?::00)?)?").fullmatch


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a table.

    Attributes
    ----------
    line : int
        Its number as a spreadsheet counts: comments and blank lines count, a cell with line breaks is one row.
    cells : dict of str to str
        Normalised column name to stripped text, "" where empty.
    """

    line: int
    cells: dict[str, str]


@dataclass(frozen=True)
class Table:
    """A table of text with a header.

    Attributes
    ----------
    file : str
        Name of the file as given; "" where there is none.
    columns : tuple of str
        Column names, normalised: small letters, `_` between words.
    rows : tuple of Row
    own_columns : tuple of str
        Columns the caller does not know: the user's own.
    assumed : tuple of str
        What had to be assumed to read it, in sentences.
    decimal : {".", ","}
        Decimal sign of its numbers.
    required : frozenset of str
        Columns in which no cell may be empty.
    date_order : {"", "mdy", "dmy"}
        Order of dates such as 3/14/2026; "" where the file does not tell.
    grouped : bool
        Whether "1,234" is known to mean 1234.
    """

    file: str
    columns: tuple[str, ...]
    rows: tuple[Row, ...]
    own_columns: tuple[str, ...] = ()
    assumed: tuple[str, ...] = ()
    decimal: str = "."
    required: frozenset[str] = field(default=frozenset())
    date_order: str = ""
    grouped: bool = False


def read_table(
    source: str | os.PathLike[str],
    *,
    known: Collection[str],
    required: Collection[str | tuple[str, ...]],
    words: Collection[str] = (),
    problems: list[Problem] | None = None,
) -> Table:
    """Read a CSV file as people and spreadsheets write it.

    UTF-8, or UTF-16 with a byte order mark; cells separated by comma, semicolon or tab; any line ends; `#` starts
    a comment line; blank rows are passed over. What had to be assumed stands in `Table.assumed`.

    Parameters
    ----------
    source : str or path
        A file, or "-" for standard input.
    known : collection of str
        Every column the caller understands; all others are kept as the user's own.
    required : collection of str or tuple of str
        Columns that must be there; of a tuple of alternatives exactly one.
    words : collection of str
        Known columns that hold words rather than numbers: they tell nothing about the decimal sign.
    problems : list of Problem, optional
        Takes the problems of header and rows, so that the caller can report those of its cells with them: it must
        then raise `InputError` itself if there are any. Without it they are raised here.

    Returns
    -------
    Table
        Rows whose cells do not fit the header are left out of it; each is a problem.

    Raises
    ------
    InputError
        A file that cannot be read at all, or, without `problems`, every problem of header and rows.
    """
    file, data = read_bytes(source)
    text = decode(data, file)
    found: list[Problem] = []
    records, separator, remarks = split(text, file, known, found)
    if not records:
        found = found or [Problem("The file is empty. It needs a header row and a row below it for each entry.", file)]
        raise InputError(found)
    header_line, header = records[0]
    width = len(header)
    while header and not header[-1] and all(not "".join(cells[len(header) - 1 :]) for _, cells in records):
        header.pop()  # columns a spreadsheet adds beyond the table: no name, nothing in them
    columns = tuple(map(normalised, header))
    checked, assumed = _check_header(columns, known, required, file, header_line, found)
    rows = _rows(records[1:], columns, width, separator, file, found)
    if not rows and not found:
        found.append(Problem("There is a header but no row below it. Write a row for each entry.", file))
    telling = [name for name in columns if name in known and name not in words]
    decimal, grouped = _number_signs(rows, telling, separator, text, assumed)
    order = _date_order(rows, columns, assumed)
    for line, remark in remarks:
        if len(columns) > 1 and len(next(csv.reader([remark], delimiter=separator))) == len(columns):
            assumed.append(
                f"Line {line} starts with # and was passed over as a comment, though it has as many cells as a row."
            )
    if found and problems is None:
        raise InputError(found)
    if problems is not None:
        problems.extend(found)
    own = tuple(name for name in columns if name not in known)
    return Table(file, columns, tuple(rows), own, tuple(assumed), decimal, checked, order, grouped)


def frame_table(
    data: Any,
    *,
    known: Collection[str],
    required: Collection[str | tuple[str, ...]],
    problems: list[Problem],
    file: str = "",
    lines: Sequence[int] | None = None,
) -> Table:
    """The same table from a DataFrame, or from anything with `.columns` that gives a column by its name.

    Parameters
    ----------
    data : DataFrame
        Numbers, booleans, dates or text; None, NaN and "" are empty cells.
    known, required, problems
        As for `read_table`.
    file : str
    lines : sequence of int, shape (n,), optional
        Row numbers; counted from 1 where not given.

    Returns
    -------
    Table

    Raises
    ------
    InputError
        A column that is there twice.
    """
    columns = tuple(normalised(str(name)) for name in data.columns)
    found: list[Problem] = []
    checked, assumed = _check_header(columns, known, required, file, None, found)
    if len(set(columns)) < len(columns):
        raise InputError(found)
    texts = [[_cell_text(value) for value in data[name]] for name in data.columns]
    for name, cells in zip(columns, texts, strict=True):
        for number, cell in enumerate(cells):
            if CONTROL.search(cell):
                line = number + 1 if lines is None else lines[number]
                found.append(Problem(f"{quoted(cell)} holds a control character. Remove it.", file, line, name))
    problems.extend(found)
    numbers = range(1, len(texts[0]) + 1 if texts else 1) if lines is None else lines
    rows = [
        Row(int(line), dict(zip(columns, cells, strict=True)))
        for line, *cells in zip(numbers, *texts, strict=True)
        if any(cells)
    ]
    own = tuple(name for name in columns if name not in known)
    order = _date_order(rows, columns, assumed)
    return Table(file, columns, tuple(rows), own, tuple(assumed), ".", checked, order)


class Cells:
    """Reads the cells of one row and collects what is wrong with them.

    Parameters
    ----------
    table : Table
    row : Row
    problems : list of Problem
        Problems are appended here; raise `InputError(problems)` after the last row if there are any.
    """

    __slots__ = ("_cells", "problems", "row", "table")

    def __init__(self, table: Table, row: Row, problems: list[Problem]):
        self.table, self.row, self.problems = table, row, problems
        self._cells = row.cells

    def wrong(self, column: str | None, message: str) -> None:
        """Note a problem with this row."""
        self.problems.append(Problem(message, self.table.file, self.row.line, column))

    def _missing(self, column: str) -> None:
        if column in self.table.required:
            self.wrong(column, "The cell is empty. Every row needs one.")

    def text(self, column: str, default: str = "") -> str:
        """Text of a cell, line breaks as spaces; `default` where it is empty."""
        text = self._cells.get(column, "")
        if not text:
            self._missing(column)
            return default
        return " ".join(text.split()) if "\n" in text or "\t" in text else text

    def number(
        self,
        column: str,
        *,
        default: float | None = None,
        low: float | None = None,
        high: float | None = None,
        above: float | None = None,
        what: str = "a number",
    ) -> float | None:
        """Number in a cell; `default` where it is empty, None with a problem noted where it is wrong.

        Parameters
        ----------
        column : str
        default : float, optional
        low, high : float, optional
            Smallest and largest value there can be.
        above : float, optional
            The value must be larger than this.
        what : str
            What the number is, with its article, for the message: "a weight".
        """
        text = self._cells.get(column, "")
        if not text:
            self._missing(column)
            return default
        return self.number_in(text, column, low=low, high=high, above=above, what=what)

    def number_in(
        self,
        text: str,
        column: str,
        *,
        low: float | None = None,
        high: float | None = None,
        above: float | None = None,
        what: str = "a number",
    ) -> float | None:
        """As `number`, for a text that is only a part of the cell."""
        table = self.table
        try:
            value = parse_number(
                text, decimal=table.decimal, what=what, unit=_unit_of(column), grouped=table.grouped
            )
        except ValueError as error:
            self.wrong(column, str(error))
            return None
        if (
            (low is not None and value < low)
            or (high is not None and value > high)
            or (above is not None and value <= above)
        ):
            self.wrong(column, f"{quoted(text)} is not {what}: {_limits(low, high, above)}.")
            return None
        return value

    def date(self, column: str) -> str:
        """Date in a cell as YYYY-MM-DD; "" where it is empty, or wrong with a problem noted."""
        text = self._cells.get(column, "")
        if not text:
            self._missing(column)
            return ""
        try:
            return _date(text, self.table.date_order)
        except ValueError as error:
            self.wrong(column, str(error))
            return ""

    def yes_no(self, column: str, default: bool) -> bool:
        """Whether a cell says yes; `default` where it is empty, or says neither with a problem noted."""
        text = self._cells.get(column, "")
        if not text:
            self._missing(column)
            return default
        word = text.lower()
        if word not in YES and word not in NO:
            self.wrong(column, f"{quoted(text)} is neither yes nor no. Write yes or no.")
            return default
        return word in YES


def near(name: str, names: Collection[str], cutoff: float = 0.6) -> str | None:
    """The name most like a given one, or None: for the question whether it was meant.

    Examples
    --------
    >>> near("cach_g", ["catch_g", "turns"])
    'catch_g'
    """
    import difflib  # only a misspelling needs it

    by_small = {each.lower(): each for each in names}
    found = difflib.get_close_matches(name.lower()[:100], list(by_small), n=1, cutoff=cutoff)
    return by_small[found[0]] if found else None


def _check_header(
    columns: tuple[str, ...],
    known: Collection[str],
    required: Collection[str | tuple[str, ...]],
    file: str,
    line: int | None,
    found: list[Problem],
) -> tuple[frozenset[str], list[str]]:
    """Note what is wrong with a header; return the columns that may hold no empty cell, and what was assumed."""
    for name, count in Counter(columns).items():
        if not name:
            found.append(Problem("A column has no name. Name it, or delete it.", file, line))
        elif count > 1:
            found.append(Problem(f"The column stands {count} times. Keep one.", file, line, name))
    needed = []
    for entry in required:
        choices = (entry,) if isinstance(entry, str) else entry
        there = [name for name in choices if name in columns]
        if len(there) == 1:
            needed.append(there[0])
        elif there:
            found.append(Problem(f"{' and '.join(there)} say the same thing. Keep one of them.", file, line))
        else:
            own = [name for name in columns if name and name not in known]
            meant = next((near(name, choices, 0.5) for name in own if near(name, choices, 0.5)), None)
            like = next((name for name in own if near(name, choices, 0.5)), None)
            hint = f' Is "{like}" meant to be {meant}?' if meant else ""
            found.append(
                Problem(f"The column {' or '.join(choices)} is missing.{hint} Columns found: {_list(columns)}.", file, line)
            )
    assumed = []
    for name in columns:
        meant = None if name in known or not name else near(name, [k for k in known if k not in columns], 0.8)
        if meant:
            assumed.append(f'Column "{name}" was kept as your own and not used. If {meant} was meant, rename it.')
    return frozenset(needed), assumed


def _list(columns: Sequence[str]) -> str:
    shown = [name or "(no name)" for name in columns[:12]]
    return ", ".join(shown) + (" ..." if len(columns) > 12 else "")


def _rows(
    records: list[tuple[int, list[str]]],
    columns: tuple[str, ...],
    width: int,
    separator: str,
    file: str,
    found: list[Problem],
) -> list[Row]:
    """Records that fit the header as rows; the others are problems."""
    rows = []
    for line, cells in records:
        if not any(cells):
            continue
        if tuple(map(normalised, cells[: len(columns)])) == columns:
            found.append(Problem("The header stands a second time here. Delete this row.", file, line))
        elif len(cells) == len(columns) or (len(cells) == width and not any(cells[len(columns) :])):
            rows.append(Row(line, dict(zip(columns, cells, strict=False))))
        else:
            found.append(Problem(_misfit(cells, columns, separator), file, line))
    return rows


def _misfit(cells: list[str], columns: tuple[str, ...], separator: str) -> str:
    """Why a row with more or fewer cells than the header may have them."""
    counts = f"{len(cells)} cells in this row and {len(columns)} in the header"
    if len(cells) < len(columns):
        return f"There are {counts}. Write every cell, empty ones too."
    if not any(cells[len(columns) :]):
        return f"There are {counts}: separators at the end. Delete them, or the values would stand in wrong columns."
    halves = [
        (left, right) for left, right in zip(cells, cells[1:], strict=False) if left.isdigit() and right.isdigit()
    ]
    if separator == "," and halves:
        left, right = halves[-1]
        return (
            f"There are {counts}. If {left},{right} is a number with a decimal comma, write {left}.{right}, "
            f'or "{left},{right}" in quotes in every row.'
        )
    return f'There are {counts}. Put text that holds "{separator}" in quotes.'


def _number_signs(
    rows: list[Row], columns: Sequence[str], separator: str, text: str, assumed: list[str]
) -> tuple[str, bool]:
    """Decimal sign of a file, and whether a lone group of three digits is known to be thousands."""
    commas = points = 0
    lone = False
    for row in rows if "," in text else ():
        for name in columns:
            cell = row.cells[name]
            # "1,234" alone tells nothing; "12,4" and "1.234,5" tell of a comma, "12.4" and "1,234.5" of a point
            if _COMMA_DECIMAL(cell):
                commas += 1
            elif _POINT_DECIMAL(cell):
                points += 1
            elif _LONE_GROUP(cell):
                lone = True
    decimal = "," if commas and not points else "."
    if separator != "," or decimal == ",":
        name = {";": '";"', "\t": "tabs", ",": '","'}[separator]
        assumed.append(f'Read with {name} between cells and "{decimal}" as decimal sign.')
    grouped = lone and bool(points if decimal == "." else commas) and not (points and commas)
    if grouped:
        assumed.append("Read numbers such as 1,234 as thousands: the other numbers show which sign is the decimal one.")
    return decimal, grouped


_COMMA_DECIMAL = re.compile(r"-?[0-9]*,(?:[0-9]{1,2}|[0-9]{4,})|-?0,[0-9]+|-?[0-9]{1,3}(?:\.[0-9]{3})+,[0-9]+").fullmatch
_POINT_DECIMAL = re.compile(r"-?[0-9]*\.(?:[0-9]{1,2}|[0-9]{4,})|-?0\.[0-9]+|-?[0-9]{1,3}(?:,[0-9]{3})+\.[0-9]+").fullmatch
_LONE_GROUP = re.compile(r"-?[1-9][0-9]{0,2}[,.][0-9]{3}").fullmatch


def _date_order(rows: list[Row], columns: Sequence[str], assumed: list[str]) -> str:
    """Whether days or months come first in dates such as 3/14/2026, as far as the file itself tells."""
    orders = set()
    for name in columns:
        if not name.endswith("date"):
            continue
        for row in rows:
            found = _LOCAL_DATE(row.cells[name])
            if found:
                first, sign, second = int(found[1]), found[2], int(found[3])
                if sign == "." or first > 12:
                    orders.add("dmy")
                elif second > 12:
                    orders.add("mdy")
    if len(orders) != 1:
        return ""
    order = orders.pop()
    assumed.append(f"Read dates with the {'month' if order == 'mdy' else 'day'} first.")
    return order


def _date(text: str, order: str) -> str:
    """A date as YYYY-MM-DD, or a ValueError with a sentence."""
    found = _ISO_DATE(text)
    if found:
        year, month, day = int(found[1]), int(found[2]), int(found[3])
    else:
        local = _LOCAL_DATE(text)
        if not local:
            raise ValueError(f"{quoted(text)} is not a date. Write year, month and day as 2026-04-18.")
        first, second, year = int(local[1]), int(local[3]), int(local[4])
        if not order and first != second:
            raise ValueError(f"{quoted(text)} can be read in two ways. Write year, month and day as 2026-04-18.")
        month, day = (first, second) if order == "mdy" else (second, first)
    try:
        return datetime.date(year, month, day).isoformat()
    except ValueError:
        raise ValueError(f"{quoted(text)} is no day of the calendar. Write it as 2026-04-18.") from None


def _cell_text(value: Any) -> str:
    """A DataFrame's value as the text a file would hold."""
    if value is None or value != value or str(value) in ("NaT", "<NA>"):
        return ""
    if isinstance(value, bool) or type(value).__name__ in ("bool_", "bool"):
        return "yes" if value else "no"
    if isinstance(value, (list, tuple)):
        return ";".join(_cell_text(part) for part in value)
    if hasattr(value, "isoformat"):
        return value.isoformat()[:10]
    text = str(value).strip()
    if hasattr(value, "__float__") and not isinstance(value, str):
        number = float(value)
        return str(int(number)) if number.is_integer() and abs(number) < 1e15 else repr(number)
    return text


def _limits(low: float | None, high: float | None, above: float | None) -> str:
    """What a number must be, in words."""
    if above is not None and high is not None:
        return f"it must be above {above:g} and at most {high:g}"
    if above is not None:
        return f"it must be above {above:g}"
    if low is not None and high is not None:
        return f"it must lie between {low:g} and {high:g}"
    return f"it must be at least {low:g}" if low is not None else f"it must be at most {high:g}"


def _unit_of(column: str) -> str:
    """The unit a column's name ends in."""
    unit = column.rpartition("_")[2]
    return "%" if unit == "pct" else unit
