"""The bar of the mean: it lies inside the target zone where, and only where, the chance is enough for a lock."""

import numpy as np
import pytest

from predictor import Drill, Lever, SeedBox, recommend
from predictor.advice.limits import band, bar
from tests.advice.test_growth import BOX, kinked, log
from tests.benchmarks.bench_bar import advices, held

MADE_UP = list(advices(12))


def probability(advice, low, high):
    """Chance that the mean lies between two weights of the next catch; a weight of nothing counts from nothing."""
    size = advice.next_turns * advice.next_rows
    low = -np.inf if low <= 1e-9 else low / size
    return advice.curve.probability(advice.advised.opening, low, high / size, advice.shared_sd**2)


def zone(advice):
    return advice.target_catch_g * (1 - advice.tolerance), advice.target_catch_g * (1 + advice.tolerance)


def test_the_bar_lies_in_the_zone_where_and_only_where_the_setting_is_sure_enough():
    found = [held(each) for each in MADE_UP]
    assert 5 <= sum(sure for sure, *_ in found) <= len(found) - 5
    assert [fits for _, fits, _ in found] == [sure for sure, *_ in found]


def test_limits_with_equal_tails_lie_in_the_zone_only_where_it_is_sure_enough_but_not_always_then():
    found = [(sure, tails) for sure, _, tails in map(held, MADE_UP)]
    assert (False, True) not in found
    assert (True, False) in found
    assert (True, True) in found


def test_a_lock_has_its_bar_in_the_zone():
    locks = [each for each in MADE_UP if each.decision == "lock"]
    assert len(locks) >= 3
    for advice in locks:
        (low, high), (least, most) = bar(advice, advice.advised.opening), zone(advice)
        assert least - 1e-9 <= low < high <= most + 1e-9


@pytest.mark.parametrize("advice", MADE_UP[::7])
def test_the_bar_holds_the_mean_with_the_confidence(advice):
    assert probability(advice, *bar(advice, advice.advised.opening)) == pytest.approx(advice.confidence, abs=2e-6)


def test_the_bar_of_rows_weighed_apart_holds_what_was_not_caught():
    box = SeedBox("small", "small", Lever(0, 60))
    drill = Drill("made up", 12, 0.19, 2.2, (box,))
    import pandas as pd

    rows = [[15.0, 17.0, 19.0], [18.6, 21.2, 23.4], [18.4, 21.0, 23.6]]
    columns = {"box": "small", "lot": "A", "setting": [30, 38, 38], "catch_g": [sum(each) for each in rows]}
    frame = pd.DataFrame({**columns, "turns": 28, "rows": 3})
    frame["rows_g"] = rows
    advice = recommend(frame, box, drill=drill, target_g=63.0)
    assert advice.shared_sd > 0.02
    low, high = bar(advice, advice.advised.opening)
    assert probability(advice, low, high) == pytest.approx(advice.confidence, abs=2e-6)
    # rows that were not caught widen it: their part is taken from `chance`
    narrow = advice.curve.interval(advice.advised.opening, advice.confidence)
    size = advice.next_turns * advice.next_rows
    assert np.log(high / low) > 1.05 * np.log(narrow[1] / narrow[0])
    lower, upper = band(advice, np.array([advice.advised.opening]))
    assert (lower[0], upper[0]) == pytest.approx(
        advice.curve.quantile(advice.advised.opening, [0.025, 0.975], extra_variance=advice.shared_sd**2) * size
    )


def test_the_bar_of_a_spline_holds_too():
    advice = recommend(log(240, 24, shape=kinked), BOX, target_g=40.0)
    assert advice.family == "spline"
    assert held(advice)[0] is held(advice)[1]
    assert probability(advice, *bar(advice, advice.advised.opening)) == pytest.approx(advice.confidence, abs=2e-6)


def test_whole_limits_of_the_advice_are_those_of_the_chance():
    for advice in MADE_UP[::11]:
        low, high = advice.expected_interval
        size = advice.next_turns * advice.next_rows
        assert probability(advice, low * size, high * size) == pytest.approx(0.95, abs=1e-5)
