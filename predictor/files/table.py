"""Tables of text as people keep them: read strictly, whatever saved them, and never misread in silence."""

from __future__ import annotations

import csv
import itertools
import os
import re
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import replace
from hashlib import sha256
from typing import Any

from predictor.errors import InputError, Problem
from predictor.files.cells import LOCAL_DATE, MOST_PROBLEMS, Table, enough, near
from predictor.files.text import CONTROL, composed, decode, normalised, read_bytes, split
from predictor.numbers import quoted

# Units in which people write fractions: where a decimal comma may have split a number in two.
_FRACTIONAL = ("_g", "_oz", "_lb", "_kg", "_pct", "_ac", "_ha", "_ft", "_m", "_ft2", "_m2")
# Own columns compared with the known ones: nobody keeps more by hand, and a made-up table must not take long.
MOST_LOOKED_AT = 100
MOST_COLUMNS = 10_000
# "12,4" and "1.234,5" tell of a decimal comma, "12.4" and "1,234.5" of a point; "1,234" alone tells nothing.
_COMMA_DECIMAL = re.compile(
    r"^(?:-?[0-9]*,(?:[0-9]{1,2}|[0-9]{4,})|-?0,[0-9]+|-?[0-9]{1,3}(?:\.[0-9]{3})+,[0-9]+)$", re.MULTILINE
).search
_POINT_DECIMAL = re.compile(
    r"^(?:-?[0-9]*\.(?:[0-9]{1,2}|[0-9]{4,})|-?0\.[0-9]+|-?[0-9]{1,3}(?:,[0-9]{3})+\.[0-9]+)$", re.MULTILINE
).search
_LONE_GROUPS = re.compile(r"^-?[1-9][0-9]{0,2}[,.][0-9]{3}$", re.MULTILINE).finditer


def read_table(
    source: str | os.PathLike[str],
    *,
    known: Collection[str],
    required: Collection[str | tuple[str, ...]],
    words: Collection[str] = (),
    problems: list[Problem] | None = None,
) -> Table:
    """Read a CSV file as people and spreadsheets write it.

    UTF-8, or UTF-16 with a byte order mark; cells separated by comma, semicolon or tab; any line ends; `#`
    starts a comment line; blank rows are passed over. What had to be assumed stands in `Table.assumed`.
    """
    file, data = read_bytes(source)
    table = table_of(decode(data, file), file, known=known, required=required, words=words, problems=problems)
    return replace(table, digest=sha256(data).hexdigest())


def table_of(
    text: str,
    file: str,
    *,
    known: Collection[str],
    required: Collection[str | tuple[str, ...]],
    words: Collection[str] = (),
    problems: list[Problem] | None = None,
) -> Table:
    """The table that the text of a CSV file holds."""
    found: list[Problem] = []
    records, separator, remarks = split(text, file, known, found)
    if not records:
        if not found:
            message = "The file is empty. It needs a header row and a row below it for each entry."
            found.append(Problem(message, file))
        raise InputError(found)
    header_line, header = records[0]
    width = len(header)
    if width > MOST_COLUMNS:
        message = f"The header has {width:,} columns: not a table kept by hand. Is this the right file?"
        raise InputError([Problem(message, file, header_line)])
    named = _filled(header)
    if named < width:  # columns a spreadsheet adds beyond the table have no name and nothing in them
        named = min(width, max(_filled(cells) for _, cells in records))
    columns = tuple(map(normalised, header[:named]))
    checked, assumed = _check_header(columns, known, required, file, header_line, found)
    lines, cells = _columns(records[1:], columns, width, separator, file, found)
    if not lines and not found:
        message = "There is a header but no row below it. Write a row for each entry."
        found.append(Problem(message, file))
    used = [name for name in columns if name in known]
    numbers = [cells[name] for name in used if name not in words]
    decimal, grouped, undecided = number_signs(numbers, separator, assumed)
    order = _date_order([cells[name] for name in used if name.endswith("date")], assumed)
    assumed.extend(_doubtful_remarks(remarks, separator, len(columns), len(required)))
    if found and problems is None:
        raise InputError(found)
    if problems is not None:
        problems.extend(found)
    own = tuple(name for name in columns if name not in known)
    return Table(file, columns, lines, cells, own, tuple(assumed), decimal, checked, order, grouped, undecided)


def frame_table(
    data: Any,
    *,
    known: Collection[str],
    required: Collection[str | tuple[str, ...]],
    problems: list[Problem],
    file: str = "",
    lines: Sequence[int] | None = None,
) -> Table:
    """The same table from a DataFrame, or from anything with `.columns` that gives a column by its name."""
    columns = tuple(normalised(str(name)) for name in data.columns)
    found: list[Problem] = []
    checked, assumed = _check_header(columns, known, required, file, None, found)
    if len(set(columns)) < len(columns):
        raise InputError(found)
    texts = [[_cell_text(value) for value in data[name]] for name in data.columns]
    numbers = range(1, len(texts[0]) + 1 if texts else 1) if lines is None else lines
    for name, cells in zip(columns, texts, strict=True):
        for line, cell in zip(numbers, cells, strict=True):
            if CONTROL.search(cell):
                message = f"{quoted(cell)} holds a character that cannot be seen. Retype it."
                found.append(Problem(message, file, line, name))
    problems.extend(found)
    filled = [any(cells) for cells in zip(*texts, strict=True)]
    cells = {name: list(itertools.compress(each, filled)) for name, each in zip(columns, texts, strict=True)}
    places = [int(line) for line in itertools.compress(numbers, filled)]
    own = tuple(name for name in columns if name not in known)
    dates = [cells[name] for name in columns if name in known and name.endswith("date")]
    order = _date_order(dates, assumed)
    return Table(file, columns, places, cells, own, tuple(assumed), ".", checked, order)


def _filled(cells: list[str]) -> int:
    """How many cells there are up to the last that is not empty."""
    return next((len(cells) - i for i, cell in enumerate(reversed(cells)) if cell.strip()), 0)


def _check_header(
    columns: tuple[str, ...],
    known: Collection[str],
    required: Collection[str | tuple[str, ...]],
    file: str,
    line: int | None,
    found: list[Problem],
) -> tuple[frozenset[str], list[str]]:
    """Note what is wrong with a header; return the columns without empty cells, and what was assumed."""
    for name, count in Counter(columns).items():
        if not name:
            found.append(Problem("A column has no name. Name it, or delete it.", file, line))
        elif count > 1:
            found.append(Problem(f"The column stands {count} times. Keep one.", file, line, name))
    own = [name for name in columns if name and name not in known][:MOST_LOOKED_AT]
    names = set(columns)
    absent = [name for name in known if name not in names]
    needed = []
    for entry in required:
        choices = (entry,) if isinstance(entry, str) else entry
        there = [name for name in choices if name in columns]
        if len(there) == 1:
            needed.append(there[0])
        elif there:
            found.append(Problem(f"{' and '.join(there)} say the same thing. Keep one of them.", file, line))
        else:
            pairs = ((name, near(name, choices, 0.5)) for name in own)
            hint = next((f' Is "{_clipped(name)}" meant to be {meant}?' for name, meant in pairs if meant), "")
            message = f"The column {' or '.join(choices)} is missing.{hint} Columns found: {_list(columns)}."
            found.append(Problem(message, file, line))
    assumed = []
    for name in own:
        meant = near(name, absent, 0.8)
        if meant:
            shown = _clipped(name)
            assumed.append(f'Column "{shown}" was kept as your own, unused. If {meant} was meant, rename it.')
    return frozenset(needed), assumed


def _clipped(name: str) -> str:
    return name if len(name) <= 40 else name[:37] + "..."


def _list(columns: Sequence[str]) -> str:
    shown = [_clipped(name) or "(no name)" for name in columns[:12]]
    return ", ".join(shown) + (" ..." if len(columns) > 12 else "")


def _columns(
    records: list[tuple[int, list[str]]],
    columns: tuple[str, ...],
    width: int,
    separator: str,
    file: str,
    found: list[Problem],
) -> tuple[list[int], dict[str, list[str]]]:
    """Lines and stripped cells of the records that fit the header, column by column; the others are problems."""
    fits = {len(columns), width}  # beyond the columns all cells are empty
    rows = []
    for record in records:
        if len(record[1]) in fits:
            rows.append(record)
        elif enough(found, file):
            break
        else:
            found.append(Problem(_misfit(list(map(str.strip, record[1])), columns, separator), file, record[0]))
    count = len(columns)
    whole = itertools.chain.from_iterable(cells[:count] for _, cells in rows)
    stripped = list(map(str.strip, whole))
    cells = {name: stripped[k::count] for k, name in enumerate(columns)}
    again = _header_again(cells, columns)
    if again:
        message = "The header stands a second time here. Delete this row."
        found.extend(Problem(message, file, rows[i][0]) for i in sorted(again)[:MOST_PROBLEMS])
        kept = [i not in again for i in range(len(rows))]
        rows = list(itertools.compress(rows, kept))
        cells = {name: list(itertools.compress(each, kept)) for name, each in cells.items()}
    return [line for line, _ in rows], cells


def _header_again(cells: dict[str, list[str]], columns: tuple[str, ...]) -> set[int]:
    """Rows that repeat the header."""
    first = cells[columns[0]]
    like = {text for text in set(first) if text[:1].lower() == columns[0][:1] and normalised(text) == columns[0]}
    if not like:
        return set()
    return {
        i
        for i, text in enumerate(first)
        if text in like and all(normalised(cells[name][i]) == name for name in columns)
    }


def _misfit(cells: list[str], columns: tuple[str, ...], separator: str) -> str:
    """Why a row with more or fewer cells than the header may have them."""
    there = "is 1 cell" if len(cells) == 1 else f"are {len(cells)} cells"
    counts = f"There {there} in this row and {len(columns)} in the header"
    if len(cells) < len(columns):
        return f"{counts}. Write every cell, empty ones too."
    if not any(cells[len(columns) :]):
        return f"{counts}: separators at the end. Delete them, or the values would stand in wrong columns."
    # a decimal comma splits a number in two: most likely one in a column whose unit has fractions
    halves = [
        (column, left, right)
        for column, (left, right) in zip(columns, itertools.pairwise(cells), strict=False)
        if left.isdigit() and right.isdigit() and len(left + right) < 20 and column.endswith(_FRACTIONAL)
    ]
    if separator == "," and halves:
        _, left, right = halves[0]
        return (
            f"{counts}. If {left},{right} is a number with a decimal comma, write {left}.{right}, "
            f'or "{left},{right}" in quotes in every row.'
        )
    return f'{counts}. Put text that holds "{separator}" in quotes.'


def _doubtful_remarks(remarks: list[tuple[int, str]], separator: str, width: int, least: int) -> Iterator[str]:
    """A sentence for each comment that looks like a row someone meant to be read."""
    for line, remark in remarks:
        try:
            cells = next(csv.reader([remark], delimiter=separator), [])
        except csv.Error:
            continue  # a cell too long for a table: certainly a comment
        if len(cells) == width and sum(map(bool, cells)) >= least:
            yield f"Line {line} starts with # and was passed over as a comment, though it has a row's cells."


def number_signs(columns: Iterable[list[str]], separator: str, assumed: list[str]) -> tuple[str, bool, bool]:
    """What the numbers of a file tell of their signs."""
    # every number on a line of its own, so that one search looks at all
    text = "\n".join("\n".join(cells) for cells in columns).replace(";", "\n")
    if separator == "," and "," not in text:
        return ".", False, False
    commas, points = _COMMA_DECIMAL(text) is not None, _POINT_DECIMAL(text) is not None
    lone = [found[0] for found in _LONE_GROUPS(text) if "," in found[0] or separator != ","]
    decimal = "," if commas and not points else "."
    if separator != "," or decimal == ",":
        name = {";": '";"', "\t": "tabs", ",": '","'}[separator]
        assumed.append(f'Read with {name} between cells and "{decimal}" as decimal sign.')
    grouped = bool(lone) and commas != points
    if grouped and any(decimal not in each for each in lone):
        sign = "," if decimal == "." else "."
        assumed.append(
            f"Read numbers such as 1{sign}234 as thousands: the other numbers show which sign is the decimal one."
        )
    return decimal, grouped, bool(lone) and not commas and not points and separator != ","


def _date_order(columns: Iterable[list[str]], assumed: list[str]) -> str:
    """Whether days or months come first in dates such as 3/14/2026, as far as the file itself tells."""
    orders = set()
    for cell in {cell for cells in columns for cell in cells}:
        found = LOCAL_DATE(cell)
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


def _cell_text(value: Any) -> str:
    """A DataFrame's value as the text a file would hold."""
    if isinstance(value, str):
        return composed(value.strip())
    kind = type(value).__name__
    if value is None or kind in ("NAType", "NaTType"):
        return ""
    if kind in ("bool_", "bool"):
        return "yes" if value else "no"
    if isinstance(value, (list, tuple)) or getattr(value, "ndim", 0):
        return ";".join(map(_cell_text, value))
    if hasattr(value, "isoformat"):
        return value.isoformat()[:10]
    if hasattr(value, "__float__"):
        try:
            number = float(value)
        except (OverflowError, TypeError, ValueError):
            return str(value).strip()
        if number != number:
            return ""
        return str(int(number)) if number.is_integer() and abs(number) < 1e15 else repr(number)
    return str(value).strip()
