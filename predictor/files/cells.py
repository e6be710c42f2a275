"""A table of text, and the reading of its cells: what is wrong in each is collected, not stumbled over."""

from __future__ import annotations

import datetime
import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from functools import cached_property, lru_cache

from predictor.errors import Problem
from predictor.numbers import parse_number, quoted

# More than anyone reads; a file with more has one cause of them all, which the first ones show.
MOST_PROBLEMS = 1000
_MORE = "There are more problems than are listed here. Mend these first."
EMPTY = "The cell is empty. Every row needs one."

YES = frozenset({"yes", "y", "true", "t", "1", "on"})
NO = frozenset({"no", "n", "false", "f", "0", "off"})

_ISO_DATE = re.compile(r"([0-9]{4})-([0-9]{1,2})-([0-9]{1,2})(?:[ T][0-9]{2}:[0-9]{2}(?::[0-9.]+)?)?").fullmatch
LOCAL_DATE = re.compile(r"([0-9]{1,2})([/.-])([0-9]{1,2})\2([0-9]{4})(?: 0?0:00(?::00)?)?").fullmatch
# "1.234" or "1,234": a fraction or thousands
LONE_GROUP = re.compile(r"-?[1-9][0-9]{0,2}[,.][0-9]{3}").fullmatch


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a table."""

    line: int
    cells: dict[str, str]  # Normalised column name to stripped text, "" where empty


@dataclass(frozen=True)
class Table:
    """A table of text with a header: n rows, column by column."""

    file: str  # Name of the file as given; "" where there is none
    columns: tuple[str, ...]  # Column names, normalised: small letters, `_` between words
    lines: Sequence[int]
    cells: dict[str, list[str]]  # Column name to stripped texts, "" where empty
    own_columns: tuple[str, ...] = ()  # Columns the caller does not know: the user's own
    assumed: tuple[str, ...] = ()  # What had to be assumed to read it, in sentences
    decimal: str = "."  # Decimal sign of its numbers
    required: frozenset[str] = field(default=frozenset())  # Columns in which no cell may be empty
    date_order: str = ""  # Order of dates such as 3/14/2026; "" where the file does not tell
    grouped: bool = False  # Whether "1,234" is known to mean 1234
    undecided: bool = False  # Whether the file leaves open if "1.234" is a fraction or thousands
    digest: str = ""  # SHA-256 of the bytes that were read; "" where there were none

    def __len__(self) -> int:
        return len(self.lines)

    @cached_property
    def rows(self) -> tuple[Row, ...]:
        """The same row by row."""
        columns = [self.cells[name] for name in self.columns]
        return tuple(
            Row(line, dict(zip(self.columns, cells, strict=True)))
            for line, *cells in zip(self.lines, *columns, strict=True)
        )

    def number(
        self,
        text: str,
        column: str,
        *,
        low: float | None = None,
        high: float | None = None,
        above: float | None = None,
        what: str = "a number",
    ) -> float:
        """The number that a text of a column stands for."""
        if self.undecided and LONE_GROUP(text):
            raise ValueError(_two_ways(text))
        value = _number(text, self.decimal, self.grouped, what, column)
        if (
            (low is not None and value < low)
            or (high is not None and value > high)
            or (above is not None and value <= above)
        ):
            raise ValueError(f"{quoted(text)} is not {what}: {_limits(low, high, above)}.")
        return value

    def date(self, text: str) -> str:
        """A text as a date."""
        return read_date(text, self.date_order)


class Cells:
    """Reads the cells of one row and collects what is wrong with them."""

    __slots__ = ("_cells", "problems", "row", "table")

    def __init__(self, table: Table, row: Row, problems: list[Problem]):
        self.table, self.row, self.problems = table, row, problems
        self._cells = row.cells

    def wrong(self, column: str | None, message: str) -> None:
        """Note a problem with this row."""
        self.problems.append(Problem(message, self.table.file, self.row.line, column))

    def _missing(self, column: str) -> None:
        if column in self.table.required:
            self.wrong(column, EMPTY)

    def text(self, column: str, default: str = "") -> str:
        """Text of a cell, line breaks as spaces; `default` where it is empty."""
        text = self._cells.get(column, "")
        if not text:
            self._missing(column)
            return default
        return one_line(text)

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
        """Number in a cell; `default` where it is empty, None with a problem noted where it is wrong."""
        text = self._cells.get(column, "")
        if not text:
            self._missing(column)
            return default
        try:
            return self.table.number(text, column, low=low, high=high, above=above, what=what)
        except ValueError as error:
            self.wrong(column, str(error))
            return None

    def date(self, column: str) -> str:
        """Date in a cell as YYYY-MM-DD; "" where it is empty, or wrong with a problem noted."""
        text = self._cells.get(column, "")
        if not text:
            self._missing(column)
            return ""
        try:
            return self.table.date(text)
        except ValueError as error:
            self.wrong(column, str(error))
            return ""


def one_line(text: str) -> str:
    """A text with its line breaks, and other blanks that are none, as single spaces."""
    return text if text.isprintable() else " ".join(text.split())


def yes_no(text: str) -> bool:
    """Whether a text says yes."""
    word = text.lower()
    if word not in YES and word not in NO:
        raise ValueError(f"{quoted(text)} is neither yes nor no. Write yes or no.")
    return word in YES


def enough(problems: list[Problem], file: str) -> bool:
    """Whether so many problems were found that reading on would help nobody; says so in a last one."""
    if len(problems) < MOST_PROBLEMS:
        return False
    if problems[-1].message != _MORE:
        problems.append(Problem(_MORE, file, max(problem.line or 0 for problem in problems) or None))
    return True


def first_problems(problems: list[Problem], file: str) -> None:
    """Put problems in the order of their lines and leave out those that are more than anyone reads."""
    problems.sort(key=lambda problem: problem.line or 0)
    kept = [problem for problem in problems if problem.message != _MORE]
    if len(kept) > MOST_PROBLEMS or len(kept) < len(problems):
        del kept[MOST_PROBLEMS:]
        kept.append(Problem(_MORE, file, kept[-1].line))
    problems[:] = kept


def near(name: str, names: Collection[str], cutoff: float = 0.6) -> str | None:
    """The name most like a given one, or None: for the question whether it was meant."""
    import difflib  # only a misspelling needs it

    by_small = {each.lower(): each for each in names}
    found = difflib.get_close_matches(name.lower()[:100], list(by_small), n=1, cutoff=cutoff)
    return by_small[found[0]] if found else None


@lru_cache(maxsize=10_000)
def _number(text: str, decimal: str, grouped: bool, what: str, column: str) -> float:
    """A number as `parse_number` reads it; the cells of a file repeat each other."""
    return parse_number(text, decimal=decimal, grouped=grouped, what=what, unit=_unit_of(column))


def _two_ways(text: str) -> str:
    """The sentence for a number in a file that does not tell which sign is the decimal one."""
    whole, _, rest = text.replace(".", ",").partition(",")
    return (
        f"{quoted(text)} can be read in two ways, and no other number of the file shows its decimal sign. "
        f"Write {whole}{rest} or {whole}.{rest}0."
    )


@lru_cache(maxsize=10_000)
def read_date(text: str, order: str = "") -> str:
    """A date as people write it."""
    found = _ISO_DATE(text)
    if found:
        year, month, day = int(found[1]), int(found[2]), int(found[3])
    else:
        local = LOCAL_DATE(text)
        if not local:
            raise ValueError(f"{quoted(text)} is not a date. Write year, month and day as 2026-04-18.")
        first, second, year = int(local[1]), int(local[3]), int(local[4])
        if not order and first != second:
            raise ValueError(f"{quoted(text)} can be read in two ways. Write year, month and day as 2026-04-18.")
        month, day = (first, second) if order == "mdy" else (second, first)
    if not 1900 <= year <= 2200:
        raise ValueError(f"{quoted(text)} lies in the year {year}. Write it as 2026-04-18.")
    try:
        return datetime.date(year, month, day).isoformat()
    except ValueError:
        raise ValueError(f"{quoted(text)} is no day of the calendar. Write it as 2026-04-18.") from None


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
