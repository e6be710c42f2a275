"""Made-up drills have curves that grow, catches that scatter as they should, and a log like a user's."""

from dataclasses import replace

import numpy as np
import pytest

from predictor.domain.control import Lever
from predictor.domain.drill import SeedBox
from predictor.study.drills import SHAPES, Log, MadeUpLot, Shape, random_shape, row_effects

BOX = SeedBox("box", "small", Lever(0, 100, 1))


@pytest.mark.parametrize("kind", SHAPES)
def test_true_curves_grow_with_the_setting(kind):
    shape = random_shape(np.random.default_rng(1), kind)
    assert np.all(np.diff(shape(np.linspace(0.2, 1, 81))) > 0)


def test_catches_scatter_by_the_repeatability_around_the_true_mean():
    """20,000 catches have standard errors of 0.06 % of the mean and 0.5 % of the spread. Four are allowed."""
    lot = MadeUpLot(BOX, Shape("line", 0.0), 2.0, 0.08)
    rng = np.random.default_rng(3)
    grams = np.array([lot.catch(rng, 50.0, 10, 2)[0] for _ in range(20_000)])
    assert grams.mean() == pytest.approx(2.0 * 0.5 * 20, rel=4 * 0.08 / np.sqrt(20_000))
    assert grams.std() / grams.mean() == pytest.approx(0.08, rel=0.02)


def test_rows_differ_but_average_to_the_drill():
    effects = row_effects(np.random.default_rng(1), 0.05, 12)
    assert np.mean(effects) == pytest.approx(1.0)
    assert 0.02 < np.std(effects) < 0.1


@pytest.mark.parametrize("keep", [True, False])
def test_the_log_gives_trials_of_the_same_catches(keep):
    log = Log(MadeUpLot(BOX, Shape("line", 0.0), 2.0, 0.05), keep_rows=keep)
    rng = np.random.default_rng(1)
    log.add(rng, 40.0)
    log.add(rng, 50.0)
    trials = log.trials()
    assert trials.opening.tolist() == [40.0, 50.0]
    assert trials.setting.tolist() == ["40", "50"]
    assert trials.counts.all()
    assert [rows is None for rows in trials.rows_g] == [not keep] * 2
    if keep:
        assert sum(trials.rows_g[0]) == pytest.approx(trials.catch_g[0])


def logs(lot, turns=28.0, parts=1, count=4000):
    """Logs of the parts of many catches over their mean, and of whole catches."""
    rng = np.random.default_rng(7)
    grams = np.array([lot.parts(rng, 50.0, turns, 3, parts) for _ in range(count)])
    mean = float(lot.mean(50.0)) * turns
    return np.log(grams * parts / mean), np.log(grams.sum(axis=1) / mean)


@pytest.mark.parametrize("own", [1.0, 0.5, 0.25])
def test_only_the_own_share_of_the_scatter_averages_out_in_longer_catches(own):
    """The variance of 4,000 logs has a standard error of 2.2 %. Four are allowed."""
    lot = MadeUpLot(BOX, Shape("line", 0.0), 2.0, 0.08, own=own)
    for turns in (28.0, 112.0):
        _, whole = logs(lot, turns)
        assert whole.var() == pytest.approx(lot.noise**2 * (1 - own + own * 28 / turns), rel=4 * 0.022)


@pytest.mark.parametrize("own", [1.0, 0.25])
def test_parts_of_a_catch_scatter_by_their_own_share_and_add_to_an_ordinary_catch(own):
    """The variance of 4,000 logs has a standard error of 2.2 %, of 16,000 parts 1.1 %. Four are allowed."""
    lot = MadeUpLot(BOX, Shape("line", 0.0), 2.0, 0.05, own=own)
    apart, whole = logs(lot, parts=4)
    assert whole.var() == pytest.approx(lot.noise**2, rel=4 * 0.022)
    assert (apart.var(axis=1, ddof=1)).mean() == pytest.approx(4 * own * lot.noise**2, rel=4 * 0.011)


def test_heavy_tails_keep_the_spread_and_bridging_takes_seed():
    """The fourth moment of 4,000 logs of a mixture is uncertain, so the spread is held to 10 %."""
    plain = MadeUpLot(BOX, Shape("line", 0.0), 2.0, 0.08)
    _, heavy = logs(replace(plain, wild=0.1))
    assert heavy.std() == pytest.approx(plain.noise, rel=0.10)
    assert np.mean(heavy**4) / np.mean(heavy**2) ** 2 > 4
    _, bridged = logs(replace(plain, cv=0.001, bridged=0.1))
    share = float(np.mean(bridged < np.log(0.9)))
    assert share == pytest.approx(0.1, abs=4 * np.sqrt(0.09 / 4000))


def test_drift_adds_up_catch_by_catch():
    log = Log(MadeUpLot(BOX, Shape("line", 0.0), 2.0, 1e-9, drift=0.01))
    for _ in range(3):
        log.add(np.random.default_rng(1), 50.0)
    assert log.trials().output == pytest.approx(np.exp([0, 0.01, 0.02]))
