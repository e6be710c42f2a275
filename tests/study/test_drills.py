"""Made-up drills have curves that grow, catches that scatter as they should, and a log like a user's."""

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
