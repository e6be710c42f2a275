"""Cells of records, kept by column: each different text of a column is kept once and read once.

A log repeats itself. As lists of cells, one of 10 MB would take ten times the memory.
"""

import contextlib
import gc
import itertools
from array import array
from bisect import bisect
from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from typing import Any, TypeVar, overload

import numpy as np
import numpy.typing as npt

from predictor.domain.codes import as_they_appear

Key = TypeVar("Key", bound=Hashable)
Value = TypeVar("Value")
Ints = npt.NDArray[np.intc]

# Records that wait to be sorted into columns: few enough for their texts to be still in the processor's cache.
_CHUNK = 1000


@contextlib.contextmanager
def uncollected() -> Iterator[None]:
    """Work on many rows without looking for garbage: that would walk all of them again and again."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def indexed(keys: Iterable[Key]) -> tuple[list[Key], Ints]:
    """The different keys, in the order in which they first appear, and for each key its place among them."""
    places: defaultdict[Key, int] = defaultdict()
    places.default_factory = places.__len__
    which = np.fromiter(map(places.__getitem__, keys), np.intc)
    return list(places), which


class _Listed(Sequence[Value]):
    """Equal to a list of the same."""

    def __eq__(self, other: object) -> bool:
        return list(self) == list(other) if isinstance(other, Sequence) else NotImplemented

    __hash__ = None  # type: ignore[assignment]  # how Python is told that there is no hash


class Cells(_Listed[str]):
    """The texts of a column, row by row."""

    def __init__(self, different: list[str], which: Ints):
        self.different = different  # In the order in which they first appear
        self.which = which  # For each row the place of its text among them

    @classmethod
    def of(cls, texts: Iterable[str]) -> "Cells":
        """The cells of a column of texts."""
        return cls(*indexed(texts))

    @classmethod
    def of_codes(cls, texts: list[str], which: Ints) -> "Cells":
        """The cells of a column by the place of each row's text among some, which may be alike."""
        different, places = indexed(texts)
        return cls(different, places[which])

    def __len__(self) -> int:
        return len(self.which)

    @overload
    def __getitem__(self, i: int) -> str: ...

    @overload
    def __getitem__(self, i: slice) -> list[str]: ...

    def __getitem__(self, i: int | slice) -> str | list[str]:
        return list(self)[i] if isinstance(i, slice) else self.different[self.which[i]]

    def __iter__(self) -> Iterator[str]:
        return iter(self.given(self.different))

    def given(self, values: Sequence[Value]) -> list[Value]:
        """For each row the value of its text, where there is one value for each different text."""
        return list(map(values.__getitem__, self.which.tolist()))

    def __array__(self, dtype: npt.DTypeLike | None = None, copy: bool | None = None) -> npt.NDArray[Any]:
        return np.array(self.different, dtype=dtype)[self.which]

    def beside(self, other: "Cells") -> tuple[list[tuple[str, str]], Ints]:
        """The different pairs of texts in two columns, as they first appear, and for each row its pair among them."""
        first, which = as_they_appear(self.which.astype(np.intp) * len(other.different) + other.which)
        pairs = zip(self.which[first].tolist(), other.which[first].tolist(), strict=True)
        return [(self.different[i], other.different[j]) for i, j in pairs], which.astype(np.intc)

    def changed(self, change: Callable[[str], str]) -> "Cells":
        """The cells after a change of each text."""
        texts = list(map(change, self.different))
        return self if texts == self.different else Cells.of_codes(texts, self.which)


class Rows(_Listed[list[str]]):
    """The cells of records, the header first; those with as many cells as the header are kept by column."""

    def __init__(self, rows: Iterable[list[str]] = ()):
        self._others: dict[int, list[str]] = {}
        self._waiting: list[list[str]] = []
        self._stored = 0
        self._places: list[defaultdict[str, int]] = []
        self._which: list[array[int]] = []
        for cells in rows:
            self.append(cells)

    def append(self, cells: list[str]) -> None:
        """Add a record."""
        self._waiting.append(cells)
        if len(self._waiting) >= _CHUNK:
            self._store()

    def extend(self, columns: "list[Cells]") -> None:
        """Add records by column, as many columns as the header has."""
        self._store()
        self._stored += len(columns[0])
        for places, which, cells in zip(self._places, self._which, columns, strict=True):
            known = np.fromiter(map(places.__getitem__, cells.different), np.intc, len(cells.different))
            which.frombytes(known[cells.which].tobytes())

    def _store(self) -> None:
        """Sort the records that wait into the columns."""
        first, chunk, self._waiting = self._stored, self._waiting, []
        self._stored += len(chunk)
        if first == 0 and chunk:
            self._others[0] = chunk[0]
            for _ in chunk[0]:
                places: defaultdict[str, int] = defaultdict()
                places.default_factory = places.__len__
                self._places.append(places)
                self._which.append(array("i"))
        width = len(self._places)
        fitting = [cells for i, cells in enumerate(chunk, first) if i and len(cells) == width]
        if len(fitting) + (first == 0) < len(chunk):
            self._others |= {i: cells for i, cells in enumerate(chunk, first) if len(cells) != width}
        for places, which, texts in zip(self._places, self._which, zip(*fitting, strict=True), strict=False):
            which.frombytes(np.fromiter(map(places.__getitem__, texts), np.intc, len(texts)).tobytes())

    @property
    def others(self) -> dict[int, list[str]]:
        """The header, and the records with more or fewer cells, by their place."""
        self._store()
        return self._others

    def texts(self) -> Iterator[str]:
        """The different texts of each column and of the other records."""
        return itertools.chain(*self.others.values(), *self._places)

    def __len__(self) -> int:
        return self._stored + len(self._waiting)

    @overload
    def __getitem__(self, i: int) -> list[str]: ...

    @overload
    def __getitem__(self, i: slice) -> list[list[str]]: ...

    def __getitem__(self, i: int | slice) -> list[str] | list[list[str]]:
        if isinstance(i, slice):
            return list(self)[i]
        i, others = range(len(self))[i], self.others
        if i in others:
            return others[i]
        k = i - bisect(list(others), i)
        return [column[k] for column in self.columns()]

    def __iter__(self) -> Iterator[list[str]]:
        others, columns = self.others, zip(*self.columns(), strict=True)
        return (others[i] if i in others else list(next(columns)) for i in range(len(self)))

    def columns(self) -> list[Cells]:
        """Each column of the records below the header that have as many cells."""
        self._store()
        return [
            Cells(list(places), np.array(which, np.intc))
            for places, which in zip(self._places, self._which, strict=True)
        ]
