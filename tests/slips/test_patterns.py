"""Trends, copies, rows and sizes: each is found, and ordinary catches raise none of them."""

from dataclasses import replace

import numpy as np
import pytest

from predictor.domain.drill import CatchDefaults, Drill
from predictor.slips import order, repeats, rows, sizes
from tests.slips.lots import CHAFFY, FREE, catches, seen, seen_of

NOISE = np.random.default_rng(5).standard_normal(40)


def steady(settings, cv=0.03, trend=0.0):
    """Weights in proportion to the setting, with scatter and a trend in the logarithm of each further catch."""
    return [(x, round(1.4 * x * float(np.exp(cv * NOISE[k] + trend * k)), 1)) for k, x in enumerate(settings)]


PLAN = [30, 20, 24, 24, 24, 24, 24, 24]


@pytest.mark.parametrize(("trend", "code"), [(-0.05, "falling"), (0.05, "rising")])
def test_a_trend_with_the_order_of_catches_is_found_and_waits(trend, code):
    found = order.look(seen(FREE, steady(PLAN, 0.02, trend), 0.4))
    assert [each.code for each in found] == [code]
    assert found[0].waits
    assert abs(found[0].values["trend"] - np.expm1(trend)) < 0.04
    assert order.look(seen(FREE, steady(PLAN, 0.02), 0.4)) == ()


def test_a_trend_is_told_by_what_the_box_holds():
    chaffy, free = (str(order.look(seen(box, steady(PLAN, 0.02, -0.05), 0.4))[0]) for box in (CHAFFY, FREE))
    assert "bridging" in chaffy
    assert "carrier" in free


def test_a_box_that_is_filled_again_each_day_has_no_trend_over_the_days():
    weights = steady(PLAN, 0.02, -0.05)
    days = np.array([f"2026-11-{10 + k:02d}" for k in range(len(weights))])
    assert order.look(seen(FREE, weights, 0.4, date=days)) == ()


def test_a_pasted_block_is_found_and_one_equal_pair_is_not():
    block = [(30, 43.1), (24, 34.9), (24, 33.2)]
    found = repeats.look(seen(FREE, [*block, *block], 0.4))
    assert [(each.code, each.lines) for each in found] == [("copies", (5, 6, 7))]
    assert found[0].chance > 0.8
    pair = seen(FREE, [(30, 43.1), (24, 34.9), (24, 34.9)], 0.4)
    assert repeats.look(pair) == ()
    assert repeats.equal_rows(pair.used) == ((3, 4),)


def test_equal_weights_of_different_days_are_two_catches():
    used = seen(FREE, [(24, 34.9), (24, 34.9)], 0.4, date=np.array(["2026-11-10", "2026-11-11"])).used
    assert repeats.equal_rows(used) == ()


def test_a_copied_row_with_its_single_rows_is_found_at_once():
    trials = catches(FREE, [(30, 43.1), (24, 34.9), (24, 34.9)])
    trials = replace(trials, rows_g=(None, (11.2, 12.4, 11.3), (11.2, 12.4, 11.3)))
    assert [each.code for each in repeats.look(seen_of(trials, FREE, 0.4))] == ["copies"]


def test_the_equal_weights_of_a_very_even_box_are_not_called_copies():
    raised = 0
    for seed in range(20):
        noise = np.random.default_rng(seed).standard_normal(30)
        lot = [(x, round(0.6 * x * float(np.exp(0.005 * z)), 1)) for x, z in zip([23, 24, 25] * 10, noise, strict=True)]
        raised += any(each.code == "copies" for each in repeats.look(seen(FREE, lot, 0.17)))
    assert raised <= 2  # one in ten, with 20 boxes that are as even as any published


def test_a_block_pasted_below_many_repeats_is_found_still():
    block = steady([24] * 6 + [30] * 6, 0.03)
    found = repeats.look(seen(FREE, [*block, *block], 0.4))
    assert ("copies", tuple(range(14, 26))) in [(each.code, each.lines) for each in found]


def test_a_coarse_scale_is_not_accused_of_equal_weights():
    drill = Drill("made up", 12, 0.19, 2.2, (FREE,), CatchDefaults(scale_resolution_g=5.0))
    lot = seen(FREE, [(30, 45.0), (24, 35.0), (24, 35.0), (24, 35.0), (24, 35.0)], 0.4)
    assert repeats.look(replace(lot, drill=drill)) == ()
    # without a drill the weights themselves show the step: all end in 0 or 5
    assert {each.code for each in repeats.look(lot)} <= {"rounded"}


def test_repeats_without_scatter_are_not_believed():
    made = [(30, 430.1), (24, 350.1), (24, 350.2), (24, 350.0), (24, 350.3), (24, 350.2)]
    assert "too-equal" in [each.code for each in repeats.look(seen(FREE, made, 4.0))]
    wild = [(30, 430.1), (24, 348.1), (24, 362.2), (24, 339.0), (24, 355.3), (24, 351.2)]
    assert repeats.look(seen(FREE, wild, 4.0)) == ()


def test_thirds_of_a_catch_are_not_single_rows():
    trials = catches(FREE, [(30, 43.2), (24, 34.8)])
    thirds = replace(trials, rows_g=((14.4,) * 3, (11.6,) * 3))
    assert [each.code for each in repeats.look(seen_of(thirds, FREE, 0.4))] == ["divided"]
    weighed = replace(trials, rows_g=((14.1, 14.9, 14.2), (11.6, 11.9, 11.3)))
    assert repeats.look(seen_of(weighed, FREE, 0.4)) == ()


def test_weights_rounded_coarsely_are_told_and_nothing_waits():
    found = repeats.look(seen(FREE, [(30, 21.0), (24, 17.0), (24, 16.0), (24, 18.0)], 0.2))
    assert [(each.code, each.waits) for each in found] == [("rounded", False)]
    fine = [(30, 421.0), (24, 337.0), (24, 346.0), (24, 340.0)]  # a gram matters to none of them
    assert repeats.look(seen(FREE, fine, 4.0)) == ()


def single_rows(shares, settings=(30, 24, 24)):
    """Catches of three rows that give such shares."""
    grams = [tuple(round(14 * x / 30 * each * (1 + 0.01 * NOISE[3 * k + r]), 1) for r, each in enumerate(shares))
             for k, x in enumerate(settings)]  # fmt: skip
    trials = catches(FREE, [(x, sum(each)) for x, each in zip(settings, grams, strict=True)])
    return replace(trials, rows_g=tuple(grams))


@pytest.mark.parametrize("share", [0.5, 0.65, 1.6, 2.0])
def test_a_row_that_lastingly_differs_is_named(share):
    found = rows.look(seen_of(single_rows((1.0, share, 1.03)), FREE, 0.4))
    assert [each.code for each in found] == ["row-differs"]
    assert found[0].values["row"] == 2
    assert found[0].values["share"] == pytest.approx(share, rel=0.05)
    assert "across the whole field" in str(found[0])


def test_rows_that_differ_as_rows_do_are_not_named():
    assert rows.look(seen_of(single_rows((1.0, 0.9, 1.08)), FREE, 0.4)) == ()


def test_a_bad_row_of_three_misleads_about_the_nine_that_were_not_caught():
    lot = seen_of(single_rows((1.0, 0.5, 1.03), (24, 24, 24, 24)), FREE, 1.4 * 24 / 84 * 0.84)
    drill = Drill("made up", 12, 0.19, 2.2, (FREE,), CatchDefaults())
    assert rows.look(replace(lot, drill=drill))[0].waits
    assert not rows.look(replace(lot, drill=replace(drill, rows=3)))[0].waits


def test_turns_that_were_written_and_not_made_are_found():
    made = [(24, 34.1), (24, 33.2), (24, 33.9, (56.0, 3)), (24, 33.0, (56.0, 3))]
    found = sizes.look(seen(FREE, made, 0.29))  # between the two
    assert [(each.code, each.lines) for each in found] == [("sizes", (4, 5))]
    assert (found[0].values["written"], found[0].values["usual"]) == (56.0, 28.0)
    assert found[0].waits
    right = [(24, 34.1), (24, 33.2), (24, 67.9, (56.0, 3)), (24, 66.0, (56.0, 3))]
    assert sizes.look(seen(FREE, right, 0.4)) == ()
