"""The test of one repeatability for all seasons, by simulation. Everything here is invented."""

import math

import numpy as np
import pytest

from predictor.lots.repeatability import same_repeatability


def drawn(rng, seasons, lots, catches, tails=False, last=1.0):
    """Residuals of lots about their means in each season, the part of each that is free, and its season."""
    residual, free, season = [], [], []
    for when in range(seasons):
        for _ in range(lots):
            n = int(rng.integers(catches[0], catches[1] + 1))
            noise = rng.standard_t(5, n) / math.sqrt(5 / 3) if tails else rng.normal(size=n)
            noise = noise * (last if when == seasons - 1 else 1.0)
            residual.extend(noise - noise.mean())
            free.extend([1 - 1 / n] * n)
            season.extend([when] * n)
    return np.array(residual), np.array(free), np.array(season)


@pytest.mark.parametrize("tails", [False, True], ids=["normal", "t5"])
@pytest.mark.parametrize(
    ("seasons", "lots", "catches"),
    [(2, 3, (2, 3)), (3, 3, (2, 3)), (5, 3, (2, 3)), (2, 12, (2, 2)), (3, 4, (1, 12)), (2, 1, (6, 12))],
)
def test_one_repeatability_is_rejected_as_seldom_as_promised(seasons, lots, catches, tails):
    """Promised: 5 %. The standard error of that in 600 logs is 0.9 %; three are allowed.

    Bartlett's test rejects 9 to 21 % of the logs with heavy tails.
    """
    rng = np.random.default_rng(2)
    found = [same_repeatability(*drawn(rng, seasons, lots, catches, tails), 0.0) for _ in range(600)]
    p = [each.p for each in found if each is not None]
    assert len(p) > 500
    assert np.mean(np.array(p) < 0.05) <= 0.05 + 3 * math.sqrt(0.05 * 0.95 / len(p))


def test_a_season_of_twice_the_scatter_is_found_where_lots_were_caught_often():
    """Bartlett's test, which takes a normal shape for granted, finds 89 % of these; simulated, error 2 %."""
    rng = np.random.default_rng(2)
    found = [same_repeatability(*drawn(rng, 3, 4, (2, 12), last=2.0), 0.0).p < 0.05 for _ in range(300)]
    assert np.mean(found) > 0.7


def test_the_order_of_catches_does_not_matter():
    values = drawn(np.random.default_rng(4), 3, 4, (2, 5))
    turned = np.random.default_rng(5).permutation(len(values[0]))
    one, other = same_repeatability(*values, 0.0), same_repeatability(*(each[turned] for each in values), 0.0)
    assert other.statistic == pytest.approx(one.statistic, rel=1e-12)


def test_two_catches_of_a_lot_tell_as_much_as_one_departure():
    """Pairs depart by the same size twice, so they have the degrees of freedom of as many single departures."""
    size, season = np.array([1.0, 2.0, 0.5, 3.0, 1.5, 4.0]), np.array([0, 0, 0, 1, 1, 1])
    single = same_repeatability(size, np.ones(6), season, 0.0)
    pairs = np.repeat(size / math.sqrt(2), 2) * np.tile([1, -1], 6)
    paired = same_repeatability(pairs, np.full(12, 0.5), np.repeat(season, 2), 0.0)
    assert (paired.statistic, paired.p) == pytest.approx((single.statistic, single.p), rel=1e-12)


def test_residuals_of_pairs_and_of_many_catches_are_held_to_one_measure():
    """Residuals of a pair are smaller than those of many catches, by the part that is free."""
    size = np.array([1.0, 2.0, 0.5, 3.0])
    pairs = np.repeat(size / math.sqrt(2), 2) * np.tile([1, -1], 4)
    found = same_repeatability(
        np.concatenate([pairs, size]), np.array([0.5] * 8 + [1.0] * 4), np.array([0] * 8 + [1] * 4), 0.0
    )
    assert found.statistic == pytest.approx(0.0, abs=1e-12)


def test_one_season_or_one_pair_in_each_cannot_be_tested():
    pair = np.array([0.1, -0.1])
    assert same_repeatability(np.tile(pair, 3), np.full(6, 0.5), np.zeros(6, dtype=int), 0.0) is None
    assert same_repeatability(np.tile(pair, 2), np.full(4, 0.5), np.array([0, 0, 1, 1]), 0.0) is None


def test_scatter_below_the_step_of_the_scale_is_no_difference():
    """Catches that agree to the last digit in one season do not show a better repeatability than the scale does."""
    values = np.concatenate([np.zeros(6), 1e-4 * np.array([1, -1, 2, -2, 1.5, -1.5])])
    assert same_repeatability(values, np.full(12, 0.5), np.repeat([0, 1], 6), 1e-6) is None
