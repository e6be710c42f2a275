"""When to refill a box. All numbers are invented."""

import math

import pytest

from predictor import Lever, SeedBox
from predictor.advice.lot_fit import Stationary
from predictor.field.filling import fill_effect, refill

CHAFFY, SMALL = (SeedBox(name, name, Lever(0, 60)) for name in ("chaffy", "small"))


def standing(effect):
    return Stationary(0.0, 0.05, 0.04, 0.03, 12.0, effect)


def test_the_effect_is_measured_published_or_assumed():
    assert fill_effect(CHAFFY, standing(0.24)) == (0.24, "seen")
    assert fill_effect(CHAFFY, standing(None)) == fill_effect(CHAFFY, None) == (0.15, "chaffy")
    assert fill_effect(SMALL, None) == (0.10, "assumed")


def test_a_box_is_refilled_where_output_has_fallen_by_half_the_tolerance():
    found = refill(SMALL, standing(0.5), 0.10)
    assert found.at == pytest.approx(0.5 - 0.05 / 0.5)
    assert found.loss == pytest.approx(1 - math.exp(-0.05))
    assert found.measured


def test_no_box_is_run_nearly_empty():
    assert refill(SMALL, standing(0.01), 0.10).at == 1 / 4
    assert refill(CHAFFY, standing(0.01), 0.10).at == 1 / 3
    assert refill(SMALL, standing(-0.1), 0.10) == refill(SMALL, standing(0.0), 0.10)
    assert refill(SMALL, standing(-0.1), 0.10).loss == 0.0


def test_a_wide_effect_asks_for_a_box_half_full():
    assert refill(CHAFFY, standing(5.0), 0.001).at == pytest.approx(0.5, abs=1e-3)
