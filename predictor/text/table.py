"""Rows in aligned columns, and lines with a part that a terminal shows bold."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from predictor.text.fold import fold

BETWEEN = "  "
# A cell that runs on is folded within at least so many columns.
LEAST = 30
_READING = re.compile(r"\d+(\.\d+)?")


class Strong(str):
    """A line with a part that stands out, from `start` to `stop`; a terminal that can shows it bold."""

    __slots__ = ("start", "stop")
    start: int
    stop: int

    def __new__(cls, text: str, start: int = 0, stop: int | None = None) -> Strong:
        line = super().__new__(cls, text)
        line.start, line.stop = start, len(text) if stop is None else stop
        return line

    @property
    def parts(self) -> tuple[str, str, str]:
        """What goes before the part, the part itself, and the rest."""
        return self[: self.start], self[self.start : self.stop], self[self.stop :]


class OnPaper(str):
    """A line that a terminal shows black on white, whatever its own colours are."""

    __slots__ = ()


def on_point(readings: Sequence[str]) -> list[str]:
    """Readings of levers padded so that their decimal points stand below each other; other settings as they are.

    Examples
    --------
    >>> on_point(["4", "14.5", "24 on high"])
    [' 4', '14.5', '24 on high']
    """
    whole = max((len(each.partition(".")[0]) for each in readings if _READING.fullmatch(each)), default=0)
    return [
        " " * (whole - len(each.partition(".")[0])) + each if _READING.fullmatch(each) else each for each in readings
    ]


@dataclass(frozen=True)
class Table:
    """Rows of cells in columns, where a line has room for them.

    The last cell of a row that is shorter than others runs on over the columns that it leaves out, and is folded there.
    Where a line has no room for the columns, the name of a row has a line of its own, and the rest is folded below it.
    A row without a name goes on with the one before it, and nothing in it stands out.

    Attributes
    ----------
    width : int
        Most columns of a line.
    head : tuple of str
        Names of the columns.
    right, strong : frozenset of int
        Columns that end at the same place, and neighbouring columns that stand out.
    names : int
        How many cells at the start of a row are its name.
    """

    width: int
    head: tuple[str, ...] = ()
    right: frozenset[int] = frozenset()
    strong: frozenset[int] = frozenset()
    names: int = 1
    indent: str = "  "

    def lines(self, rows: Sequence[Sequence[str]]) -> list[str]:
        """The rows below the head, lines with something that stands out as `Strong`.

        Examples
        --------
        >>> rows = [["grain", "33", "28.5 g"], ["small", "14", "9.5 g"], ["", "14 was not caught yet"]]
        >>> print(*Table(80, ("box", "at", "target"), frozenset({2})).lines(rows), sep="\\n")
          box    at  target
          grain  33  28.5 g
          small  14   9.5 g
                 14 was not caught yet
        >>> print(*Table(18, ("box", "at", "target")).lines(rows[:2]), sep="\\n")
          grain
            at 33
            target 28.5 g
          small
            at 14
            target 9.5 g
        """
        many = max(map(len, [*rows, self.head]), default=0)
        kept = [k for k in range(many) if any(row[k].strip() for row in rows if len(row) > k)]
        whole = [*([self.head] if self.head else []), *rows]
        wide = {k: max(len(row[k]) for row in whole if len(row) > k and not _runs_on(row, k, many)) for k in kept}
        starts = {k: len(self.indent) + sum(wide[j] + len(BETWEEN) for j in kept if j < k) for k in kept}
        ends = [starts[k] + wide[k] for k in kept]
        ends += [starts[k] + LEAST for row in rows for k in kept if _runs_on(row, k, many)]
        if max(ends, default=0) > self.width:
            return [line for row in rows for line in self._below(row)]
        head = [str(line) for line in self._across(self.head, wide, starts, many)] if self.head else []
        return [*head, *(line for row in rows for line in self._across(row, wide, starts, many))]

    def _across(self, row: Sequence[str], wide: dict[int, int], starts: dict[int, int], many: int) -> list[str]:
        """A row in its columns."""
        text, more, strong, named = "", list[str](), list[int](), self._name(row)
        for k, start in starts.items():
            if k >= len(row) or not row[k].strip():
                continue
            if _runs_on(row, k, many):
                first, *more = self._folded(row[k], " " * start)
                text = text.ljust(start) + first[start:]
            else:
                text = text.ljust(start) + (row[k].rjust(wide[k]) if k in self.right else row[k])
            strong += [start, len(text)] if k in self.strong and named else []
        return [Strong(text, strong[0], strong[-1]) if strong else text, *more]

    def _below(self, row: Sequence[str]) -> list[str]:
        """The name of a row, and below it what the row says, as much in a line as there is room for."""
        below = f"{self.indent}  "
        name, strong = self._name(row), self.strong if self._name(row) else frozenset()
        answer = " ".join(" ".join(row[k].split()) for k in sorted(strong) if k < len(row) and row[k].strip())
        said = [answer] if answer else []
        for k, cell in enumerate(row):
            if k < self.names or k in strong or not cell.strip():
                continue
            words = f"{self.head[k]} {cell.strip()}" if self.head else cell.strip()
            if said and len(below) + len(said[-1]) + 2 + len(words) <= self.width:
                said[-1] += f", {words}"
            else:
                said.append(words)
        lines = [line for each in said for line in self._folded(each, below)]
        if answer:
            lines[0] = Strong(lines[0], len(below), min(len(below) + len(answer), len(lines[0])))
        return [*(self._folded(name, self.indent) if name else []), *lines]

    def _name(self, row: Sequence[str]) -> str:
        return ", ".join(each.strip() for each in row[: self.names] if each.strip())

    def _folded(self, text: str, indent: str) -> list[str]:
        return fold(text, indent, indent, width=self.width).split("\n")


def _runs_on(row: Sequence[str], k: int, many: int) -> bool:
    """Whether a cell is the last one of a row that is shorter than others."""
    return k == len(row) - 1 < many - 1
