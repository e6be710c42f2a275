"""Trials files as people and spreadsheets leave them: read right, or refused in the right words."""

# One case on each line reads better than wrapped cases.

import contextlib
import dataclasses
import gc
import hashlib
import json
import pickle
import re
import time
from functools import partial
from importlib import resources

import numpy as np
import pandas as pd
import pytest
from hypothesis import example, given, settings, strategies as st

from predictor.domain.codes import CODED, codes_of
from predictor.domain.control import Lever, Sprockets
from predictor.domain.drill import CatchDefaults, Drill, SeedBox
from predictor.domain.one_catch import one_catch
from predictor.domain.result import Remark
from predictor.domain.trials import joined, no_trials
from predictor.errors import MOST_PROBLEMS, InputError
from predictor.files import field, plan, planted
from predictor.files.columns import NO, YES
from predictor.files.drill import read_drill
from predictor.files.field import read_field
from predictor.files.plan import read_plan
from predictor.files.trials import HEADER, LARGEST_ROWS, TURNS, as_trials, read_trials
from tests.refused import places_of, refusals

DRILL = Drill(
    "made up",
    12,
    0.1905,
    2.19456,
    (
        SeedBox("chaffy", "chaffy", Sprockets({"1": 0.4, "2": 0.54, "3-5": 0.7})),
        SeedBox("small", "small", Lever(0, 60, 1)),
        SeedBox("mirror", "small", Lever(0, 60, 1, more_is="lower")),
    ),
    CatchDefaults(turns=28, rows=3),
)
HEAD = "box,lot,setting,catch_g\n"
GOOD = HEAD + "small,A,30,61.2\nsmall,A,31,63.4\n"


def read(tmp_path, content, drill=DRILL):
    path = tmp_path / "trials.csv"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return read_trials(path, drill)


READ_RIGHT = {
    "plain": GOOD,
    "utf-8 byte order mark": b"\xef\xbb\xbf" + GOOD.encode(),
    "utf-16 little endian": GOOD.encode("utf-16"),
    "utf-16 big endian": b"\xfe\xff" + GOOD.encode("utf-16-be"),
    "semicolons and decimal commas": "box;lot;setting;catch_g\nsmall;A;30;61,2\nsmall;A;31;63,4\n",
    "semicolons and decimal points": "box;lot;setting;catch_g\nsmall;A;30;61.2\nsmall;A;31;63.4\n",
    "tabs": GOOD.replace(",", "\t"),
    "tabs and decimal commas": "box\tlot\tsetting\tcatch_g\nsmall\tA\t30\t61,2\nsmall\tA\t31\t63,4\n",
    "windows line ends": GOOD.replace("\n", "\r\n"),
    "old line ends": GOOD.replace("\n", "\r"),
    "no last line end": GOOD.rstrip("\n"),
    "capitals and blanks in the header": GOOD.replace("box,lot,setting,catch_g", " Box , LOT,Setting, Catch G "),
    "comment lines": "# made on a wet day\n" + GOOD.replace("\nsmall,A,31", '\n# second, "quoted\nsmall,A,31'),
    "blank rows": GOOD.replace("\nsmall,A,31", "\n\n,,,\nsmall,A,31") + "\n\n,,,\n",
    "stray blanks": HEAD + " small , A , 30 , 61.2 \nsmall,A,31,63.4\n",
    "quoted decimal commas": HEAD + 'small,A,30,"61,2"\nsmall,A,31,"63,4"\n',
    "columns a spreadsheet added": GOOD.replace("catch_g\n", "catch_g,,\n")
    .replace("61.2\n", "61.2,,\n")
    .replace("63.4\n", "63.4,,\n"),
    "the user's own column": GOOD.replace("catch_g\n", "catch_g,weather\n")
    .replace("61.2", "61.2,=rain")
    .replace("63.4", "63.4,"),
    "box in capitals": GOOD.replace("small,A,30", "SMALL,A,30"),
    "text in quotes": GOOD.replace("small,A,30", '"small","A","30"'),
    "exponent": GOOD.replace("61.2", "6.12E+01"),
    "ounces": "box,lot,setting,catch_oz\nsmall,A,30,2.1587664699731\nsmall,A,31,2.2363691889904\n",
    "pounds": "box,lot,setting,catch_lb\nsmall,A,30,0.13492290437332\nsmall,A,31,0.1397730743119\n",
    "a tare": "box,lot,setting,catch_g,tare_g\nsmall,A,30,71.2,10\nsmall,A,31,73.4,10\n",
    "single rows": "box,lot,setting,catch_g,rows_g\nsmall,A,30,61.2,20.4;20.2;20.6\nsmall,A,31,63.4,21.1;21.1;21.2\n",
    "single rows among semicolons": 'box;lot;setting;catch_g;rows_g\nsmall;A;30;61,2;"20,4;20,2;20,6"\nsmall;A;31;63,4;'
    "\n",
    "single rows all in ounces": "box,lot,setting,catch_oz,rows_oz\nsmall,A,30,2.1587664699731,0.72;0.72;0.72\n"
    "small,A,31,2.2363691889904,0.7;0.8;0.7\n",
    "parts": "box,lot,setting,catch_g,parts_g\nsmall,A,30,61.2,15.3;15.1;15.5;15.3\nsmall,A,31,63.4,31.6;31.8\n",
    "parts among semicolons": 'box;lot;setting;catch_g;parts_g\nsmall;A;30;61,2;"30,4;30,8"\nsmall;A;31;63,4;\n',
    "parts between slashes": "box,lot,setting,catch_g,parts_g\nsmall,A,30,61.2,30.4/30.8\nsmall,A,31,63.4,31.6/31.8\n",
    "parts all in pounds": "box,lot,setting,catch_lb,parts_lb\nsmall,A,30,0.13492290437332,0.067;0.068\n"
    "small,A,31,0.1397730743119,0.07;0.07\n",
    "parts with a tare": "box,lot,setting,catch_g,tare_g,parts_g\nsmall,A,30,71.2,10,30.4;30.8\n"
    "small,A,31,73.4,10,31.6;31.8\n",
    "rows and parts": "box,lot,setting,catch_g,rows_g,parts_g\nsmall,A,30,61.2,20.4;20.2;20.6,30.4;30.8\n"
    "small,A,31,63.4,21.1;21.1;21.2,31.6;31.8\n",
    "a tare in ounces": "box,lot,setting,catch_g,tare_oz\nsmall,A,30,89.549523125,1\nsmall,A,31,91.749523125,1\n",
    "blanks that do not break": HEAD + "\u00a0small,A,30,61.2\nsmall,A,31\u00a0,63.4\n",
    "comment a spreadsheet put in quotes": '"# wet, cold",,,\n' + GOOD,
    "quoted cells behind blanks": HEAD + 'small, "A", 30, 61.2\nsmall, "A", 31, "63.4"\n',
    "settings with a fraction of zero": GOOD.replace("A,30", "A,30.0").replace("A,31", "A,031"),
    "weights in a semicolon file with three decimals": "box;lot;setting;catch_g\nsmall;A;30;61,200\nsmall;A;31;63,4\n",
    "words for yes": "box,lot,setting,catch_g,use,charged\nsmall,A,30,61.2,Yes,1\nsmall,A,31,63.4,TRUE,on\n",
    "turns and rows left empty": "box,lot,setting,catch_g,turns,rows\nsmall,A,30,61.2,,\nsmall,A,31,63.4,28,3\n",
}


@pytest.mark.parametrize("name", READ_RIGHT)
def test_odd_but_plain_files_are_read_right(tmp_path, name):
    trials = read(tmp_path, READ_RIGHT[name])
    assert trials.catch_g == pytest.approx([61.2, 63.4], rel=1e-9)
    assert trials.opening.tolist() == [30.0, 31.0]
    assert trials.box.tolist() == ["small", "small"]
    assert trials.output == pytest.approx(np.array([61.2, 63.4]) / 84, rel=1e-9)
    assert trials.counts.all()


REFUSED = {
    "decimal comma on every line": (
        HEAD + "small,A,30,61,2\nsmall,A,31,63,4\n",
        "line 2; line 3",
    ),
    "trailing comma on every line": (HEAD + "small,A,30,61.2,\nsmall,A,31,63.4,\n", "line 2; line 3"),
    "a unit in a cell": (
        HEAD + 'small,A,30,"12.4 g"\n',
        "line 2, column catch_g",
    ),
    "a decimal comma and a unit": (HEAD + 'small,A,30,"12,4 g"\n', "line 2, column catch_g"),
    "another unit in a cell": (HEAD + "small,A,30,2 oz\n", "line 2, column catch_g"),
    "nan": (HEAD + "small,A,30,nan\n", "line 2, column catch_g"),
    "infinity": (HEAD + "small,A,30,inf\n", "line 2, column catch_g"),
    "underscore": (HEAD + "small,A,30,1_0\n", "line 2, column catch_g"),
    "a number too large": (HEAD + "small,A,30,1e999\n", "line 2, column catch_g"),
    "a number with its sign": (HEAD + "small,A,30,+61.2\n", "line 2, column catch_g"),
    "a setting that is not a number": (HEAD + "small,A,nan,61.2\n", "line 2, column setting"),
    "a setting with an underscore": (HEAD + "small,A,1_0,61.2\n", "line 2, column setting"),
    "a lever reading a spreadsheet made a date": (HEAD + "small,A,5-Mar,61.2\n", "line 2, column setting"),
    "a date with a clock": (HEAD + "chaffy,A,2026-05-03 00:00:00,61.2\n", "line 2, column setting"),
    "months first": (HEAD + "chaffy,A,Mar-05,61.2\n", "line 2, column setting"),
    "thousands or a fraction among semicolons": (
        "box;lot;setting;catch_g\nsmall;A;30;1.234\n",
        "line 2, column catch_g",
    ),
    "an unseen letter in a box": (HEAD + "sm\u200ball,A,30,61.2\n", "line 2, column box"),
    "single rows unquoted among semicolons": (
        "box;lot;setting;catch_g;rows_g\nsmall;A;30;61,2;20,4;20,2;20,6\n",
        "line 2",
    ),
    "a single row that is no number": (
        "box,lot,setting,catch_g,rows_g\nsmall,A,30,61.2,20.4;x;20.6\n",
        "line 2, column rows_g",
    ),
    "more single rows than rows": (
        "box,lot,setting,catch_g,rows_g\nsmall,A,30,61.2,15;15;15;16\n",
        "line 2, column rows_g",
    ),
    "a target of nothing": (
        "box,lot,setting,catch_g,target_g\nsmall,A,30,61.2,0\n",
        "line 2, column target_g",
    ),
    "a year of long ago": ("box,lot,setting,catch_g,date\nsmall,A,30,61.2,0202-04-18\n", "line 2, column date"),
    "turns beyond any patience": ("box,lot,setting,catch_g,turns\nsmall,A,30,61.2,200000\n", "line 2, column turns"),
    "an empty lot": (HEAD + "small,,30,61.2\n", "line 2, column lot"),
    "an empty box": (HEAD + ",A,30,61.2\n", "line 2, column box"),
    "an empty setting": (HEAD + "small,A,,61.2\n", "line 2, column setting"),
    "a tonne and more in pounds": ("box,lot,setting,catch_lb\nsmall,A,30,2300\n", "line 2, column catch_lb"),
    "header of another file in between": (
        GOOD + "box,lot,setting,catch_oz\nsmall,A,30,2\n",
        "line 4, column box; line 4, column catch_g",
    ),
    "digits of another script": (HEAD + "small,A,30,٣٤\n", "line 2, column catch_g"),
    "a group of three that can be two things": (HEAD + 'small,A,30,"1,234"\n', "line 2, column catch_g"),
    "a negative weight": (HEAD + "small,A,30,-3\n", "line 2, column catch_g"),
    "more than a ton": (HEAD + "small,A,30,2000000\n", "line 2, column catch_g"),
    "an empty weight": (HEAD + "small,A,30,\n", "line 2, column catch_g"),
    "an unknown box": (HEAD + "smal,A,30,61.2\n", "line 2, column box"),
    "no such box at all": (HEAD + "quux,A,30,61.2\n", "line 2, column box"),
    "a chain position the box lacks": (HEAD + "chaffy,A,9,61.2\n", "line 2, column setting"),
    "a reading off the scale": (HEAD + "small,A,61,61.2\n", "line 2, column setting"),
    "a setting that is text": (HEAD + "small,A,open,61.2\n", "line 2, column setting"),
    "a setting a spreadsheet made a date": (
        HEAD + "chaffy,A,3-May,61.2\n",
        "line 2, column setting",
    ),
    "a full date as setting": (HEAD + "chaffy,A,2026-03-05,61.2\n", "line 2, column setting"),
    "the header twice": (GOOD + HEAD + "small,A,30,61.2\n", "line 4"),
    "a column twice": ("box,lot,setting,catch_g,lot\nsmall,A,30,61.2,B\n", "line 1, column lot"),
    "a column without a name": ("box,lot,setting,catch_g,\nsmall,A,30,61.2,7\n", "line 1"),
    "a missing column with a near one": (
        "box,lot,setting,cach_g\nsmall,A,30,61.2\n",
        "line 1",
    ),
    "two weight columns": ("box,lot,setting,catch_g,catch_oz\nsmall,A,30,61.2,2\n", "line 1"),
    "two tare columns": (
        "box,lot,setting,catch_g,tare_g,tare_oz\nsmall,A,30,61.2,2,\n",
        "",
    ),
    "empty file": ("", ""),
    "blank file": ("\n\n  \n", ""),
    "header alone": (HEAD, ""),
    "latin-1": (
        GOOD.replace("A,30", "Ä,30").encode("latin-1"),
        "line 2",
    ),
    "utf-16 without its mark": (GOOD.encode("utf-16-le"), "line 1"),
    "zero bytes": (GOOD.encode() + b"\x00\x00", "line 4"),
    "an open quote": (HEAD + 'small,"A,30,61.2\n', "line 2"),
    "text behind a quote": (HEAD + 'small,"A"x,30,61.2\n', "line 2"),
    "a control character": (HEAD + "small,A\x1b[31m,30,61.2\n", "line 2, column lot"),
    "too few cells": (HEAD + "small,A,30\n", "line 2"),
    "no turns": ("box,lot,setting,catch_g,turns\nsmall,A,30,61.2,0\n", "line 2, column turns"),
    "half a row": ("box,lot,setting,catch_g,rows\nsmall,A,30,61.2,1.5\n", "line 2, column rows"),
    "more rows than the drill": ("box,lot,setting,catch_g,rows\nsmall,A,30,61.2,13\n", "line 2, column rows"),
    "single rows that do not add up": (
        "box,lot,setting,catch_g,rows_g\nsmall,A,30,61.2,20;20;30\n",
        "line 2, column rows_g",
    ),
    "too few single rows": ("box,lot,setting,catch_g,rows_g\nsmall,A,30,61.2,30.6;30.6\n", "line 2, column rows_g"),
    "a part that is no number": (
        "box,lot,setting,catch_g,parts_g\nsmall,A,30,61.2,30.4;x\n",
        "line 2, column parts_g",
    ),
    "a part below zero": ("box,lot,setting,catch_g,parts_g\nsmall,A,30,61.2,62.2;-1\n", "line 2, column parts_g"),
    "one part alone": ("box,lot,setting,catch_g,parts_g\nsmall,A,30,61.2,61.2\n", "line 2, column parts_g"),
    "parts that do not add up": (
        "box,lot,setting,catch_g,parts_g\nsmall,A,30,61.2,20;20;30\n",
        "line 2, column parts_g",
    ),
    "parts with their container": (
        "box,lot,setting,catch_g,tare_g,parts_g\nsmall,A,30,81.2,20,40.4;40.8\n",
        "line 2, column parts_g",
    ),
    "parts unquoted among semicolons": ("box;lot;setting;catch_g;parts_g\nsmall;A;30;61,2;30,4;30,8\n", "line 2"),
    "parts without their catch": ("box,lot,setting,parts_g\nsmall,A,30,30.4;30.8\n", "line 1"),
    "two columns of parts": (
        "box,lot,setting,catch_g,parts_g,parts_oz\nsmall,A,30,61.2,30.4;30.8,\n",
        "",
    ),
    "a tare above the catch": ("box,lot,setting,catch_g,tare_g\nsmall,A,30,61.2,70\n", "line 2, column tare_g"),
    "neither yes nor no": ("box,lot,setting,catch_g,charged\nsmall,A,30,61.2,maybe\n", "line 2, column charged"),
    "a date in two ways": ("box,lot,setting,catch_g,date\nsmall,A,30,61.2,3/4/2026\n", "line 2, column date"),
    "no such day": ("box,lot,setting,catch_g,date\nsmall,A,30,61.2,2026-02-30\n", "line 2, column date"),
    "a filling that cannot be": ("box,lot,setting,catch_g,fill_pct\nsmall,A,30,61.2,250\n", "line 2, column fill_pct"),
}  # fmt: skip


@pytest.mark.parametrize(("content", "places"), REFUSED.values(), ids=REFUSED)
def test_files_that_could_be_misread_are_refused_at_the_right_place(tmp_path, content, places):
    assert places_of(lambda: read(tmp_path, content)) == places


def test_the_words_of_each_refusal(tmp_path):
    refusals("refused-trials", {name: partial(read, tmp_path, content) for name, (content, _) in REFUSED.items()})


def test_all_problems_of_a_file_are_reported_together_in_order(tmp_path):
    with pytest.raises(InputError) as caught:
        read(tmp_path, "# hello\n" + HEAD + "smal,A,30,61.2\n\nsmall,A,30,x\nsmall,A,99,-1\nsmall,A,30\n")
    assert [problem.line for problem in caught.value.problems] == [3, 5, 6, 6, 7]


def test_lines_are_counted_as_a_spreadsheet_counts_rows(tmp_path):
    content = 'box,lot,setting,catch_g,note\nsmall,A,30,61.2,"two\nlines"\nsmall,A,30,bad,\n'
    with pytest.raises(InputError, match="line 3, column catch_g"):
        read(tmp_path, content)


def test_what_was_assumed_is_said(tmp_path):
    trials = read(tmp_path, READ_RIGHT["semicolons and decimal commas"])
    assert trials.assumed == (Remark("files.signs", {"separator": ";", "decimal": ","}),)
    trials = read(tmp_path, "box,lot,setting,catch_g,chargd\nsmall,A,30,61.2,no\n")
    meant = {"file": "trials.csv", "columns": ("chargd",), "meant": (("chargd", "charged"),)}
    assert trials.assumed == (Remark("files.not_used", meant),)


def test_thousands_are_read_where_the_file_shows_what_they_are(tmp_path):
    trials = read(tmp_path, HEAD + 'small,A,30,"1,234.5"\nsmall,A,31,"1,234"\n')
    assert trials.catch_g.tolist() == [1234.5, 1234.0]
    assert trials.assumed == (Remark("files.thousands", {"sign": ","}),)


def test_a_weight_of_zero_is_kept_and_does_not_count(tmp_path):
    trials = read(tmp_path, GOOD + "small,A,30,0\n")
    assert len(trials) == 3
    assert trials.counts.tolist() == [True, True, False]


def test_unused_and_uncharged_catches_are_kept_and_do_not_count(tmp_path):
    content = (
        "box,lot,setting,catch_g,use,charged\nsmall,A,30,61.2,no,yes\nsmall,A,30,61.2,,no\nsmall,A,30,61.2,Y,TRUE\n"
    )
    assert read(tmp_path, content).counts.tolist() == [False, False, True]


def test_season_defaults_to_the_year_of_the_date(tmp_path):
    content = "box,lot,setting,catch_g,date,season\nsmall,A,30,61.2,2026-04-18,\nsmall,A,30,61.2,4/18/2025,fall\n"
    trials = read(tmp_path, content)
    assert trials.season.tolist() == ["2026", "fall"]
    assert trials.date.tolist() == ["2026-04-18", "2025-04-18"]


def test_a_lever_on_which_less_is_more_is_mirrored(tmp_path):
    trials = read(tmp_path, HEAD + "mirror,A,10,61.2\nsmall,A,10,61.2\n")
    assert trials.opening.tolist() == [50.0, 10.0]
    assert trials.setting.tolist() == ["10", "10"]


@pytest.mark.parametrize("written", ["2", "2.0", "02"])
def test_a_chain_position_is_found_however_the_number_is_written(tmp_path, written):
    trials = read(tmp_path, HEAD + f"chaffy,A,{written},61.2\n")
    assert trials.setting.tolist() == ["2"]
    assert trials.opening.tolist() == [0.54]


def test_missing_file_suggests_the_near_one(tmp_path):
    (tmp_path / "trials.csv").write_text(GOOD)
    with pytest.raises(InputError, match=r"Did you mean .*trials\.csv"):
        read_trials(tmp_path / "trails.csv", DRILL)
    with pytest.raises(InputError, match="no folder"):
        read_trials(tmp_path / "nowhere" / "trials.csv", DRILL)
    with pytest.raises(InputError, match="This is a folder"):
        read_trials(tmp_path, DRILL)


def test_a_frame_goes_through_the_same_checks_as_a_file():
    frame = pd.DataFrame(
        {
            "box": ["small", "chaffy"],
            "lot": "A",
            "setting": [30, "3-5"],
            "catch_g": [61.2, 70.0],
            "use": [True, False],
            "turns": [28, np.nan],
            "date": [pd.Timestamp("2026-04-18"), pd.NaT],
            "rows_g": [(20.4, 20.2, 20.6), None],
            "parts_g": [None, [17.0, 17.5, 17.7, 17.8]],
        }
    )
    trials = as_trials(frame, DRILL)
    assert trials.opening.tolist() == [30.0, 0.7]
    assert trials.use.tolist() == [True, False]
    assert trials.turns.tolist() == [28.0, 28.0]
    assert trials.season.tolist() == ["2026", ""]
    assert trials.rows_g == ((20.4, 20.2, 20.6), None)
    assert trials.parts_g == (None, (17.0, 17.5, 17.7, 17.8))
    frame.loc[1, "catch_g"] = -1.0
    with pytest.raises(InputError, match=r"line 2, column catch_g"):
        as_trials(frame, DRILL)


def test_a_frame_made_from_trials_reads_back_the_same(tmp_path):
    trials = read(tmp_path, READ_RIGHT["rows and parts"])
    names = ["box", "lot", "setting", "catch_g", "rows_g", "parts_g", "turns", "rows"]
    again = as_trials(trials.frame()[names], DRILL)
    assert again.catch_g == pytest.approx(trials.catch_g)
    assert again.rows_g == trials.rows_g
    assert again.parts_g == trials.parts_g == ((30.4, 30.8), (31.6, 31.8))


def test_a_whole_frame_made_from_trials_reads_back_the_same(tmp_path):
    content = (
        "box,lot,setting,catch_oz,tare_oz,rows_oz,parts_oz,turns,rows,date,season,drill,charged,use,fill_pct,target_oz,operator,note\n"
        'chaffy,A,3-5,4,1,1.0;1.0;1.0,1.4;1.6,20,3,2026-04-18,,north,no,yes,50,3,me,"two\nlines, one note"\n'
        "small,B,12.5,2,0.5,,,28,4,,spring,,yes,no,,,,\n"
    )
    trials = read(tmp_path, content)
    again = as_trials(trials.frame(), DRILL)
    for each in dataclasses.fields(trials):
        if each.name not in ("file", "line", "assumed", "rows_g", "parts_g", "drill", "digest", "stated", "tare_g"):
            np.testing.assert_array_equal(getattr(again, each.name), getattr(trials, each.name), err_msg=each.name)
    assert (again.rows_g, again.parts_g) == (trials.rows_g, trials.parts_g)
    assert trials.tare_g == pytest.approx([28.349523125, 14.1747615625])  # an ounce, of which all net weights are free
    assert np.isnan(again.tare_g).all()
    assert again.file == ""
    assert again.line.tolist() == [1, 2]
    assert trials.line.tolist() == [2, 3]
    assert trials.note.tolist() == ["two lines, one note", ""]


def test_a_frame_without_catches_gives_trials_without_catches():
    trials = as_trials(pd.DataFrame({"box": [], "lot": [], "setting": [], "catch_g": []}), DRILL)
    assert len(trials) == 0
    assert trials.output.tolist() == []
    assert len(as_trials(trials.frame(), DRILL)) == 0


def test_trials_pass_through_as_they_are(tmp_path):
    trials = read(tmp_path, GOOD)
    assert as_trials(trials, DRILL) is trials


def test_without_a_drill_numbers_are_their_own_opening(tmp_path):
    trials = read(
        tmp_path, HEAD + "any,A,30,61.2\nany,A,1e1,61.2\nany,A,left,61.2\nany,A,nan,61.2\nany,A,1_0,1\n", None
    )
    np.testing.assert_array_equal(trials.opening, [30.0, 10.0, np.nan, np.nan, np.nan])
    assert trials.setting.tolist() == ["30", "1e1", "left", "nan", "1_0"]
    assert trials.turns.tolist() == [28.0] * 5
    assert as_trials(pd.DataFrame({"box": "any", "lot": "A", "setting": [30.0], "catch_g": 1})).opening.tolist() == [
        30.0
    ]
    with pytest.raises(InputError, match="is a date"):
        read(tmp_path, HEAD + "any,A,3-May,61.2\n", None)


def test_settings_of_a_decimal_comma_file_are_read_with_it(tmp_path):
    trials = read(tmp_path, "box;lot;setting;catch_g\nsmall;A;30,5;61,2\n")
    assert trials.opening.tolist() == [30.5]
    assert trials.setting.tolist() == ["30.5"]


def test_lots_that_differ_in_capitals_or_signs_only_are_said(tmp_path):
    trials = read(
        tmp_path, HEAD + "small,CW-26,30,61.2\nsmall,cw 26,30,61.2\nchaffy,cw26,1,61.2\nsmall,-,30,1\nsmall,+,30,1\n"
    )
    assert trials.assumed == (Remark("files.similar_lots", {"box": "small", "lots": ("CW-26", "cw 26")}),)


def test_catches_of_another_drill_are_said(tmp_path):
    rows = "small,A,30,1,Made Up\nsmall,A,30,1,\nsmall,A,30,1,south\n"
    trials = read(tmp_path, "box,lot,setting,catch_g,drill\n" + rows)
    assert trials.assumed == (Remark("files.other_drill", {"catches": 1, "names": ("south",), "drill": "made up"}),)
    assert read(tmp_path, "box,lot,setting,catch_g,drill\n" + rows, None).assumed == ()


def test_single_rows_may_differ_from_the_catch_by_rounding_only(tmp_path):
    head = "box,lot,setting,catch_g,rows_g\n"
    assert read(tmp_path, head + "small,A,30,8.3,2.8;2.8;2.9\n").rows_g == ((2.8, 2.8, 2.9),)
    assert read(tmp_path, head + "small,A,30,8.3,3;3;3\n").rows_g == ((3.0, 3.0, 3.0),)
    with pytest.raises(InputError, match="add up to 9 g"):
        read(tmp_path, head + "small,A,30,8.3,3.0;3.0;3.0\n")
    with pytest.raises(InputError, match=r"add up to 8\.8 g"):  # 0.5 g apart; four roundings and 2 % allow 0.38
        read(tmp_path, head + "small,A,30,8.3,2.9;2.9;3.0\n")


def test_parts_may_be_nothing_and_differ_from_the_catch_by_rounding_only(tmp_path):
    head = "box,lot,setting,catch_g,parts_g\n"
    assert read(tmp_path, head + "small,A,30,8.3,4.1;0;4.2\nsmall,A,30,5,\n").parts_g == ((4.1, 0.0, 4.2), None)
    assert read(tmp_path, head + "small,A,30,8.3,3;3;3\n").parts_g == ((3.0, 3.0, 3.0),)
    with pytest.raises(InputError, match="parts add up to 9 g"):
        read(tmp_path, head + "small,A,30,8.3,3.0;3.0;3.0\n")
    ounces = read(tmp_path, "box,lot,setting,catch_g,parts_oz\nsmall,A,30,56.7,0.9;1.1\n")
    assert ounces.parts_g[0] == pytest.approx((0.9 * 28.349523125, 1.1 * 28.349523125))


def test_some_thousand_wrong_catches_are_listed_and_the_rest_announced(tmp_path):
    most = MOST_PROBLEMS
    for content in (HEAD + "small,A,x,y\n" * 3 * most, HEAD + "small,A\n" * most + "small,A,x,y\n" * most):
        with pytest.raises(InputError) as caught:
            read(tmp_path, content)
        assert most < len(caught.value.problems) <= most + 3
        assert sum("more problems" in problem.message for problem in caught.value.problems) == 1
        assert "more problems" in caught.value.problems[-1].message


def test_catches_are_picked_by_box_lot_and_season(tmp_path):
    content = (
        "box,lot,setting,catch_g,season\nsmall,A,1,10,2025\nsmall,A,2,20,2026\nsmall,B,3,30,2026\nchaffy,A,1,40,2026\n"
    )
    trials = read(tmp_path, content)
    assert trials.of(box="small", lot="A").catch_g.tolist() == [10, 20]
    assert trials.of(season="2026").catch_g.tolist() == [20, 30, 40]
    assert trials.of(box="small", lot="A", season="2026").line.tolist() == [3]
    assert len(trials.of(box="none")) == 0
    assert trials.of().catch_g.tolist() == trials.catch_g.tolist()


def test_in_box_gives_openings_of_that_box_or_names_settings_it_lacks(tmp_path):
    trials = read(tmp_path, HEAD + "small,A,30,61.2\nsmall,A,9,1\nother,A,x,1\n", None)
    assert trials.in_box(DRILL.box("small")).opening.tolist() == [30.0, 9.0]
    mirrored = SeedBox("small", "small", Lever(0, 20, 1, more_is="lower"))
    with pytest.raises(InputError, match='line 2, column setting: Box small has no setting "30"'):
        trials.in_box(mirrored)


def test_the_schema_names_the_columns_the_reader_knows():
    """Table Schema is an open standard (specs.frictionlessdata.io/table-schema)."""
    schema = json.loads(resources.files("predictor.files").joinpath("schemas/trials.schema.json").read_text("utf-8"))
    fields = {entry["name"]: entry for entry in schema["fields"]}
    assert set(fields) == HEADER.known
    assert len(fields) == len(schema["fields"])
    assert {name for name in fields if fields[name].get("constraints", {}).get("required")} == {"box", "lot", "setting"}
    assert fields["turns"]["constraints"]["maximum"] == TURNS.high
    assert fields["rows"]["constraints"]["maximum"] == LARGEST_ROWS
    for name in ("charged", "use"):
        assert set(fields[name]["trueValues"]) == YES
        assert set(fields[name]["falseValues"]) == NO


@pytest.mark.parametrize(
    ("name", "columns"), [("plan", plan.HEADER.known), ("field", field.HEADER.known), ("planted", planted.HEADER.known)]
)
def test_the_other_schemas_describe_every_column(name, columns):
    schema = json.loads(resources.files("predictor.files").joinpath(f"schemas/{name}.schema.json").read_text("utf-8"))
    names = [entry["name"] for entry in schema["fields"]]
    assert len(set(names)) == len(names)
    assert all(entry["description"].endswith(".") for entry in schema["fields"])
    assert {entry["type"] for entry in schema["fields"]} <= {"string", "number", "integer", "boolean", "date"}
    assert set(names) == columns


def test_a_hundred_thousand_catches_are_read_in_seconds(tmp_path):
    row = "2026-04-{:02d},small,A{},{},28,3,{:.1f},yes\n".format
    rows = "".join(row(i % 28 + 1, i % 20, i % 61, i % 997 + 0.1) for i in range(100_000))
    start = time.perf_counter()
    trials = read(tmp_path, "date,box,lot,setting,turns,rows,catch_g,charged\n" + rows)
    assert len(trials) == 100_000
    assert time.perf_counter() - start < 10  # one to two seconds alone; a busy machine takes its time


def test_the_garbage_collector_is_left_as_it_was_found(tmp_path):
    for content in (GOOD, HEAD):
        with contextlib.suppress(InputError):
            read(tmp_path, content)
        assert gc.isenabled()
    gc.disable()
    try:
        read(tmp_path, GOOD)
        assert not gc.isenabled()
    finally:
        gc.enable()


def test_a_wrong_cell_that_recurs_is_said_of_every_row(tmp_path):
    with pytest.raises(InputError) as caught:
        read(tmp_path, HEAD + "smal,A,30,61.2\nsmall,A,30,1\nsmal,A,30,61.2\n")
    assert [problem.line for problem in caught.value.problems] == [2, 4]


def test_rows_alike_in_all_but_one_column_are_kept_apart(tmp_path):
    head = [
        "box",
        "lot",
        "setting",
        "turns",
        "rows",
        "fill_pct",
        "charged",
        "use",
        "date",
        "season",
        "drill",
        "operator",
    ]
    base = ["small", "A", "30", "28", "3", "50", "yes", "yes", "2026-04-18", "2026", "north", "me"]
    other = ["chaffy", "B", "1", "20", "2", "40", "no", "no", "2025-04-18", "2025", "south", "you"]
    for i, name in enumerate(head):
        if name == "box":
            first, second = ["small", "A", "1", *base[3:]], ["chaffy", "A", "1", *base[3:]]
        else:
            first, second = base, [*base[:i], other[i], *base[i + 1 :]]
        content = ",".join([*head, "catch_g"]) + "\n" + ",".join([*first, "5"]) + "\n" + ",".join([*second, "6"]) + "\n"
        trials = read(tmp_path, content)
        column = getattr(trials, "drill_name" if name == "drill" else name)
        assert column[0] != column[1], name
        assert trials.catch_g.tolist() == [5, 6]


def test_something_without_columns_is_refused():
    with pytest.raises(TypeError, match="DataFrame"):
        as_trials([1, 2, 3])


@given(
    st.lists(
        st.tuples(st.sampled_from(["small", "grain"]), st.text("aAbB1-_. éİK", min_size=1, max_size=4)), max_size=8
    )
)
@settings(max_examples=200, deadline=None)
def test_lots_of_a_box_are_said_that_differ_in_signs_and_capitals_alone(pairs):
    frame = pd.DataFrame({"box": "small", "lot": "other", "setting": 14, "catch_g": 60.0}, index=[0])
    rows = pd.DataFrame({"box": [box for box, _ in pairs], "lot": [lot for _, lot in pairs]}).assign(
        setting=14, catch_g=60.0
    )
    try:
        trials = as_trials(pd.concat([frame, rows]))
    except InputError:  # a name of spaces alone
        return
    alike = {}
    for box, lot in dict.fromkeys(zip(trials.box.tolist(), trials.lot.tolist(), strict=True)):
        alike.setdefault((box, re.sub(r"[\W_]+", "", lot.lower()) or lot), []).append(lot)
    found = [(each.values["box"], each.values["lots"]) for each in trials.assumed if each.code == "files.similar_lots"]
    assert found == [(box, tuple(lots)) for (box, _), lots in alike.items() if len(lots) > 1]


def test_what_is_wrong_in_one_of_many_rows_is_said_of_its_line(tmp_path):
    """Rows are read many at once; one of another drill is read as strictly as one's own."""
    rows = [f"drill {k % 50},small,L-{k % 700},{8 + k % 30},60.{k % 9},yes," for k in range(40_000)]
    rows[35_000] = "drill 7,small,L-1,8,60.5,maybe,"
    rows[35_010] = 'drill 8,"small",L-1,8,6O.5,yes,"a, b"'
    rows[39_999] = "drill 9,large,L-1,8,60.5,yes,"
    path = tmp_path / "trials.csv"
    path.write_text("\n".join(["drill,box,lot,setting,catch_g,use,note", *rows, ""]))
    places = "line 35002, column use; line 35012, column catch_g; line 40001, column box"
    assert sorted(places_of(lambda: read_trials(path, DRILL)).split("; ")) == places.split("; ")
    rows[35_000] = rows[35_010] = rows[39_999] = rows[0]
    path.write_text("\n".join(["drill,box,lot,setting,catch_g,use,note", *rows, ""]))
    trials = read_trials(path, DRILL)
    assert trials.line.tolist() == list(range(2, 40_002))
    assert trials.lot[20_000:20_003].tolist() == ["L-400", "L-401", "L-402"]


def test_codes_of_joined_trials_are_those_of_their_own_texts(tmp_path):
    path = tmp_path / "trials.csv"
    logs = []
    for rows in (
        ["b,2025,small,L-2,14,60", ",2025,small,L-1,15,62"],
        ["a,2026,grain,L-1,14,58", "b,2024,small,L-3,9,40"],
    ):
        path.write_text("\n".join(["drill,season,box,lot,setting,catch_g", *rows, ""]))
        logs.append(read_trials(path))
    whole, afresh = joined(logs), dataclasses.replace(joined(logs))
    for column in CODED:
        assert column in whole._coded
        assert whole._coded[column][0] == codes_of(afresh, column)[0]
        assert whole._coded[column][1].tolist() == codes_of(afresh, column)[1].tolist()


def test_joined_trials_keep_order_and_count(tmp_path):
    trials = read(tmp_path, GOOD)
    assert joined([trials]) is trials
    parted = read(tmp_path, READ_RIGHT["rows and parts"])
    both = joined([trials, parted])
    assert both.catch_g.tolist() == [61.2, 63.4, 61.2, 63.4]
    assert both.rows_g == (None, None, *parted.rows_g)
    assert both.parts_g == (None, None, *parted.parts_g)
    assert both.where(both.setting == "31").parts_g == (None, parted.parts_g[1])
    assert parted != dataclasses.replace(parted, parts_g=trials.parts_g)


def test_one_catch_may_have_parts():
    box = DRILL.box("small")
    known = {"lot": "A", "season": "2026", "setting": box.control.at(30.0), "turns": 28.0, "rows": 3.0}
    assert one_catch(DRILL, box, catch_g=28.5, parts_g=(7.1, 7.3, 6.9, 7.2), **known).parts_g == ((7.1, 7.3, 6.9, 7.2),)
    assert one_catch(DRILL, box, catch_g=28.5, **known).parts_g == (None,)
    assert no_trials(DRILL).parts_g == ()


@given(grams=st.lists(st.floats(0.01, 9e5), min_size=1, max_size=5))
@settings(max_examples=40, deadline=None)
def test_pounds_and_grams_give_equal_outputs(grams):
    base = {"box": "small", "lot": "A", "setting": 30}
    in_grams = as_trials(pd.DataFrame({**base, "catch_g": grams}), DRILL)
    in_pounds = as_trials(pd.DataFrame({**base, "catch_lb": [g / 453.59237 for g in grams]}), DRILL)
    in_ounces = as_trials(pd.DataFrame({**base, "catch_oz": [g / 28.349523125 for g in grams]}), DRILL)
    assert in_pounds.output == pytest.approx(in_grams.output, rel=1e-12)
    assert in_ounces.output == pytest.approx(in_grams.output, rel=1e-12)


@given(text=st.text(alphabet=st.sampled_from(list('boxltsecagh_,;\t\n\r"#0123456789.-+eE \x00\ufeffä')), max_size=120))
@settings(max_examples=300, deadline=None)
def test_any_text_is_read_or_refused_in_a_sentence(tmp_path_factory, text):
    path = tmp_path_factory.mktemp("any") / "trials.csv"
    path.write_bytes((HEAD + "small,A,30,").encode() + text.encode())
    try:
        trials = read_trials(path, DRILL)
    except InputError as error:
        assert all(str(problem).strip() for problem in error.problems)
    else:
        assert np.isfinite(trials.catch_g).all()
        assert (trials.catch_g >= 0).all()


texts = st.one_of(
    st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=8), st.dates(), st.just("small")
)


@given(
    rows=st.lists(st.tuples(*[texts] * 7), min_size=1, max_size=4),
    drill=st.sampled_from([DRILL, None]),
)
@example(rows=[("SAL", None, None, None, None, None, None)], drill=DRILL)
@settings(max_examples=200, deadline=None)
def test_any_frame_is_read_or_refused_in_a_sentence(rows, drill):
    frame = pd.DataFrame(rows, columns=["box", "lot", "setting", "catch_g", "rows_g", "parts_g", "date"], dtype=object)
    try:
        trials = as_trials(frame, drill)
    except InputError as error:
        # a name near a box's ends in the question which was meant
        assert all(problem.message.endswith((".", ")", "?")) for problem in error.problems)
    else:
        assert np.isfinite(trials.output).all()


@given(order=st.permutations(range(5)))
@settings(max_examples=20, deadline=None)
def test_order_of_rows_does_not_matter(order):
    frame = pd.DataFrame({"box": "small", "lot": list("ABCDE"), "setting": [1, 2, 3, 4, 5], "catch_g": [5, 4, 3, 2, 1]})
    straight, mixed = as_trials(frame, DRILL), as_trials(frame.iloc[list(order)], DRILL)
    assert dict(zip(mixed.lot, mixed.output, strict=True)) == dict(zip(straight.lot, straight.output, strict=True))


def test_what_was_read_keeps_the_digest_of_its_bytes(job):
    files = {name: (job / name).read_bytes() for name in ("drill.toml", "plan.csv", "trials.csv", "field.csv")}
    drill = read_drill(job / "drill.toml")
    read = {
        "drill.toml": drill,
        "plan.csv": read_plan(job / "plan.csv", drill),
        "trials.csv": read_trials(job / "trials.csv", drill),
        "field.csv": read_field(job / "field.csv", drill),
    }
    for name, found in read.items():
        assert found.digest == hashlib.sha256(files[name]).hexdigest(), name
    mine = read["trials.csv"]
    assert as_trials(mine.frame(), drill).digest == ""
    assert mine.where(mine.counts).digest == mine.digest


def test_a_thousand_wrong_weights_of_a_frame_are_not_all_worded():
    catch = {"box": "small", "lot": "A", "setting": 14}
    with pytest.raises(InputError) as caught:
        as_trials(pd.DataFrame({**catch, "catch_g": [f"x{k}" for k in range(MOST_PROBLEMS + 50)]}))
    assert len(caught.value.problems) == MOST_PROBLEMS + 1


def test_rows_that_took_the_turns_of_no_drill_are_refused_for_a_drill_that_makes_others():
    """They would be of another number of turns than those of the same file read with the drill."""
    frame = pd.DataFrame({"box": "small", "lot": "A", "setting": [30, 38, 38], "catch_g": [48.0, 61.0, 62.2]})
    drill = dataclasses.replace(DRILL, catch=CatchDefaults(turns=40))
    without = as_trials(frame)
    with pytest.raises(InputError, match=r"28 turns.*40"):
        as_trials(without, drill)
    assert as_trials(frame, drill).turns.tolist() == [40, 40, 40]
    stated = as_trials(frame.assign(turns=28))
    assert as_trials(stated, drill) is stated
    assert as_trials(without, dataclasses.replace(drill, catch=CatchDefaults())) is without


def test_what_was_read_twice_is_equal_and_survives_pickling(job):
    drill = read_drill(job / "drill.toml")
    (job / "plan.csv").write_text(
        "box,lot,species,pls_rate_lb_ac,purity_pct,germination_pct\nsmall,A,no such seed,2,98,80\n", encoding="utf-8"
    )
    readers = {
        "drill.toml": read_drill,
        "plan.csv": lambda path: read_plan(path, drill),
        "field.csv": lambda path: read_field(path, drill),
        "trials.csv": lambda path: read_trials(path, drill),
    }
    for name, reader in readers.items():
        found = reader(job / name)
        assert found == reader(job / name), name
        assert pickle.loads(pickle.dumps(found)) == found, name
        if name != "trials.csv":
            assert hash(found) == hash(reader(job / name)), name
    assert readers["plan.csv"](job / "plan.csv").lots[0] != readers["field.csv"](job / "field.csv").checks[0]


def test_an_error_survives_pickling_with_its_problems(tmp_path):
    with pytest.raises(InputError) as caught:
        read(tmp_path, HEAD + "small,A,99,61.2\n")
    again = pickle.loads(pickle.dumps(caught.value))
    assert (str(again), again.problems) == (str(caught.value), caught.value.problems)
