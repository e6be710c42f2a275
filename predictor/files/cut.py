"""Finds a last row that was cut short, as by a power failure, and turns it into a comment."""

from __future__ import annotations

import csv
import itertools
import os
from dataclasses import dataclass, replace

from predictor.errors import InputError, Problem, Problems
from predictor.files.cells import Rows
from predictor.files.form import Kind, before_id, newline_of
from predictor.files.split import CUT_SHORT, Records, ends_whole, lines_of, split
from predictor.files.table import like_row, table_of
from predictor.files.text import as_read, decode, encoding_of, read_bytes
from predictor.files.write import update
from predictor.unseen import UNSEEN

# Stands for the bytes of a letter of which the rest is missing.
_TORN = "\ufffd"


@dataclass(frozen=True)
class _Cut:
    """A last row that was cut short."""

    row: int
    start: int  # Where it begins in the text
    text: str  # Of the whole file
    newline: str


def cut_short(kind: Kind, path: str | os.PathLike[str]) -> tuple[int, str] | None:
    """Row and text of a last row that was cut short; None where the file is whole, or something else is wrong."""
    found = _cut_of(kind, read_bytes(path)[1])
    return None if found is None else (found.row, found.text[found.start :])


def comment_out_last(kind: Kind, path: str | os.PathLike[str]) -> None:
    """Turn a last row that was cut short into comments, so that the rest can be read; no letter is deleted."""
    file = os.fspath(path)

    def change(data: bytes) -> bytes:
        cut = _cut_of(kind, data)
        if cut is None:  # someone has mended it meanwhile
            return data
        mark, encoding = encoding_of(data)
        kept, lines = cut.text[: cut.start], lines_of(cut.text[cut.start :])
        # a quotation mark would go on hiding what follows where a spreadsheet opens the file
        said = [UNSEEN.sub(_TORN, line.rstrip("\r\n")).replace('"', "'") for line in lines]
        after = f"{kept}{CUT_SHORT} {f'{cut.newline}# '.join(said)}{cut.newline}"
        if not _reads_as_before(kind, kept, after):
            message = "This row is incomplete and cannot be made a comment. Complete it or delete it, then try again."
            raise InputError([Problem(message, file, cut.row)])
        return mark + after.encode(encoding)

    update(path, change)


def _reads_as_before(kind: Kind, before: str, after: str) -> bool:
    """Whether a text is read without an error, and to the same rows as another one."""
    problems = Problems("")
    was, found = (split(as_read(each), kind.header.known, problems) for each in (before, after))
    same = (was.separator, was.rows, was.cells) == (found.separator, found.rows, found.cells)
    return same and not problems.found and decode(after.encode(), "") is not None


def _cut_of(kind: Kind, data: bytes) -> _Cut | None:
    """What was cut short. What a person has written in another way than the program does is never taken for that."""
    known, (text, torn, rest) = kind.header.known, _decoded(data)
    if text is None or (not torn and ends_whole(as_read(text), known)):
        return None
    problems = Problems("")
    records = split(as_read(text), known, problems)
    last = len(records.ends)
    count = len(records) - (records.rows[-1:] == [last])
    earlier = replace(records, rows=records.rows[:count], cells=Rows(records.cells[:count]))
    if not earlier or kind.header.missing(earlier.of_header()) or any(each.line != last for each in problems.found):
        return None  # without our header, or with an earlier row that must be corrected first
    start = records.start_of_last()
    broken = torn or records.unclosed or _is_short(kind, records, earlier)
    if not broken or (records.unclosed and _swallows(kind, earlier, text[start:])) or _holds_row(kind, earlier, rest):
        return None
    return _Cut(last, start, text + rest, newline_of(earlier))


def _decoded(data: bytes) -> tuple[str | None, bool, str]:
    """The text up to bytes that were never written, whether there are any, and the text behind the first of them.

    None where the text cannot be read for another reason.
    """
    mark, encoding = encoding_of(data)
    body, wide = data[len(mark) :], encoding != "utf-8"
    end = _first_zero(body, wide)
    # zeros stand for what a disk was to hold and does not
    torn = end < len(body) or (wide and len(body) % 2 == 1)
    rest = body[end:].decode(encoding, "replace").strip("\0").replace("\0", _TORN) if torn else ""
    short = ""
    try:
        text = body[:end].decode(encoding)
    except UnicodeDecodeError as error:
        at_end = error.reason in ("unexpected end of data", "truncated data") or (torn and end - error.start <= 4)
        if not at_end:
            return None, False, ""
        text, short = body[: error.start].decode(encoding), _TORN
    return text + (_TORN if torn else short), torn, rest


def _first_zero(body: bytes, wide: bool) -> int:
    """Where the first zero is, of two bytes in a `wide` encoding; the end where there is none."""
    if not wide:
        return len(body.partition(b"\0")[0])
    place = body.find(b"\0\0")
    while place >= 0 and place % 2:  # the end of a letter, and the beginning of the next
        place = body.find(b"\0\0", place + 1)
    return place if place >= 0 else len(body) - len(body) % 2


def _holds_row(kind: Kind, earlier: Records, rest: str) -> bool:
    """Whether a line is a whole row, behind bytes that were never written: then it was not the last one that broke."""
    columns, widths = earlier.of_header()[: earlier.width()], earlier.widths()
    for line in itertools.islice(lines_of(rest), 1, None):
        if line.count('"') % 2:  # a part of a cell
            continue
        try:  # by itself: nobody knows whether it is within quotes
            row = next(csv.reader([line], delimiter=earlier.separator, skipinitialspace=True), [])
        except csv.Error:
            continue
        if len(row) in widths and like_row(row, columns, kind.header, widths):
            return True
    return False


def _is_short(kind: Kind, records: Records, earlier: Records) -> bool:
    """Whether the last row has no line end and too few cells, or ends before one that a row must have."""
    if records.text.endswith(("\n", "\r")) or len(records) == len(earlier):
        return False
    cells, widths, columns = records.cells[-1], earlier.widths(), earlier.of_header()
    if len(cells) not in widths:
        return len(cells) < max(widths)
    if before_id(records.text, cells, columns):
        return True
    if _wrong_at_end(kind, records):
        return True
    needed = (columns.index(name) for choices in kind.header.required for name in choices if name in columns)
    return not any(map(str.strip, cells[max(needed) :]))


def _wrong_at_end(kind: Kind, records: Records) -> bool:
    """Whether the reader refuses the last cell that the program itself writes: it may be cut behind a quote in it."""
    (_, head), *_, (start, _) = records.spans()
    try:
        kind.check(table_of(records.text[:head] + records.text[start:], "", kind.header))
    except InputError as error:
        return any(each.column == kind.new_header.rpartition(",")[2] for each in error.problems)
    return False


def _swallows(kind: Kind, earlier: Records, text: str) -> bool:
    """Whether a quote that was never closed hides whole rows: then it was not the last one that broke."""
    sign = earlier.separator
    columns, widths = earlier.of_header()[: earlier.width()], earlier.widths()
    try:
        *_, hidden = next(csv.reader(lines_of(text), delimiter=sign, skipinitialspace=True))
        lines = hidden.splitlines()[1:]
        rows = list(csv.reader(lines, delimiter=sign, quoting=csv.QUOTE_NONE, skipinitialspace=True))
    except csv.Error:  # far more than a row
        return True
    return any(like_row(row, columns, kind.header, widths) for row in rows)
