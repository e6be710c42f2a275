"""Lots of one box compared. Every log here is invented."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st
from scipy import optimize, stats

from predictor.domain.control import Lever
from predictor.domain.trials import joined
from predictor.errors import InputError
from predictor.lots import shapes
from predictor.lots.apart import in_seasons, pooled, seasons_of_lots
from predictor.lots.bends import bend_noise
from predictor.lots.catches import select
from predictor.lots.compare import compare_lots
from predictor.lots.flow import Asked, compare_flow
from predictor.lots.limits import RatioLimits, compare_fits, fieller
from predictor.lots.parallel import Alike
from predictor.lots.shapes import _own_bends, fit_common, fit_own
from predictor.text.lot_lines import comparison_lines
from tests.lots.lot_logs import BOX, log, made_up

NOISY = made_up([0.0, 0.17, -0.1], [5, 4, 4])


def test_ratios_settings_and_dead_setting_come_back_from_catches_without_noise():
    rows = [("J-25", x, 2.0 * (x - 4), "2025") for x in (20, 30, 40, 30)]
    rows += [("K-26", x, 2.0 * 1.18 * (x - 4), "2026") for x in (20, 40)]
    found = compare_lots(log(rows), BOX)
    assert found.reference.lot == "J-25"
    assert found.lot("K-26").ratio == pytest.approx(1.18, rel=1e-9)
    assert found.shape.dead_opening == pytest.approx(4, abs=1e-7)
    # the same output as J-25 at 30: 26 = 1.18 (x - 4)
    assert found.reference.setting.value == 30
    assert found.lot("K-26").setting.value == 26


def test_the_curve_is_the_least_squares_one_of_an_independent_program():
    trials = log(NOISY)
    found = compare_lots(trials, BOX)
    y, x = np.log(trials.output), trials.opening
    lot = np.unique(trials.lot, return_inverse=True)[1]
    fit = optimize.least_squares(lambda p: y - p[lot] - np.log(x - p[3]), [0.0, 0.0, 0.0, 2.0], xtol=1e-15, ftol=1e-15)
    assert found.shape.dead_opening == pytest.approx(fit.x[3], abs=1e-5)
    ratios = [found.lot(f"L{k}").ratio for k in range(3)]
    assert ratios == pytest.approx(np.exp(fit.x[:3] - fit.x[0]), rel=1e-7)
    variance = 2 * fit.cost / (len(y) - 4)
    assert found.repeatability.cv == pytest.approx(math.sqrt(math.expm1(variance)), rel=1e-9)
    cov = variance * np.linalg.inv(fit.jac.T @ fit.jac)
    flow = compare_flow(found.curves, Asked(0, 30.0, None, 0.95))  # taken that lots do share their shape
    for k in (1, 2):
        sd = math.sqrt(cov[k, k] + cov[0, 0] - 2 * cov[k, 0])
        # all limits share one critical value
        assert flow.half[k] / sd == pytest.approx(critical(trials, cov, lot), rel=1e-3)
        assert math.log(found.lot(f"L{k}").upper / found.lot(f"L{k}").ratio) > flow.half[k]


def critical(trials, cov, lot):
    """Two-sided critical value of the two comparisons by scipy's multivariate t."""
    contrast = np.array([[-1.0, 1, 0, 0], [-1, 0, 1, 0]])
    shape = contrast @ cov @ contrast.T
    sd = np.sqrt(np.diag(shape))
    joint = stats.multivariate_t(shape=shape / np.outer(sd, sd), df=len(trials) - 4, seed=1)

    def inside(c):
        return joint.cdf([c, c], lower_limit=[-c, -c]) - 0.95

    return optimize.brentq(inside, 1.5, 6, xtol=1e-5)


def test_the_test_of_one_shape_is_the_extra_sum_of_squares():
    trials = log(NOISY)
    y, x = np.log(trials.output), trials.opening
    lot = np.unique(trials.lot, return_inverse=True)[1]
    common = optimize.least_squares(lambda p: y - p[lot] - np.log(x - p[3]), [0.0] * 3 + [2.0], xtol=1e-15)
    own = optimize.least_squares(lambda p: y - p[lot] - np.log(x - p[3:][lot]), [0.0] * 3 + [2.0] * 3, xtol=1e-15)
    value = (common.cost - own.cost) / 2 / (own.cost / (len(y) - 6))
    found = compare_lots(trials, BOX).shape
    assert found.test.F == pytest.approx(value, rel=1e-6)
    assert found.test.p == pytest.approx(stats.f.sf(value, 2, len(y) - 6), rel=1e-6)
    assert found.same is True


def test_lots_of_different_shape_get_ratios_at_a_named_setting():
    rows = made_up([0.0, 0.0, 0.0], [6, 6, 6], dead=[2.0, 12.0, 2.0], cv=0.01)
    found = compare_lots(log(rows), BOX, reference="L0")
    assert found.shape.same is False
    assert found.shape.test.p < 0.001
    row = found.lot("L1")
    x = row.at_setting.value
    assert row.lower < (x - 12) / (x - 2) < row.upper
    assert row.dead_opening == pytest.approx(12, abs=0.5)
    # the setting it needs for the reference's output at its usual setting
    assert row.setting.value == pytest.approx(found.reference.setting.value + 10, abs=1)


def test_lots_with_one_setting_each_are_compared_along_the_common_curve():
    """Two lots alike, one caught at 50 and one at 20 only, beside lots of different shape."""
    rows = made_up([0.0, 0.0], [8, 8], dead=[0.0, 10.0], cv=0.01)
    rows += [("high", 50, 45.0), ("high", 50, 45.2), ("low", 20, 15.0), ("low", 20, 15.1)]
    found = compare_lots(log(rows), BOX, reference="high")
    assert found.shape.same is False
    row = found.lot("low")
    assert row.at_setting.value == 50
    assert [note.code for note in row.notes] == ["lots.no_common_setting"]
    assert row.lower < 1 < row.upper  # not a third, the ratio of their catches
    assert row.ratio == pytest.approx(1, abs=0.15)


@pytest.mark.slow
@settings(max_examples=25, deadline=None)
@given(st.permutations(range(len(NOISY))), st.floats(1, 100))
def test_order_of_rows_and_units_do_not_matter(order, factor):
    first = compare_lots(log(NOISY), BOX, reference="L0")
    rows = [(NOISY[k][0], NOISY[k][1], NOISY[k][2] * factor) for k in order]
    second = compare_lots(log(rows), BOX, reference="L0")
    for a, b in zip(first.lots, second.lots, strict=True):
        assert a.lot == b.lot
        assert b.ratio == pytest.approx(a.ratio, rel=1e-7)
        assert a.setting == b.setting


def test_another_reference_turns_the_ratio_over():
    there, back = (compare_lots(log(NOISY[:9]), BOX, reference=name) for name in ("L0", "L1"))
    assert there.lot("L1").ratio * back.lot("L0").ratio == pytest.approx(1, rel=1e-12)
    bends = bend_noise(there.curves)
    flow = [compare_flow(there.curves, Asked(k, 30.0, None, 0.95), None, bends) for k in (0, 1)]
    assert flow[0].half[1] == pytest.approx(flow[1].half[0], rel=1e-9)


def test_a_lever_that_counts_the_other_way_gives_the_same_answer_mirrored():
    mirror = Lever(0, 60, 1, more_is="lower")
    turned = [(lot, 60 - x, grams, season) for lot, x, grams, season in NOISY]
    plain = compare_lots(log(NOISY), BOX)
    other = compare_lots(log(turned, mirror), replace(BOX, control=mirror))
    for a, b in zip(plain.lots, other.lots, strict=True):
        assert a.ratio == pytest.approx(b.ratio, rel=1e-9)
        assert a.setting.value == 60 - b.setting.value
        assert a.setting_lower.value == 60 - b.setting_upper.value
        assert a.setting_upper.value == 60 - b.setting_lower.value


def test_uncharged_unused_and_empty_catches_are_left_out_and_named():
    trials = log([*NOISY, ("L1", 30, 5.0), ("L1", 30, 500.0), ("L2", 30, 0.0)])
    n = len(trials)
    charged, use = np.arange(n) != n - 3, np.arange(n) != n - 2
    found = compare_lots(replace(trials, charged=charged, use=use), BOX)
    assert found.catches_used == len(NOISY)
    assert [(each.reason.code, each.lines) for each in found.left_out] == [
        ("lots.unused", (n,)),
        ("lots.uncharged", (n - 1,)),
        ("lots.nothing", (n + 1,)),
    ]
    assert found.lot("L1") == compare_lots(log(NOISY), BOX).lot("L1")


@pytest.mark.slow
def test_limits_of_the_setting_hold_as_often_as_they_say():
    """300 made-up logs of two lots; the output wanted is the reference's own. Within 3.5 standard errors of 95 %."""
    fine = replace(BOX, control=Lever(0, 200, 0.001))
    held = []
    for seed in range(300):
        level = float(np.random.default_rng([3, seed]).normal(0, 0.15))
        rows = made_up([0.0, level], [2, 8], cv=0.02, seed=seed, low=10, high=60)
        found = compare_lots(log(rows), fine, reference="L0")
        if found.shape.same is False or found.shape.assumed:
            continue
        row, need = found.lot("L1"), 3 + (found.reference.setting.value - 3) * math.exp(-level)
        low = -math.inf if row.setting_lower is None else row.setting_lower.value
        high = math.inf if row.setting_upper is None else row.setting_upper.value
        held.append(low <= need <= high)
    assert len(held) > 250
    assert abs(np.mean(held) - 0.95) < 3.5 * math.sqrt(0.95 * 0.05 / len(held))


def test_ratios_that_no_number_expresses_are_refused_or_unbounded():
    assert RatioLimits(2.0, ((3.0, 4.0),)).around == (-np.inf, np.inf)
    with pytest.raises(ValueError, match="not zero"):
        fieller(1.0, 0.0, var_top=1.0, var_bottom=1.0, critical=2.0)
    with pytest.raises(ValueError, match="No test"):
        compare_fits(1.0, 5, 1.0, 5)
    assert compare_fits(0.0, 5, 0.0, 4).p == 1.0
    assert compare_fits(1.0, 5, 0.0, 4).p == 0.0


def test_lots_are_compared_in_a_box_that_is_in_the_log():
    with pytest.raises(InputError, match="no box"):
        compare_lots(log(NOISY), "large")


def test_catches_left_out_of_another_file_name_it():
    """Lines are counted in each file anew, so "lines 3 and 9" of two files would send someone to the wrong one."""
    now = replace(log(NOISY), file="myjob/trials.csv")
    then = replace(log([*NOISY, ("L9", 30, 0.0)]), file="old/trials-2025.csv", use=np.arange(len(NOISY) + 1) != 3)
    found = compare_lots(joined([then, replace(now, use=np.arange(len(now)) != 3)]), BOX)
    assert [(each.reason.code, each.lines, each.file) for each in found.left_out] == [
        ("lots.unused", (5,), "old/trials-2025.csv"),
        ("lots.unused", (5,), ""),
        ("lots.nothing", (len(NOISY) + 2,), "old/trials-2025.csv"),
    ]
    said = "\n".join(comparison_lines(found, 100))
    assert "(line 5 of trials-2025.csv)" in said
    assert "(line 5)" in said


def nasty_lots():
    """Openings and log outputs of 3,000 lots: few catches, heavy tails, output that falls, and nothing but noise."""
    rng = np.random.default_rng(1)
    lot = np.repeat(np.arange(3000), rng.integers(2, 9, 3000))
    x = rng.choice(np.array([1, 2, 5, 10, 11, 12, 20, 30, 59.0]), len(lot))
    kind = rng.integers(0, 3, 3000)[lot]
    straight = np.log(np.maximum(x - rng.normal(0, 5, 3000)[lot], 0.3)) + 0.1 * rng.normal(size=len(x))
    falling = -0.5 * np.log(x) + 0.3 * rng.standard_t(2, size=len(x))
    return lot, x, np.where(kind == 0, straight, np.where(kind == 1, rng.normal(size=len(x)), falling))


def test_the_search_for_the_dead_setting_is_trapped_by_no_second_hollow(monkeypatch):
    """A grid of 801 steps in place of 15 finds no smaller sum of squares for 3,000 nasty lots."""
    lot, x, y = nasty_lots()
    count = np.bincount(lot)
    few, middle = Alike.of(y, *np.unique(x, return_inverse=True), lot), np.bincount(lot, x) / count

    def squares():
        bend = _own_bends(few, middle)
        return few.sums(
            few.centred(few.value - np.log1p(bend[few.lot] * (few.openings[few.place] - middle[few.lot]))) ** 2
        )

    found = squares()
    monkeypatch.setattr(shapes, "GRID", np.sin(np.linspace(-np.pi / 2, np.pi / 2, 803)[1:-1]))
    assert found == pytest.approx(squares(), rel=1e-8, abs=1e-12)


def test_the_bend_of_many_lots_is_where_the_sum_of_squares_is_level():
    """At the bend found, a move by a millionth of its range either way gives no smaller sum (but at the ends)."""
    lot, x, y = nasty_lots()
    few, middle = Alike.of(y, *np.unique(x, return_inverse=True), lot), np.bincount(lot, x) / np.bincount(lot)
    bend = _own_bends(few, middle)
    low, high = (of(x - middle[lot], lot) for of in (least_of, most_of))
    inside = (high > low) & (bend > -0.999 / np.where(high > 0, high, 1)) & (bend < 0.999 / np.where(low < 0, -low, 1))

    def squares(moved):
        rise = np.maximum(
            moved[few.lot] * (few.openings[few.place] - middle[few.lot]), -1 + 1e-12
        )  # beyond the ends of no account
        return few.sums(few.centred(few.value - np.log1p(rise)) ** 2)

    step = 1e-6 * np.where(high > 0, 1 / np.where(high > 0, high, 1), 1)
    for moved in (bend + step, bend - step):
        assert (squares(moved) >= squares(bend) * (1 - 1e-13))[inside].all()
    assert inside.mean() > 0.4


def test_bends_of_nasty_lots_are_those_of_an_independent_minimiser():
    """Source: `scipy.optimize.minimize_scalar` with bounds, from the lowest of 2,001 points of each lot's own search.

    Its sums of squares are written anew. A minimum is flat, so it places a bend to the root of the digits of the sum.
    """
    lot, x, y = nasty_lots()
    few, middle = Alike.of(y, *np.unique(x, return_inverse=True), lot), np.bincount(lot, x) / np.bincount(lot)
    bend = _own_bends(few, middle)
    compared = 0
    for k in range(300):
        at, mine = x[lot == k] - middle[k], y[lot == k]
        if np.ptp(at) == 0:
            continue
        ends = np.array([-1 / at.max(), -1 / at.min()]) * (1 - 1e-9)

        def square(trial, at=at, mine=mine):
            left = mine - np.log1p(trial * at)
            return float(np.sum((left - left.mean()) ** 2))

        points = ends[0] + np.ptp(ends) * (np.sin(np.linspace(-np.pi / 2, np.pi / 2, 2001)) + 1) / 2
        best = int(np.argmin([square(point) for point in points]))
        near = points[max(best - 1, 0)], points[min(best + 1, 2000)]
        other = optimize.minimize_scalar(square, bounds=near, method="bounded", options={"xatol": 1e-13})
        assert square(bend[k]) <= min(other.fun, square(points[best])) * (1 + 1e-10) + 1e-14
        if 0 < best < 2000:
            turn = at / (1 + bend[k] * at)
            left = mine - np.log1p(bend[k] * at)
            # where the sum is level, its own slope, which has all digits, is next to nothing
            slope = float((left - left.mean()) @ turn) / float((turn - turn.mean()) @ (turn - turn.mean()))
            compared += abs(slope) < 1e-9 * np.ptp(ends)
    assert compared > 100


def test_lots_that_no_pooling_touched_keep_their_bends_and_are_not_searched_again(monkeypatch):
    """A fit from nothing finds the same bends."""
    rows = made_up(np.linspace(-0.2, 0.2, 12), [30] * 12, dead=np.linspace(0, 8, 12), cv=0.01, seasons=alternate)
    first = in_seasons(select(log(rows), BOX))
    before = fit_own(fit_common(first, 0.95))
    again = pooled(first, seasons_of_lots(before, 0.95))
    assert len(again.called) < len(first.called)
    searched = []
    monkeypatch.setattr(
        shapes, "_own_bends", lambda few, middle: searched.append(len(few.count)) or _own_bends(few, middle)
    )
    common = fit_common(again, 0.95)
    kept, anew = fit_own(common, before), fit_own(common)
    assert kept.bend == pytest.approx(anew.bend, rel=1e-9)
    assert kept.lines.level == pytest.approx(anew.lines.level, rel=1e-12)
    changed = sum(name not in first.names for name in again.names)
    assert searched == [changed, len(again.called)]


def alternate(lot, catch):
    """Every third lot was caught in two seasons."""
    return "2025" if lot % 3 == 0 and catch % 2 else "2026"


def least_of(values, lot):
    return -most_of(-values, lot)


def most_of(values, lot):
    found = np.full(lot.max() + 1, -np.inf)
    np.maximum.at(found, lot, values)
    return found


def test_a_fit_looks_at_the_catches_a_few_dozen_times(monkeypatch):
    """Not hundreds of times: what a comparison of a hundred thousand catches costs is the number of looks."""
    looks = []
    whole = Alike.sums
    monkeypatch.setattr(Alike, "sums", lambda few, values: looks.append(1) or whole(few, values))
    compare_lots(log(made_up(np.linspace(-0.2, 0.2, 40), [8] * 40)), BOX)
    assert 0 < len(looks) < 220
