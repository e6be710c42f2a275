"""Decodes a file, and normalises single texts."""

import os
import re
import sys
import unicodedata
from functools import lru_cache
from pathlib import Path

from predictor.errors import InputError, Problem, near
from predictor.files.changing import as_meant, is_changing
from predictor.files.special import refuse_special
from predictor.unseen import UNSEEN, visible

# A larger file is not a table kept by hand. Ten years of 50 drills with 20 lots of ten catches a year are 100,000 rows;
# with 400 bytes in each, three times what a row with every column takes, they have this size.
LARGEST_FILE = 40_000_000

_BEYOND_ASCII = re.compile(r".?[^\x00-\x7f]+")
_NOT_IN_NAMES = re.compile(r"[^\w]+")
_MARKS = ((b"\xef\xbb\xbf", "utf-8"), (b"\xff\xfe", "utf-16-le"), (b"\xfe\xff", "utf-16-be"))
_CONTROL_BYTES = bytes(each for each in range(128) if UNSEEN.match(chr(each)))


@lru_cache(maxsize=1000)
def normalised(name: str) -> str:
    """A column's name as the program compares it: small letters, `_` between words."""
    return _NOT_IN_NAMES.sub("_", name.strip().lower()).strip("_")


def one_line(text: str) -> str:
    """A text with its line breaks and other unusual spaces as single spaces."""
    return text if text.isprintable() else " ".join(text.split())


def holds_controls(text: str) -> bool:
    """Whether a text contains an invisible character; quick for a whole file."""
    if not text.isascii():
        return UNSEEN.search(text) is not None
    data = text.encode("ascii")
    return len(data) > len(data.translate(None, _CONTROL_BYTES))


def composed(text: str) -> str:
    """Text with its accented letters composed (NFC)."""
    if text.isascii():
        return text
    # in pieces: composing takes the square of a piece's length, and a long run of accents is no word anyway
    return _BEYOND_ASCII.sub(
        lambda piece: unicodedata.normalize("NFC", piece[0]) if len(piece[0]) <= 100 else piece[0], text
    )


def as_read(text: str) -> str:
    """Text with each sign as a file is read, letter for letter: a Greek question mark becomes a semicolon."""
    return text.replace("\u037e", ";")


def read_bytes(
    source: str | os.PathLike[str],
    largest: int | None = None,
    what: str = "a table kept by hand",
    *,
    first: int | None = None,
) -> tuple[str, bytes]:
    """Name and content of a file of at most `largest` bytes, or of standard input for "-".

    Where so many bytes at the beginning are enough (`first`), more are read only while the file is being changed.
    """
    largest = largest or LARGEST_FILE
    if str(source) == "-":
        if sys.stdin is None:
            raise InputError([Problem("Standard input is closed. Name a file instead.", "standard input")])
        name, data = "standard input", sys.stdin.buffer.read(largest + 1)
    else:
        path, given = Path(source), os.fspath(source)
        name = visible(given)
        try:
            refuse_special(path, name)
            with path.open("rb") as stream:
                data = stream.read(first or largest + 1)
                if first is None or is_changing(path):
                    data = as_meant(path, data + stream.read(largest + 1 - len(data)))
        except InputError:
            raise
        except (OSError, ValueError) as error:
            raise InputError([Problem(_why_unread(error, path), name)]) from None
    if len(data) > largest:
        size = f"{largest // 10**6} MB" if largest >= 10**6 else f"{largest // 1000} kB"
        raise InputError([Problem(f"The file is larger than {size}, too large for {what}.", name)])
    return name, data


def _why_unread(error: OSError | ValueError, path: Path) -> str:
    """Why a file could not be read, and what to do."""
    if isinstance(error, FileNotFoundError):
        return f"There is no such file.{_near_file(path)}"
    # some systems report a folder only as a permission that is denied
    if isinstance(error, IsADirectoryError) or (isinstance(error, PermissionError) and path.is_dir()):
        return "This is a folder. Name the file in it."
    if isinstance(error, PermissionError):
        return "You may not read this file."
    return f"The file cannot be read: {getattr(error, 'strerror', None) or 'this is not a valid file name'}."


def _near_file(path: Path) -> str:
    """A question about the file that was probably meant."""
    try:
        names = [entry.name for entry in path.parent.iterdir() if entry.name.isprintable()]
    except OSError:
        folder = str(path.parent)
        return f" There is no folder {visible(folder)} either."
    # by what stands before the ending: that alone makes any two tables alike
    by_stem = {Path(each).stem: each for each in sorted(names[:10_000], key=lambda each: each.endswith(path.suffix))}
    found = near(path.stem, by_stem, cutoff=0.75)
    return f" Did you mean {path.parent / by_stem[found]}?" if found else " Check the name and the folder."


def encoding_of(data: bytes) -> tuple[bytes, str]:
    """Byte order mark and encoding of a file."""
    return next(((mark, name) for mark, name in _MARKS if data.startswith(mark)), (b"", "utf-8"))


def decode(data: bytes, file: str) -> str:
    """Text of UTF-8 with or without a byte order mark, or of UTF-16 with one."""
    mark, encoding = encoding_of(data)
    if encoding == "utf-8" and b"\x00" in data:
        halves = sorted((data[::2].count(0), data[1::2].count(0)))
        unmarked = halves[1] > len(data) // 4 and halves[0] * 4 < halves[1]
        what = "UTF-16 text without a byte order mark" if unmarked else "damaged, or not text"
        raise _unreadable(f"The file contains zero bytes, so it is {what}.", file, _line_of(data, data.index(b"\x00")))
    try:
        text = data[len(mark) :].decode(encoding)
    except UnicodeDecodeError as error:
        if encoding != "utf-8":
            raise _unreadable("The file is marked as UTF-16 text, but it is not.", file) from None
        message = "This line contains letters that are not in UTF-8."
        raise _unreadable(message, file, _line_of(data, error.start + len(mark))) from None
    if "\x00" in text:
        raise _unreadable("The file contains zero characters, so it is damaged.", file)
    return composed(text)


def _unreadable(message: str, file: str, line: int | None = None) -> InputError:
    return InputError([Problem(f'{message} Save it again as text in the encoding "UTF-8".', file, line)])


def _line_of(data: bytes, position: int) -> int:
    """Line that a byte is in, for any line ends."""
    before = data[:position]
    return before.count(b"\n") + before.count(b"\r") - before.count(b"\r\n") + 1
