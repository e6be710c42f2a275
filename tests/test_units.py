"""Exact factors agree with scipy.constants (CODATA and exact definitions) and with printed ones."""

from fractions import Fraction

import pytest
import scipy.constants as c

from predictor import units


def test_factors_agree_with_a_reference_library():
    # scipy works its pound out from the grain, which is one rounding (1e-15) apart
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


def test_one_pound_an_acre_is_the_exact_fraction():
    """The definitions alone give it in exact arithmetic: 0.45359237 kg over 43,560 x 0.3048^2 m2."""
    pound = Fraction("453.59237")
    acre = 43_560 * Fraction("0.3048") ** 2
    assert pytest.approx(float(pound / acre), rel=4e-16) == units.LB_PER_ACRE
    assert pytest.approx(float(acre), rel=4e-16) == units.SQUARE_METRES_PER_ACRE
    assert units.KG_PER_HECTARE == 0.1


@pytest.mark.parametrize(
    ("table", "unit", "reference"),
    [
        (units.GRAMS, "g", c.gram),
        (units.GRAMS, "oz", c.ounce),
        (units.GRAMS, "lb", c.pound),
        (units.GRAMS, "kg", 1.0),
        (units.METRES, "m", 1.0),
        (units.METRES, "cm", c.centi),
        (units.METRES, "ft", c.foot),
        (units.METRES, "in", c.inch),
        (units.SQUARE_METRES, "ac", c.acre),
        (units.SQUARE_METRES, "ha", c.hectare),
    ],
)
def test_every_unit_a_header_may_name_agrees_with_a_reference_library(table, unit, reference):
    scale = 1000 if table is units.GRAMS else 1
    assert table[unit] == pytest.approx(reference * scale, rel=4e-16)


def test_every_unit_of_the_tables_is_checked():
    assert set(units.GRAMS) == {"g", "oz", "lb", "kg"}
    assert set(units.METRES) == {"m", "cm", "ft", "in"}
    assert set(units.SQUARE_METRES) == {"ac", "ha"}
    assert {"lb_ac": units.LB_PER_ACRE, "kg_ha": units.KG_PER_HECTARE} == units.RATES
    assert pytest.approx(0.09290304, rel=4e-16) == units.SQUARE_METRES_PER_SQUARE_FOOT
