"""Where names go in a picture, so that none covers another or leaves it. Lengths are points, 72 to the inch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from predictor.plots.style import text_width

# A box of a picture: left, lower, right and upper end.
Place = tuple[float, float, float, float]


def text_height(text: str, size: float) -> float:
    """Height of lines of text."""
    return size * (1.0 + 1.2 * text.count("\n")) * 1.15


def cut(text: str, size: float, most: float, *, bold: bool = False) -> str:
    """A text without what a width has no room for, which three dots mark."""
    if text_width(text, size, bold=bold) <= most:
        return text
    letters = len(text)
    while letters > 1 and text_width(f"{text[:letters].rstrip()}...", size, bold=bold) > most:
        letters = min(letters - 1, int(letters * most / text_width(text[:letters] + "...", size, bold=bold)) + 1)
    return f"{text[:letters].rstrip()}..."


def folded(text: str, size: float, most: float, lines: int, *, bold: bool = False) -> list[str]:
    """A text in at most so many lines of a width; what is left of it is cut."""
    words, found = text.split(" "), [""]
    for k, word in enumerate(words):
        longer = f"{found[-1]} {word}".strip()
        if not found[-1] or text_width(longer, size, bold=bold) <= most:
            found[-1] = longer
        elif len(found) < lines:
            found.append(word)
        else:
            found[-1] = " ".join([found[-1], *words[k:]])
            break
    return [cut(each, size, most, bold=bold) for each in found]


def spread_out(places: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Ascending places moved as little as needed to lie `gap` apart, between two ends where there is room."""
    moved = list(places)
    for k in range(len(moved)):
        moved[k] = max(moved[k], low if k == 0 else moved[k - 1] + gap)
    ceiling = high
    for k in range(len(moved) - 1, -1, -1):
        moved[k] = min(moved[k], ceiling)
        ceiling = moved[k] - gap
    return moved


@dataclass
class Room:
    """A panel, and what is drawn in it already."""

    wide: float
    high: float
    solid: list[Place] = field(default_factory=list)  # Marks and names, which no name may cover
    lines: list[tuple[float, float]] = field(default_factory=list)  # Points of lines, which a name had better not cover

    def mark(self, x: float, y: float, radius: float) -> None:
        """Keep the place of a mark."""
        self.solid.append((x - radius, y - radius, x + radius, y + radius))

    def best(self, tries: Sequence[tuple[float, float]], wide: float, high: float) -> tuple[float, float] | None:
        """The first of some lower left corners at which a name fits best, and keep it; None where it covers a mark."""
        open_ = [each for each in tries if self._free(each, wide, high)]
        if not open_:
            return None
        x, y = min(open_, key=lambda each: self._crossed(each, wide, high))
        self.solid.append((x, y, x + wide, y + high))
        return x, y

    def _free(self, corner: tuple[float, float], wide: float, high: float) -> bool:
        x, y = corner
        if x < 1 or y < 1 or x + wide > self.wide - 1 or y + high > self.high - 1:
            return False
        return not any(
            x < right and left < x + wide and y < up and low < y + high for left, low, right, up in self.solid
        )

    def _crossed(self, corner: tuple[float, float], wide: float, high: float) -> int:
        x, y = corner
        return sum(1 for at, height in self.lines if x <= at <= x + wide and y <= height <= y + high)


def beside(x: float, y: float, wide: float, high: float, away: float) -> list[tuple[float, float]]:
    """Lower left corners of a name beside a mark: right, left, above, below, and a little further off."""
    found = []
    for far in (away, away + 4, away + 9):
        for up in (y - high / 2, y, y - high):
            found += [(x + far, up), (x - far - wide, up)]
        for up in (y + far, y - far - high):
            found += [(x - wide / 2, up), (x, up), (x - wide, up)]
    return found
