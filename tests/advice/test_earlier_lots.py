"""Earlier lots under every shape: what is worked out for all of them at once is what each alone gives."""

import numpy as np
import pytest

from predictor.advice.earlier_lots import Table, lots_of, together
from predictor.advice.evidence import lengths
from predictor.curves.prior import cold_prior
from predictor.curves.shapes import log_shapes
from predictor.domain.control import Lever
from predictor.domain.drill import SeedBox
from predictor.domain.trials import Trials
from predictor.files.trials import as_trials


@pytest.fixture
def box() -> SeedBox:
    return SeedBox("small", "small", Lever(0, 40))


def _log(box: SeedBox) -> Trials:
    """Catches of twelve lots in three seasons, mixed up, of several turns; invented."""
    import pandas as pd

    rng = np.random.default_rng(4)
    n = 150
    setting, lot, season = rng.integers(6, 20, n), rng.integers(0, 12, n), rng.integers(2023, 2026, n)
    weight = 3 * (setting - 1.5) ** 1.1 * np.exp(0.1 * np.sin(lot) + rng.normal(0, 0.04, n))
    columns = {"box": "small", "lot": [f"L{each}" for each in lot], "season": season.astype(str), "setting": setting}
    turns = rng.choice([14, 28, 56], n)
    return as_trials(pd.DataFrame({**columns, "catch_g": weight * turns / 28, "turns": turns, "rows": 3}))


def test_a_lot_is_gathered_among_many_as_it_is_alone(box):
    trials = _log(box)
    together, lost = lots_of(trials, box, "L3", "2025")
    assert not lost
    names = {(each.season, each.lot) for each in together}
    assert names == set(zip(trials.season, trials.lot, strict=True)) - {("2025", "L3")}
    assert [each.season for each in together] == sorted(each.season for each in together)
    for each in together:
        part = trials.of(lot=each.lot, season=each.season)
        own = cold_prior("small").usual_own
        value, weight = np.log(part.output), 1 / (own / lengths(part) + 1 - own)
        at, place = np.unique(part.opening / 40, return_inverse=True)
        mean = [np.average(value[place == k], weights=weight[place == k]) for k in range(len(at))]
        np.testing.assert_allclose(each.at, at)
        np.testing.assert_allclose(each.value, mean, rtol=1e-12)
        np.testing.assert_allclose(each.weight, [weight[place == k].sum() for k in range(len(at))], rtol=1e-12)
        assert each.within == pytest.approx(weight @ (value - np.array(mean)[place]) ** 2, abs=1e-12)
        assert each.n == len(part)


def test_lots_of_two_logs_are_together_what_they_are_in_one(box):
    trials = _log(box)
    whole = lots_of(trials, box, None, None)[0]
    logs = [trials.where(trials.season == season) for season in ("2023", "2024", "2025")]
    found = together([lots_of(each, box, None, None)[0] for each in logs])
    assert found.names == whole.names
    assert len(found) == len(found[:]) == len(list(found)) == len(whole)
    assert [each.name for each in found[1:3]] == [found[1].name, found[2].name]
    for one, other in zip(found, whole, strict=True):
        assert (one.lot, one.season, one.n, one.towed) == (other.lot, other.season, other.n, other.towed)
        np.testing.assert_allclose(np.array([*one.at, one.within]), [*other.at, other.within], rtol=1e-12)
    cold = cold_prior("small")
    np.testing.assert_allclose(Table(found, cold).posterior(), Table(whole, cold).posterior(), rtol=1e-9)


def test_sums_of_squares_and_levels_are_those_worked_out_at_every_shape(box):
    lots, _ = lots_of(_log(box), box, None, None)
    table = Table(lots, cold_prior("small"))
    bend, flat = np.exp(table.log_bend), np.full(len(table.dead), 1 / len(table.dead))
    counted = np.linspace(0.5, 1.0, len(lots))
    squares, total = [], np.zeros(len(bend))
    for i, lot in enumerate(lots):
        rest = lot.value - log_shapes(lot.at, table.dead, bend, table.at)  # each shape by itself
        level = rest @ lot.weight / lot.weight.sum()
        squares.append((rest - level[:, None]) ** 2 @ lot.weight + lot.within)
        total += counted[i] * squares[-1]
        np.testing.assert_allclose(table.level(i), level, rtol=1e-9)
        assert table.levels(flat)[i] == pytest.approx(level.mean(), rel=1e-9)
        assert table.least([i]) == pytest.approx(squares[-1].min(), rel=1e-9)
    np.testing.assert_allclose(table.square(counted), total, rtol=1e-9)
    one = table.log_bend[7 * 121]
    each = np.array(squares)[:, table.log_bend == one]
    np.testing.assert_allclose(table.squares_at(one)[1], each, rtol=1e-9, atol=1e-30)  # a lot at one setting leaves 0
