"""The decision card: few rows on one sheet, a lock found at a glance, and letters to be read in a shed."""

import json
import re

import pytest

from predictor import Drill, Lever, SeedBox
from predictor.advice.ranges import Range, Table
from predictor.domain.result import Remark
from predictor.pages.blocks import NewSheet
from predictor.pages.decision import LEAST_POINTS, decision_page, rows_for
from predictor.pages.html import to_html
from predictor.pages.pdf import to_pdf
from predictor.text.decision import (
    AGAIN,
    ASK,
    BLACK,
    LADDER,
    SEVERAL,
    how_to_use,
    ladder,
    note,
    row,
    title,
    weight_words,
)
from tests.pages.checking import self_contained

BOX = SeedBox("small", "small", Lever(0, 60, 0.5))
DRILL = Drill("made up", 12, 0.19, 2.2, (BOX,))
AT, WHY = BOX.control.at(14.0), Remark("advice.more-likely")


def range_of(low, high, decision="move", setting=14.0, last=None, turns=28.0, likely=0.1):
    """One range."""
    where = None if setting is None else BOX.control.at(setting)
    return Range(low, high, decision, where, None if last is None else BOX.control.at(last), turns, 3.0, WHY, likely)


def table(*ranges, lot="forb mix"):
    """A table of a catch at 14."""
    return Table("small", lot, AT, 28.0, 3.0, 23.66, ranges)


WHOLE = table(
    range_of(None, 20.0, "ask", None, likely=0.004),
    range_of(20.1, 21.0, setting=16.0, last=15.0, likely=0.02),
    range_of(21.1, 22.1, "repeat", 14.0, likely=0.05),
    range_of(22.2, 25.3, "lock", 14.0, likely=0.86),
    range_of(25.4, 26.0, "lengthen", 14.0, turns=56.0, likely=0.05),
    range_of(26.1, None, "ask", None, likely=0.016),
)


def test_each_row_says_weights_what_to_do_how_likely_and_leaves_room():
    assert [row(k, WHOLE, DRILL) for k in range(6)] == [
        ("below 20.1", ASK, "rare", ""),
        ("20.1 to 21.0", "set 16 to 15, catch again", "2", ""),
        ("21.1 to 22.1", "stay at 14, catch again", "5", ""),
        ("22.2 to 25.3", "LOCK AT 14", "86", ""),
        ("25.4 to 26.0", "stay at 14, larger catches: 56 turns, 3 rows", "5", ""),
        ("above 26.0", ASK, "1", ""),
    ]
    assert title(WHOLE, DRILL) == (
        "small, forb mix: catch at 14. 28 turns, 3 rows, after 5 turns to charge. Target 23.7 g."
    )
    assert note([WHOLE]) == SEVERAL


RUNGS = table(
    range_of(None, 9.0, setting=40.0, likely=None),
    range_of(9.1, 20.0, "repeat", 14.0, likely=None),
    range_of(20.1, None, "move", 8.5, likely=None),
)


def test_a_ladder_stands_in_two_columns_the_lighter_half_at_the_left():
    assert ladder(RUNGS, DRILL) == (
        LADDER * 2,
        (("up to 9.0", "set 40", "", "20.1 or more", "set 8.5", ""), ("9.1 to 20.0", "stay at 14", "", "", "", "")),
    )
    assert note([RUNGS]) == AGAIN


def test_a_catch_that_is_doubted_is_repeated_where_it_was_made():
    doubted = table(range_of(None, 9.0, "recheck", 10.0, likely=0.3), range_of(9.1, None, "lock", likely=0.7))
    assert row(0, doubted, DRILL)[1:3] == ("repeat the catch at 10", "30")


def test_black_rows_are_named_only_where_a_row_is_black():
    assert BLACK in how_to_use([RUNGS, WHOLE], 0.1)
    assert BLACK not in how_to_use([RUNGS, table(range_of(None, None))], 0.1)


@pytest.mark.parametrize(
    ("low", "high", "decision", "step", "words"),
    [
        (None, None, "move", 0.1, "any weight"),
        (None, None, "ask", 0.1, "any weight"),
        (None, 9.9, "move", 0.1, "up to 9.9"),
        (10.0, None, "move", 0.1, "10.0 or more"),
        (10.0, 10.0, "move", 0.5, "10.0"),
        (10.0, 12.0, "move", 1.0, "10 to 12"),
    ],
)
def test_weights_are_shown_to_the_step_of_the_scale(low, high, decision, step, words):
    assert weight_words(0, table(range_of(low, high, decision)), step) == words


def sheets(pdf):
    """How many sheets a PDF has."""
    return len(re.findall(rb"/Type /Page\b", pdf))


NINE = table(
    *(range_of(20.1 + k, 21.0 + k, setting=30.0 - k, last=29.5 - k) for k in range(4)),
    range_of(24.1, 25.0, "lock", 14.0),
    *(range_of(25.1 + k, 26.0 + k, setting=13.0 - k) for k in range(4)),
    lot="a lot with quite a long name",
)


@pytest.mark.parametrize("paper", ["a5", "half-letter", "a4", "letter"])
def test_three_boxes_take_one_sheet_whose_other_side_says_how_to_use_it(paper, run, job):
    stages = stages_of(job)
    most = rows_for(3, paper)
    tables = [table(*NINE.ranges[:most], lot=NINE.lot)] * 3
    page = decision_page(DRILL, tables, [], stages, paper)
    assert page.points >= LEAST_POINTS
    assert sum(isinstance(each, NewSheet) for each in page.blocks) == 1
    assert sheets(to_pdf(page)) == 2
    self_contained(to_html(page))


def stages_of(job):
    """The stages of the sample job."""
    from predictor.job.read import read_job

    return read_job(job).stages_in_hand()


def test_the_lock_is_white_on_black_but_for_the_cell_to_write_in():
    from predictor.pages.decision import _grid

    grid = _grid(WHOLE, DRILL)
    assert grid.inverse == {3}


def test_the_decision_card_and_its_json_are_of_the_same_tables(run, job):
    done = run("card", job / "trials.csv", "--decision", "--out", job / "d.html", "--pdf", job / "d.pdf", "--json")
    assert done.returncode == 0
    text, tables = (job / "d.html").read_text(encoding="utf-8"), json.loads(done.stdout)["tables"]
    self_contained(text)
    assert text.count("<table ") == len(tables) == 1
    assert text.count("<tr") == sum(1 + len(each["ranges"]) for each in tables)
    assert text.count("<tr class=i>") == sum(found["decision"] == "lock" for found in tables[0]["ranges"]) >= 1
    assert [each["box"] for each in json.loads(done.stdout)["done"]] == ["chaffy", "grain"]
    assert sheets((job / "d.pdf").read_bytes()) == 2


def test_before_any_catch_a_ladder_names_no_chance(run, job):
    (job / "trials.csv").unlink()
    (job / "field.csv").unlink()
    assert run("card", job / "trials.csv", "--box", "chaffy", "--decision", "--out", job / "d.html").returncode == 0
    text = (job / "d.html").read_text(encoding="utf-8")
    assert text.count("<th scope=col>Then</th>") == 2
    assert "In 100" not in text
    assert AGAIN in text
    assert "In a black row" not in text
