"""The number formats of everything a person reads, one for each kind of figure."""

import math
from collections.abc import Iterable

# Step of the usual scale, grams, where no drill names another.
USUAL_STEP_G = 0.1


def plain(value: float) -> str:
    """A number as it was given: turns, rows, readings.

    >>> plain(28.0), plain(14.5)
    ('28', '14.5')
    """
    return f"{value:.10g}"


def figures(value: float) -> str:
    """A rate, load or area: three figures, and at most two decimals; of less than a tenth two figures.

    >>> figures(1234.5), figures(12.0), figures(0.9), figures(0.0963)
    ('1,234', '12.0', '0.90', '0.096')
    """
    size = float(f"{value:.3g}")  # 9.9999 is 10.0, not 10.00
    if size >= 100:
        return f"{value:,.0f}"
    return f"{value:.1f}" if size >= 10 else f"{value:.2f}" if size >= 0.1 else f"{value:.2g}"


def figures_to(low: float, high: float) -> str:
    """Two rates, loads or areas, both to the decimals of the larger one.

    >>> figures_to(9.954, 10.4), figures_to(98.2, 122.4)
    ('10.0 to 10.4', '98 to 122')
    """
    decimals = len(figures(high).partition(".")[2])
    return f"{low:,.{decimals}f} to {high:,.{decimals}f}"


def whole(value: float) -> str:
    """A count of seeds: whole from a thousand on, and four figures below.

    >>> whole(2590000.0), whole(571.42)
    ('2,590,000', '571.4')
    """
    return f"{value:,.0f}" if value >= 1000 else f"{value:.4g}"


def weight(grams: float, step_g: float = USUAL_STEP_G) -> str:
    """A weight that was worked out: to the scale's step, and with no more than three figures beside its whole grams.

    >>> weight(53.26, 0.1), weight(53.26, 1), weight(122.44, 0.1), weight(5.326, 0.1), weight(0.044, 0.1)
    ('53.3', '53', '122', '5.3', '0.04')
    """
    return f"{grams:.{weight_decimals(grams, step_g)}f}"


def weights(low: float, high: float, step_g: float = USUAL_STEP_G) -> str:
    """Two weights with their unit, both to the same decimals.

    >>> weights(6.76, 16.0, 0.1), weights(98.2, 122.4, 0.1), weights(21.0, 21.04, 0.1)
    ('6.8 to 16.0 g', '98 to 122 g', '21.0 g')
    """
    decimals = weight_decimals(max(abs(low), abs(high)), step_g)
    first, last = f"{low:.{decimals}f}", f"{high:.{decimals}f}"
    return f"{first} g" if first == last else f"{first} to {last} g"


def weight_decimals(grams: float, step_g: float) -> int:
    """Decimals of a weight beside a scale with this step; more than the step's where it would be nothing."""
    size = abs(float(f"{grams:.3g}"))
    if not size or not math.isfinite(size):
        return decimals_of(step_g)
    place = -math.floor(math.log10(size))  # of its first figure
    found = max(0, min(decimals_of(step_g), place + 2))
    return found if round(size, found) else min(place, 6)


def two_figures(low: float, high: float | None = None) -> str:
    """A count or area that is known to about a tenth, or two with the same decimals: two figures.

    >>> two_figures(4.01), two_figures(123.4), two_figures(20.2, 25.7), two_figures(2.71, 4.96)
    ('4.0', '123', '20 to 26', '2.7 to 5.0')
    """
    size = float(f"{low if high is None else high:.2g}")
    decimals = max(0, 1 - math.floor(math.log10(size))) if size > 0 else 0
    first, last = f"{low:,.{decimals}f}", f"{low if high is None else high:,.{decimals}f}"
    return first if first == last else f"{first} to {last}"


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
    return min(max(0, math.ceil(-math.log10(step) - 1e-9)), 6) if step > 0 else 6
