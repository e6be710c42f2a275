"""Exact factors against scipy.constants (CODATA and exact definitions) and the printed ones."""

import pytest
import scipy.constants as c

from predictor import units


def test_factors_agree_with_a_reference_library():
    # 1e-15: scipy works its pound out from the grain, one rounding apart
    assert pytest.approx(c.pound, rel=1e-15) == units.GRAMS_PER_POUND / 1000
    assert pytest.approx(c.ounce, rel=1e-15) == units.GRAMS_PER_OUNCE / 1000
    assert pytest.approx(c.foot, rel=1e-15) == units.METRES_PER_FOOT
    assert pytest.approx(c.inch, rel=1e-15) == units.METRES_PER_INCH
    assert pytest.approx(c.acre, rel=1e-15) == units.SQUARE_METRES_PER_ACRE
    assert units.SQUARE_METRES_PER_HECTARE == c.hectare


def test_factors_are_the_exact_ones():
    """1 lb = 453.59237 g, 1 oz = 28.349523125 g, 1 acre = 43,560 ft2 (international definitions)."""
    assert units.GRAMS_PER_OUNCE == 28.349523125
    assert units.SQUARE_METRES_PER_ACRE / units.SQUARE_METRES_PER_SQUARE_FOOT == pytest.approx(43_560, rel=1e-15)


def test_rates_come_back_in_the_unit_asked_for():
    assert units.rate_in(3 * units.LB_PER_ACRE, "us") == pytest.approx(3)
    assert units.rate_in(1.0, "metric") == pytest.approx(10)
