"""Adds rows to a file in its own form, once where they have an id, and marks rows as unused or confirmed.

The log of catches, what was planted and the field checks are kept by the same code; `Kind` says how they differ.
"""

import os
import re
from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING

from predictor.errors import InputError, Problem, Problems, Unsure
from predictor.files.columns import NO
from predictor.files.form import Form, Kind, Value, form_of, harmless
from predictor.files.new_row import line_of, row_of, widened
from predictor.files.split import Records, split
from predictor.files.text import decode, encoding_of, read_bytes
from predictor.files.write import begin_file, update
from predictor.numbers import quoted

if TYPE_CHECKING:
    from predictor.files.kept import KeptLog

_Found = tuple[int, dict[str, str]]  # The number of a row, and its cells by their columns
# Of 16 random bytes, made where the entry was typed.
_IS_ID = re.compile("[0-9a-f]{32}").fullmatch
# Bytes in which the first row is looked for: few, since a log is read anyway after this.
_HEAD = 10_000


def begin_log(kind: Kind, path: str | os.PathLike[str]) -> bool:
    """Begin a file where there is no file or an empty one; return whether there was no file."""
    header = _header(kind)
    if begin_file(path, header):
        return True
    # under the lock, so that what another writer added meanwhile stays
    update(path, lambda data: header if _is_begun(header, data) or not data or data.isspace() else data)
    return False


def _is_begun(header: bytes, data: bytes) -> bool:
    """Whether a file holds what a power failure may leave of a new one: its beginning, with zeros for what is lost."""
    return len(data) <= len(header) and all(byte in (0, meant) for byte, meant in zip(data, header, strict=False))


def _header(kind: Kind) -> bytes:
    """The header of a new file."""
    return f"{kind.new_header}\n".encode()


def add_row(
    kind: Kind, path: str | os.PathLike[str], values: Mapping[str, Value], kept: "KeptLog | None" = None
) -> int:
    """Add a row to a file and return its number. The row is flushed to disk before this returns.

    What was `kept` of the file when it was read is not worked out again if the file is still the same.
    """
    return _add(kind, path, values, kept, "")[0]


def add_once(
    kind: Kind, path: str | os.PathLike[str], values: Mapping[str, Value], kept: "KeptLog | None" = None
) -> tuple[int, bool]:
    """Add a row with an id in its column `entry`, unless a row has this id; return its number and whether it was added.

    The row is flushed to disk before this returns, also one that was there: who wrote it may have been killed before.
    """
    return _add(kind, path, values, kept, _id(values.get("entry", "")))


def _add(
    kind: Kind, path: str | os.PathLike[str], values: Mapping[str, Value], kept: "KeptLog | None", entry: str
) -> tuple[int, bool]:
    """Add a row, unless one has the id given; return the number of the row and whether it was added."""
    file, line = os.fspath(path), 0

    def change(data: bytes) -> bytes:
        nonlocal line
        old = form_of(data, file, kind, None if kept is None else kept.records_of(data))
        form = widened(old, old.lacks(values), file)
        if kept is not None and form is not old:
            kept.widened(data, form.encode(form.text), form.records)
        line = len(form.records.ends) + 1
        added = ("" if form.ended else form.newline) + row_of(form, values, file)
        return data + added.encode(form.encoding) if form is old else form.encode(form.text + added)

    found = _unless_there(kind, file, entry, change)
    return (line, True) if found is None else (found[0], False)


def row_of_entry(kind: Kind, path: str | os.PathLike[str], entry: str) -> tuple[int, dict[str, str]] | None:
    """The number of the row with an id, and its cells by their columns; None where there is none.

    A row that is found is flushed to disk before this returns, so that it can be answered as saved.
    """
    if not os.path.exists(path) or not _may_hold(read_bytes(path)[1], _id(entry)):
        return None
    return _unless_there(kind, os.fspath(path), entry, lambda data: data)


def _id(entry: Value) -> str:
    """An id of an entry as it was given; raises an InputError for what is none."""
    if isinstance(entry, str) and _IS_ID(entry):
        return entry
    raise InputError("Nothing was saved. An entry needs an id of 32 letters 0 to 9 and a to f. Load the page again.")


def _unless_there(kind: Kind, file: str, entry: str, change: Callable[[bytes], bytes]) -> _Found | None:
    """Change a file unless a row of it has the id given; return this row, which is then on disk."""
    found: _Found | None = None

    def unless(data: bytes) -> bytes:
        nonlocal found
        found = _row_with(kind, data, file, entry)
        return change(data) if found is None else data

    try:
        update(file, unless, settles=bool(entry))
    except OSError as error:
        if found is None or isinstance(error, Unsure):
            raise
        raise Unsure(error, found[0]) from error  # the row is there, and may not be on disk
    return found


def _may_hold(data: bytes, entry: str) -> bool:
    """Whether an id is anywhere in a file; quick for a large one."""
    return bool(entry) and entry.encode(encoding_of(data)[1]) in data


def _row_with(kind: Kind, data: bytes, file: str, entry: str) -> _Found | None:
    """The row with an id; what is wrong elsewhere in the file does not matter."""
    if not _may_hold(data, entry):
        return None
    records = split(decode(data, file), kind.header.known, Problems(file))
    k = _record_with(records, entry)
    if k is None:
        return None
    return records.rows[k], dict(zip(records.of_header(), map(str.strip, records.cells[k]), strict=False))


def _record_with(records: Records, entry: str) -> int | None:
    """The first record with an id, as a spreadsheet may have copied it; None where there is none that is whole."""
    columns = records.of_header() if records else ()
    if "entry" not in columns:
        return None
    place, widths = columns.index("entry"), records.widths()
    rows = ((k, cells) for k, cells in enumerate(records.cells) if k and len(cells) in widths)
    return next((k for k, cells in rows if cells[place].strip() == entry), None)


def check_log(kind: Kind, path: str | os.PathLike[str]) -> None:
    """Refuse a file that no row can be added to; one that is not there, or empty, can be begun."""
    file, data = read_bytes(path) if os.path.exists(path) else ("", b"")
    if data.strip() and not _is_begun(_header(kind), data):
        form_of(data, file, kind)


def only_begun(kind: Kind, path: str | os.PathLike[str]) -> bool:
    """Whether a file has a header at most, and no row yet."""
    try:
        file, data = read_bytes(path, first=_HEAD)
        if len(data) >= _HEAD:
            lines = data[: data.rfind(b"\n") + 1] if encoding_of(data)[1] == "utf-8" else b""
            if len(_first_two(kind, lines, Problems(file))) == 2:
                return False
            file, data = read_bytes(path)
        if _is_begun(_header(kind), data):
            return True
        problems = Problems(file)
        records = _first_two(kind, data, problems)
    except InputError:
        return False
    whole = not kind.header.missing(records.of_header())
    return len(records) < 2 and not problems.found and whole


def _first_two(kind: Kind, data: bytes, problems: Problems) -> Records:
    """The header and the first row of a file."""
    return split(decode(data, problems.file), kind.header.known, problems, most=2)


def undo_last(kind: Kind, path: str | os.PathLike[str], box: str | None = None) -> tuple[int, dict[str, str]]:
    """Mark the last row in use as unused; it stays in the file."""

    def last(form: Form) -> list[int]:
        for k in reversed(range(1, len(form.records))):
            row = _row(form, k)
            if row and not _is_unused(row) and (box is None or row["box"].lower() == box.lower()):
                return [k]
        what = f"No {kind.entry}" if box is None else f"No {kind.entry} of box {quoted(box)}"
        raise InputError([Problem(f"{what} is in use, so there is nothing to undo.", os.fspath(path))])

    return _mark(kind, path, ("use", "note"), last, lambda row: _unused(row, "undone"))[0]


def undo_entry(kind: Kind, path: str | os.PathLike[str], entry: str) -> tuple[int, dict[str, str]]:
    """Mark the row with an id as unused, unless it is already; return its number and what it was."""
    _id(entry)

    def mine(form: Form) -> list[int]:
        k = _record_with(form.records, entry)
        if k is None:
            message = f"This {kind.entry} is not in the file, so there is nothing to undo."
            raise InputError([Problem(message, os.fspath(path))])
        return [k]

    def marks(row: Mapping[str, str]) -> dict[str, str]:
        return {} if _is_unused(row) else _unused(row, "undone")

    return _mark(kind, path, ("use", "note"), mine, marks)[0]


def confirm(kind: Kind, path: str | os.PathLike[str], lines: Sequence[int]) -> list[dict[str, str]]:
    """Note in rows, by their lines, that someone looked at them again and stands by them; return the rows."""
    chosen = _these(kind, path, lines, "confirm")
    return [row for _, row in _mark(kind, path, ("confirmed",), chosen, lambda row: {"confirmed": "yes"})]


def leave_out(kind: Kind, path: str | os.PathLike[str], lines: Sequence[int], note: str) -> list[dict[str, str]]:
    """Mark rows, by their lines, as unused, with a note that says why; return the rows as they were."""
    chosen = _these(kind, path, lines, "leave out")
    return [row for _, row in _mark(kind, path, ("use", "note"), chosen, lambda row: _unused(row, note))]


def _unused(row: Mapping[str, str], why: str) -> dict[str, str]:
    """The cells that mark a row as unused, its own note kept; nothing where it is so already, for the same reason."""
    if _is_unused(row) and row["note"].endswith(why):
        return {}
    return {"use": "no", "note": "; ".join(filter(None, (row["note"], why)))}


def _is_unused(row: Mapping[str, str]) -> bool:
    """Whether a row is marked as unused."""
    return row["use"].lower() in NO


def _row(form: Form, k: int) -> dict[str, str]:
    """The cells of a record by their columns; empty where the record does not fit the header."""
    cells = form.cells_of[k]
    if len(cells) not in form.widths:
        return {}
    return dict.fromkeys(form.columns, "") | dict(zip(form.columns, map(str.strip, cells), strict=False))


def _these(
    kind: Kind, path: str | os.PathLike[str], lines: Sequence[int], what: str
) -> Callable[[Form], Sequence[int]]:
    """Finds records by their lines; refuses lines in which there is none."""

    def found(form: Form) -> Sequence[int]:
        places = {line: k for k, line in enumerate(form.records.rows) if k}
        wrong = [each for each in dict.fromkeys(lines) if not (each in places and _row(form, places[each]))]
        if wrong:
            message = f"There is no {kind.entry} in this line, so there is nothing to {what}. Look up the line again."
            raise InputError(Problem(message, os.fspath(path), each) for each in wrong)
        return [places[each] for each in lines]

    return found


def _mark(
    kind: Kind,
    path: str | os.PathLike[str],
    needed: Sequence[str],
    choose: Callable[[Form], Sequence[int]],
    marks: Callable[[dict[str, str]], dict[str, str]],
) -> list[tuple[int, dict[str, str]]]:
    """Change cells of records; everything else stays as it was. Return the rows as they were, each with its line."""
    file = os.fspath(path)
    found: list[tuple[int, dict[str, str]]] = []

    def change(data: bytes) -> bytes:
        nonlocal found
        old = form_of(data, file, kind)
        form = widened(old, [name for name in needed if name not in old.columns], file)
        chosen, text = choose(form), form.text
        found = [(form.records.rows[k], _row(form, k)) for k in chosen]
        new = {k: marks(_row(form, k)) for k in chosen}
        for k in sorted(filter(new.get, new), reverse=True):  # from the end, so that the places of the others stay
            start, end = form.spans[k]
            cells = list(map(str.strip, form.cells_of[k]))
            cells += [""] * (len(form.columns) - len(cells))
            for name, cell in new[k].items():
                cells[form.columns.index(name)] = cell
            text = text[:start] + line_of(form, list(map(harmless, cells)), file) + text[end:]
        return form.encode(text)

    try:
        update(path, change, settles=True)
    except FileNotFoundError:
        if os.path.lexists(path):
            raise
        message = "There is no file of this name, so nothing was changed. Check the folder."
        raise InputError([Problem(message, file)]) from None
    return found
