"""The number formats of everything a person reads, one for each kind of figure."""

import math
from collections.abc import Iterable


def plain(value: float) -> str:
    """A number as it was given: turns, rows, readings.

    >>> plain(28.0), plain(14.5)
    ('28', '14.5')
    """
    return f"{value:.10g}"


def figures(value: float) -> str:
    """A weight or rate: three figures, and at most two decimals where it is not small.

    >>> figures(1234.5), figures(12.0), figures(0.9), figures(0.0123)
    ('1,234', '12.0', '0.90', '0.0123')
    """
    size = float(f"{value:.3g}")  # 9.9999 is 10.0, not 10.00
    if size >= 100:
        return f"{value:,.0f}"
    return f"{value:.1f}" if size >= 10 else f"{value:.2f}" if size >= 0.1 else f"{value:.3g}"


def whole(value: float) -> str:
    """A count of seeds: whole from a thousand on, and four figures below.

    >>> whole(2590000.0), whole(571.42)
    ('2,590,000', '571.4')
    """
    return f"{value:,.0f}" if value >= 1000 else f"{value:.4g}"


def grams(value: float) -> str:
    """A weight beside the scale: to a tenth of a gram, coarser from a kilogram on, finer below a gram.

    >>> grams(1234.5), grams(122.44), grams(0.1234)
    ('1234', '122.4', '0.12')
    """
    return f"{value:.0f}" if value >= 1000 else f"{value:.1f}" if value >= 1 else f"{value:.2g}"


def percent(fraction: float) -> str:
    """A fraction in per cent, without the sign: whole, or with one decimal below 1 %.

    >>> percent(0.124), percent(0.0042), percent(0.0)
    ('12', '0.4', '0')
    """
    value = 100 * fraction
    return f"{value:.0f}" if abs(value) >= 0.95 or abs(value) < 0.05 else f"{value:.1f}"


def in_100(chance: float) -> str:
    """A chance as a whole number of cases in 100, rounded down and never 100.

    >>> in_100(0.976), in_100(0.9999)
    ('97', '99')
    """
    return str(min(int(100 * chance), 99))


def chances(chance: float) -> str:
    """A chance in words, rounded down.

    >>> chances(0.976), chances(0.015)
    ('97 chances in 100', '1 chance in 100')
    """
    number = in_100(chance)
    return f"{number} chance{'' if number == '1' else 's'} in 100"


def count(number: int, one: str, many: str = "") -> str:
    """A number with its noun.

    >>> count(1, "catch", "catches"), count(3, "lot")
    ('1 catch', '3 lots')
    """
    return f"{number:,} {one if number == 1 else many or one + 's'}"


def listed(names: Iterable[str], most: int = 12) -> str:
    """Names with commas between them; those beyond the first few are left out and marked by dots."""
    every = list(names)
    return ", ".join(every[:most]) + (" ..." if len(every) > most else "")


def decimals_of(step: float) -> int:
    """Decimals that a scale with this step shows, at most 6."""
    return min(max(0, math.ceil(-math.log10(step) - 1e-9)), 6)
