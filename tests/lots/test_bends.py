"""How far lots that share one curve shape may still differ in it."""

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st

from predictor.lots.bends import BendNoise, bend_noise
from predictor.lots.catches import select
from predictor.lots.compare import compare_lots
from predictor.lots.shapes import fit_common
from tests.lots.lot_logs import BOX, log, made_up


def common_of(rows):
    return fit_common(select(log(rows), BOX), 0.95)


def of_many_lots(dead_spread, seed=5):
    """60 lots with 25 catches each; their dead settings spread by so much."""
    rng = np.random.default_rng(seed)
    return made_up(rng.normal(0, 0.1, 60), [25] * 60, dead=3 + dead_spread * rng.normal(size=60), cv=0.04, seed=seed)


def test_the_variance_of_bends_is_that_of_a_mixed_model():
    """Source: statsmodels `MixedLM` by REML: a level for each lot and random slopes on what the common bend answers to.

    With 60 lots the weights that are put on variances beforehand move the mean of the distribution by a few per cent.
    """
    import statsmodels.api as sm

    common = common_of(of_many_lots(3.0))
    found = bend_noise(common)
    lot = common.catches.lot
    inside = [column - np.bincount(lot, column)[lot] / np.bincount(lot)[lot] for column in (common.z, common.x)]
    # levels of lots are swept out, which leaves the slopes as they are; a variance near 1 is far from any boundary
    unit = 0.003
    slopes = unit * inside[1][:, None]
    fit = sm.MixedLM(inside[0], slopes, groups=lot, exog_re=slopes).fit(reml=True)
    assert float(found.weight @ found.variance) == pytest.approx(unit**2 * float(fit.cov_re[0, 0]), rel=0.10)
    free = (len(lot) - 60 - 1) / (len(lot) - 1)  # what the sweeping took
    assert float(found.weight @ found.catch) == pytest.approx(fit.scale / free, rel=0.01)


def test_more_catches_tell_that_lots_of_one_shape_do_not_differ():
    sizes = []
    for count in (4, 16, 64):
        found = bend_noise(common_of(made_up([0.0, 0.1, -0.1, 0.2], [count] * 4, seed=2)))
        sizes.append(float(found.weight @ np.sqrt(found.variance)))
        assert np.sqrt(found.points()).mean() == pytest.approx(sizes[-1])  # a few variances stand for all
    assert sizes[0] > 1.3 * sizes[1] > 1.69 * sizes[2]


@settings(max_examples=50, deadline=None)
@given(
    st.lists(st.tuples(st.floats(-20, 20), st.floats(0.01, 50)), min_size=2, max_size=8),
    st.booleans(),
)
def test_the_part_of_bends_in_a_ratio_is_that_of_all_heights_worked_out_lot_by_lot(lots, assumed):
    """A height answers to its own lot's bend and, through the common bend, less to all of them."""
    answer, spread = np.array(lots).T
    share = np.zeros(len(lots)) if assumed else spread / spread.sum()
    heights = np.diag(answer) - np.outer(answer, share)
    ratios = heights - heights[0]
    noise = BendNoise(*(np.ones(1),) * 3, df=5, share=share)
    assert noise.of_difference(answer, float(answer[0]), 0) == pytest.approx(
        (ratios**2).sum(axis=1), rel=1e-9, abs=1e-9
    )


def test_lots_caught_where_they_are_compared_gain_nothing_from_shapes():
    """Four lots caught alike about one opening do not depend on their shapes there; at another one they do."""
    rows = [
        (f"L{k}", x, (1 + 0.1 * k) * (x - 3) * (1 + 0.02 * (-1) ** i), "2026")
        for k in range(4)
        for i, x in enumerate((20, 30, 30, 42))
    ]
    common = common_of(rows)
    noise, (_, here), (_, there) = bend_noise(common), common.at(slice(None), 30.0), common.at(slice(None), 50.0)
    far, near = (noise.of_difference(each, float(each[0]), 0)[1:] for each in (there, here))
    assert (far > 20 * near).all()


def test_one_lot_or_too_few_catches_tell_nothing_of_shapes():
    assert bend_noise(common_of([("A", x, x - 3.0 + 0.1 * (x == 30)) for x in (20, 25, 30, 35)])) is None
    assert bend_noise(common_of([("A", 20, 17.0), ("B", 30, 27.5), ("B", 30, 27.1)])) is None


def test_limits_say_the_setting_that_they_are_for():
    rows = made_up((0, 0.1, -0.1), (8, 6, 6), seed=3)
    found = compare_lots(log(rows), BOX)
    assert found.shape.same
    usual = found.curves.catches.most_caught(found.curves.catches.index(found.reference.name))
    assert found.shape.limits_at.opening == usual
    assert f"Limits of ratios are for setting {found.shape.limits_at}, and count how far" in " ".join(
        str(found).split()
    )
    apart = compare_lots(log(made_up([0.0, 0.0], [8, 8], dead=[0.0, 10.0], cv=0.01)), BOX)
    assert apart.shape.same is False
    assert apart.shape.limits_at is None
