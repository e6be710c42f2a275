"""Finds a last row that was cut short, as by a power failure, and turns it into a comment."""

from __future__ import annotations

import csv
import os
from dataclasses import dataclass, replace

from predictor.errors import InputError, Problem, Problems
from predictor.files.cells import Rows
from predictor.files.form import Kind, newline_of
from predictor.files.split import CUT_SHORT, Records, ends_whole, lines_of, split
from predictor.files.table import like_row
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
    known, (text, torn) = kind.header.known, _decoded(data)
    if text is None or (not torn and ends_whole(as_read(text), known)):
        return None
    problems = Problems("")
    records = split(as_read(text), known, problems)
    last = len(records.ends)
    count = len(records) - (records.rows[-1:] == [last])
    earlier = replace(records, rows=records.rows[:count], cells=Rows(records.cells[:count]))
    if not earlier or any(each.line != last for each in problems.found):
        return None  # without a header, or with an earlier row that must be corrected first
    start = records.start_of_last()
    broken = torn or records.unclosed or _is_short(kind, records, earlier)
    if not broken or (records.unclosed and _swallows(kind, earlier, text[start:])):
        return None
    return _Cut(last, start, text, newline_of(earlier))


def _decoded(data: bytes) -> tuple[str | None, bool]:
    """The text of a file, and whether its last bytes were never written; None where it cannot be read otherwise."""
    mark, encoding = encoding_of(data)
    body, rest = data[len(mark) :], ""
    end, wide = len(body.rstrip(b"\0")), encoding != "utf-8"
    end += wide and end % 2 and end < len(body)  # half of a letter may be a zero
    # zeros stand for what a disk was to hold and does not
    torn = end < len(body) or (wide and len(body) % 2 == 1)
    try:
        text = body[:end].decode(encoding)
    except UnicodeDecodeError as error:
        at_end = error.reason in ("unexpected end of data", "truncated data") or (torn and end - error.start <= 4)
        if not at_end:
            return None, False
        text, rest = body[: error.start].decode(encoding), _TORN
    return (None, False) if "\0" in text else (text + (_TORN if torn else rest), torn)


def _is_short(kind: Kind, records: Records, earlier: Records) -> bool:
    """Whether the last row has no line end and too few cells, or ends before one that a row must have."""
    if records.text.endswith(("\n", "\r")) or len(records) == len(earlier):
        return False
    cells, widths, columns = records.cells[-1], earlier.widths(), earlier.of_header()
    if len(cells) not in widths:
        return len(cells) < max(widths)
    needed = (columns.index(name) for choices in kind.header.required for name in choices if name in columns)
    return not any(map(str.strip, cells[max(needed) :]))


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
