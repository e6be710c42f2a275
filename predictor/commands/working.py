"""How far work is that takes a while, shown on a terminal until it is done."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Iterable, Iterator
from types import TracebackType
from typing import Self, TypeVar

Each = TypeVar("Each")
# Seconds between two changes of the line.
OFTEN = 0.1


class Working:
    """A line on standard error, where that is a terminal, that is rewritten in place and removed at the end.

    Within it nothing else may be written.

    Parameters
    ----------
    what : str
        What is worked on, such as "box".
    total : int
        How many there are; of one no number is shown.
    after : float
        Seconds before the line is shown: none where the work is known to be slow.
    """

    def __init__(self, what: str, total: int = 1, *, after: float = 0.0) -> None:
        self.what, self.total, self.done = what, total, 0
        self._next, self._shown = time.monotonic() + after, ""
        self._on = sys.stderr.isatty() and os.environ.get("TERM", "dumb") != "dumb"

    def __enter__(self) -> Self:
        self._show()
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self._write("")

    def tick(self) -> None:
        """One more is done."""
        self.done += 1
        self._show()

    def each(self, items: Iterable[Each]) -> Iterator[Each]:
        """The items one by one, each of which is work."""
        for item in items:
            yield item
            self.tick()

    def _show(self) -> None:
        if self._on and time.monotonic() >= self._next and self.done < self.total:
            self._next = time.monotonic() + OFTEN
            number = f" {self.done + 1:,} of {self.total:,}" if self.total > 1 else ""
            self._write(f"Working: {self.what}{number} ...")

    def _write(self, text: str) -> None:
        """Write over what was shown."""
        if not self._on or text == self._shown:
            return
        for part in ("\r", text.ljust(len(self._shown)), "\r" if not text else ""):
            print(part, end="", file=sys.stderr, flush=True)
        self._shown = text
