"""The order of seasons in time, whatever people call them."""

import math
import re
from collections.abc import Iterable

_WORDS = re.compile(r"[^\W\d_]+")
_NUMBERS = re.compile(r"\d+")
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
# Parts of the year, and the first letters of months.
_PARTS = {"winter": 0.0, "spring": 0.25, "summer": 0.5, "autumn": 0.75, "fall": 0.75}
_PARTS |= {name: number / 12 for number, name in enumerate(_MONTHS)}


def season_time(season: str, dates: Iterable[str] = ()) -> float:
    """When a season was, in years: for sorting, not for reading.

    Its first dated catch tells it. Without dates the name does: its year, the part of the year or the month in it, and
    a further number, as in "2026-2". Seasons numbered without a year ("9", "10") follow each other and come before
    those with a year; a name without any number comes before all.

    >>> season_time("fall 2025") < season_time("spring 2026"), season_time("9") < season_time("10")
    (True, True)
    """
    first = min(filter(None, dates), default="")
    if first:
        year, month, day = map(int, first.split("-"))
        return year + (month - 1) / 12 + (day - 1) / 400
    numbers = [int(each) for each in _NUMBERS.findall(season)[:5]]
    if not numbers:
        return -math.inf
    year = next((each for each in numbers if 1000 <= each <= 9999), numbers[0])
    numbers.remove(year)
    words = _WORDS.findall(season.lower())
    parts = [_PARTS.get(word, _PARTS.get(word[:3])) for word in words]
    part = next((each for each in reversed(parts) if each is not None), 0.0)
    return year + part + min([*numbers, 0][0], 199) / 1000
