"""Tables of text as people and spreadsheets save them: what could be misread is refused, or noted as assumed."""

import csv
import itertools
import os
import re
from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from hashlib import sha256
from operator import itemgetter
from typing import TYPE_CHECKING, Any

import numpy as np

from predictor.domain.result import Remark
from predictor.errors import MOST_PROBLEMS, InputError, Problem, Problems, near
from predictor.files.cells import Cells, Rows
from predictor.files.signs import NOTHING_SEEN, Seen, Signs, seen_in, signs_of
from predictor.files.split import CUT_SHORT, Records, leave_out_controls, split
from predictor.files.text import composed, decode, normalised, read_bytes
from predictor.format import listed
from predictor.numbers import clipped

if TYPE_CHECKING:
    import pandas as pd

# Units in which people write fractions: where a decimal comma may have split a number in two.
_FRACTIONAL = ("_g", "_oz", "_lb", "_kg", "_pct", "_ac", "_ha", "_ft", "_m", "_ft2", "_m2")
# Own columns compared with the known ones: nobody keeps more by hand, and a made-up table must not take long.
MOST_LOOKED_AT = 100
MOST_COLUMNS = 10_000
_NUMBER_OR_DATE = re.compile(r"\s*[-.,/:]*[0-9][-0-9.,/:]*+\s*+[a-zA-Z]{0,3}+\s*+").fullmatch


@dataclass(frozen=True)
class Header:
    """The columns a kind of file has."""

    words: frozenset[str]
    numbers: frozenset[str]
    required: tuple[tuple[str, ...], ...]  # Exactly one of each group must be there
    made: frozenset[str] = frozenset()  # Columns that the program itself adds to a table it gives out

    @cached_property
    def known(self) -> frozenset[str]:
        """All columns the program reads."""
        return self.words | self.numbers

    def missing(self, columns: Collection[str]) -> list[str]:
        """What a header lacks, each as "catch_g or catch_oz"."""
        return [" or ".join(choices) for choices in self.required if not set(choices) & set(columns)]


@dataclass
class Table:
    """A table of text with a header: n rows, column by column, and what is wrong with it so far."""

    problems: Problems
    columns: tuple[str, ...]  # Column names, normalised: small letters, `_` between words
    lines: Sequence[int]
    cells: dict[str, Cells]  # Column name to stripped texts, "" where empty
    required: frozenset[str] = frozenset()  # Columns in which no cell may be empty
    signs: Signs = field(default_factory=Signs)
    assumed: tuple[Remark, ...] = ()  # What had to be assumed to read it
    digest: str = ""  # SHA-256 of the bytes that were read; "" for a DataFrame
    own: tuple[str, ...] = ()  # The user's own columns
    seen: Seen = NOTHING_SEEN  # What its numbers and dates show

    def __len__(self) -> int:
        return len(self.lines)


def read_table(source: str | os.PathLike[str], header: Header) -> Table:
    """Read a CSV file as people and spreadsheets write it.

    UTF-8, or UTF-16 with a byte order mark; cells separated by comma, semicolon or tab; any line ends; `#`
    starts a comment line; blank rows are skipped.
    """
    file, data = read_bytes(source)
    table = table_of(decode(data, file), file, header)
    table.digest = sha256(data).hexdigest()
    return table


def table_of(text: str, file: str, header: Header) -> Table:
    """The table that the text of a CSV file holds."""
    problems = Problems(file)
    return table_in(split(text, header.known, problems), header, problems)


def table_in(records: Records, header: Header, problems: Problems) -> Table:
    """The table that the records of a CSV file are."""
    table = _table_of(records, header, problems)
    if not len(table) and not problems.found:
        said = [str(each) for each in table.assumed if each.code == "files.row_in_comment"]
        problems.add(" ".join(["There is a header but no row below it. Write a row for each entry.", *said]))
    return table


def frame_table(data: "pd.DataFrame", header: Header) -> Table:
    """The same table from a DataFrame, whose rows are counted from 1."""
    columns = [list(map(_cell_text, data.iloc[:, k])) for k in range(len(data.columns))]
    cells = [list(map(str, data.columns)), *map(list, zip(*columns, strict=True))]
    rows = [k for k, row in enumerate(cells) if k == 0 or any(row)]
    records, problems = Records("", ",", rows, Rows(cells[k] for k in rows)), Problems("")
    leave_out_controls(records, problems)
    return _table_of(records, header, problems)


def _table_of(records: Records, header: Header, problems: Problems) -> Table:
    if not records:
        if not problems.found:
            problems.add("The file is empty. It needs a header row and a row below it for each entry.")
        raise problems.error()
    columns = problems.columns = _columns_of(records, problems)
    required, assumed = _check_header(columns, header, records.rows[0] or None, problems)
    if not columns:
        raise problems.error()
    lines, cells = _body(records, columns, problems)
    numbers = [cells[name].different for name in columns if name in header.numbers]
    dates = [cells[name].different for name in columns if name in header.words and name.endswith("date")]
    settings = cells["setting"].different if "setting" in columns else ()
    seen = seen_in(numbers, dates, settings)
    signs, read_as = signs_of(seen, records.separator)
    if in_comments := _rows_in_comments(records, columns, header):
        read_as.append(Remark("files.row_in_comment", {"file": os.path.basename(problems.file), "lines": in_comments}))
    own = tuple(name for name in columns if name not in header.known)
    return Table(problems, columns, lines, cells, required, signs, (*assumed, *read_as), own=own, seen=seen)


def _columns_of(records: Records, problems: Problems) -> tuple[str, ...]:
    """Normalised names of the columns, without the empty ones that a spreadsheet adds beyond the table."""
    header = records.cells[0]
    if len(header) > MOST_COLUMNS:
        message = f"The header has {len(header):,} columns, too many for a table kept by hand. Is this the right file?"
        raise InputError([Problem(message, problems.file, records.rows[0])])
    return records.of_header()[: records.width()]


def _check_header(
    columns: tuple[str, ...], header: Header, line: int | None, problems: Problems
) -> tuple[frozenset[str], list[Remark]]:
    """Note what is wrong with a header; return the columns without empty cells, and what was assumed."""
    for name, count in Counter(columns).items():
        if not name:
            problems.add("A column has no name. Name it, or delete it.", line)
        elif count > 1:
            problems.add(f"This column appears {count} times. Keep one.", line, name)
    own = [name for name in columns if name and name not in header.known | header.made]
    needed = []
    for choices in header.required:
        there = [name for name in choices if name in columns]
        if len(there) == 1:
            needed.append(there[0])
        elif there:
            problems.add(same_thing(there), line)
        else:
            problems.add(missing_column(choices, columns, own), line)
    return frozenset(needed), _unused(own, columns, header, problems.file)


def _unused(own: Sequence[str], there: Collection[str], header: Header, file: str) -> list[Remark]:
    """One remark for the columns that nothing reads, with the absent ones that some may have meant."""
    if not own:
        return []
    pairs = ((name, _meant(name, there, header.known)) for name in own[:MOST_LOOKED_AT])
    meant = tuple((clipped(name), each) for name, each in pairs if each)
    columns = tuple(map(clipped, own))
    return [Remark("files.not_used", {"file": os.path.basename(file), "columns": columns, "meant": meant})]


def _meant(name: str, there: Collection[str], known: Collection[str]) -> str | None:
    """The absent column that a name may have been meant for: the same with its unit, or one that is spelled alike."""
    with_unit = sorted(each for each in known if each.rpartition("_")[0] == name)
    if with_unit and not set(with_unit) & set(there):
        return " or ".join(with_unit[:2])
    return None if with_unit else near(name, set(known) - set(there), 0.8)


def missing_column(choices: Collection[str], columns: Collection[str], own: Sequence[str]) -> str:
    """The sentences for a column that is not there; `own` are the user's columns, of which one may be meant."""
    pairs = ((name, near(name, choices, 0.5)) for name in own[:MOST_LOOKED_AT])
    hint = next((f' Is "{clipped(name)}" meant to be {meant}?' for name, meant in pairs if meant), "")
    found = listed(clipped(name) or "(no name)" for name in columns)
    return f"The column {' or '.join(choices)} is missing.{hint} Columns found: {found}."


def same_thing(columns: Collection[str]) -> str:
    """The sentence for columns that exclude each other."""
    return f"{' and '.join(columns)} say the same thing. Keep one of them."


def _body(records: Records, columns: tuple[str, ...], problems: Problems) -> tuple[list[int], dict[str, Cells]]:
    """Lines and stripped cells of the records that fit the header, column by column; the others are problems."""
    count, rows = len(columns), records.cells
    fits = {count, len(rows[0])}  # beyond the columns all cells are empty
    wrong = {i: row for i, row in rows.others.items() if len(row) not in fits}
    for i, row in wrong.items():
        if problems.enough:
            break
        problems.add(_misfit(list(map(str.strip, row)), columns, records.separator), records.rows[i])
    lines = [line for i, line in enumerate(records.rows) if i and i not in wrong] if wrong else records.rows[1:]
    inner = rows.columns()
    if len(rows.others) > len(wrong) + 1:  # rows without the blank cells beyond the columns
        fitting = [row for i, row in enumerate(rows) if i and i not in wrong]
        inner = [Cells.of(map(itemgetter(k), fitting)) for k in range(count)]
    cells = {name: column.changed(str.strip) for name, column in zip(columns, inner, strict=False)}
    again = _header_again(cells, columns)
    if again:
        for i in sorted(again)[: MOST_PROBLEMS + 1]:
            problems.add("The header is repeated here. Delete this row.", lines[i])
        kept = [i not in again for i in range(len(lines))]
        lines = list(itertools.compress(lines, kept))
        cells = {name: Cells.of(itertools.compress(each, kept)) for name, each in cells.items()}
    return lines, cells


def _header_again(cells: dict[str, Cells], columns: tuple[str, ...]) -> set[int]:
    """Rows that repeat the header."""
    first = cells[columns[0]]
    like = [text[:1].lower() == columns[0][:1] and normalised(text) == columns[0] for text in first.different]
    rows = np.flatnonzero(np.array(like, dtype=bool)[first.which]).tolist()
    return {i for i in rows if all(normalised(cells[name][i]) == name for name in columns)}


def _misfit(cells: list[str], columns: tuple[str, ...], separator: str) -> str:
    """Why a row with more or fewer cells than the header may have them."""
    there = "is 1 cell" if len(cells) == 1 else f"are {len(cells)} cells"
    counts = f"There {there} in this row and {len(columns)} in the header"
    if len(cells) < len(columns):
        return f"{counts}. Write every cell, empty ones too."
    if not any(cells[len(columns) :]):
        return f"{counts}. Delete the separators at its end, or values could be read in the wrong columns."
    # a decimal comma splits a number in two: most likely one in a column whose unit has fractions
    halves = [
        (left, right)
        for column, (left, right) in zip(columns, itertools.pairwise(cells), strict=False)
        if left.isdigit() and right.isdigit() and len(left + right) < 20 and column.endswith(_FRACTIONAL)
    ]
    if separator == "," and halves:
        left, right = halves[0]
        return (
            f"{counts}. If {left},{right} is a number with a decimal comma, write {left}.{right}, "
            f'or "{left},{right}" in quotes in every row.'
        )
    return f'{counts}. Put text that contains "{separator}" in quotes.'


def like_row(cells: Sequence[str], columns: Sequence[str], header: Header, widths: Collection[int]) -> bool:
    """Whether cells are those of a row: as many as the header has, or all that a row must have.

    In what has another number of cells the numbers must be numbers too: a sentence may have as many commas.
    """
    places = [[columns.index(name) for name in choices if name in columns] for choices in header.required]
    needed = [group[0] for group in places if group]
    if not needed:
        return False
    if len(cells) in widths:
        return sum(bool(cell.strip()) for cell in cells) >= len(needed)
    numbers = [k for k in needed if columns[k] in header.numbers or columns[k].endswith("date")]
    filled = max(needed) < len(cells) and all(cells[k].strip() for k in needed)
    return filled and bool(numbers) and all(_NUMBER_OR_DATE(cells[k]) for k in numbers)


def _rows_in_comments(records: Records, columns: Sequence[str], header: Header) -> tuple[int, ...]:
    """Lines of the comments that look like a row, in which a name may begin with #."""
    widths = {len(columns), len(records.cells[0])}
    blanks = None if records.separator != "\t" else " \xa0"  # there an empty cell is no blank
    found = []
    for line, comment in records.remarks:
        if comment.startswith(CUT_SHORT):  # this program made a comment of that row
            continue
        inner = comment.rstrip("\r\n").lstrip(blanks).lstrip("#")
        try:
            cells = next(csv.reader([inner.lstrip(blanks)], delimiter=records.separator, skipinitialspace=True), [])
        except csv.Error:
            continue  # a cell too long for a table: certainly a comment
        # a name may be nothing but the sign
        if like_row(["#", *cells[1:]], columns, header, widths):
            found.append(line)
    return tuple(found)


def _cell_text(value: Any) -> str:
    """A DataFrame's value as the text a file would hold."""
    if isinstance(value, str):
        return composed(value.strip())
    kind = type(value).__name__
    if value is None or kind in ("NAType", "NaTType"):
        return ""
    if kind in ("bool_", "bool"):
        return "yes" if value else "no"
    if isinstance(value, (list, tuple)) or getattr(value, "ndim", False):
        return ";".join(map(_cell_text, value))
    if hasattr(value, "isoformat"):
        return str(value.isoformat())[:10]
    if hasattr(value, "__float__"):
        try:
            number = float(value)
        except (OverflowError, TypeError, ValueError):
            return str(value).strip()
        if number != number:
            return ""
        return str(int(number)) if number.is_integer() and abs(number) < 1e15 else repr(number)
    return str(value).strip()
