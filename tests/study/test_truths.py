"""Boxes in general are what they claim to be. All their numbers are invented."""

import numpy as np
import pytest

from predictor.study.drills import Shape
from predictor.study.truths import (
    CONTROLS,
    FACTORS,
    KINDS,
    PLACES,
    SPECIALS,
    another_shape,
    earlier_lots,
    general_shape,
    made_up_truth,
)

TRUTHS = [made_up_truth(5, run) for run in range(400)]


def test_a_truth_follows_from_seed_and_number_alone():
    assert made_up_truth(5, 17) == TRUTHS[17]
    assert made_up_truth(6, 17) != TRUTHS[17]


def test_every_level_of_every_factor_occurs():
    for factor, levels in FACTORS.items():
        assert {truth.labels[factor] for truth in TRUTHS} == set(levels)


@pytest.mark.parametrize("kind", KINDS)
def test_shapes_rise_wherever_seed_flows_and_never_fall(kind):
    share = np.linspace(0, 1, 1001)
    for seed in range(20):
        output = general_shape(np.random.default_rng(seed), kind)(share)
        assert np.all(np.diff(output) >= 0)
        assert np.all(np.diff(output[output > 0]) > 0)


def test_a_gate_follows_its_law():
    """Output goes with (D - kd)^2.5: its power 0.4 is a straight line that reaches 0 at the dead setting."""
    share = np.linspace(0.2, 1, 9)
    root = Shape("gate", 0.1)(share) ** 0.4
    assert root == pytest.approx(share - 0.1)


def test_kinks_and_steps_are_where_they_are_said_to_be():
    kink, step = Shape("kink", 0.5, 0.4), Shape("step", 0.2, 0.4)
    assert kink([0.3, 0.4, 0.5]) == pytest.approx([0.3, 0.4, 0.45])
    assert step([0.39, 0.4]) == pytest.approx([0.39, 0.6])


def test_reachable_is_known_exactly():
    for truth in TRUTHS:
        means = truth.lot.mean(truth.lot.box.control.openings)
        assert truth.within == bool(np.any(np.abs(means / truth.target - 1) <= 0.1))
        assert truth.within == (truth.place != "out of reach")


def test_targets_lie_where_their_place_says():
    for truth in TRUTHS:
        if truth.place in PLACES and truth.special != "drift":
            low, high = truth.lot.box.control.lowest_opening + truth.lot.box.control.span * np.array(
                PLACES[truth.place]
            )
            assert truth.lot.mean(low) <= truth.target <= truth.lot.mean(high) * (1 + 1e-12)


def test_specials_are_in_the_lots_that_name_them():
    for truth in TRUTHS:
        lot = truth.lot
        assert truth.special == SPECIALS[0] or (lot.wild > 0, lot.bridged > 0, lot.drift != 0).count(True) == 1
        assert (truth.special == "drift") == (lot.drift != 0)


def test_drift_moves_what_is_right():
    truth = next(each for each in TRUTHS if each.special == "drift" and each.within)
    openings = truth.lot.box.control.openings
    best = float(openings[np.argmin(np.abs(truth.lot.mean(openings) - truth.target))])
    assert truth.right(best, 0)
    assert not truth.right(best, 200)


def test_chain_ratios_are_unequal_and_levers_have_the_steps_they_are_named_by():
    assert [len(control.openings) for control in CONTROLS.values()] == [11, 31, 101, 12]
    assert len(set(np.diff(CONTROLS["chain, 12 ratios"].openings).round(6))) > 6


def test_history_is_of_the_box_or_misleads_as_it_is_told():
    truth = next(each for each in TRUTHS if each.lot.box.holds == "free-flowing" and each.special == "none")
    history = earlier_lots(truth, 5)
    assert len(history.lots) + len(history.left_out) == 6
    assert earlier_lots(truth, 5) == history
    wild, calm = earlier_lots(truth, 5, cv=0.12), earlier_lots(truth, 5, cv=0.01)
    assert calm.prior.typical_cv < wild.prior.typical_cv
    other = another_shape(truth, 5)
    assert other.kind != truth.lot.shape.kind
    assert earlier_lots(truth, 5, shape=other) != history
