"""Catch arithmetic holds for any drill. Figures of agencies are in tests/published."""

from dataclasses import replace

import pytest
from hypothesis import given, strategies as st

from predictor import Drill, Lever, SeedBox
from predictor.domain.catch import catch_area, coarse_scale, output_for_rate, rate_for_output, target_catch_g

positive = st.floats(0.01, 1000)


BOX = SeedBox("a", "small", Lever(0, 60))


def drill(spacing_m=0.19, circumference_m=2.2):
    return Drill("made up", 12, spacing_m, circumference_m, (BOX,))


def test_area_of_a_catch_is_the_product_of_its_four_lengths_and_counts():
    assert catch_area(28, 3, 2.2, 0.19) == pytest.approx(28 * 3 * 2.2 * 0.19, rel=1e-15)


@given(rate=positive, turns=positive, rows=st.integers(1, 60), factor=st.floats(0.5, 1.5))
def test_target_catch_planted_over_its_area_is_the_rate(rate, turns, rows, factor):
    target = target_catch_g(rate, drill(), BOX, turns, rows, factor)
    assert target * factor / catch_area(turns, rows, 2.2, 0.19) == pytest.approx(rate, rel=1e-12)


@given(rate=positive, factor=st.floats(0.5, 1.5))
def test_rate_and_output_are_each_others_inverse(rate, factor):
    assert rate_for_output(output_for_rate(rate, drill(), BOX, factor), drill(), BOX, factor) == pytest.approx(
        rate, rel=1e-12
    )


@given(turns=positive, rows=st.integers(1, 60))
def test_twice_the_turns_or_twice_the_rows_catch_twice_the_weight(turns, rows):
    once = target_catch_g(1.0, drill(), BOX, turns, rows)
    assert target_catch_g(1.0, drill(), BOX, 2 * turns, rows) == pytest.approx(2 * once, rel=1e-12)
    assert target_catch_g(1.0, drill(), BOX, turns, 2 * rows) == pytest.approx(2 * once, rel=1e-12)


def test_a_field_factor_below_one_asks_for_a_heavier_catch():
    assert target_catch_g(1.0, drill(), BOX, 28, 3, 0.85) > target_catch_g(1.0, drill(), BOX, 28, 3)


@given(rate=positive, rows=st.integers(1, 11))
def test_a_box_in_fewer_rows_gives_each_row_as_much_more_and_the_same_rate(rate, rows):
    few = replace(BOX, rows=rows)
    every, one = (output_for_rate(rate, drill(), each) for each in (BOX, few))
    assert one * rows == pytest.approx(every * 12, rel=1e-12)
    assert rate_for_output(one, drill(), few) == pytest.approx(rate, rel=1e-12)
    assert drill().width_of(few) == pytest.approx(12 * 0.19, rel=1e-12)


def test_a_box_in_every_second_row_gets_twice_the_weight_a_row_and_in_ten_of_twelve_a_fifth_more():
    usual = target_catch_g(1.0, drill(), BOX, 28, 3)
    assert target_catch_g(1.0, drill(), replace(BOX, rows=6), 28, 3) == pytest.approx(2 * usual, rel=1e-12)
    assert target_catch_g(1.0, drill(), replace(BOX, rows=10), 28, 3) == pytest.approx(1.2 * usual, rel=1e-12)


def test_a_half_width_pass_has_the_catch_of_the_full_width_over_half_the_ground():
    half = replace(BOX, rows=6, row_spacing_m=0.19)
    assert target_catch_g(1.0, drill(), half, 28, 3) == target_catch_g(1.0, drill(), BOX, 28, 3)
    assert drill().width_of(half) == pytest.approx(6 * 0.19, rel=1e-12)


def test_a_usual_catch_has_no_more_rows_than_the_box_feeds():
    assert drill().catch_of(replace(BOX, rows=2)).rows == 2
    assert drill().catch_of(BOX) == drill().catch


def test_a_coarse_scale_is_mended_with_the_rows_that_the_box_feeds():
    """A catch of 4.3 g of which a step of 0.1 g is 2.3 %: with all rows it needs 7 of them, and the box has 6."""
    few, wide = (coarse_scale(each, 4.3 / 84, drill(), 28, 3) for each in (replace(BOX, rows=6), BOX))
    assert (few["all_rows"], few["more_rows"], few["turns_of_all"]) == (6, None, 33)
    assert (wide["all_rows"], wide["more_rows"], wide["turns_of_all"]) == (12, 7, None)
