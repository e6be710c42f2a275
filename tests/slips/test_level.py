"""All catches of a lot off by a factor. Every number is invented; seeds are fixed."""

from dataclasses import replace

import numpy as np
import pytest

from predictor.advice.recommend import recommend
from predictor.domain.drill import Drill
from predictor.domain.drives import LeverAndDrive
from predictor.slips import level
from tests.slips.lots import FREE, catches, earlier, seen_of

DRILL = Drill("invented", 12, 0.19, 2.2, (FREE,))
SETTINGS = (30, 36, 36)


def found(factor, past=None, settings=SETTINGS, ideal=36, **columns):
    """What is found where all weights of a box that gives 1.4 g a step are off by a factor."""
    grams = np.round(1.4 * np.array(settings) * factor, 3)
    trials = catches(FREE, list(zip(settings, grams, strict=True)), drill=DRILL, **columns)
    return level.look(seen_of(trials, FREE, ideal * 1.4 / 84, past))


@pytest.mark.parametrize("settings", [(30,), SETTINGS])
@pytest.mark.parametrize("factor", [1 / 28.35, 1 / 453.6, 1 / 1000, 1 / 16])
def test_a_whole_column_in_another_unit_is_found_without_history(factor, settings):
    (each,) = found(factor, settings=settings)
    assert (each.code, each.waits, len(each.lines)) == ("level", False, len(settings))
    assert each.values["factor"] == pytest.approx(factor, rel=0.3)


def test_a_column_of_ounces_is_told_how_to_name_it():
    grams = np.round(1.4 * np.array(SETTINGS) / 28.3495, 2)
    trials = catches(FREE, list(zip(SETTINGS, grams, strict=True)), drill=DRILL)
    (each,) = level.look(seen_of(trials, FREE, 36 * 1.4 / 84))
    assert "unit" in [cause.code for cause in each.values["causes"]]
    assert "catch_oz" in str(each)
    advice = recommend(trials, FREE, target_output=36 * 1.4 / 84, drill=DRILL)
    assert advice.decision != "unreachable"
    assert [each.code for each in advice.slips] == ["level"]


def test_all_rows_caught_and_three_written_is_found_against_earlier_lots():
    past = earlier(FREE, level=1.0)
    one = 84 / 60  # grams a step of a lot like the earlier ones, over 28 turns and 3 rows
    trials = catches(FREE, [(30, 4 * 30 * one), (36, 4 * 36 * one)], drill=DRILL)
    (each,) = level.look(seen_of(trials, FREE, 36 * one / 84, past))
    assert (each.values["history"], each.waits) == (True, True)
    assert [cause.code for cause in each.values["causes"]] == ["all_rows"]


@pytest.mark.parametrize("ideal", [8, 20, 36, 50, 60])
def test_a_target_anywhere_on_the_scale_raises_nothing(ideal):
    assert found(1.0, ideal=ideal) == found(1.0, settings=(30,), ideal=ideal) == ()


def test_a_lot_that_flows_as_earlier_ones_differ_raises_nothing():
    past = earlier(FREE, level=1.0)
    one = 84 / 60
    for flow in (0.6, 0.8, 1.0, 1.3, 1.6):
        trials = catches(FREE, [(30, flow * 30 * one), (36, flow * 36 * one)], drill=DRILL)
        assert level.look(seen_of(trials, FREE, 36 * one / 84, past)) == ()


def test_who_stands_by_the_first_catch_is_not_asked_of_the_level_again():
    assert found(1 / 28.35, confirmed=np.array([True, False, False])) == ()


def test_a_target_that_may_be_of_another_drive_is_no_slip_but_earlier_lots_are_of_this_drive():
    both = replace(FREE, control=LeverAndDrive(FREE.control, {"high": 2.0, "low": 1.0}))
    grams = [(at, 1.4 * at / 28.35) for at in SETTINGS]
    for past, said in ((None, []), (earlier(FREE, level=1.0), ["level"])):
        here = seen_of(catches(FREE, grams, drill=DRILL), FREE, 36 * 1.4 / 84, past)
        assert [each.code for each in level.look(here)] == ["level"]
        assert [each.code for each in level.look(replace(here, box=both))] == said
