"""Adds rows to a file in its own form, marks the last one unused, and repairs a line that was cut short.

The log of catches, what was planted and the field checks are kept by the same code; `Kind` says how they differ.
"""

import csv
import io
import os
from collections.abc import Callable, Mapping, Sequence

from predictor.errors import InputError, Problem, Problems
from predictor.files.columns import NO
from predictor.files.form import Form, Kind, Value, form_of, harmless
from predictor.files.split import split
from predictor.files.table import table_of
from predictor.files.text import decode, encoding_of, read_bytes
from predictor.files.write import begin_file, update
from predictor.numbers import quoted


def begin_log(kind: Kind, path: str | os.PathLike[str]) -> bool:
    """Begin a file where there is no file or an empty one; return whether there was no file."""
    header = _header(kind)
    if begin_file(path, header):
        return True
    # under the lock, so that what another writer added meanwhile stays
    update(path, lambda data: header if header.startswith(data) or not data.strip() else data)
    return False


def _header(kind: Kind) -> bytes:
    """The header of a new file. A power failure may leave only its beginning: such a file can be begun."""
    return f"{kind.new_header}\n".encode()


def add_row(kind: Kind, path: str | os.PathLike[str], values: Mapping[str, Value]) -> int:
    """Add a row to a file and return its number. The row is flushed to disk before this returns."""
    file, line = os.fspath(path), 0

    def change(data: bytes) -> bytes:
        nonlocal line
        form = form_of(data, file, kind)
        missing = form.lacks(values)
        if missing:
            form = form_of(form.with_columns(missing), file, kind)
        line = len(form.records.ends) + 1
        cells = form.cells(values)
        row = form.line(cells)
        _check_row(form, cells, row, file)
        added = ("" if form.ended else form.newline) + row
        return form.encode(form.text + added) if missing else data + added.encode(form.encoding)

    update(path, change)
    return line


def _check_row(form: Form, cells: list[str], row: str, file: str) -> None:
    """Refuse a row that would not be read back as it was meant."""
    start, end = form.spans[0]
    text = form.text[start:end].rstrip("\r\n") + form.newline + row
    problems: Sequence[Problem] = ()
    if cells[0].lstrip().startswith("#"):
        message = "A row that begins with # is read as a comment. Write its first cell in another way."
        problems = [Problem(message, file, 2)]
    else:
        try:
            form.kind.check(table_of(text, file, form.kind.header))
        except InputError as error:
            problems = error.problems
    mine = [each for each in problems if each.line != 1]
    if mine:
        raise InputError(Problem(f"Nothing was saved. {each.message}", file, None, each.column) for each in mine)


def check_log(kind: Kind, path: str | os.PathLike[str]) -> None:
    """Refuse a file that no row can be added to; one that is not there, or empty, can be begun."""
    file, data = read_bytes(path) if os.path.exists(path) else ("", b"")
    if data.strip() and not _header(kind).startswith(data):
        form_of(data, file, kind)


def only_begun(kind: Kind, path: str | os.PathLike[str]) -> bool:
    """Whether a file has a header at most, and no row yet."""
    try:
        file, data = read_bytes(path)
        if _header(kind).startswith(data):
            return True
        problems = Problems(file)
        records = split(decode(data, file), kind.header.known, problems)
    except InputError:
        return False
    whole = not kind.header.missing(records.of_header())
    return len(records) < 2 and not problems.found and (whole or not data.strip())


def undo_last(kind: Kind, path: str | os.PathLike[str], box: str | None = None) -> tuple[int, dict[str, str]]:
    """Mark the last row in use as unused; it stays in the file."""
    file = os.fspath(path)
    found: tuple[int, dict[str, str]] = (0, {})

    def change(data: bytes) -> bytes:
        nonlocal found
        form = form_of(data, file, kind)
        missing = [name for name in ("use", "note") if name not in form.columns]
        if missing:
            form = form_of(form.with_columns(missing), file, kind)
        use, note = form.columns.index("use"), form.columns.index("note")
        records = form.records
        for line, (start, end), cells in reversed(list(zip(records.rows, form.spans, records.cells, strict=True))[1:]):
            row = dict(zip(form.columns, cells, strict=False))
            if len(row) < len(form.columns) or row["use"].lower() in NO:
                continue
            if box is None or row["box"].lower() == box.lower():
                found = line, row
                new = list(map(harmless, cells))
                new[use], new[note] = "no", harmless("; ".join(filter(None, (row["note"], "undone"))))
                return form.encode(form.text[:start] + form.line(new) + form.text[end:])
        what = f"No {kind.entry}" if box is None else f"No {kind.entry} of box {quoted(box)}"
        raise InputError([Problem(f"{what} is in use, so there is nothing to undo.", file)])

    update(path, change)
    return found


def confirm(kind: Kind, path: str | os.PathLike[str], lines: Sequence[int]) -> list[dict[str, str]]:
    """Note in rows, by their lines, that someone looked at them again and stands by them; return the rows."""
    return _mark(kind, path, lines, "confirm", lambda row: {"confirmed": "yes"})


def leave_out(kind: Kind, path: str | os.PathLike[str], lines: Sequence[int], note: str) -> list[dict[str, str]]:
    """Mark rows, by their lines, as unused, with a note that says why; return the rows as they were."""
    return _mark(
        kind, path, lines, "leave out", lambda row: {"use": "no", "note": "; ".join(filter(None, (row["note"], note)))}
    )


def _mark(
    kind: Kind,
    path: str | os.PathLike[str],
    lines: Sequence[int],
    what: str,
    marks: Callable[[dict[str, str]], dict[str, str]],
) -> list[dict[str, str]]:
    """Change cells of rows, by their lines; everything else stays as it was. Return the rows as they were."""
    file = os.fspath(path)
    found: list[dict[str, str]] = []

    def change(data: bytes) -> bytes:
        nonlocal found
        form = form_of(data, file, kind)
        missing = [name for name in ("confirmed", "use", "note") if name not in form.columns]
        if missing:
            form = form_of(form.with_columns(missing), file, kind)
        rows = {
            line: (span, dict(zip(form.columns, cells, strict=True)))
            for line, span, cells in list(zip(form.records.rows, form.spans, form.records.cells, strict=True))[1:]
            if len(cells) == len(form.columns)
        }
        wrong = [each for each in dict.fromkeys(lines) if each not in rows]
        if wrong:
            message = f"There is no {kind.entry} in this line, so there is nothing to {what}. Look up the line again."
            raise InputError(Problem(message, file, each) for each in wrong)
        text, found = form.text, [rows[each][1] for each in lines]
        for line in sorted(set(lines), reverse=True):  # from the end, so that the places of the others stay
            (start, end), row = rows[line]
            new = [harmless(each) for each in (row | marks(row)).values()]
            text = text[:start] + form.line(new) + text[end:]
        return form.encode(text)

    update(path, change)
    return found


def cut_short(kind: Kind, path: str | os.PathLike[str]) -> tuple[int, str] | None:
    """Line and text of a last line that was cut short, as by a power failure; None where the file is whole."""
    _, data = read_bytes(path)
    mark, encoding = encoding_of(data)
    body = data[len(mark) :]
    lines = list(io.StringIO(body.decode(encoding, errors="replace"), newline=""))
    half = encoding != "utf-8" and len(body) % 2 == 1
    if len(lines) < 2 or (lines[-1].endswith(("\n", "\r")) and not half):
        return None
    records = split("".join(lines[:-1]), kind.header.known, Problems(os.fspath(path)))
    if not records or not lines[-1].strip() or lines[-1].lstrip().startswith("#"):
        return None
    try:
        cells = next(csv.reader([lines[-1]], delimiter=records.separator, strict=True, skipinitialspace=True))
    except csv.Error:
        cells = []
    return None if len(cells) >= len(records.cells[0]) else (len(lines), lines[-1])


def comment_out_last(path: str | os.PathLike[str]) -> None:
    """Turn a last line that was cut short into a comment, so that the rest can be read; nothing is deleted."""

    def change(data: bytes) -> bytes:
        mark, encoding = encoding_of(data)
        text = data[len(mark) :].decode(encoding, errors="replace")
        start = max(text.rfind("\n"), text.rfind("\r")) + 1
        # a quotation mark would go on hiding what follows
        last = text[start:].replace('"', "'")
        return mark + f"{text[:start]}# cut short: {last}\n".encode(encoding)

    update(path, change)
