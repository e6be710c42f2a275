"""The decision card says what the program would say. All lots are made up."""

import itertools

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, strategies as st

from predictor import Drill, Lever, SeedBox, Sprockets
from predictor.advice.recommend import recommend
from predictor.domain.drill import CatchDefaults
from predictor.domain.trials import joined, no_trials, one_catch
from predictor.files.trials import as_trials
from predictor.job.job import Job, Task
from predictor.pages.decision_card import decision_card, ranges_of
from predictor.study.drills import MadeUpLot, random_shape
from tests.conftest import SAMPLE

BOX = SeedBox("small", "small", Lever(0, 40, 1))
DRILL = Drill("made up", 12, 0.19, 2.2, (BOX,))


@given(st.lists(st.integers(1, 3), min_size=2, max_size=60), st.data())
def test_ranges_are_the_runs_of_equal_answers_as_far_as_they_were_looked_at(answers, data):
    inner = data.draw(st.sets(st.integers(1, len(answers))))
    found = ranges_of(lambda k: (answers[k - 1],), sorted({1, len(answers), *inner}))
    assert found[0][0] == 1
    assert found[-1][1] == len(answers)
    assert all(before[1] + 1 == after[0] for before, after in itertools.pairwise(found))
    for low, high in found:  # its ends and every look inside it agree
        assert len({answers[k - 1] for k in (low, high, *(each for each in inner if low <= each <= high))}) == 1


def answer(advice):
    """Decision and setting as a card gives them: no nearest setting where none reaches the target."""
    return advice.decision, None if advice.decision == "unreachable" else advice.advised


def caught(setting, grams, turns=28, rows=3):
    """One catch as trials."""
    return one_catch(DRILL, BOX, lot="A", season="", setting=setting, catch_g=grams, turns=turns, rows=rows)


def advise(trials, target):
    return recommend(trials, BOX, lot="A", season="", target_output=target, drill=DRILL)


def lots(count):
    """Made-up lots with a first catch in mid-range."""
    rng = np.random.default_rng(11)
    for _ in range(count):
        lot = MadeUpLot(BOX, random_shape(rng, "line"), 1.0, float(rng.uniform(0.03, 0.10)))
        first = float(rng.choice(np.arange(15, 26)))
        grams = round(lot.catch(rng, first, 28, 3)[0], 1)
        target = float(lot.catch(rng, float(rng.integers(10, 31)), 28, 3)[0]) / 84
        trials = joined(
            [
                no_trials(DRILL),
                caught(BOX.control.at(first), grams),
            ]
        )
        yield rng, lot, trials, target


@pytest.mark.slow
def test_following_the_card_gives_the_decisions_of_the_program():
    """First tables agree at every weight the scale can show; second tables, made for the middle of a range, mostly.

    5 made-up lots, one weight each and step; `tests/benchmarks/bench_decision_card.py` counts with more.
    """
    steps = second = agreed = 0
    for rng, lot, trials, target in lots(5):
        job = Job(DRILL, trials, None, use_history=False)
        tables = decision_card(job, Task(BOX, "A", "", target))
        if not tables:
            continue
        table = tables[0]
        grams = round(lot.catch(rng, table.setting.opening, table.turns, int(table.rows))[0], 1)
        after = joined([trials, caught(table.setting, grams, table.turns, table.rows)])
        advice = advise(after, target)
        found = table.find(grams)
        assert (found.decision, found.setting) == answer(advice)
        steps += 1
        then = next((each for each in tables[1:] if each.after == found), None)
        if then is None or then.setting != advice.advised:
            continue
        grams = round(lot.catch(rng, then.setting.opening, then.turns, int(then.rows))[0], 1)
        advice = advise(joined([after, caught(then.setting, grams, then.turns, then.rows)]), target)
        second += 1
        agreed += then.find(grams).decision == advice.decision
    assert steps >= 4
    assert second >= 1
    assert agreed / second >= 0.6


def test_every_weight_of_a_table_is_that_of_the_program():
    job = next(Job(DRILL, trials, None, use_history=False) for _, _, trials, _ in lots(1))
    target = float(job.trials.output[0]) * 0.8
    table = decision_card(job, Task(BOX, "A", "", target), second=False)[0]
    step = DRILL.catch.scale_resolution_g
    first = int((table.ranges[0].high_g or 0) / step) - 5
    last = int((table.ranges[-1].low_g or 0) / step) + 5
    for k in range(first, last, 7):
        advice = advise(joined([job.trials, caught(table.setting, k * step, table.turns, table.rows)]), target)
        found = table.find(k * step)
        assert (found.decision, found.setting) == answer(advice), k * step


def test_a_box_that_is_locked_needs_no_card():
    from predictor.job.read import read_job

    job = read_job(SAMPLE, use_field_factor=False)
    tables = {task.box.name: decision_card(job, task) for task in job.in_hand()}
    assert tables["grain"] == []
    assert tables["small"][0].ranges[0].low_g is None
    assert tables["small"][0].ranges[-1].high_g is None
    assert sum(each.likely for each in tables["small"][0].ranges) == pytest.approx(1, abs=0.01)


def test_before_any_catch_the_card_says_where_to_go_from_the_middle():
    job = Job(DRILL, no_trials(DRILL), None)
    tables = decision_card(job, Task(BOX, "A", None, 0.3), second=False)
    assert tables[0].setting.value == 20
    settings = [each.setting.value for each in tables[0].ranges if each.decision == "move"]
    assert settings == sorted(settings, reverse=True)  # the heavier the catch, the lower to go


def test_a_card_is_made_from_a_spline_too():
    box = SeedBox("small", "small", Sprockets({str(k): 0.1 * k for k in range(1, 9)}))
    # few ranges, few weights to look at
    drill = Drill("made up", 12, 0.19, 2.2, (box,), CatchDefaults(28, 3, 5, 2.0))
    settings = np.repeat(np.arange(1, 9), 2)
    grams = 100 * (1 - np.exp(-settings / 1.2)) * (1 + 0.004 * np.sin(9 * settings))
    catches = {"box": "small", "lot": "A", "setting": settings, "catch_g": grams, "turns": 28, "rows": 3}
    trials, target = as_trials(pd.DataFrame(catches), drill), 70.0 / 84
    assert recommend(trials, box, target_output=target).curve.family == "spline"
    tables = decision_card(Job(drill, trials, None, use_history=False), Task(box, "A", "", target), second=False)
    assert sum(each.likely for each in tables[0].ranges) == pytest.approx(1, abs=0.02)


def test_second_tables_follow_ranges_that_do_not_end_the_work():
    box = SeedBox("small", "small", Lever(0, 60, 1))
    drill = Drill("made up", 12, 0.19, 2.2, (box,), CatchDefaults(28, 3, 5, 0.1))
    catches = {"setting": [30, 30, 30, 30, 31], "catch_g": [60.0, 60.2, 59.9, 60.1, 66.0]}
    trials = as_trials(pd.DataFrame(catches).assign(box="small", lot="A", turns=28, rows=3), drill)
    job = Job(drill, trials, None, use_history=False)
    found = decision_card(job, Task(box, "A", "", 63.2 / 84), tolerance=0.04)
    assert [each.after is None for each in found] == [True] + [False] * (len(found) - 1)
    assert len(found) > 1
    assert not {each.after.decision for each in found[1:]} & {"lock", "unreachable"}
