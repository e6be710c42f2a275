"""The questions that a slip raises when a catch is typed. Weights are invented."""

import pandas as pd

from predictor import Lever, SeedBox
from predictor.files.entry import Catch, read_weight
from predictor.files.trials import as_trials
from predictor.slips.typed import questions

BOX = SeedBox("small", "small", Lever(0, 60, 1))
CATCHES = {"box": "small", "lot": "A", "turns": 28, "rows": 3}


def caught(*rows):
    """Earlier catches, given as season, date, setting, grams and whether in use."""
    names = ("season", "date", "setting", "catch_g", "use")
    return as_trials(pd.DataFrame([{**CATCHES, **dict(zip(names, row, strict=True))} for row in rows]))


LAST = caught(("2026", "2026-04-01", "14", 61.0, "yes"), ("2026", "2026-04-02", "15", 75.0, "no"))


def asked(text, setting="14", rows=3, expected=(50.0, 70.0), earlier=LAST):
    """Code of each question to its values."""
    weight = read_weight(text)
    catch = Catch(BOX, "A", BOX.control.find(setting), weight, 28.0, weight.rows(rows))
    found = questions(catch, earlier, rows=rows, expected_g=expected)
    assert all(str(each).endswith("?") for each in found)
    return {each.code: each.values for each in found}


def test_a_weight_far_from_what_is_expected_is_asked_about_with_what_may_be_meant():
    found = asked("612")["log.far"]
    size = found["size"]
    assert [found[name] for name in ("grams", "low", "high")] + [size.length, size.rows] == [612, 50, 70, 28, 3]
    assert str(found["setting"]) == "14"
    for typed, meant in (("612", 61.2), ("6.12", 61.2), ("0.6", 60), ("5900", 59), ("200", None)):
        causes = asked(typed)["log.far"]["causes"]
        assert [each.grams for each in causes if each.code == "decimal"] == ([] if meant is None else [meant]), typed
    assert asked("62") == asked("75") == asked("612", expected=None) == {}


def test_nothing_a_half_step_other_rows_and_a_double_are_asked_about():
    assert list(asked("0")) == ["log.nothing"]
    found = asked("62", setting="14.5")
    assert list(found) == ["log.between_steps"]
    assert (found["log.between_steps"]["box"], found["log.between_steps"]["step"]) == ("small", 1)
    assert asked("31+31") == {"log.rows_differ": {"caught": 2, "rows": 3}}
    assert asked("31+31", rows=2) == asked("31/31") == {}


def test_a_double_is_one_of_the_last_catch_in_use():
    assert asked("61")["log.same_again"]["grams"] == 61
    assert asked("61", setting="15") == asked("75", setting="15") == {}
    assert asked("61", earlier=LAST.where(LAST.setting == "")) == {}
