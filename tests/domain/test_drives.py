"""A lever with a second control: settings that name both, and catches of several drives put together."""

import math
import pickle

import numpy as np
import pandas as pd
import pytest

from predictor import Lever, LeverAndDrive, as_trials
from predictor.domain.drill import SeedBox
from predictor.files.settings import read_setting

BOTH = LeverAndDrive(Lever(0, 60, 0.5), {"high": 2.0, "Low gear": 0.5, "creep": None})
BOX = SeedBox("grain", "free-flowing", BOTH)


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("24 on high", "24 on high"),
        ("24/high", "24 on high"),
        ("24@high", "24 on high"),
        ("24 On HIGH", "24 on high"),
        ("24.50 @ low  gear", "24.5 on Low gear"),
        ("0 on creep", "0 on creep"),
    ],
)
def test_a_setting_names_the_reading_and_the_drive(text, shown):
    found = read_setting(text, BOTH, "grain")
    assert (found.text, found.value, str(found)) == (shown, shown, shown)
    assert (found.opening, found.drive) == (float(shown.split()[0]), shown.partition(" on ")[2])


def test_a_decimal_comma_is_read_in_both_controls_together():
    assert BOTH.find("24,5 on high", ",").opening == 24.5


@pytest.mark.parametrize("text", ["24", "high", "24 high", "61 on high", "24 on fast", "high on 24", "24 on", ""])
def test_a_setting_without_a_reading_on_the_scale_and_a_drive_is_refused(text):
    with pytest.raises(ValueError, match="as 30 on high") as caught:
        read_setting(text, BOTH, "grain")
    assert "high, Low gear, creep" in str(caught.value)


def test_a_mirrored_lever_keeps_its_direction_and_its_shut_part_on_every_drive():
    both = LeverAndDrive(Lever(0, 6, 1, "lower", shut=4), {"a": 1.0, "b": None})
    assert [each.text for each in both.on("b").settings] == ["3 on b", "2 on b", "1 on b", "0 on b"]
    assert both.find("1 on a").opening == 5


@pytest.mark.parametrize("drives", [{}, {"": 1.0}, {"a/b": 1.0}, {"a": 0.0}, {"a": math.nan}, {"a": 1.0, "A": 2.0}])
def test_drives_without_a_label_or_a_ratio_that_turns_are_refused(drives):
    with pytest.raises(ValueError, match=r"drive"):
        LeverAndDrive(Lever(0, 60), drives)


def test_two_controls_compare_hash_and_pickle_and_name_what_they_lack():
    again = pickle.loads(pickle.dumps(BOTH))
    assert again == BOTH
    assert hash(again) == hash(BOTH)
    assert BOTH.on() == BOTH.on("high") != BOTH.on("creep")
    with pytest.raises(KeyError, match="Known: high, Low gear, creep"):
        BOTH.on("fast")


def test_catches_on_another_drive_count_by_the_turns_that_they_gave_the_meters():
    settings = ["24 on high", "24/low gear", "24 on creep"]
    columns = {"box": "grain", "lot": "A", "setting": settings, "turns": 28, "rows": 3, "catch_g": [84, 21, 9]}
    frame = pd.DataFrame(columns)
    trials = as_trials(frame).in_box(BOX)
    assert trials.drives(BOTH).tolist() == ["high", "Low gear", "creep"]
    # low turns the meters a quarter as often: 28 turns there are 7 on high, and 28 on high are 112 there
    high = trials.on_drive(BOTH, "high")
    assert (high.turns.tolist(), high.output.tolist()) == ([28, 7], [1.0, 1.0])
    assert trials.on_drive(BOTH, "Low gear").turns.tolist() == [112, 28]
    assert trials.on_drive(BOTH, "creep").catch_g.tolist() == [9]
    assert np.array_equal(trials.on_drive(Lever(0, 60), "").turns, trials.turns)
