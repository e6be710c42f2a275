"""Ranges worked out in advance answer as the program would. All lots are made up."""

import itertools
import json
import pickle
from dataclasses import replace
from functools import cache

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, strategies as st

from predictor import CatchDefaults, Drill, Lever, SeedBox, Sprockets, as_trials
from predictor.advice.ranges import ranges_of, tables_after
from predictor.advice.recommend import recommend
from predictor.domain.trials import joined, no_trials, one_catch
from predictor.job.read import read_job
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
    """Decision and setting as a card gives them, without a nearest setting where none reaches the target."""
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
        yield rng, lot, joined([no_trials(DRILL), caught(BOX.control.at(first), grams)]), target


def next_grams(rng, lot, table):
    """The weight of the catch that a table asks for, as the scale shows it."""
    return round(lot.catch(rng, table.setting.opening, table.turns, int(table.rows))[0], 1)


def test_ranges_are_as_likely_as_the_longer_catch_that_is_asked_for_makes_them():
    """How likely it is to be below a border is what the curve says of a catch of that length, to 2 in 100."""
    rng = np.random.default_rng(1)
    grams = 61 * np.exp(0.12 * rng.standard_normal(6))
    trials = joined([caught(BOX.control.at(20.0), each) for each in grams])
    advice = recommend(trials, BOX, lot="A", season="", target_g=61.0, tolerance=0.03, drill=DRILL)
    assert advice.decision == "lengthen"
    (table,) = tables_after(advice, second=False)
    assert (table.turns, table.target_g) == (advice.next_turns, advice.target_catch_g)
    assert advice.next_turns > 28
    assert sum(each.likely for each in table.ranges) == pytest.approx(1, abs=2e-3)
    shares = []
    for each in table.ranges[:-1]:
        share = sum(other.likely for other in table.ranges if other.high_g and other.high_g <= each.high_g)
        border = each.high_g + DRILL.catch.scale_resolution_g / 2
        if 0.03 < share < 0.97:
            below, above = advice.next_weights([share - 0.02, share + 0.02])
            shares.append(below < border < above)
    assert shares
    assert all(shares)


@pytest.mark.slow
def test_following_the_card_gives_the_decisions_of_the_program():
    """First tables agree at every weight the scale can show. Second tables mostly agree.

    Second tables are made for the middle of a range. There are 5 made-up lots, with one weight for each step.
    `tests/benchmarks/bench_decision_card.py` counts more.
    """
    steps = second = agreed = 0
    for rng, lot, trials, target in lots(5):
        tables = tables_after(advise(trials, target))
        if not tables:
            continue
        grams = next_grams(rng, lot, tables[0])
        after = joined([trials, caught(tables[0].setting, grams, tables[0].turns, tables[0].rows)])
        advice, found = advise(after, target), tables[0].find(grams)
        assert (found.decision, found.setting) == answer(advice)
        steps += 1
        then = next((each for each in tables[1:] if each.after == found), None)
        if then is None or then.setting != advice.advised:
            continue
        grams = next_grams(rng, lot, then)
        advice = advise(joined([after, caught(then.setting, grams, then.turns, then.rows)]), target)
        second += 1
        agreed += then.find(grams).decision == advice.decision
    assert steps >= 4
    assert second >= 1
    assert agreed / second >= 0.6


def test_every_weight_of_a_table_is_that_of_the_program():
    _, _, trials, _ = next(lots(1))
    target = float(trials.output[0]) * 0.8
    (table,) = tables_after(advise(trials, target), second=False)
    step = DRILL.catch.scale_resolution_g
    first = int((table.ranges[0].high_g or 0) / step) - 5
    last = int((table.ranges[-1].low_g or 0) / step) + 5
    assert last - first > 5 * 19
    for k in range(first, last, 19):
        advice = advise(joined([trials, caught(table.setting, k * step, table.turns, table.rows)]), target)
        found = table.find(k * step)
        assert (found.decision, found.setting) == answer(advice), k * step


def test_a_box_that_is_locked_needs_no_table():
    job = read_job(SAMPLE).corrected()
    tables = {task.box.name: tables_after(job.advice(task)) for task in job.in_hand()}
    assert tables["grain"] == []
    assert tables["small"][0].ranges[0].low_g is None
    assert tables["small"][0].ranges[-1].high_g is None
    assert sum(each.likely for each in tables["small"][0].ranges) == pytest.approx(1, abs=0.01)


@cache
def before_any_catch():
    return tables_after(advise(no_trials(DRILL), 0.3), second=False)


@pytest.mark.slow
def test_before_any_catch_the_table_says_where_to_go_from_the_middle():
    (table,) = before_any_catch()
    assert table.setting.value == 20
    assert {each.likely for each in table.ranges} == {None}
    settings = [each.setting.opening for each in table.ranges if each.decision == "move"]
    assert settings == sorted(settings, reverse=True)  # the heavier the catch, the lower to go


def test_a_table_is_json_and_is_compared_hashed_and_pickled_by_its_values():
    one = [*before_any_catch()]
    one.append(replace(one[0], after=one[0].ranges[0]))
    other = pickle.loads(pickle.dumps(one))
    assert one == other
    assert len({*one, *other}) == 2
    values = json.loads(json.dumps([each.to_dict() for each in one], allow_nan=False))
    assert values[0]["setting"] == one[0].setting.value
    assert values[0]["ranges"][0]["reason"] == str(one[0].ranges[0].why)


def test_without_a_drill_there_is_no_table():
    _, _, trials, target = next(lots(1))
    assert tables_after(recommend(replace(trials, drill=None), BOX, target_output=target)) == []


def log(settings, grams, drill):
    frame = {"box": "small", "lot": "A", "season": "", "turns": 28, "rows": 3, "setting": settings, "catch_g": grams}
    return as_trials(pd.DataFrame(frame), drill)


@pytest.mark.slow
def test_ranges_are_worked_out_from_a_spline_too():
    box = SeedBox("small", "small", Sprockets({str(k): 0.1 * k for k in range(1, 9)}))
    drill = replace(DRILL, boxes=(box,), catch=CatchDefaults(28, 3, 5, 2.0))  # few ranges, few weights to look at
    settings = np.repeat(np.arange(1, 9), 2)
    grams = 100 * (1 - np.exp(-settings / 1.2)) * (1 + 0.004 * np.sin(9 * settings))
    advice = recommend(log(settings, grams, drill), box, target_g=70.0)
    assert advice.curve.family == "spline"
    (table,) = tables_after(advice, second=False)
    assert sum(each.likely for each in table.ranges) == pytest.approx(1, abs=0.02)


@pytest.mark.slow
def test_second_tables_follow_ranges_that_do_not_end_the_work():
    trials = log([20, 20, 20, 20, 21], [60.0, 60.2, 59.9, 60.1, 66.0], DRILL)
    found = tables_after(recommend(trials, BOX, target_g=63.2, tolerance=0.04))
    assert [each.after is None for each in found] == [True] + [False] * (len(found) - 1)
    assert len(found) > 1
    assert not {each.after.decision for each in found[1:]} & {"lock", "unreachable"}
