"""How a file writes numbers and dates: its decimal sign, its thousands, and whether the month comes first."""

import datetime
import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Self

from predictor.domain.result import Remark
from predictor.numbers import Range, parse_number, quoted

# "12,4" and "1.234,5" show a decimal comma, "12.4" and "1,234.5" a decimal point; "1,234" alone shows neither.
_COMMA_DECIMAL = re.compile(
    r"^(?:-?[0-9]*,(?:[0-9]{1,2}|[0-9]{4,})|-?0,[0-9]+|-?[0-9]{1,3}(?:\.[0-9]{3})+,[0-9]+)$", re.MULTILINE
).search
_POINT_DECIMAL = re.compile(
    r"^(?:-?[0-9]*\.(?:[0-9]{1,2}|[0-9]{4,})|-?0\.[0-9]+|-?[0-9]{1,3}(?:,[0-9]{3})+\.[0-9]+)$", re.MULTILINE
).search
# "1.234" or "1,234": a fraction or thousands
_LONE_GROUPS = re.compile(r"^-?[1-9][0-9]{0,2}[,.][0-9]{3}$", re.MULTILINE).finditer
_LONE_GROUP = re.compile(r"-?[1-9][0-9]{0,2}[,.][0-9]{3}").fullmatch
_ISO_DATE = re.compile(r"([0-9]{4})-([0-9]{1,2})-([0-9]{1,2})(?:[ T][0-9]{2}:[0-9]{2}(?::[0-9.]+)?)?").fullmatch
_LOCAL_DATE = re.compile(r"([0-9]{1,2})([/.-])([0-9]{1,2})\2([0-9]{4})(?: 0?0:00(?::00)?)?").fullmatch
_ISO_MONTH = re.compile(r"(?P<year>[0-9]{4})[-/](?P<month>[0-9]{1,2})").fullmatch
_LOCAL_MONTH = re.compile(r"(?P<month>[0-9]{1,2})[/.-](?P<year>[0-9]{4})").fullmatch
_NAMED_MONTH = re.compile(r"(?P<name>[A-Za-z]{3,9})\.?[ -]{1,2}(?P<year>[0-9]{4})").fullmatch
_MONTHS = [
    "january",
    "february",
    "march",
    "april",
    "may",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
    "december",
]


@dataclass(frozen=True)
class Signs:
    """How a file writes its numbers and dates, as far as it shows."""

    decimal: str = "."
    grouped: bool = False  # Whether "1,234" is known to mean 1234
    undecided: bool = False  # Whether "1.234" could be a fraction or thousands
    date_order: str = ""  # "dmy" or "mdy" for dates such as 3/14/2026; "" where the file does not show it

    def number(self, text: str, what: str, allowed: Range, unit: str = "") -> float:
        """The number in a text; raises a ValueError with a sentence."""
        if self.undecided and _LONE_GROUP(text):
            whole, _, rest = text.replace(".", ",").partition(",")
            raise ValueError(
                f"{quoted(text)} can be read in two ways, and no other number of the file shows its decimal sign. "
                f"Write {whole}{rest} or {whole}.{rest}0."
            )
        value = parse_number(text, decimal=self.decimal, grouped=self.grouped, what=what, unit=unit)
        if not allowed.has(value):
            raise ValueError(f"{quoted(text)} is out of range: {what} must be {allowed}.")
        return value

    def date(self, text: str) -> str:
        """A date as people write it, as YYYY-MM-DD; raises a ValueError with a sentence."""
        found, local = _ISO_DATE(text), _LOCAL_DATE(text)
        if found:
            year, month, day = map(int, found.groups())
        elif local:
            month, day, year = int(local[1]), int(local[3]), int(local[4])
            if not self.date_order and month != day:
                raise ValueError(f"{quoted(text)} can be read in two ways. Write year, month and day as 2026-04-18.")
            if self.date_order == "dmy":
                month, day = day, month
        else:
            raise ValueError(f"{quoted(text)} is not a date. Write year, month and day as 2026-04-18.")
        if not 1900 <= year <= 2200:
            raise ValueError(f"{quoted(text)} is in the year {year}. Write the date as 2026-04-18.")
        try:
            return datetime.date(year, month, day).isoformat()
        except ValueError:
            raise ValueError(f"{quoted(text)} is not a day of the calendar. Write the date as 2026-04-18.") from None

    def date_or_month(self, text: str) -> str:
        """A date as YYYY-MM-DD, or a month as YYYY-MM; raises a ValueError with a sentence."""
        if month := _month(text):
            return month
        try:
            return self.date(text)
        except ValueError as error:
            raise ValueError(f"{error} Where only the month is known, write 2026-04.") from None


def _month(text: str) -> str:
    """A month as YYYY-MM, from text such as 2026-08, 8/2026 or Aug 2026 with all digits of the year; "" otherwise."""
    found = _ISO_MONTH(text) or _LOCAL_MONTH(text) or _NAMED_MONTH(text)
    if found is None or not 1900 <= int(found["year"]) <= 2200:
        return ""
    if name := found.groupdict().get("name"):
        month = next((k for k, each in enumerate(_MONTHS, 1) if each.startswith(name.lower())), 0)
    else:
        month = int(found["month"])
    return f"{found['year']}-{month:02d}" if 1 <= month <= 12 else ""


@dataclass(frozen=True)
class Seen:
    """What the numbers and dates of a file show of how they are written."""

    comma: bool  # Whether there is a comma in any number
    commas: bool  # Whether a number shows that a comma is the decimal sign
    points: bool
    lone: frozenset[str]  # Signs in "1,234" and "1.234"
    settings: tuple[bool, bool]  # Whether settings show a decimal comma, and a point; they count where no number does
    orders: frozenset[str]  # Of the day and the month

    def __or__(self, other: Self) -> "Seen":
        settings = self.settings[0] or other.settings[0], self.settings[1] or other.settings[1]
        return Seen(
            self.comma or other.comma,
            self.commas or other.commas,
            self.points or other.points,
            self.lone | other.lone,
            settings,
            self.orders | other.orders,
        )

    def signs(self, separator: str) -> Signs:
        """How the file writes its numbers and dates."""
        order = min(self.orders) if len(self.orders) == 1 else ""
        if separator == "," and not self.comma:
            return Signs(date_order=order)
        lone = self.lone if separator != "," else self.lone & {","}
        commas, points = self.commas, self.points
        if not (commas or points or lone) and separator != ",":
            commas, points = self.settings
        decimal = "," if commas and not points else "."
        undecided = bool(lone) and not commas and not points and separator != ","
        return Signs(decimal, bool(lone) and commas != points, undecided, order)


NOTHING_SEEN = Seen(False, False, False, frozenset(), (False, False), frozenset())


def seen_in(numbers: Iterable[list[str]], dates: Iterable[list[str]], settings: Iterable[str] = ()) -> Seen:
    """What columns of numbers, dates and settings show."""
    # with each different number on its own line, one search finds them all
    text = "\n".join("\n".join(set(cells)) for cells in numbers).replace(";", "\n")
    commas, points = _COMMA_DECIMAL(text) is not None, _POINT_DECIMAL(text) is not None
    lone = frozenset("," if "," in found[0] else "." for found in _LONE_GROUPS(text))
    beside = "\n".join(set(settings)) if not commas and not points else ""
    shown = _COMMA_DECIMAL(beside) is not None, _POINT_DECIMAL(beside) is not None
    return Seen("," in text, commas, points, lone, shown, _date_orders(dates))


def signs_of(seen: Seen, separator: str) -> tuple[Signs, list[Remark]]:
    """How a file writes numbers and dates, and what had to be assumed."""
    signs = seen.signs(separator)
    assumed: list[Remark] = []
    if separator != "," or signs.decimal == ",":
        assumed.append(Remark("files.signs", {"separator": separator, "decimal": signs.decimal}))
    if signs.grouped and seen.lone - {signs.decimal} - ({"."} if separator == "," else set()):
        assumed.append(Remark("files.thousands", {"sign": "," if signs.decimal == "." else "."}))
    if signs.date_order:
        assumed.append(Remark("files.month_first" if signs.date_order == "mdy" else "files.day_first"))
    return signs, assumed


def _date_orders(columns: Iterable[list[str]]) -> frozenset[str]:
    """Whether days or months come first in dates such as 3/14/2026, as far as each shows."""
    orders = set()
    for cell in {cell for cells in columns for cell in cells}:
        if found := _LOCAL_DATE(cell):
            if found[2] == "." or int(found[1]) > 12:
                orders.add("dmy")
            elif int(found[3]) > 12:
                orders.add("mdy")
    return frozenset(orders)
