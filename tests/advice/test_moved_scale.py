"""A lever whose scale begins elsewhere gets the same answers, as far moved as its catches are.

All catches are invented. In most other tests a scale begins at 0, where adding it and taking it away are the same.
"""

import numpy as np
import pandas as pd
import pytest

from predictor.advice.history import learn_history
from predictor.advice.other_drills import learned_elsewhere
from predictor.advice.recommend import recommend
from predictor.domain.control import Lever
from predictor.domain.drill import Drill, SeedBox
from predictor.files.trials import as_trials
from predictor.lots.compare import compare_lots

AT = (15, 22, 22, 30, 38, 45)
BY = 40


def made(by, lots=4):
    """A box with its drill, and a log of lots in two seasons, on a scale that begins `by` further up."""
    box = SeedBox("small", "small", Lever(by, by + 60, 1))
    drill = Drill("made up", 12, 0.1905, 2.19456, (box,))
    rng = np.random.default_rng(5)
    rows = [
        (f"L{k}", f"202{k % 2}", at + by, 84 * (0.015 + 0.002 * k) * (at - 2) * np.exp(0.04 * rng.standard_normal()))
        for k in range(lots)
        for at in AT
    ]
    frame = pd.DataFrame(rows, columns=["lot", "season", "setting", "catch_g"]).assign(box="small", turns=28, rows=3)
    return box, drill, as_trials(frame, drill)


def close(found, kept):
    """Whether numbers agree to rounding; None agrees with itself only."""
    none = [each is None for each in kept]
    assert [each is None for each in found] == none
    numbers = [[each for each in values if each is not None] for values in (found, kept)]
    return numbers[0] == pytest.approx(numbers[1], rel=1e-6, abs=1e-6)


def test_earlier_lots_say_the_same():
    (box, _, log), (moved, _, moved_log) = made(0), made(BY)
    history, other = learn_history(log, box), learn_history(moved_log, moved)
    assert (history.lots, history.catches) == (other.lots, other.catches)
    kept, found = vars(history.prior), vars(other.prior)
    for name in ("dead", "dead_spread", "bend", "bend_spread", "correlation", "level", "level_spread", "level_at"):
        assert close([found[name]], [kept[name]]), name
    assert np.ravel(found["repeatability"]) == pytest.approx(np.ravel(kept["repeatability"]))


def test_lots_of_another_drill_say_the_same_on_each_scale():
    (box, _, log), (moved, _, moved_log) = made(0), made(BY)
    answers = [learned_elsewhere([each], mine, None).prior for each in (log, moved_log) for mine in (box, moved)]
    for each in answers[1:]:
        assert (each.dead, each.bend, each.dead_spread) == pytest.approx(
            (answers[0].dead, answers[0].bend, answers[0].dead_spread), rel=1e-6
        )


@pytest.mark.parametrize("catches", [(), ((30, 46.0),), ((30, 46.0), (38, 61.0)), ((30, 46.0), (38, 61.0), (38, 60.2))])
def test_advice_is_the_same(catches):
    answers = []
    for by in (0, BY):
        box, drill, log = made(by)
        frame = pd.DataFrame(
            {"box": "small", "lot": "X", "season": "2022", "setting": [at + by for at, _ in catches] or [30.0 + by]}
        )
        frame = frame.assign(turns=28, rows=3, catch_g=[grams for _, grams in catches] or [50.0])
        trials = as_trials(frame, drill)
        trials = trials if catches else trials.where(np.array([False]))
        history = learn_history(log, box, before=("X", "2022"))
        for known in (history, None):
            advice = recommend(trials, box, target_output=0.71, history=known, drill=drill)
            ends = [None if each is None else each - by for each in advice.setting_interval or ()]
            numbers = [advice.chance, *ends, *(advice.next_catch_interval_g or ())]
            answers.append(((advice.decision, advice.setting - by), numbers))
    half = len(answers) // 2
    for found, kept in zip(answers[half:], answers[:half], strict=True):
        assert found[0] == kept[0]
        assert close(found[1], kept[1])


def test_lots_compare_alike():
    (box, _, log), (moved, _, moved_log) = made(0), made(BY)
    found, other = compare_lots(log, box), compare_lots(moved_log, moved)
    assert other.reference.setting.value == found.reference.setting.value + BY
    for mine, theirs in zip(found.lots, other.lots, strict=True):
        assert (theirs.name, theirs.unusual) == (mine.name, mine.unusual)
        assert close([theirs.ratio, theirs.lower, theirs.upper], [mine.ratio, mine.lower, mine.upper])
        assert (theirs.setting and theirs.setting.value) == (mine.setting and mine.setting.value + BY)
    assert found.shape.dead_opening is not None
    assert other.shape.dead_opening == pytest.approx(found.shape.dead_opening + BY, abs=1e-4)
