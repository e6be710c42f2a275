"""Honest weights of scales that show ounces or pounds: their steps are coarse, so that equal weights are no copies."""

import numpy as np
import pytest

from predictor.slips import repeats
from predictor.units import GRAMS
from tests.slips.lots import FREE, seen


@pytest.mark.parametrize(("unit", "step"), [("lb", 0.01), ("oz", 0.1), ("oz", 0.125), ("oz", 0.05)])
def test_equal_weights_on_a_scale_of_ounces_or_pounds_are_no_copies(unit, step):
    for run in range(10):
        noise = np.exp(0.02 * np.random.default_rng([4, run]).standard_normal(6))
        weights = np.round(1.6 * 36 * noise / GRAMS[unit] / step) * step * GRAMS[unit]
        lot = seen(FREE, [(36, grams) for grams in weights], 36 * 1.6 / 84)
        assert {each.code for each in repeats.look(lot)} <= {"rounded"}


def test_copies_of_weights_in_grams_are_found_as_before():
    lot = seen(FREE, [(36, grams) for grams in (57.6, 59.3, 57.6, 59.3, 57.6)], 36 * 1.6 / 84)
    assert "copies" in {each.code for each in repeats.look(lot)}
