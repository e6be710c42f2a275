"""A row that is added ends as the others do, and its weight is read back as the same number. Weights are invented."""

import re

import pytest

from predictor import read_trials
from predictor.files.kinds import TRIALS
from predictor.files.log import add_row, undo_last

CATCH = {"box": "small", "lot": "A", "setting": "14"}


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("ended", [True, False])
def test_every_line_ends_as_those_that_were_there(tmp_path, end, ended):
    path = tmp_path / "trials.csv"
    rows = ["box,lot,setting,catch_g,use,note", "small,A,14,60.5,,"]
    path.write_bytes((end.join(rows) + end * ended).encode())
    add_row(TRIALS, path, {**CATCH, "catch_g": 61.2})
    undo_last(TRIALS, path)
    add_row(TRIALS, path, {**CATCH, "catch_g": 62.3})
    text = path.read_bytes().decode()
    assert set(re.findall("\r\n|\n|\r", text)) == {end}
    assert len(text.split(end)) == 5


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("decimal", [".", ","])
@pytest.mark.parametrize("grams", [12.345, 0.125, 1234.567, 61.0, 100000.5])
def test_a_weight_is_read_back_as_the_same_number(tmp_path, separator, decimal, grams):
    path = tmp_path / "trials.csv"
    known = "60.25".replace(".", decimal)
    known = f'"{known}"' if separator == decimal else known
    head, row = separator.join(["box", "lot", "setting", "catch_g"]), separator.join(["small", "A", "14", known])
    path.write_text(f"{head}\n{row}\n{row}\n", encoding="utf-8")
    add_row(TRIALS, path, {**CATCH, "catch_g": grams})
    assert read_trials(path).catch_g.tolist() == [60.25, 60.25, grams]
