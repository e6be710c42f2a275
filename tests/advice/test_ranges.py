"""Ranges worked out in advance answer as the program would. All lots are made up."""

import itertools
import json
import pickle
from dataclasses import replace
from functools import cache

import numpy as np
import pandas as pd
import pytest

from predictor import CatchDefaults, Drill, Lever, SeedBox, Sprockets, as_trials
from predictor.advice.merging import MOST_ROWS
from predictor.advice.ranges import RUNGS, table_after
from predictor.advice.recommend import recommend
from predictor.domain.one_catch import one_catch
from predictor.domain.trials import joined, no_trials
from predictor.job.read import read_job
from predictor.study.drills import MadeUpLot, random_shape
from tests.conftest import SAMPLE

BOX = SeedBox("small", "small", Lever(0, 40, 1))
DRILL = Drill("made up", 12, 0.19, 2.2, (BOX,))


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


def test_a_table_has_few_rows_without_gaps_whose_settings_never_rise():
    for _, _, trials, target in lots(4):
        table = table_after(advise(trials, target))
        assert 3 <= len(table.ranges) <= MOST_ROWS
        assert (table.ranges[0].decision, table.ranges[-1].decision) == ("ask", "ask")
        assert (table.ranges[0].low_g, table.ranges[-1].high_g) == (None, None)
        for before, after in itertools.pairwise(table.ranges):
            assert after.low_g == pytest.approx(before.high_g + DRILL.catch.scale_resolution_g)
        assert sum(each.likely for each in table.ranges) == pytest.approx(1, abs=2e-3)
        steady = [each for each in table.ranges if each.decision != "recheck"]  # which is made again where it was made
        ends = [each for found in steady for each in (found.setting, found.last or found.setting) if each]
        assert [each.opening for each in ends] == sorted((each.opening for each in ends), reverse=True)


def test_ranges_are_as_likely_as_the_longer_catch_that_is_asked_for_makes_them():
    """How likely it is to be below a border is what the curve says of a catch of that length, to 2 in 100."""
    rng = np.random.default_rng(1)
    grams = 61 * np.exp(0.12 * rng.standard_normal(6))
    trials = joined([caught(BOX.control.at(20.0), each) for each in grams])
    advice = recommend(trials, BOX, lot="A", season="", target_g=61.0, tolerance=0.03, drill=DRILL)
    assert advice.decision == "lengthen"
    table = table_after(advice)
    assert (table.turns, table.target_g) == (advice.next_turns, advice.target_catch_g)
    assert advice.next_turns > 28
    shares = []
    for each in table.ranges[:-1]:
        share = sum(other.likely for other in table.ranges if other.high_g and other.high_g <= each.high_g)
        border = each.high_g + DRILL.catch.scale_resolution_g / 2
        if 0.03 < share < 0.97:
            below, above = advice.next_weights([share - 0.02, share + 0.02])
            shares.append(below < border < above)
    assert shares
    assert all(shares)


def test_where_a_card_locks_the_program_locks_there_and_nearly_everywhere_else_they_agree():
    """The sixtieth part of the likely weights each. `tests/benchmarks/bench_decision_card.py` counts many boxes."""
    _, _, trials, target = next(lots(1))
    advice = advise(trials, target)
    table = table_after(advice)
    agreed = []
    for grams in np.unique(advice.next_weights(np.linspace(0.02, 0.98, 40)).round(1)):
        then = advise(joined([trials, caught(table.setting, grams, table.turns, table.rows)]), target)
        found = table.find(grams)
        if found.decision == "lock":
            assert (found.decision, found.setting) == answer(then), grams
        agreed.append(found.decision == "ask" or (found.decision, found.setting) == answer(then))
    assert len(agreed) >= 30
    assert np.mean(agreed) >= 0.85


def test_a_box_that_is_locked_needs_no_table():
    job = read_job(SAMPLE).corrected()
    tables = {task.box.name: table_after(job.advice(task)) for task in job.in_hand()}
    assert tables["grain"] is None
    assert tables["small"].ranges[0].low_g is None


@cache
def before_any_catch():
    return table_after(advise(no_trials(DRILL), 0.3))


def test_before_any_catch_a_ladder_says_where_to_go_from_the_middle_as_the_program_would():
    table = before_any_catch()
    assert table.ladder
    assert table.setting.value == 20
    assert 8 <= len(table.ranges) <= RUNGS
    assert (table.ranges[0].low_g, table.ranges[-1].high_g) == (None, None)
    for before, after in itertools.pairwise(table.ranges):
        assert after.low_g == pytest.approx(before.high_g + DRILL.catch.scale_resolution_g)
    openings = [each.setting.opening for each in table.ranges]
    assert openings == sorted(openings, reverse=True)  # the heavier the catch, the lower to go
    for each in table.ranges[1:-1]:
        light, heavy = (
            advise(joined([no_trials(DRILL), caught(table.setting, grams)]), 0.3).advised.opening
            for grams in (each.low_g, each.high_g)
        )
        assert heavy <= each.setting.opening <= light


def test_the_range_of_a_ladder_around_the_target_stays_there():
    table = before_any_catch()
    around = table.find(table.target_g)
    assert (around.decision, around.setting) == ("repeat", table.setting)
    assert around.low_g < table.target_g < around.high_g


def test_a_likely_weight_that_makes_a_catch_odd_has_a_row_that_repeats_that_catch():
    """The lever gave less at 10 than at 8, so that at 8 is made again; if it is as heavy, that at 10 is odd."""
    trials = joined([caught(BOX.control.at(10.0), 21.0), caught(BOX.control.at(8.0), 29.0)])
    table = table_after(advise(trials, 25.5 / 84))
    rows = [each for each in table.ranges if each.decision in ("recheck", "ask")]
    assert [each.decision for each in rows] == ["ask", "recheck", "ask"]
    assert rows[1].setting.value == 10
    assert rows[1].likely > 0.1
    assert rows[0].likely + rows[2].likely < 0.04
    then = advise(joined([trials, caught(table.setting, 30.0)]), 25.5 / 84)
    assert table.find(30.0) is rows[1]
    assert (then.decision, then.advised) == ("recheck", rows[1].setting)


def test_a_slip_is_asked_about_only_where_the_next_catch_leaves_it_likely():
    """Every catch, wherever the lever stood, weighs as if a container of 34 g had been weighed with the seed."""
    weights = (20.0, 46.0), (10.0, 41.0), (5.0, 38.6)
    trials = joined([no_trials(DRILL), *(caught(BOX.control.at(at), grams) for at, grams in weights)])
    advice = advise(trials, 10.1 / 84)
    assert not advice.waiting
    table = table_after(advice)
    ends = [each for each in table.ranges if each.decision == "unreachable"]
    assert ends
    for each in ends:
        for grams in (each.low_g, each.high_g):
            then = advise(joined([trials, caught(table.setting, grams)]), 10.1 / 84)
            assert then.decision == "unreachable"


def test_a_table_is_json_and_is_compared_hashed_and_pickled_by_its_values():
    one = before_any_catch()
    other = pickle.loads(pickle.dumps(one))
    assert one == other
    assert len({one, other, replace(one, lot="B")}) == 2
    values = json.loads(json.dumps(one.to_dict(), allow_nan=False))
    assert values["setting"] == one.setting.value
    assert values["ranges"][0]["reason"] == str(one.ranges[0].why)


def test_without_a_drill_there_is_no_table():
    _, _, trials, target = next(lots(1))
    assert table_after(recommend(replace(trials, drill=None), BOX, target_output=target)) is None


def log(settings, grams, drill):
    frame = {"box": "small", "lot": "A", "season": "", "turns": 28, "rows": 3, "setting": settings, "catch_g": grams}
    return as_trials(pd.DataFrame(frame), drill)


@pytest.mark.slow
def test_ranges_are_worked_out_from_a_spline_too():
    box = SeedBox("small", "small", Sprockets({str(k): 0.1 * k for k in range(1, 9)}))
    drill = replace(DRILL, boxes=(box,), catch=CatchDefaults(28, 3, 5, 2.0))
    settings = np.repeat(np.arange(1, 9), 2)
    grams = 100 * (1 - np.exp(-settings / 1.2)) * (1 + 0.004 * np.sin(9 * settings))
    advice = recommend(log(settings, grams, drill), box, target_g=70.0)
    assert advice.curve.family == "spline"
    table = table_after(advice)
    assert sum(each.likely for each in table.ranges) == pytest.approx(1, abs=0.02)
