"""A constant in every weight: found where the catches can tell, and not where they cannot."""

from dataclasses import replace

import numpy as np
import pytest

from predictor.slips.offset import look
from predictor.study.drills import Log, MadeUpLot, Shape
from tests.slips.lots import CHAIN, FREE, catches, earlier, seen, seen_of

# Output of a made-up box: a gram a row and turn at the open end, in proportion to the setting.
SEED = 28 * 3 / 60


def weights(settings, container, noise=(0.01, -0.008, 0.004, 0.012, -0.011, 0.003)):
    """Weights of 28 turns and 3 rows at settings of the lever, with a container."""
    return [
        (setting, round(SEED * setting * (1 + off) + container, 1))
        for setting, off in zip(settings, noise, strict=False)
    ]


def test_a_container_shows_at_settings_far_apart_once_the_box_is_known():
    found = look(seen(FREE, weights([10, 20, 40, 20], 15.0), 0.5, history=True))
    assert [each.code for each in found] == ["offset"]
    assert found[0].values["constant"] == pytest.approx(15.0, rel=0.25)
    assert found[0].waits
    assert look(seen(FREE, weights([10, 20, 40, 20], 0.0), 0.5, history=True)) == ()


def test_a_catch_of_half_as_many_turns_tells_without_any_history():
    made = [(20, 43.1), (20, 42.8), (20, 28.9, (14.0, 3)), (20, 29.2, (14.0, 3))]  # 28 g of seed and 15 g of container
    found = look(seen(FREE, made, 0.33))
    assert [each.code for each in found] == ["offset"]
    assert found[0].waits
    assert found[0].lines == (2, 3, 4, 5)
    alone = [(20, 28.1), (20, 27.8), (20, 13.9, (14.0, 3)), (20, 14.2, (14.0, 3))]
    assert look(seen(FREE, alone, 0.33)) == ()


def test_the_advised_catch_says_what_it_would_weigh():
    made = [(20, 43.1), (20, 42.8), (20, 28.9, (14.0, 3)), (20, 29.2, (14.0, 3))]
    values = look(seen(FREE, made, 0.33))[0].values
    # half the seed, and the whole container
    assert values["seed_alone"] == pytest.approx(29.2 / 2)
    assert values["with_constant"] == pytest.approx((29.2 - 15) / 2 + 15, rel=0.1)


def test_a_row_that_says_it_weighed_seed_alone_is_not_asked_again():
    made = [(20, 43.1), (20, 42.8), (20, 28.9, (14.0, 3)), (20, 29.2, (14.0, 3))]
    assert look(seen(FREE, made, 0.33, stated=np.array(["tare"] * 4), tare_g=np.zeros(4))) == ()


def test_a_tare_that_was_taken_off_twice_fits_by_its_own_weight():
    made = [(20, 13.1), (20, 12.8), (20, 27.2, (56.0, 3)), (40, 40.8), (40, 41.3)]  # 28 g, 42 g and 56 g less 15 g
    stated = {"stated": np.array(["tare"] * 5), "tare_g": np.full(5, 15.0)}
    made[2] = (20, 41.2, (56.0, 3))
    found = look(seen(FREE, made, 0.33, **stated))
    assert [each.code for each in found] == ["offset-twice"]
    assert found[0].values["constant"] == pytest.approx(15.0)
    right = [(20, 28.1), (20, 27.8), (20, 56.2, (56.0, 3)), (40, 55.8), (40, 56.3)]
    assert look(seen(FREE, right, 0.33, **stated)) == ()


def test_rows_without_the_tare_that_others_state_are_found():
    made = [(20, 28.1), (20, 27.8), (20, 43.0), (24, 33.2)]
    tare = np.array([15.0, 15.0, np.nan, 15.0])
    found = look(seen(FREE, made, 0.33, stated=np.array(["tare", "tare", "", "tare"]), tare_g=tare))
    assert [(each.code, each.lines) for each in found] == [("offset-some", (4,))]


def test_what_is_weighed_where_the_lever_is_shut_is_the_container():
    found = look(seen(FREE, [(0, 7.1), (20, 35.3), (25, 41.9)], 0.33))
    assert [each.code for each in found] == ["offset-shut"]
    assert found[0].values["constant"] == pytest.approx(7.1)


def test_parts_hold_the_container_as_often_as_they_were_weighed():
    made = catches(FREE, [(20, 28.0 + 4 * 4), (20, 28.2 + 4 * 4), (20, 27.9 + 4), (20, 28.3 + 4)])
    parts = ((11.0,) * 4, (11.1,) * 4, None, None)
    found = look(seen_of(type(made)(**{**vars(made), "parts_g": parts}), FREE, 0.3))
    assert found
    assert found[0].values["constant"] == pytest.approx(4.0, rel=0.3)


@pytest.mark.parametrize("box", [FREE, CHAIN], ids=["lever", "chain"])
def test_one_catch_says_nothing_cold(box):
    setting = "3" if box is CHAIN else 30
    assert look(seen(box, [(setting, 45.0)], 0.5)) == ()


def test_a_chain_box_with_history_shows_a_container_too():
    made = [("1", 17.0 + 15), ("3", 37.6 + 15), ("5", 75.9 + 15), ("3", 38.1 + 15), ("1", 16.7 + 15)]  # 84 g a unit
    assert look(seen(CHAIN, made, 0.6, history=earlier(CHAIN, lots=16)))[0].code == "offset"
    alone = [("1", 17.0), ("3", 37.6), ("5", 75.9), ("3", 38.1), ("1", 16.7)]
    assert look(seen(CHAIN, alone, 0.6, history=earlier(CHAIN, lots=16))) == ()


def raised(container, runs=100, cv=0.05):
    """Of many jobs of six catches of one size, with six earlier lots, the share in which a constant is found."""
    count = 0
    for run in range(runs):
        rng = np.random.default_rng([21, run])
        past = earlier(FREE, seed=run)
        lot = MadeUpLot(FREE, Shape("line", 0.0), float(np.exp(0.2 * rng.standard_normal())), cv)
        ideal = float(rng.uniform(15, 45))
        target, log = float(lot.mean(ideal)), Log(lot, name="new")
        for opening in [30.0, *np.clip(np.round(ideal + 4 * 0.6 ** np.arange(5) * rng.standard_normal(5)), 8, 60)]:
            log.add(rng, float(opening))
        made = log.trials()
        made = replace(made, catch_g=made.catch_g + container * target * made.turns * made.rows)
        count += bool(look(seen_of(made, FREE, target, past)))
    return count / runs


@pytest.mark.slow
def test_with_earlier_lots_a_heavy_container_is_found_and_clean_jobs_seldom_raise_one():
    """Of 100 jobs: a share of 0.5 % gives more than 3 in 1 of 500. Measured 30 %, Monte Carlo error 5 %: two below it.

    More cannot be told by catches of one size at settings near each other; so it is asked, or said as given.
    """
    assert raised(0.0) <= 0.03
    assert raised(0.4) >= 0.20
