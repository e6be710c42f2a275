"""Catches are given to their drill, however its name is spelled."""

import numpy as np
import pytest

from predictor.domain.whose import plain_name, this_drill
from predictor.files.trials import as_trials


def log(*names):
    import pandas as pd

    frame = pd.DataFrame({"box": "small", "lot": "A", "setting": 30, "catch_g": range(40, 40 + len(names))})
    return as_trials(frame.assign(drill=list(names), turns=28, rows=3))


@pytest.mark.parametrize(
    ("names", "own", "beside", "mine", "taken"),
    [
        (["", ""], "North drill", "", [True, True], ""),
        (["north-drill", "NORTH DRILL", ""], "North drill", "", [True, True, True], ""),
        (["North drill", "South drill", ""], "North drill", "", [True, False, True], ""),
        # never named: the only name, the part of the name, the most frequent one
        (["South drill", "South drill"], "North drill", "", [True, True], "South drill"),
        (["north", "south", "south"], "North drill", "", [True, False, False], "north"),
        (["a", "b", "b"], "North drill", "", [False, True, True], "b"),
        # rows without a name are of this drill, so a strange name beside them is of another
        (["South drill", ""], "North drill", "", [False, True], ""),
        (["North", ""], "North drill", "", [True, True], "North"),
        # another drill's file beside the log
        (["", "North drill"], "North drill", "South drill", [False, True], ""),
        (["East", "East"], "North drill", "South drill", [False, False], ""),
    ],
)
def test_whose_catches_they_are(names, own, beside, mine, taken):
    found, name = this_drill(log(*names), own, beside)
    assert np.array_equal(found, mine)
    assert name == taken


def test_signs_and_capitals_do_not_make_another_drill():
    assert plain_name("North-shed  Drill") == plain_name("north shed drill")
    assert plain_name("...") == "..."
