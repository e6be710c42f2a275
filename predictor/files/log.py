"""Adds catches to trials.csv in the form the file has, marks the last one unused, mends a line cut short."""

from __future__ import annotations

import csv
import io
import itertools
import os
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

from predictor.errors import InputError, Problem
from predictor.files.cells import NO
from predictor.files.table import number_signs, table_of
from predictor.files.text import decode, is_blank, is_remark, normalised, read_bytes, split
from predictor.files.trials import COLUMNS, REQUIRED, WORDS, read_columns
from predictor.files.write import update
from predictor.numbers import quoted
from predictor.units import GRAMS

# Columns of a new file. The last is text: a number cut short could be taken for a smaller one.
HEADER = "date,season,box,lot,setting,turns,rows,catch_g,rows_g,tare_g,charged,fill_pct,use,operator,note"
_MARKS = ((b"\xef\xbb\xbf", "utf-8"), (b"\xff\xfe", "utf-16-le"), (b"\xfe\xff", "utf-16-be"))
_LEVER_READING = re.compile(r"-[0-9]+(?:\.[0-9]+)?").fullmatch
_WEIGHTS = ("catch_g", "rows_g", "tare_g")


@dataclass(frozen=True)
class _Form:
    """How a file is written."""

    mark: bytes  # Byte order mark
    encoding: str
    separator: str
    decimal: str
    newline: str
    columns: tuple[str, ...]  # Normalised names
    records: tuple[_Record, ...]  # The header first
    rows: int  # Rows of the file as a spreadsheet counts them, comments and blank ones too
    text: str

    def encode(self, text: str) -> bytes:
        """Text as the file's bytes."""
        return self.mark + text.encode(self.encoding)

    def line(self, cells: list[str]) -> str:
        """A record with its line end; the last cell in quotes, so that one cut short cannot be taken for whole."""
        out = io.StringIO()
        csv.writer(out, delimiter=self.separator, lineterminator="").writerow(cells[:-1])
        last = cells[-1].replace('"', '""')
        return f'{out.getvalue()}{self.separator}"{last}"{self.newline}'

    @property
    def ended(self) -> bool:
        """Whether the last line has its line end."""
        return self.text.endswith(("\n", "\r"))


class _Record(NamedTuple):
    """Where a record stands in the text, the end of its last line included; its row; and its cells."""

    start: int
    end: int
    row: int
    cells: list[str]


def new_log(path: str | os.PathLike[str]) -> bool:
    """Begin a trials file where there is none; whether there was none."""
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666)
    except FileExistsError:
        return False
    with os.fdopen(handle, "w", encoding="utf-8", newline="") as stream:
        stream.write(HEADER + "\n")
        stream.flush()
        os.fsync(stream.fileno())
    return True


def begin_empty(path: str | os.PathLike[str]) -> None:
    """Give a log with nothing in it its header, under the lock: what another writer added meanwhile stays."""
    update(path, lambda data: data if data.strip() else f"{HEADER}\n".encode())


def add_catch(path: str | os.PathLike[str], values: Mapping[str, str | float | tuple[float, ...]]) -> int:
    """Add a catch to a trials file, flushed to disk before this returns."""
    line = 0

    def change(data: bytes) -> bytes:
        nonlocal line
        form = _form(data, os.fspath(path))
        missing = [name for name, value in values.items() if value != "" and _place(form, name) is None]
        if missing:
            form = _form(_with_columns(form, missing), os.fspath(path))
        line = form.rows + 1
        cells = _cells(form, values)
        row = form.line(cells)
        _check_row(form, row, os.fspath(path))
        added = ("" if form.ended else form.newline) + row
        after = form.encode(form.text + added) if missing else data + added.encode(form.encoding)
        _check_file(form, cells, after, os.fspath(path))
        return after

    update(path, change)
    return line


def _check_row(form: _Form, row: str, file: str) -> None:
    """Refuse a row that would not be read again as it is meant: what is said to be saved must be there."""
    header = form.records[0]
    text = form.text[header.start : header.end].rstrip("\r\n") + form.newline + row
    problems: list[Problem] = []
    table = table_of(text, file, known=COLUMNS, required=REQUIRED, words=WORDS, problems=problems)
    read_columns(table, None, problems)
    if not len(table) and all(each.line is None for each in problems):
        message = "A row that begins with # is taken for a comment. Write its first cell in another way."
        problems = [Problem(message, file, 2)]
    mine = [each for each in problems if each.line != 1]
    if mine:
        raise InputError(Problem(f"Nothing was saved. {each.message}", file, None, each.column) for each in mine)


def _check_file(before: _Form, cells: list[str], after: bytes, file: str) -> None:
    """Refuse to write a file in which the rows there were, or the new one, would not stand as they should."""
    found = _form(after, file).records
    kept = [each.cells for each in found[:-1]] == [each.cells for each in before.records]
    if not kept or found[-1].cells != list(map(str.strip, cells)):
        message = (
            "Nothing was saved: the new row would not stand apart from the others. Save the log again as plain CSV."
        )
        raise InputError([Problem(message, file)])


def check_log(path: str | os.PathLike[str]) -> str:
    """The decimal sign of a log, which a catch could be added to."""
    file, data = read_bytes(path)
    return _form(data, file).decimal if data.strip() else "."


def only_begun(path: str | os.PathLike[str]) -> bool:
    """Whether a log has a header at most, and no row yet."""
    try:
        file, data = read_bytes(path)
        records, _, _ = split(decode(data, file), file, COLUMNS, problems := [])
    except InputError:
        return False
    columns = set(map(normalised, records[0][1])) if records else set()
    whole = all(columns & set((entry,) if isinstance(entry, str) else entry) for entry in REQUIRED)
    return len(records) < 2 and not problems and (whole or not data.strip())


def undo_last(
    path: str | os.PathLike[str], reason: str = "undone", box: str | None = None
) -> tuple[int, dict[str, str]]:
    """Mark the last catch in use as unused; it stays in the file."""
    found: tuple[int, dict[str, str]] = (0, {})

    def change(data: bytes) -> bytes:
        nonlocal found
        form = _form(data, os.fspath(path))
        missing = [name for name in ("use", "note") if name not in form.columns]
        if missing:
            form = _form(_with_columns(form, missing), os.fspath(path))
        use, note = form.columns.index("use"), form.columns.index("note")
        for record in reversed(form.records[1:]):
            if len(record.cells) < len(form.columns) or record.cells[use].lower() in NO:
                continue
            row = dict(zip(form.columns, record.cells, strict=False))
            if box is not None and row["box"].lower() != box.lower():
                continue
            found = record.row, row
            new = list(map(_harmless, record.cells))
            new[use] = "no"
            new[note] = _harmless("; ".join(filter(None, (row["note"], reason))))
            after = form.encode(form.text[: record.start] + form.line(new) + form.text[record.end :])
            if [each.row for each in _form(after, os.fspath(path)).records] != [each.row for each in form.records]:
                message = "Nothing was changed: its rows would not stand apart. Save the log again as plain CSV."
                raise InputError([Problem(message, os.fspath(path))])
            return after
        what = "No catch" if box is None else f"No catch of box {quoted(box)}"
        raise InputError([Problem(f"{what} is in use: there is nothing to undo.", os.fspath(path))])

    update(path, change)
    return found


def cut_short(path: str | os.PathLike[str]) -> tuple[int, str] | None:
    """Line and text of a last line that was cut short, as by a power failure; None where the file is whole."""
    data = Path(path).read_bytes()
    mark, encoding = _encoding(data)
    body = data[len(mark) :]
    text = body.decode(encoding, errors="replace")
    lines = list(io.StringIO(text, newline=""))
    if len(lines) < 2 or (lines[-1].endswith(("\n", "\r")) and not (mark and len(body) % 2 and mark != _MARKS[0][0])):
        return None
    records, separator, _ = split("".join(lines[:-1]), os.fspath(path), COLUMNS, [])
    if not records or not lines[-1].strip() or lines[-1].lstrip().startswith("#"):
        return None
    try:
        cells = next(csv.reader([lines[-1]], delimiter=separator, strict=True, skipinitialspace=True))
    except csv.Error:
        cells = []
    return None if len(cells) >= len(records[0][1]) else (len(lines), lines[-1])


def comment_out_last(path: str | os.PathLike[str]) -> None:
    """Turn a last line that was cut short into a comment, so that the rest can be read; nothing is deleted."""

    def change(data: bytes) -> bytes:
        mark, encoding = _encoding(data)
        text = data[len(mark) :].decode(encoding, errors="replace")
        start = max(text.rfind("\n"), text.rfind("\r")) + 1
        # a quotation mark would go on hiding what follows
        last = text[start:].replace('"', "'")
        return mark + f"{text[:start]}# cut short: {last}\n".encode(encoding)

    update(path, change)


def _encoding(data: bytes) -> tuple[bytes, str]:
    return next(((mark, name) for mark, name in _MARKS if data.startswith(mark)), (b"", "utf-8"))


def _form(data: bytes, file: str) -> _Form:
    """How a file is written; an InputError where header or last line cannot be read."""
    decode(data, file)  # says what is wrong with the bytes
    mark, encoding = _encoding(data)
    text = data[len(mark) :].decode(encoding)
    problems: list[Problem] = []
    found, separator, _ = split(text, file, COLUMNS, problems)
    if not found:
        message = f"There is no header. Write this line at its top: {HEADER}"
        raise InputError([*problems, Problem(message, file)])
    columns = tuple(map(normalised, found[0][1]))
    for entry in REQUIRED:
        choices = (entry,) if isinstance(entry, str) else entry
        if not set(choices) & set(columns):
            problems.append(Problem(f"The column {' or '.join(choices)} is missing.", file, found[0][0]))
    if not text.endswith(("\n", "\r")) and len(found) > 1 and len(found[-1][1]) < len(columns):
        problems.append(Problem("The last line was cut short.", file, found[-1][0]))
    if problems:
        raise InputError(problems)
    newline = next((sign for sign in ("\r\n", "\n", "\r") if sign in text), "\n")
    records, rows = _records(text, separator)
    if [(each.row, each.cells) for each in records] != [(row, list(map(str.strip, cells))) for row, cells in found]:
        message = "The program cannot tell where its rows stand. Save it again as plain CSV, and record again."
        raise InputError([Problem(message, file)])
    decimal = _decimal(records, columns, separator, file)
    return _Form(mark, encoding, separator, decimal, newline, columns, records, rows, text)


def _decimal(records: tuple[_Record, ...], columns: tuple[str, ...], separator: str, file: str) -> str:
    """Decimal sign of the file's numbers; where they tell nothing, the one that goes with the separator."""
    rows = [each.cells for each in records if len(each.cells) == len(columns)][1:]
    numbers = [[cells[k] for cells in rows] for k, name in enumerate(columns) if name in COLUMNS and name not in WORDS]
    decimal, _, undecided = number_signs(numbers, separator, [])
    if undecided:  # whatever sign is written next would settle it for them
        message = (
            "A number of the log can be read in two ways: mend it first (recommend says which), then record again."
        )
        raise InputError([Problem(f"Nothing was saved. {message}", file)])
    points = any("." in cell for cells in numbers for cell in cells)
    return "," if separator == ";" and not points else decimal


def _records(text: str, separator: str) -> tuple[tuple[_Record, ...], int]:
    """Every record, and how many rows there are; comments and blank lines stand between records."""
    lines = list(io.StringIO(text, newline=""))
    starts = list(itertools.accumulate(map(len, lines), initial=0))
    found: list[_Record] = []
    at = rows = 0

    def feed() -> Iterator[str]:
        nonlocal at
        while at < len(lines):  # pragma: no branch (what has no end was refused before)
            at += 1
            yield lines[at - 1]

    while at < len(lines):
        rows += 1
        if is_remark(lines[at], separator, rows):
            at += 1
            continue
        first = at
        cells = next(csv.reader(feed(), delimiter=separator, strict=True, skipinitialspace=True))
        if is_blank(cells) or cells[0].lstrip()[:1] == "#":
            continue
        found.append(_Record(starts[first], starts[at], rows, [cell.strip() for cell in cells]))
    return tuple(found), rows


def _place(form: _Form, name: str) -> tuple[int, float] | None:
    """Where a value goes, and the grams in the unit of a weight's column; None where there is no such column."""
    if name not in _WEIGHTS:
        return (form.columns.index(name), 1.0) if name in form.columns else None
    stem = name.removesuffix("_g")
    for unit in ("g", "oz", "lb", "kg"):
        if f"{stem}_{unit}" in form.columns:
            return form.columns.index(f"{stem}_{unit}"), GRAMS[unit]
    return None


def _cells(form: _Form, values: Mapping[str, str | float | tuple[float, ...]]) -> list[str]:
    """The cells of a new record; the user's own columns stay empty."""
    cells = [""] * len(form.columns)
    for name, value in values.items():
        place = _place(form, name)
        if place is None:
            continue
        index, factor = place
        if isinstance(value, tuple):
            cells[index] = ";".join(_number(each / factor, form) for each in value)
        else:
            cells[index] = _number(value / factor, form) if isinstance(value, float) else _harmless(value)
            if form.decimal == "," and name in _WEIGHTS and form.decimal not in cells[index]:
                cells[index] += ",0"  # else nothing in a file of whole numbers shows its decimal sign
    return cells


def _harmless(text: str) -> str:
    """Text that no spreadsheet takes for a formula: a blank before it, which readers strip."""
    if text[:1] not in ("=", "+", "-", "@") or _LEVER_READING(text):
        return text
    return f" {text}"


def _number(value: float, form: _Form) -> str:
    """A number to nine digits, as the file writes it, and in a way that cannot be taken for thousands."""
    text = f"{value:.9g}"
    if (form.separator != "," or form.decimal == ",") and len(text.partition(".")[2]) == 3:
        text += "0"
    return text.replace(".", form.decimal)


def _with_columns(form: _Form, names: list[str]) -> bytes:
    """The file with further columns, empty so far; everything else as it was."""
    header = form.records[0].cells
    named = max(k for k, cell in enumerate(header, 1) if cell)  # those behind have no name and nothing in them
    width = max(len(header), named + len(names))
    parts, at = [], 0
    for k, record in enumerate(form.records):
        body = form.text[record.start : record.end].rstrip("\r\n")
        new = body
        if k == 0 and named == len(header):
            new = form.separator.join([body, *names])
        elif k == 0:
            out = io.StringIO()
            csv.writer(out, delimiter=form.separator, lineterminator="").writerow(
                [*header[:named], *names, *[""] * (width - named - len(names))]
            )
            new = out.getvalue()
        elif len(record.cells) in (named, len(header)):  # else not a record of this table; the reader names it
            new = body + form.separator * (width - len(record.cells))
        parts += [form.text[at : record.start], new]
        parts.append(form.text[record.start + len(body) : record.end])
        at = record.end
    parts.append(form.text[at:])
    return form.encode("".join(parts))
