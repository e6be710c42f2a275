"""From the bytes of a CSV file to numbered records: encodings, separators, comments and line ends."""

from __future__ import annotations

import csv
import io
import os
import re
import sys
import unicodedata
from collections.abc import Collection, Iterator
from functools import lru_cache
from pathlib import Path

from predictor.errors import InputError, Problem
from predictor.files.cells import enough

# A larger file is no table kept by hand; reading it would only fill the memory.
LARGEST_FILE = 200_000_000
# Different texts remembered while a file is read.
MOST_SHARED = 20_000

_BEYOND_ASCII = re.compile(r".?[^\x00-\x7f]+")
_NOT_IN_NAMES = re.compile(r"[^\w]+")
# Control characters could reach a terminal as commands; direction marks and characters without width can make
# a name look like another.
CONTROL = re.compile(
    r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\xad\u200b\u200e\u200f\u2028-\u202e\u2060\u2066-\u2069\ufeff]"
)

_CONTROL_BYTES = bytes(each for each in range(128) if CONTROL.match(chr(each)))
_QUOTE_IN_COMMENT = re.compile(r'(?:^|[\r\n])[^\S\r\n]*#[^\r\n]*"').search
# A first line by which spreadsheets tell the separator.
_SEPARATOR_LINE = re.compile(r"sep=[,;\t]\s*", re.IGNORECASE).fullmatch


@lru_cache(maxsize=1000)
def normalised(name: str) -> str:
    """A column's name as the program compares it: small letters, `_` between words."""
    return _NOT_IN_NAMES.sub("_", name.strip().lower()).strip("_")


def read_bytes(source: str | os.PathLike[str]) -> tuple[str, bytes]:
    """Name and content of a file, or of standard input for "-"."""
    if str(source) == "-":
        if sys.stdin is None:
            raise InputError([Problem("It is closed: nothing comes in. Name a file instead.", "standard input")])
        name, data = "standard input", sys.stdin.buffer.read(LARGEST_FILE + 1)
    else:
        path, given = Path(source), os.fspath(source)
        name = given if given.isprintable() else ascii(given)[1:-1]
        try:
            with path.open("rb") as stream:
                data = stream.read(LARGEST_FILE + 1)
        except FileNotFoundError:
            raise InputError([Problem(f"There is no such file.{_near_file(path)}", name)]) from None
        except IsADirectoryError:
            raise InputError([Problem("This is a folder. Name the file in it.", name)]) from None
        except PermissionError:
            # where folders cannot be opened at all the system says no more than this
            words = "This is a folder. Name the file in it." if path.is_dir() else "You may not read this file."
            raise InputError([Problem(words, name)]) from None
        except (OSError, ValueError) as error:
            reason = getattr(error, "strerror", None) or "its name is none a file can have"
            raise InputError([Problem(f"The file cannot be read: {reason}.", name)]) from None
    if len(data) > LARGEST_FILE:
        raise InputError([Problem("The file is larger than 200 MB: not a table kept by hand.", name)])
    return name, data


def _near_file(path: Path) -> str:
    """A question about the file that was probably meant."""
    import difflib  # only a missing file needs it

    try:
        names = [entry.name for entry in path.parent.iterdir() if entry.name.isprintable()]
    except OSError:
        folder = str(path.parent)
        return f" There is no folder {folder if folder.isprintable() else ascii(folder)[1:-1]} either."
    found = difflib.get_close_matches(path.name, names[:10_000], n=1, cutoff=0.6)
    return f" Did you mean {path.parent / found[0]}?" if found else " Check the name and the folder."


def decode(data: bytes, file: str) -> str:
    """Text of UTF-8 with or without a byte order mark, or of UTF-16 with one."""
    save = 'Save it again as text in the encoding "UTF-8".'
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        try:
            text = data.decode("utf-16")
        except UnicodeDecodeError:
            raise InputError([Problem(f"The file says it is UTF-16 text and is not. {save}", file)]) from None
        if "\x00" in text:
            raise InputError([Problem(f"The file holds zero characters: it is damaged. {save}", file)])
    else:
        if b"\x00" in data:
            halves = sorted((data[::2].count(0), data[1::2].count(0)))
            wide = halves[1] > len(data) // 4 and halves[0] * 4 < halves[1]
            what = "UTF-16 text without its mark" if wide else "it is damaged, or not text"
            place = _line_of(data, data.index(b"\x00"))
            raise InputError([Problem(f"The file holds zero bytes: {what}. {save}", file, place)])
        try:
            text = data.decode("utf-8-sig")
        except UnicodeDecodeError as error:
            place = _line_of(data, error.start)
            message = f"This line holds letters that are not in UTF-8. {save}"
            raise InputError([Problem(message, file, place)]) from None
    return composed(text)


def composed(text: str) -> str:
    """Text with its accented letters composed (NFC)."""
    if text.isascii():
        return text
    # in pieces: composing takes the square of a piece's length, and a long run of accents is no word anyway
    return _BEYOND_ASCII.sub(
        lambda piece: unicodedata.normalize("NFC", piece[0]) if len(piece[0]) <= 100 else piece[0], text
    )


def _line_of(data: bytes, position: int) -> int:
    """Line in which a byte stands; any line ends."""
    before = data[:position]
    return before.count(b"\n") + before.count(b"\r") - before.count(b"\r\n") + 1


class _Lines(Iterator[str]):
    """Physical lines for the CSV reader; comments and blank lines are taken out between records only."""

    def __init__(self, text: str, separator: str | None):
        self._lines, self._separator = iter(io.StringIO(text, newline="")), separator
        self.number, self.between = 0, True
        self.remarks: list[tuple[int, str]] = []

    def __next__(self) -> str:
        for line in self._lines:
            if not self.between:
                return line
            self.number += 1
            if is_remark(line, self._separator, self.number):
                self.remarks.append((self.number, line.strip().lstrip("# ")))
            elif line.strip().strip(",;"):
                self.between = False
                return line
        raise StopIteration


def split(
    text: str, file: str, known: Collection[str], found: list[Problem]
) -> tuple[list[tuple[int, list[str]]], str, list[tuple[int, str]]]:
    """Records with the row a spreadsheet would give them, the separator, and the comments."""
    head = next(_Lines(text, None), "")
    separator = max(",;\t", key=lambda sign: _fit(head, sign, known))
    read = _at_once(text, separator) or _line_by_line(text, separator, file, found)
    records, remarks = read
    if _holds_controls(text):
        records = _without_controls(records, file, found)
    return records, separator, remarks


_Records = list[tuple[int, list[str]]]
_Remarks = list[tuple[int, str]]


def _at_once(text: str, separator: str) -> tuple[_Records, _Remarks] | None:
    """All records in one pass, ten times quicker than line by line; None where only that tells what stands where.

    Every record is a row then, comments and blank lines too, unless a comment holds a quote, which would hide what
    follows it.
    """
    if "#" in text and _QUOTE_IN_COMMENT(text):
        return None
    records: _Records = []
    remarks: _Remarks = []
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True, skipinitialspace=True)
    seen: dict[str, str] = {}
    share = seen.setdefault
    try:
        for number, row in enumerate(reader, 1):
            # cells repeat from row to row: one text for all of them saves most of the memory, and its time
            cells = list(map(share, row, row))
            if len(seen) > MOST_SHARED:
                share = seen.get
            first = cells[0].lstrip() if cells else ""
            if first[:1] == "#":
                remarks.append((number, _remark(cells, separator)))
            elif number == 1 and is_remark(separator.join(cells), separator, number):
                remarks.append((number, first))
            elif first or not is_blank(cells):
                records.append((number, cells))
    except csv.Error:
        return None
    return records, remarks


def _line_by_line(text: str, separator: str, file: str, found: list[Problem]) -> tuple[_Records, _Remarks]:
    """The same for any text; what breaks the rules of CSV is a problem, placed at its row, and left out."""
    lines = _Lines(text, separator)
    records: _Records = []
    for cells in _parsed(lines, separator, file, found):
        if cells[0].lstrip()[:1] == "#":  # a comment that a spreadsheet has put in quotes
            lines.remarks.append((lines.number, _remark(cells, separator)))
        elif not is_blank(cells):
            records.append((lines.number, cells))
    return records, lines.remarks


def is_remark(line: str, separator: str | None, number: int) -> bool:
    """Whether a line that begins a record is a comment: its first cell starts with #, or it tells the separator."""
    first = line if separator is None else line.partition(separator)[0]
    return first.lstrip()[:1] == "#" or (number == 1 and _SEPARATOR_LINE(line) is not None)


def _remark(cells: list[str], separator: str) -> str:
    """A comment that was read as cells, as text."""
    return separator.join(cells).strip().lstrip("# ")


def is_blank(cells: list[str]) -> bool:
    """Whether a row holds nothing but blanks and separators."""
    return not "".join("".join(cells).split()).strip(",;")


def _parsed(lines: _Lines, separator: str, file: str, found: list[Problem]) -> Iterator[list[str]]:
    """Cells of each record; a record that breaks the rules of CSV is a problem and left out."""
    while not enough(found, file):
        reader = csv.reader(lines, delimiter=separator, strict=True, skipinitialspace=True)
        try:
            while True:
                lines.between = True
                yield next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            if "expected after" in str(error):
                words = "Text or a blank stands right behind a closing quote in this row."
            elif "field larger" in str(error):
                words = "A cell of this row is far too long: a quote is opened in it and closed much later, or never."
            else:
                words = "A quote is opened in this row and never closed."
            found.append(Problem(f'{words} Check the " signs.', file, lines.number))


def _holds_controls(text: str) -> bool:
    """Whether any character of a text cannot be seen."""
    if not text.isascii():
        return CONTROL.search(text) is not None
    data = text.encode("ascii")
    return len(data) > len(data.translate(None, _CONTROL_BYTES))


def _without_controls(records: _Records, file: str, found: list[Problem]) -> _Records:
    """Records in which every character can be seen; the others are problems."""
    kept: _Records = []
    for line, cells in records:
        if enough(found, file):
            break
        place = next((i for i, cell in enumerate(cells) if CONTROL.search(cell.strip())), None)
        if place is None:
            kept.append((line, cells))
            continue
        header = kept[0][1] if kept else []
        column = normalised(header[place]) if place < len(header) else None
        message = "The cell holds a control character, which cannot be seen. Clear the cell and retype it."
        found.append(Problem(message, file, line, column))
    return kept


def _fit(head: str, sign: str, known: Collection[str]) -> tuple[int, int]:
    """How well a separator suits a header: known columns, then cells."""
    try:
        cells = next(csv.reader([head], delimiter=sign, skipinitialspace=True), [])
    except csv.Error:
        return 0, 0
    return sum(normalised(cell) in known for cell in cells), len(cells)
