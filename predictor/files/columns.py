"""Typed readers of a table's columns; problems are collected, each with its line and column."""

import itertools
import re
from collections.abc import Callable, Collection, Hashable, Iterable, Mapping, Sequence
from typing import Any, NamedTuple, Self, TypeVar

import numpy as np

from predictor.domain.control import Floats
from predictor.domain.drill import Drill, SeedBox
from predictor.domain.trials import Flags
from predictor.errors import MOST_PROBLEMS, meant
from predictor.files.cells import Cells, Ints, indexed
from predictor.files.table import Table, same_thing
from predictor.files.text import one_line
from predictor.format import listed
from predictor.numbers import Range, quoted

Key = TypeVar("Key", bound=Hashable)
Value = TypeVar("Value")

YES = frozenset({"yes", "y", "true", "t", "1", "on"})
NO = frozenset({"no", "n", "false", "f", "0", "off"})
# Numbers with only one meaning in any file, and with no more digits than a double keeps.
_PLAIN_NUMBERS = re.compile(r"(?:[0-9]{1,15}(?:\.[0-9]{1,15})?\n)*")


class Measure(NamedTuple):
    """The unit of a column, and the values allowed in it."""

    factor: float  # Grams or metres in it
    allowed: Range
    per: float = 1.0  # Grams or square metres that a count is for

    @classmethod
    def of(cls, name: str, units: Mapping[str, float], most: float) -> dict[str, Self]:
        """Columns such as "area_ac" and "area_ha" for a quantity above 0 and at most `most`, in the common unit."""
        return {f"{name}_{unit}": cls(factor, Range(0, most / factor, above=True)) for unit, factor in units.items()}


class Columns:
    """Turns the columns of a table into values; each different text of a column is read once."""

    def __init__(self, table: Table):
        self.table = table
        self.wrong_rows: set[int] = set()  # Rows with a problem, by their index

    def __len__(self) -> int:
        return len(self.table)

    def cell(self, i: int, column: str) -> str:
        """The text of a cell; "" where the file has no such column."""
        return self.table.cells[column][i] if column in self.table.cells else ""

    def wrong(self, i: int, column: str | None, message: str) -> None:
        """Note a problem with a row, given by its index."""
        self.table.problems.add(message, self.table.lines[i], column)
        self.wrong_rows.add(i)

    def all_wrong(self, rows: Iterable[int], column: str, words: Callable[[int], str]) -> None:
        """Note a problem with each of several rows, but not with more than anyone reads."""
        for i in itertools.islice(rows, MOST_PROBLEMS + 1):
            self.wrong(i, column, words(i))

    def only(self, columns: Collection[str]) -> str | None:
        """Which of several columns the file has, or None. More than one is a problem."""
        there = [name for name in columns if name in self.table.columns]
        if len(there) > 1:
            self.table.problems.add(same_thing(there))
        return there[0] if there else None

    def each(self, column: str, read: Callable[[str], Value], empty: Value) -> list[Value]:
        """Every cell of a column as `read` gives it; `empty` where a cell is empty or wrong."""
        cells = self.table.cells.get(column)
        if cells is None:
            return [empty] * len(self)
        return cells.given(self.values(cells, read, column, empty))

    def each_of(self, keys: Iterable[Key], read: Callable[[Key], Value], column: str, empty: Value) -> list[Value]:
        """What `read` gives for each row's key, called once for each different key."""
        different, which = indexed(keys)
        found = self.values_of(different, which, read, column, {}, empty)
        return list(map(found.__getitem__, which.tolist()))

    def values(self, cells: Cells, read: Callable[[str], Value], column: str, empty: Value) -> list[Value]:
        """What `read` gives for each different text of a column; `empty` for an empty or a wrong one."""
        return self.values_of(cells.different, cells.which, read, column, {"": empty}, empty)

    def values_of(
        self,
        different: Sequence[Key],
        which: Ints,
        read: Callable[[Key], Value],
        column: str,
        known: dict[Any, Value],
        empty: Value,
    ) -> list[Value]:
        """What `read` gives for each different key, called once for those not in `known`; `which` has each row's."""
        wrong: dict[int, str] = {}
        found: list[Value] = []
        for k, key in enumerate(different):
            if key == "" and column in self.table.required:
                wrong[k] = "The cell is empty. Every row needs a value here."
            if key in known:
                found.append(known[key])
                continue
            found.append(empty)
            if len(wrong) > MOST_PROBLEMS:  # nobody reads more, and every message takes its time
                continue
            try:
                found[k] = read(key)
            except ValueError as error:
                wrong[k] = str(error)
        if wrong:
            rows = np.flatnonzero(np.isin(which, list(wrong)))
            self.all_wrong(rows.tolist(), column, lambda i: wrong[int(which[i])])
        return found

    def words(self, column: str, read: Callable[[str], str]) -> Cells:
        """Every cell of a column as `read` gives it; "" where a cell is empty or wrong."""
        cells = self.table.cells.get(column)
        if cells is None:
            return Cells([""], np.zeros(len(self), dtype=np.intc))
        return Cells.of_codes(self.values(cells, read, column, ""), cells.which)

    def texts(self, column: str) -> Cells:
        """Texts of a column, line breaks as spaces."""
        return self.words(column, one_line)

    def dates(self, column: str) -> Cells:
        """Dates of a column as YYYY-MM-DD; "" where a cell is empty or wrong."""
        return self.words(column, self.table.signs.date)

    def flags(self, column: str, empty: bool) -> Flags:
        """Yes or no of each row; `empty` where a cell is empty or wrong."""
        cells = self.table.cells.get(column)
        if cells is None:
            return np.full(len(self), empty)
        return np.array(self.values(cells, yes_no, column, empty), dtype=bool)[cells.which]

    def numbers(self, column: str, what: str, allowed: Range, default: float = np.nan) -> Floats:
        """Numbers of a column, shape (n,); `default` where a cell is empty, NaN where it is wrong."""
        cells = self.table.cells.get(column)
        if cells is None:
            return np.full(len(self), default)
        if len(cells) and self.at_once(cells.different):
            # all at once, since none of them has two meanings
            values = np.array(cells.different, dtype=float)
            if allowed.has(float(values.min())) and allowed.has(float(values.max())):
                return values[cells.which]
        signs, unit = self.table.signs, column.rpartition("_")[2].replace("pct", "%")

        def read(text: str) -> float:
            return signs.number(text, what, allowed, unit)

        found = self.values_of(cells.different, cells.which, read, column, {"": default}, np.nan)
        return np.array(found, dtype=float)[cells.which]

    def at_once(self, texts: list[str]) -> bool:
        """Whether every text is a plain number, in a file where a point is the decimal sign."""
        if self.table.signs.decimal != "." or self.table.signs.undecided:
            return False
        lines = "\n".join([*texts, ""])
        return lines.count("\n") == len(texts) and _PLAIN_NUMBERS.fullmatch(lines) is not None

    def measures(self, units: Mapping[str, Measure], what: str) -> Floats:
        """A quantity from whichever of its columns a row fills; NaN where it fills no column."""
        values = np.full(len(self), np.nan)
        for column, unit in units.items():
            found = self.numbers(column, what, unit.allowed) * unit.factor / unit.per
            twice = np.flatnonzero(~np.isnan(found) & ~np.isnan(values))
            self.all_wrong(twice, column, lambda _: f"{' and '.join(units)} say the same thing. Fill one of them.")
            values = np.where(np.isnan(values), found, values)
        return values

    def boxes(self, drill: Drill | None) -> Cells:
        """Names of the boxes as the drill has them; "" where a cell is empty or wrong."""
        if drill is None:
            return self.texts("box")
        return self.words("box", lambda text: box_of(drill, one_line(text)).name)


def box_of(drill: Drill, name: str) -> SeedBox:
    """The drill's box of a name, in capitals or not; raises a ValueError with a sentence."""
    for box in drill.boxes:
        if box.name.lower() == name.lower():
            return box
    names = [box.name for box in drill.boxes]
    raise ValueError(f"The drill has no box {quoted(name)}. {meant(name, names, f'Its boxes are {listed(names)}.')}")


def yes_no(text: str) -> bool:
    """Whether a text means yes; raises a ValueError with a sentence."""
    word = text.lower()
    if word not in YES and word not in NO:
        raise ValueError(f"{quoted(text)} is neither yes nor no. Write yes or no.")
    return word in YES
