"""From the bytes of a CSV file to numbered records: encodings, separators, comments and line ends."""

from __future__ import annotations

import csv
import io
import os
import re
import sys
from collections.abc import Collection, Iterator
from pathlib import Path

from predictor.errors import InputError, Problem

# A larger file is no table kept by hand; reading it would only fill the memory.
LARGEST_FILE = 200_000_000

_NOT_IN_NAMES = re.compile(r"[^\w]+")
# Control characters could reach a terminal as commands; text direction marks can make a name look like another.
CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069]")


def normalised(name: str) -> str:
    """A column's name as the program compares it: small letters, `_` between words.

    Examples
    --------
    >>> normalised(" Catch G ")
    'catch_g'
    """
    return _NOT_IN_NAMES.sub("_", name.strip().lower()).strip("_")


def read_bytes(source: str | os.PathLike[str]) -> tuple[str, bytes]:
    """Name and content of a file, or of standard input for "-".

    Raises
    ------
    InputError
        The file is not there, is a folder, may not be read, or is too large.
    """
    if str(source) == "-":
        return "standard input", sys.stdin.buffer.read(LARGEST_FILE)
    path, name = Path(source), os.fspath(source)
    try:
        if path.is_dir():
            raise InputError([Problem("This is a folder. Name the file in it.", name)])
        if path.exists() and path.stat().st_size > LARGEST_FILE:
            raise InputError([Problem("The file is larger than 200 MB: not a table of catches.", name)])
        return name, path.read_bytes()
    except FileNotFoundError:
        raise InputError([Problem(f"There is no such file.{_near_file(path)}", name)]) from None
    except PermissionError:
        raise InputError([Problem("You may not read this file. Check its permissions.", name)]) from None
    except (OSError, ValueError) as error:
        raise InputError([Problem(f"The file cannot be read ({error}).", ascii(name)[1:-1])]) from None


def _near_file(path: Path) -> str:
    """A question about the file that was probably meant."""
    import difflib

    try:
        names = [entry.name for entry in path.parent.iterdir()]
    except OSError:
        return f" There is no folder {path.parent} either."
    found = difflib.get_close_matches(path.name, names, n=1, cutoff=0.6)
    return f" Did you mean {path.parent / found[0]}?" if found else " Check the name and the folder."


def decode(data: bytes, file: str) -> str:
    """Text of UTF-8 with or without a byte order mark, or of UTF-16 with one.

    Raises
    ------
    InputError
        Another encoding, or a file that is no text.
    """
    save = 'Save it again as text in the encoding "UTF-8".'
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        try:
            text = data.decode("utf-16")
        except UnicodeDecodeError:
            raise InputError([Problem(f"The file says it is UTF-16 text and is not. {save}", file)]) from None
    else:
        if b"\x00" in data:
            what = "UTF-16 text without its mark" if data[1::2].count(0) + data[::2].count(0) > 2 else "not text"
            line = data[: data.index(b"\x00")].count(b"\n") + 1
            raise InputError([Problem(f"The file holds zero bytes: it is damaged, or {what}. {save}", file, line)])
        try:
            text = data.decode("utf-8-sig")
        except UnicodeDecodeError as error:
            line = data[: error.start].count(b"\n") + 1
            raise InputError(
                [Problem(f"This line holds letters that are not in UTF-8. {save}", file, line)]
            ) from None
    if "\x00" in text:
        raise InputError([Problem(f"The file holds zero characters: it is damaged. {save}", file)])
    return text


class _Lines(Iterator[str]):
    """Physical lines for the CSV reader; comments and blank lines are taken out between records only.

    Attributes
    ----------
    number : int
        Rows so far, as a spreadsheet counts them.
    between : bool
        Set by the caller before each record: the next line begins one.
    """

    def __init__(self, text: str):
        self._lines = iter(io.StringIO(text, newline=""))
        self.number, self.between = 0, True
        self.remarks: list[tuple[int, str]] = []

    def __next__(self) -> str:
        for line in self._lines:
            if not self.between:
                return line
            self.number += 1
            bare = line.strip(" \t\r\n")
            if bare.startswith("#"):
                self.remarks.append((self.number, bare.lstrip("# ")))
            elif bare.strip(",;"):
                self.between = False
                return line
        raise StopIteration


def split(
    text: str, file: str, known: Collection[str], found: list[Problem]
) -> tuple[list[tuple[int, list[str]]], str, list[tuple[int, str]]]:
    """Records with the row a spreadsheet would give them, the separator, and the comments.

    Parameters
    ----------
    text, file : str
    known : collection of str
        Column names; the separator is the one that makes most of them of the header.
    found : list of Problem
        Takes what breaks the CSV rules: a quote that is never closed, text after one.

    Returns
    -------
    records : list of (int, list of str)
        Stripped cells, header first.
    separator : {",", ";", tab}
    remarks : list of (int, str)
    """
    head = next(_Lines(text), "")
    separator = max(",;\t", key=lambda sign: _fit(head, sign, known))
    lines = _Lines(text)
    reader = csv.reader(lines, delimiter=separator, strict=True)
    records: list[tuple[int, list[str]]] = []
    while True:
        lines.between = True
        try:
            cells = next(reader)
        except StopIteration:
            break
        except csv.Error as error:
            if "field larger" in str(error) or "unexpected end" in str(error):
                words = "A quote is opened in this row and never closed."
            else:
                words = "Text stands right behind a closing quote in this row."
            found.append(Problem(f'{words} Check the " signs.', file, lines.number))
            break
        cells = [cell.strip() for cell in cells]
        for cell in cells:
            if CONTROL.search(cell):
                found.append(Problem("This row holds a control character. Delete and retype it.", file, lines.number))
                break
        else:
            records.append((lines.number, cells))
    return records, separator, lines.remarks


def _fit(head: str, sign: str, known: Collection[str]) -> tuple[int, int]:
    try:
        cells = next(csv.reader([head], delimiter=sign), [])
    except csv.Error:
        return 0, 0
    return sum(normalised(cell) in known for cell in cells), len(cells)
