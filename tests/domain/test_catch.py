"""Catch arithmetic holds for any drill. Figures of agencies are in tests/published."""

import pytest
from hypothesis import given, strategies as st

from predictor import Drill, Lever, SeedBox
from predictor.domain.catch import catch_area, output_for_rate, rate_for_output, target_catch_g

positive = st.floats(0.01, 1000)


def drill(spacing_m=0.19, circumference_m=2.2):
    return Drill("made up", 12, spacing_m, circumference_m, (SeedBox("a", "small", Lever(0, 60)),))


def test_area_of_a_catch_is_the_product_of_its_four_lengths_and_counts():
    assert catch_area(28, 3, 2.2, 0.19) == pytest.approx(28 * 3 * 2.2 * 0.19, rel=1e-15)


@given(rate=positive, turns=positive, rows=st.integers(1, 60), factor=st.floats(0.5, 1.5))
def test_target_catch_planted_over_its_area_is_the_rate(rate, turns, rows, factor):
    target = target_catch_g(rate, drill(), turns, rows, factor)
    assert target * factor / catch_area(turns, rows, 2.2, 0.19) == pytest.approx(rate, rel=1e-12)


@given(rate=positive, factor=st.floats(0.5, 1.5))
def test_rate_and_output_are_each_others_inverse(rate, factor):
    assert rate_for_output(output_for_rate(rate, drill(), factor), drill(), factor) == pytest.approx(rate, rel=1e-12)


@given(turns=positive, rows=st.integers(1, 60))
def test_twice_the_turns_or_twice_the_rows_catch_twice_the_weight(turns, rows):
    once = target_catch_g(1.0, drill(), turns, rows)
    assert target_catch_g(1.0, drill(), 2 * turns, rows) == pytest.approx(2 * once, rel=1e-12)
    assert target_catch_g(1.0, drill(), turns, 2 * rows) == pytest.approx(2 * once, rel=1e-12)


def test_a_field_factor_below_one_asks_for_a_heavier_catch():
    assert target_catch_g(1.0, drill(), 28, 3, 0.85) > target_catch_g(1.0, drill(), 28, 3)
