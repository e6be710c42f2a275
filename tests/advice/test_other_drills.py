"""Other drills say something of the shape and the repeatability of a box, and nothing of how freely a lot flows."""

from dataclasses import replace

import numpy as np
import pytest

from predictor.advice.history import learn_history
from predictor.advice.other_drills import DRILLS_BEND, DRILLS_DEAD, KeptDrills, OtherDrills, learned_elsewhere
from predictor.curves.prior import COLD
from predictor.domain.control import Lever, Sprockets
from predictor.domain.drill import Drill, SeedBox
from tests.advice.learning import BOX, DRILL, calibrate, elsewhere, learned, level_of, lots_of


def test_another_drill_gives_a_shape_and_no_level():
    history = learned(elsewhere(np.random.default_rng(1), 0.2, 0.02, lots=8))
    assert (history.lots, history.other_lots, history.other_drills) == ((), 8, ("drill 0",))
    assert history.prior.level is None
    assert history.prior.name == "history"
    # its dead setting counts, but not as this drill's own
    assert 0.05 < history.prior.dead < 0.2
    assert DRILLS_DEAD < history.prior.dead_spread < COLD.dead_spread
    assert DRILLS_BEND < history.prior.bend_spread < COLD.bend_spread
    assert sum(share for share, _, _ in history.prior.repeatability) == pytest.approx(1.0, abs=1e-5)


def test_a_drill_that_says_next_to_nothing_changes_next_to_nothing():
    one = lots_of(np.random.default_rng(2), 0.2, 0.05, 1, DRILL)
    (log,) = elsewhere(np.random.default_rng(2), 0.2, 0.05, lots=1)
    one = replace(log.where(np.arange(len(log)) < 1), drill=DRILL)
    prior = learned([one]).prior
    assert (prior.dead, prior.dead_spread) == (
        pytest.approx(COLD.dead, abs=0.02),
        pytest.approx(COLD.dead_spread, rel=0.1),
    )
    assert prior.bend_spread == pytest.approx(COLD.bend_spread, rel=0.1)


def test_drills_that_differ_say_less_than_drills_that_are_alike():
    rng = np.random.default_rng(3)
    alike = [log for k in range(4) for log in _named(elsewhere(rng, 0.1, 0.02), k)]
    unlike = [log for k, dead in enumerate((-0.15, 0.0, 0.15, 0.3)) for log in _named(elsewhere(rng, dead, 0.02), k)]
    assert learned(alike).prior.dead_spread < 0.8 * learned(unlike).prior.dead_spread
    assert learned(alike).prior.dead_spread < learned(alike[:1]).prior.dead_spread
    assert learned(alike).remark["other_drills"] == 4


def _named(logs, k):
    return [replace(log, drill_name=np.full(len(log), f"number {k}")) for log in logs]


def test_two_logs_of_one_other_drill_are_one_drill():
    logs = elsewhere(np.random.default_rng(4), 0.1, 0.03, drills=2)
    spelled = [replace(log, drill_name=np.full(len(log), name)) for log, name in zip(logs, ("B-1", "b 1"), strict=True)]
    assert len(learned(logs).other_drills) == 2
    assert len(learned(spelled).other_drills) == 1


def test_own_lots_outweigh_those_of_another_drill():
    own = lots_of(np.random.default_rng(5), 0.0, 0.02, 8, DRILL)
    alone = learned([], own)
    both = learned(elsewhere(np.random.default_rng(6), 0.2, 0.02, lots=8), own)
    at = np.array([0.3, 0.5, 0.7])

    def curve(prior):
        return np.diff(np.log(at - prior.dead) * prior.bend)

    assert curve(both.prior) == pytest.approx(curve(alone.prior), abs=0.03)
    assert both.prior.level == pytest.approx(alone.prior.level, abs=0.02)
    assert both.lots == alone.lots
    assert (both.remark["lots"], both.remark["other_lots"]) == (8, 8)


def test_scatter_of_another_drill_counts_half():
    calm, wild = (learned(elsewhere(np.random.default_rng(7), 0.1, cv, lots=8)).prior for cv in (0.02, 0.12))
    own = learned([], lots_of(np.random.default_rng(7), 0.1, 0.12, 8, DRILL)).prior
    assert calm.typical_cv < wild.typical_cv < own.typical_cv


@pytest.mark.parametrize(
    ("box", "learns"),
    [
        (SeedBox("BOX", "free-flowing", Lever(0, 10, 0.1)), True),
        (SeedBox("grain", "free-flowing", Lever(0, 10, 0.1)), True),  # the only one of its kind
        (SeedBox("box", "chaffy", Lever(0, 10, 0.1)), False),
        (SeedBox("box", "free-flowing", Sprockets({str(k): k / 10 for k in range(1, 101)})), False),
    ],
)
def test_the_box_of_the_same_name_or_the_only_one_of_the_kind_is_taken(box, learns):
    (log,) = elsewhere(np.random.default_rng(8), 0.1, 0.02)
    drill = Drill("another", 12, 0.19, 2.2, (box, SeedBox("rest", "small", Lever(0, 9, 1))))
    named = replace(log, drill=drill, box=np.full(len(log), box.name), opening=log.opening / 10)
    history = learned([named])
    assert (history is not None) == learns
    if learns:  # on its own scale
        assert history.prior.dead == pytest.approx(learned([log]).prior.dead, abs=1e-6)


def test_two_boxes_of_the_kind_and_none_of_the_name_say_nothing():
    (log,) = elsewhere(np.random.default_rng(8), 0.1, 0.02)
    boxes = tuple(SeedBox(name, "free-flowing", BOX.control) for name in ("a", "b"))
    drill = Drill("another", 12, 0.19, 2.2, boxes)
    assert learned([replace(log, drill=drill, box=np.full(len(log), "a"))]) is None


def test_later_seasons_of_another_drill_are_not_history():
    logs = elsewhere(np.random.default_rng(10), 0.1, 0.02)
    assert learned(logs, before=("new", "0")) is None
    assert learned(logs, before=("new", "2")).other_lots == 5
    assert learn_history(logs[0], BOX, before=("new", "2")).other_lots == 0


def _case(dead, other_dead, cv, other_cv, own=0):
    """Made-up lots, calibrated with and without what another drill says."""

    def make(use):
        def lot_and_history(rng):
            lot, others = level_of(rng, dead, cv), elsewhere(rng, other_dead, other_cv)
            return lot, learned(others if use else (), lots_of(rng, dead, cv, own, DRILL) if own else None)

        return lot_and_history

    return make(True), make(False)


RUNS = 100


@pytest.mark.slow
@pytest.mark.parametrize(
    "case",
    [
        pytest.param((0.0, 0.2, 0.05, 0.05), id="opens later"),
        pytest.param((0.2, -0.1, 0.05, 0.05), id="opens earlier"),
        pytest.param((0.05, 0.05, 0.05, 0.02), id="calmer"),
        pytest.param((0.05, 0.05, 0.03, 0.10), id="wilder"),
        pytest.param((0.0, 0.2, 0.05, 0.05, 1), id="beside one own lot"),
    ],
)
def test_a_misleading_drill_does_not_make_settings_wrong(case):
    """At least 95 % of 100 end right, and no fewer than without it: both within three Monte Carlo errors (2.2 %)."""
    with_it, without = (calibrate(make, RUNS) for make in _case(*case))
    assert with_it.right[0] > 0.95 - 3 * np.sqrt(0.95 * 0.05 / RUNS)
    assert with_it.right[0] > without.right[0] - 3 * np.hypot(with_it.right[1], without.right[1])


@pytest.mark.slow
def test_a_drill_made_alike_costs_no_more_catches():
    """Mean catches over 100 boxes do not grow by more than three Monte Carlo errors (about 0.08 each)."""
    with_it, without = (calibrate(make, RUNS) for make in _case(0.15, 0.15, 0.05, 0.05))
    assert with_it.right[0] > 0.95
    assert with_it.catches[0] < without.catches[0] + 3 * np.hypot(with_it.catches[1], without.catches[1])


def test_other_drills_are_learned_from_once_for_the_seasons_they_have():
    logs = elsewhere(np.random.default_rng(9), 0.1, 0.03, drills=2)
    logs = [replace(each, season=np.full(len(each), "2024")) for each in logs]
    others = OtherDrills(logs)
    assert others.learned(BOX, "2024") == learned_elsewhere(logs, BOX, "2024") is not None
    assert others.learned(BOX, "2026") is others.learned(BOX, None) is others.learned(BOX, "2024")
    assert others.learned(BOX, "2023") is None


def test_what_was_learned_stands_as_long_as_no_catch_of_another_drill_changes():
    logs = tuple(elsewhere(np.random.default_rng(9), 0.1, 0.03, drills=2))
    kept = KeptDrills()
    first = kept.of(logs)
    assert kept.of(tuple(replace(each, box=each.box.copy()) for each in logs)) is first
    heavier = (replace(logs[0], catch_g=logs[0].catch_g * np.where(np.arange(len(logs[0])), 1, 1.01)), *logs[1:])
    assert kept.of(heavier) is not first
    assert kept.of(heavier).learned(BOX, None) == learned_elsewhere(heavier, BOX, None)
    assert kept.of(logs[:1]).learned(BOX, None) == learned_elsewhere(logs[:1], BOX, None)
