"""Where to start with a lot, and with one not yet seen. All logs are invented."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import optimize, stats

from predictor.curves.prior import Repeatability
from predictor.domain.control import Lever
from predictor.lots import starts
from predictor.lots.catches import select
from predictor.lots.compare import compare_lots
from predictor.lots.flow import Asked
from predictor.lots.random_levels import one_way_of_estimates, ratios_without_repeats
from predictor.lots.shapes import fit_common
from predictor.lots.spread import random_lots
from predictor.lots.starts import predict_starts
from tests.benchmarks.bench_lots_hold import Cell
from tests.benchmarks.bench_lots_starts import starts_of
from tests.lots.lot_logs import BOX, log, made_up

FINE = replace(BOX, control=Lever(0, 60, 0.01))
ROWS = made_up([0.0, 0.1, 0.25, -0.1, 0.3], [6, 4, 1, 3, 1], cv=0.1, seed=3)


def common_of(rows, box=FINE):
    common = fit_common(select(log(rows), box), 0.95)
    return common, random_lots(common, 0.95)


def need_of(common, level, goal):
    return common.middle[0] + math.expm1(goal - level) / common.bend[0]


def test_a_start_follows_the_dense_best_linear_unbiased_prediction():
    """Robinson (1991), Stat. Sci. 6, 15-32: at one ratio of variances, whole matrices give the same levels."""
    common, fit = common_of(ROWS)
    lot, y = common.catches.lot, common.z - common.bend[0] * common.x
    known = fit.ratios
    predicted = np.zeros(5)
    for ratio, weight in zip(known.ratio, known.weight, strict=True):
        z = (lot[:, None] == np.arange(5)).astype(float)
        v = np.eye(len(y)) + ratio * z @ z.T
        ones = np.ones(len(y))
        mean = ones @ np.linalg.solve(v, y) / (ones @ np.linalg.solve(v, ones))
        predicted += weight * (mean + ratio * z.T @ np.linalg.solve(v, y - mean))
    goal = 0.5
    found = predict_starts(common, common, fit, Asked(0, 30.0, goal, 0.95))
    assert found.need[:5] == pytest.approx([need_of(common, each, goal) for each in predicted], rel=1e-6)


def test_limits_of_a_new_lot_are_those_of_the_mixture():
    """Quantiles by the root finder and Student's t of scipy, with the dead setting taken as known."""
    common, fit = common_of(ROWS)
    common = replace(common, bend_var=np.zeros_like(common.bend_var))
    known, goal = fit.ratios, 0.5
    sizes = np.sqrt(known.within * (known.ratio + known.mean_var))

    def share(value):
        return float(known.weight @ stats.t.cdf((value - known.mean) / sizes, known.df))

    low, high = (optimize.brentq(lambda x, p=p: share(x) - p, -9, 9) + fit.offset for p in (0.025, 0.975))
    found = predict_starts(common, common, fit, Asked(0, 30.0, goal, 0.95))
    assert found.low[-1] == pytest.approx(need_of(common, high, goal), rel=1e-4)
    assert found.high[-1] == pytest.approx(need_of(common, low, goal), rel=1e-4)


def test_a_lot_caught_once_is_drawn_towards_the_others_and_one_caught_often_is_not():
    found = compare_lots(log(ROWS), FINE, target_output=0.5)
    common, _ = common_of(ROWS)
    average = found.spread.next_setting.value
    moved = {}
    for k, row in enumerate(found.lots):
        alone = need_of(common, common.lines.level[k], math.log(0.5))
        assert min(alone, average) - 0.01 <= row.setting.value <= max(alone, average) + 0.01
        moved[row.lot] = (row.setting.value - alone) / (average - alone)
    assert moved["L2"] > 3 * moved["L0"]


def test_the_reference_starts_where_it_was_caught_and_lots_beside_it():
    found = compare_lots(log(ROWS), FINE, reference="L0")
    row = found.lot("L0")
    assert row.setting == row.setting_lower == row.setting_upper == found.reference.setting
    assert found.spread.next_setting_lower.value < found.spread.next_setting.value
    assert found.spread.next_setting.value < found.spread.next_setting_upper.value


def test_a_start_without_repeats_is_drawn_to_the_average_lot_as_is_usual_for_the_box_and_has_no_limits():
    """Catches of chaffy seed scatter more as a rule, so a lot caught once says less of itself."""
    rows = [("A", 20, 17.0), ("B", 20, 20.0), ("C", 20, 14.0)]
    starts_of_b = []
    for holds in ("small", "chaffy"):
        found = compare_lots(log(rows), replace(FINE, holds=holds), reference="A")
        row, dead = found.lot("B"), found.shape.dead_opening
        assert (row.setting_lower, row.setting_upper) == (None, None)
        assert found.spread.next_setting_lower is None
        assert found.spread.next_setting.value == pytest.approx(20, abs=1)
        assert "drawn towards the average lot" in " ".join(str(found).split())
        starts_of_b.append(row.setting.value)
    alone = dead + (20 - dead) * 17 / 20
    assert alone + 0.1 < starts_of_b[0] < starts_of_b[1] - 0.1 < 20
    one = compare_lots(log(rows[:1]), FINE)
    assert "drawn" not in str(one)


def test_without_repeats_a_repeatability_that_is_known_for_sure_gives_the_usual_prediction():
    """One worth a million catches is the same as that many repeated catches of known scatter."""
    rng = np.random.default_rng(8)
    height, count = rng.normal(0, 0.15, 30), rng.integers(1, 3, 30).astype(float)
    found = ratios_without_repeats(height, count, Repeatability(((1.0, 0.1, 1e6),)))
    other = one_way_of_estimates(height, 0.01 / count, within=0.01, df_within=1_000_000).ratios
    for of in (lambda each: each.ratio / (1 + each.ratio), lambda each: each.mean, lambda each: each.mean_var):
        shift = float(height.mean())
        mine, theirs = found.weight @ of(found), other.weight @ of(other)
        moved = shift if of(found) is found.mean else 0.0
        assert mine == pytest.approx(theirs + moved, abs=2e-3)


def test_many_lots_start_where_all_ratios_of_variances_say(monkeypatch):
    """Above 100 lots a few ratios stand for all: starts and limits stay where they were."""
    rng = np.random.default_rng(8)
    rows = made_up(rng.normal(0, 0.1, 140), rng.integers(1, 4, 140).tolist(), cv=0.1, seed=5)
    common, fit = common_of(rows)
    asked = Asked(0, 30.0, 0.5, 0.95)
    few = predict_starts(common, common, fit, asked)
    monkeypatch.setattr(starts, "FEW_POINTS", {})
    every = predict_starts(common, common, fit, asked)
    for name in ("need", "low", "high"):
        assert getattr(few, name) == pytest.approx(getattr(every, name), rel=2e-3)


def test_a_season_of_a_lot_leans_on_its_other_season():
    """A lot caught often in one season and once in another: the one catch is held against the many."""
    rng, rows = np.random.default_rng(6), []
    for k in range(6):
        for season, number in (("2025", 8), ("2026", 1 if k == 5 else 8)):
            for x in rng.integers(15, 40, number):
                size = math.exp(0.1 * (k % 3) + (0.3 if k == 5 and season == "2026" else 0.05 * rng.normal()))
                rows.append((f"L{k}", int(x), size * (x - 3), season))
    found = compare_lots(log(rows), FINE, reference="L0", target_output=0.5)
    once = found.lot("L5 (2026)")
    alone = found.lot("L5 (2025)").setting.value / (once.ratio / found.lot("L5 (2025)").ratio)
    assert once.setting.value > alone + 1


@pytest.mark.slow
@pytest.mark.parametrize(
    "cell",
    [
        Cell(2, (1, 3)),
        Cell(5, (1, 3)),
        Cell(12, (2, 2)),
        Cell(5, (1, 3), kind="t5"),
        Cell(5, (1, 3), kind="slow set higher"),
        Cell(5, (1, 3), 3, kind="shift"),
    ],
    ids=str,
)
def test_limits_of_starts_hold_as_often_as_they_say(cell):
    """Promised: 95 %. Starts of one log depend on each other, so the error is by logs; three standard errors."""
    rng = np.random.default_rng(21)
    logs = [
        [each.held for each in starts_of(cell, rng, target=k % 2 == 0) if each.held is not None] for k in range(200)
    ]
    logs = [each for each in logs if each]
    shares, sizes = np.array([np.mean(each) for each in logs]), np.array([len(each) for each in logs])
    rate = float(shares @ sizes / sizes.sum())
    error = float(np.sqrt(((shares - rate) ** 2 * sizes**2).sum())) / sizes.sum()
    assert rate >= 0.95 - 3 * max(error, math.sqrt(0.95 * 0.05 / sizes.sum()))


@pytest.mark.slow
def test_more_starts_of_lots_caught_once_come_near_than_by_their_own_catches():
    """Lots differ by 8 %, catches by 12 %, as chaffy seed may: by their own catches 56 of 100 come within 10 %."""
    rng = np.random.default_rng(22)
    cell = Cell(12, (1, 3), lot_cv=0.08, catch_cv=0.12)
    found = [each for k in range(100) for each in starts_of(cell, rng, target=k % 2 == 0) if each.catches == 1]
    near, alone = (
        np.mean([abs(math.expm1(getattr(each, of))) < 0.1 for each in found]) for of in ("predicted", "alone")
    )
    assert near > alone + 0.1
    assert near > 0.7
