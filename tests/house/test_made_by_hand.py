"""Catches, boxes and fits made by hand: what no file could hold is refused; a number of any kind is the same number."""

import math
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pandas as pd
import pytest

import predictor
from predictor import Drill, Field, InputError, Lever, LeverAndDrive, SeedBox, Sprockets, fit_curve
from predictor.commands.options import lines_of
from predictor.domain.result import Shown
from tests.conftest import ROOT
from tests.house.test_misuse import refused

TRIALS = predictor.read_trials(ROOT / "sample_trials/trials.csv")
N = len(TRIALS)
ONES = np.ones(N)
NO_FLAGS = [np.ones(N, int), np.array(["no"] * N), np.array([None] * N), ONES, [True] * N]
NO_TEXTS = [np.arange(N), np.array([None] * N), np.array([b"A"] * N), np.array([1.5] * N, dtype=object), ONES * np.nan]
NO_NUMBERS = [ONES.astype(complex), ONES.astype(str), ONES.astype(object), ONES > 0, ONES * np.inf, -ONES * np.inf]
SEEN = "small\x1b[31m", "small\u202e", "sm\u200ball"
NAMES = [np.array([each] * N, dtype=object) for each in SEEN]
LENGTHS = [*NO_NUMBERS, -ONES, ONES * 0]
APART = [((math.nan,),) * N, (("1",),) * N, ("12",) * N, ([1.0],) * N, ((-1.0,),) * N, (5.0,) * N, [None] * N]
COLUMNS = {
    **dict.fromkeys(("use", "charged", "confirmed"), NO_FLAGS),
    **dict.fromkeys(("box", "lot", "season", "setting"), NO_TEXTS + NAMES),
    **dict.fromkeys(("date", "drill_name", "operator", "note", "stated"), NO_TEXTS),
    "catch_g": [*NO_NUMBERS, -ONES, ONES * np.nan],
    "turns": [*LENGTHS, ONES * np.nan],
    "rows": [*LENGTHS, ONES * np.nan],
    **dict.fromkeys(("distance_m", "target_g", "wanted_g"), LENGTHS),
    "fill_pct": [*NO_NUMBERS, -ONES],
    "tare_g": [*NO_NUMBERS, -ONES],
    "opening": NO_NUMBERS,
    "line": [ONES, np.array([None] * N), ONES > 0],
    **dict.fromkeys(("rows_g", "parts_g"), APART),
    "drill": ["drill.toml", 1, SeedBox("small", "small", Lever(0, 60))],
}


@pytest.mark.parametrize("column", COLUMNS)
def test_columns_that_no_file_could_hold_are_refused_by_name(column):
    refused(column, lambda bad: replace(TRIALS, **{column: bad}), COLUMNS[column])


def test_whole_numbers_and_short_floats_are_taken_as_floats():
    for kind in (np.int8, np.uint16, np.float32):
        assert replace(TRIALS, turns=TRIALS.turns.astype(kind)) == TRIALS
    assert replace(TRIALS, rows=TRIALS.rows.astype(int)).rows.dtype == float


NAMED = {
    "name": lambda bad: SeedBox(bad, "small", Lever(0, 60)),
    "name of a drill": lambda bad: Drill(bad, 12, 0.19, 2.2, (SeedBox("a", "small", Lever(0, 60)),)),
    "name of a field": lambda bad: Field(bad, 1.0),
    "label of ratios": lambda bad: Sprockets({bad: 0.4}),
    "label of drives": lambda bad: LeverAndDrive(Lever(0, 60), {bad: 1.0}),
    "lot": lambda bad: predictor.recommend(TRIALS, SeedBox("small", "small", Lever(0, 40)), target_g=60, lot=bad),
    "lot of a filter": lambda bad: TRIALS.of(lot=bad),
}


@pytest.mark.parametrize("case", NAMED)
def test_a_name_with_invisible_characters_is_refused(case):
    refused(case, NAMED[case], SEEN)


def test_what_a_result_says_sends_no_control_to_a_terminal(monkeypatch):
    monkeypatch.setattr("predictor.text.summaries.summary", lambda result: "a\x1b[31m\nb\u202e")
    assert str(Shown()) == "a\\x1b[31m\nb\\u202e"


CATCHES = {"settings": [10, 20, 30, 40], "outputs": [1.0, 2.1, 2.9, 4.2]}
FITS = {
    "settings": ({}, [[1e300] * 4, [1e-320] * 4]),
    "outputs": ({}, [[1e300] * 4, [1e-320] * 4]),
    "outputs of a classical line": ({"prior": None}, [[1e300] * 4, [1e-320] * 4]),
    "outputs of constant noise": ({"noise": "constant"}, [[1e300] * 4, [1e-320] * 4]),
    "weights": ({}, [[1e300] * 4, [1e-320] * 4]),
    "fill": ({}, [[50, 80, 20, 50], [1e30] * 4, [-1] * 4]),
    "fill_prior": ({}, [np.array(1.3), np.ma.masked]),
    "rows": ({}, [np.array(1.3), np.ma.masked, np.ones((3, 3))]),
    "parts": ({}, [np.array(1.3), np.ma.masked]),
    "dead_setting": ({"prior": None}, [1e300, "5"]),
    "span": ({}, [1e300, 1e-300]),
    "near": ({}, [1e300, 1e-300]),
}


@pytest.mark.parametrize("case", FITS)
def test_numbers_beyond_anything_measured_and_fillings_in_per_cent_are_refused(case):
    given, misuses = FITS[case]
    argument = case.split()[0]
    refused(case, lambda bad: fit_curve(**{**CATCHES, **given, argument: bad}), misuses)


@pytest.mark.parametrize("given", [{}, {"prior": None}, {"noise": "constant"}, {"prior": None, "noise": "constant"}])
def test_a_curve_refuses_a_number_beyond_anything_measured(given):
    curve = fit_curve(**CATCHES, **given)
    refused("output", curve.setting_for, [1e300])
    refused("x", curve.mean, [1e300, [1, 1e200]])
    refused("x of an interval", curve.interval, [-1e300])
    refused("weight", lambda bad: curve.interval(20, 0.95, "next", bad), [1e300, 1e-300])


@pytest.mark.parametrize("five", [5, Decimal(5), Fraction(5), np.float32(5), np.array(5)])
def test_a_held_dead_setting_of_any_kind_of_number_gives_the_same_line(five):
    wanted, found = (fit_curve(**CATCHES, prior=None, dead_setting=each) for each in (5.0, five))
    assert found.params == wanted.params
    assert type(found.setting_for(2.0).estimate) is float
    assert found.setting_for(2.0) == wanted.setting_for(2.0)


def caught(lot, season, factor, settings=(20, 30, 25)):
    rows = [{"box": "grain", "lot": lot, "season": season, "setting": x, "catch_g": x * factor} for x in settings]
    return pd.DataFrame(rows).assign(turns=28, rows=3)


def test_a_history_is_used_for_the_box_and_the_bags_it_was_learned_of():
    lever = Lever(0, 60, 1)
    box, other = SeedBox("grain", "free-flowing", lever), SeedBox("small", "small", lever)
    log = pd.concat([caught("A", "2025", 0.7), caught("A", "2026", 0.7, (20,)), caught("C", "2026", 1.4, (20,))])
    of_a = predictor.learn_history(log, box, before=("A", "2026"))
    assert of_a.same_lot == "2025"
    asked = {"season": "2026", "target_g": 20.0, "history": of_a}
    assert predictor.recommend(log, box, lot="a", **asked).chance > 0
    with pytest.raises(InputError, match="history must be learned for lot"):
        predictor.recommend(log, box, lot="C", **asked)
    with pytest.raises(InputError, match="history must be learned from the catches of box small"):
        predictor.recommend(log.assign(box="small"), other, lot="A", **asked)
    # what has no level of other bags serves every lot
    of_c = predictor.learn_history(log, box, before=("C", "2026"))
    assert not of_c.same_lot
    assert predictor.recommend(log, box, lot="A", **{**asked, "history": of_c}).chance > 0


def test_lines_to_confirm_are_no_more_than_someone_has_looked_at():
    assert len(lines_of("2-1001").numbers) == 1000
    for text in ("2-9999999", "2-1002", "2-900,3-900"):
        with pytest.raises(ValueError, match="1,000 lines"):
            lines_of(text)


def test_lots_that_are_read_as_different_are_named_five_at_a_time():
    names = [f"{k:b}".zfill(9).replace("0", "a").replace("1", "A") for k in range(400)]
    frame = pd.concat([caught(name, "2026", 0.7, (20,)) for name in names])
    (remark,) = predictor.as_trials(frame).assumed
    assert "395 more" in str(remark)
    assert len(str(remark)) < 250
