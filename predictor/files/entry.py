"""What is typed at the drill: weights with units, of rows or parts, and the catch they make."""

from __future__ import annotations

import datetime
import re
from dataclasses import dataclass
from string import ascii_letters

from predictor.domain.catch import CatchSize, Measured
from predictor.domain.control import Setting
from predictor.domain.drill import Drill, SeedBox
from predictor.domain.trials import Trials
from predictor.files.settings import read_setting
from predictor.files.trials import LARGEST_CATCH_G
from predictor.format import listed
from predictor.numbers import parse_number, quoted
from predictor.units import GRAMS

_DECIMAL_COMMA = re.compile(r"(?<![0-9.,])([0-9]*),([0-9]{1,2}|[0-9]{4,})(?![0-9.,])")
_NAMES = {"g": "g", "gram": "g", "grams": "g", "oz": "oz", "ounce": "oz", "ounces": "oz", "kg": "kg"}
_NAMES |= dict.fromkeys(("lb", "lbs", "pound", "pounds"), "lb")
# Denominators of the fractions on scales and jars.
_FRACTIONS = (2, 4, 8, 16, 32)
# Catches of a lot this close together are one season, over a new year too.
SAME_SEASON_DAYS = 60


@dataclass(frozen=True)
class Weight:
    """A weight as it was typed, net of the container: whole, by rows, or by parts of equal turns."""

    grams: float  # Net, all rows or parts together
    tare_g: float  # Taken off in all, grams
    rows_g: tuple[float, ...] | None = None  # Net grams of each row, where rows were weighed singly
    parts_g: tuple[float, ...] | None = None  # Net grams of each part, where the catch was weighed in parts

    def rows(self, usual: int) -> int:
        """How many rows were caught: as many as were weighed singly, else the usual number."""
        return usual if self.rows_g is None else len(self.rows_g)


@dataclass(frozen=True)
class Catch:
    """A catch as it was entered."""

    box: SeedBox
    lot: str
    setting: Setting
    weight: Weight
    length: float
    rows: int
    fill_pct: float | None = None
    counted: Measured = "wheel turns"  # What its length counts, "ft" or "m" where it was towed
    charged: bool | None = None  # Whether the meters were charged first; None where nobody was asked
    tare_known: bool = False  # Whether somebody said if the container was weighed along
    confirmed: bool = False  # Whether the technician was asked about it, and keeps it

    @property
    def size(self) -> CatchSize:
        """Its size, as people count it."""
        return CatchSize(self.length, self.counted, self.rows)

    def cells(self) -> dict[str, str | float | tuple[float, ...]]:
        """The cells of its row in the log, by column."""
        weight = self.weight
        cells = {
            "box": self.box.name,
            "lot": self.lot,
            "setting": self.setting.value,
            "catch_g": weight.grams + weight.tare_g,
            f"distance_{self.counted}" if self.counted in ("ft", "m") else "turns": float(self.length),
            "rows": float(self.rows),
            "rows_g": weight.rows_g,
            "parts_g": weight.parts_g,
            "tare_g": weight.tare_g if self.tare_known or weight.tare_g else None,
            "charged": None if self.charged is None else "yes" if self.charged else "no",
            "confirmed": "yes" if self.confirmed else None,
            "fill_pct": self.fill_pct,
        }
        return {name: cell for name, cell in cells.items() if cell is not None}


def pointed(text: str) -> str:
    """Text with a point for each decimal comma; a comma that could mark thousands stays.

    >>> pointed("14,5"), pointed("7,25 + 7,5 oz"), pointed("1,234")
    ('14.5', '7.25 + 7.5 oz', '1,234')
    """
    return _DECIMAL_COMMA.sub(r"\1.\2", text)


def read_weight(text: str, *, tare_g: float = 0.0, most_rows: int | None = None) -> Weight:
    """A weight such as `61.2`, `2.1 oz` or `0,13 lb`; grams where no unit is named.

    Rows weighed singly have a plus sign between them, as `61.2+59.8+60.4`. Parts of equal turns have a slash, as
    `7.1/7.3/6.9/7.2`.
    """
    if "+" in text and "/" in text:
        raise ValueError(f"{quoted(text)} has both + and /. Put + between rows, or / between parts of equal turns.")
    sign = "/" if "/" in text else "+"
    pieces = [each.strip() for each in pointed(text).split(sign)]
    split = [_with_unit(each) for each in pieces]
    last = _NAMES[split[-1][1].lower()] if split[-1][1] else "g"
    if sign == "/" and last in ("oz", "lb"):
        _no_fraction([number for number, _ in split], text, last)
    grams = tuple(_net(number, _NAMES[name.lower()] if name else last, tare_g) for number, name in split)
    apart = grams if len(grams) > 1 else None
    rows, parts = (apart, None) if sign == "+" else (None, apart)
    if rows is not None and most_rows is not None and len(rows) > most_rows:
        raise ValueError(f"{len(rows)} weights are more than the {most_rows} rows there are.")
    return Weight(round(sum(grams), 9), tare_g * len(grams), rows, parts)


def _with_unit(text: str) -> tuple[str, str]:
    """The number and the unit in a text; "" where it names no unit."""
    whole = text.removesuffix(".")
    number = whole.rstrip(ascii_letters)
    unit = whole[len(number) :]
    return (number.strip(), unit) if unit.lower() in _NAMES else (text, "")


def _net(number: str, unit: str, tare_g: float) -> float:
    """Net grams of one weight."""
    grams = parse_number(number, what="a weight") * GRAMS[unit]
    if grams < 0:
        raise ValueError(f"{quoted(number)} is below zero. Weigh again.")
    if grams > LARGEST_CATCH_G:
        raise ValueError(f"{quoted(number)} {unit} is more than a tonne. Check the unit.")
    if grams < tare_g:
        raise ValueError(f"{grams:.4g} g is less than the empty container of {tare_g:.4g} g. Check both.")
    return round(grams - tare_g, 9)


def _no_fraction(numbers: list[str], text: str, unit: str) -> None:
    """Refuse two parts that look like a fraction, since 3/4 lb would be read as 7 lb."""
    if len(numbers) != 2 or not all(each.isdecimal() for each in numbers):
        return
    top, bottom = map(int, numbers)
    if top < bottom and bottom in _FRACTIONS:
        raise ValueError(
            f"{quoted(text)} can be read as a fraction or as two parts. Write {top / bottom:g} {unit} if it is a "
            f"fraction, or {top}.0/{bottom}.0 {unit} if these are parts."
        )


def read_box(text: str, drill: Drill) -> SeedBox:
    """The box of the drill that has this name, in capitals or not."""
    found = next((each for each in drill.boxes if each.name.lower() == text.lower()), None)
    if found is None:
        names = listed(each.name for each in drill.boxes)
        raise ValueError(f"The drill has no box {quoted(text)}. Its boxes are {names}.")
    return found


def setting_of(text: str, box: SeedBox) -> Setting:
    """The setting of a box that a text names."""
    return box.control.find(text) or read_setting(pointed(text), box.control, box.name)


def read_fill(text: str) -> float | None:
    """How full a box is, per cent; None where nothing was typed."""
    if not text:
        return None
    value = parse_number(text.rstrip("% "), what="a filling in per cent")
    if not 0 <= value <= 150:
        raise ValueError(f"{quoted(text)} is out of range: a filling must be between 0 and 150 per cent.")
    return value


def season_of(earlier: Trials, day: datetime.date) -> str:
    """The season of a catch: that of the same lot's catches a few weeks before, else the year."""
    for date, season in zip(earlier.date[::-1].tolist(), earlier.season[::-1].tolist(), strict=True):
        days = abs((day - datetime.date.fromisoformat(date)).days) if date else 0
        if season and days <= SAME_SEASON_DAYS:
            return str(season)
    return str(day.year)
