"""Takes lines apart that are plainly rows, many at once by their bytes: cells that are alike are made a text once.

A cell in quotes is what the quotes hold. Whatever else the rules of CSV allow is left to their reader.
"""

import csv
import re
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from predictor.files.cells import Cells, Ints, indexed

Bytes = npt.NDArray[np.uint8]
Words = npt.NDArray[np.uint64]
Places = npt.NDArray[np.intp]

_LINE_END, _QUOTE, _RETURN = b'\n"\r'
_IN_QUOTES = re.compile(r'"((?:[^"]|"")*)"').fullmatch
# Cells of more bytes are notes, of which few are alike.
_MOST_BYTES = 32
# Picks the first bytes of a word, from none to all eight.
_FIRST = np.array([(1 << 8 * count) - 1 for count in range(9)], np.uint64)
_PIECE = 100_000
# Odd numbers without a pattern, of which each search for equal words begins with another one.
_MIXERS = np.array([0x9E3779B97F4A7C15, 0xC2B2AE3D27D4EB4F, 0x165667B19E3779F9, 0xD6E8FEB86659FD93], np.uint64)
_HALF = np.uint64(32)


def columns_of(lines: bytes, separator: str, width: int) -> list[Cells] | None:
    """The columns of whole lines of UTF-8; None where one may be no row, or not `width` cells wide."""
    # a return alone ends a line too
    if b"\0" in lines or (b"\r" in lines and lines.count(b"\r") != lines.count(b"\r\n")):
        return None
    lines += (b"" if lines[-1:] == b"\n" else b"\n") + bytes(_MOST_BYTES)  # words are read beyond the last cell
    text = np.frombuffer(lines, np.uint8)
    found, rows = _ends(text, ord(separator)), int(np.count_nonzero(text == _LINE_END))
    if len(found) != rows * width:
        return None
    ends = found.reshape(rows, width).T.copy()
    starts = [np.append(0, ends[-1, :-1] + 1), *ends[:-1] + 1]
    if (text[ends[-1]] != _LINE_END).any() or (ends[-1] - starts[0]).max() > csv.field_size_limit():
        return None
    ends[-1] -= text[ends[-1] - 1] == _RETURN
    try:
        columns = [_cells(lines, *each).changed(_as_read) for each in zip(starts, ends, strict=True)]
    except ValueError:
        return None
    # a blank row or a comment begins so
    return None if {each.lstrip()[:1] for each in columns[0].different} & {"", "#"} else columns


def _ends(text: Bytes, sign: int) -> Places:
    """Where the cells end, if each quote opens or closes a cell or is written twice in it."""
    ends, quotes = (text == sign) | (text == _LINE_END), text == _QUOTE
    if not quotes.any():
        return np.flatnonzero(ends)
    places = np.flatnonzero(ends | quotes)
    is_quote = quotes[places]
    return np.asarray(places[~is_quote & (np.cumsum(is_quote) % 2 == 0)])


def places_of(text: Bytes, sign: int) -> Places:
    """Where a sign stands; looked for in pieces, for which no new memory is needed."""
    found = [k + np.flatnonzero(text[k : k + _PIECE] == sign) for k in range(0, len(text), _PIECE)]
    return np.concatenate(found) if found else np.zeros(0, np.intp)


def plainly_closed(lines: str, separator: str) -> bool:
    """Whether no cell of whole lines goes on into the next line, as far as that is plain. No comment may be in them.

    Each quote opens or closes a cell then, or is written twice in it.
    """
    text = np.frombuffer(lines.encode("utf-8", "surrogatepass"), np.uint8)
    quotes, ends = places_of(text, _QUOTE), places_of(text, _LINE_END)
    beside = np.isin(np.arange(256), [ord(separator), _LINE_END, _RETURN, _QUOTE])
    if len(quotes) % 2 or not (beside[text[quotes[::2] - 1]].all() and beside[text[quotes[1::2] + 1]].all()):
        return False
    return not (np.searchsorted(quotes, ends) % 2).any()


def _cells(lines: bytes, starts: Places, ends: Places) -> Cells:
    """The cells of a column as they are written, quotes included."""
    sizes = ends - starts
    longest = int(sizes.max())
    if longest > _MOST_BYTES:
        different, which = indexed(lines[start:end] for start, end in zip(starts.tolist(), ends.tolist(), strict=True))
    else:
        word = np.ndarray((len(lines) - 7,), "<u8", lines, strides=(1,))  # the eight bytes from each place on
        kept = [_FIRST[np.clip(np.arange(longest + 1) - k, 0, 8)] for k in range(0, max(longest, 1), 8)]
        words = [word[starts + 8 * k] & first[sizes] for k, first in enumerate(kept)]
        rows, which = _indexed(words)
        different = np.column_stack([each[rows] for each in words]).view(f"S{8 * len(words)}").ravel().tolist()
    return Cells(b"\n".join(different).decode("utf-8", "surrogatepass").split("\n"), which)


def _indexed(words: Sequence[Words]) -> tuple[Places, Ints]:
    """The rows in which words first stand that together are unlike all before, and for each row its place in these."""
    count = len(words[0])
    if all((each == each[0]).all() for each in words):  # as in many columns
        return np.zeros(1, np.intp), np.zeros(count, np.intc)
    first, left, mine, turn = np.empty(count, np.intp), np.arange(count), list(words), 0
    slots = np.empty(2 << count.bit_length(), np.intp)
    while len(left):  # two unlike rows may fall into one slot: then the later one is looked at again
        mixed = np.zeros(len(left), np.uint64)
        for k, each in enumerate(mine):
            mixed = (mixed ^ each) * _MIXERS[(turn + k) % len(_MIXERS)]
            mixed ^= mixed >> _HALF
        slot = (mixed & np.uint64(len(slots) - 1)).astype(np.intp)
        slots[slot[::-1]] = left[::-1]  # so that the first one stays
        first[left] = there = slots[slot]
        other = np.logical_or.reduce([each[there] != own for each, own in zip(words, mine, strict=True)])
        left, mine, turn = left[other], [each[other] for each in mine], turn + 1
    rows = np.flatnonzero(first == np.arange(count))
    place = np.empty(count, np.intc)
    place[rows] = np.arange(len(rows))
    return rows, place[first]


def _as_read(text: str) -> str:
    """A cell without the quotes around it; raises a ValueError where a quote stands elsewhere, or a space before it."""
    if text[:1] == " ":
        raise ValueError
    if '"' not in text:
        return text
    found = _IN_QUOTES(text)
    if found is None:
        raise ValueError
    return found[1].replace('""', '"')
