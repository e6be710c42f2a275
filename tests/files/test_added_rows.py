"""A row that is added ends as the others do, and its weight is read back as the same number. Weights are invented."""

import errno
import os
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


@pytest.mark.parametrize("again", [False, True])
def test_a_row_that_is_taken_back_is_flushed_away_so_that_no_power_cut_brings_it_back(tmp_path, monkeypatch, again):
    """The first flush fails, and with `again` all others too, for another reason: the first one is told."""
    path = tmp_path / "trials.csv"
    before = b"box,lot,setting,catch_g\nsmall,A,14,60.5\n"
    path.write_bytes(before)
    calls, fsync, ftruncate = [], os.fsync, os.ftruncate

    def flushed(handle):
        calls.append("flush")
        if calls.count("flush") == 1:
            raise OSError(errno.EIO, "the disk failed")
        if again:
            raise OSError(errno.ENOSPC, "the disk is full")
        fsync(handle)

    def cut(handle, size):
        calls.append("cut")
        ftruncate(handle, size)

    monkeypatch.setattr("os.fsync", flushed)
    monkeypatch.setattr("os.ftruncate", cut)
    with pytest.raises(OSError, match="the disk failed"):
        add_row(TRIALS, path, {**CATCH, "catch_g": 61.2})
    assert path.read_bytes() == before
    assert calls[:3] == ["flush", "cut", "flush"]
