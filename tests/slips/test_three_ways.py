"""The same row is asked about, found and left alone alike as a line of a file, a row of a frame, and as it is typed.

Every weight is invented: a lever box that gives about 62 g at 31, where the target is.
"""

import csv
import io

import pandas as pd
import pytest

import predictor
from predictor.commands.typed import Typed
from tests.running import TODAY

DRILL = """\
name = "Made-up yard drill"
rows = 12
row_spacing_in = 7.6
rolling_circumference_ft = 7.1
[catch]
turns = 28
rows = 3
charge_turns = 5
[[box]]
name = "grain"
holds = "free-flowing"
control = "lever"
highest = 60
[[box]]
name = "small"
holds = "small"
control = "lever"
highest = 40
"""
PLAN = """\
box,lot,species,pls_rate_lb_ac,purity_pct,germination_pct,blend
grain,CW-26,Canada wildrye,6.35,94,88,wildryes
grain,VW-26,Virginia wildrye,6.35,95,82,wildryes
small,PC-26,purple prairie clover,2,97,70,
"""
TARGET_G, SIZE = 62.3, 28 * 3
HONEST = [("30", 60.4), ("31", 62.9), ("31", 61.8), ("32", 64.9), ("31", 62.4)]
LINE = len(HONEST) + 2  # Of the row that follows them in a file
ROW = {"date": TODAY.isoformat(), "box": "grain", "lot": "wildryes", "setting": "31", "catch_g": 62.1, "turns": 28,
       "rows": 3, "charged": "yes", "tare_g": "", "rows_g": ""}  # fmt: skip
# Questions of typing, as the finding about the same is called.
CALLED = {
    "log.far": "odd",
    "log.between_steps": "between_steps",
    "log.future_day": "future",
    "log.near_lot": "no_target",
    "log.new_lot": "no_target",
}
# Only who types can be asked whether a number was typed twice or nothing came; a log says of both what it made of them.
# Only they have a clock that may be wrong, and are asked about the day before the catch. What the row then does to the
# season in hand is asked about, and found, all the same.
ONLY_TYPED = {"log.same_again", "log.nothing", "log.rows_differ", "log.early_day"}
# What shows only beside the plan and the day, which a frame does not come with.
NEEDS_A_JOB = {"no_target", "future"}

SLIPS = {
    "honest": ({}, set()),
    "a little more": ({"catch_g": 65.9}, set()),
    "a little less": ({"catch_g": 58.6}, set()),
    "all rows caught": ({"catch_g": 248.4}, {"odd"}),
    "12 rows written": ({"rows": 12}, {"odd"}),
    "half the turns": ({"catch_g": 31.0}, {"odd"}),
    "double the turns": ({"catch_g": 124.4}, {"odd"}),
    "half the turns written": ({"turns": 14}, {"odd"}),
    "decimal lost": ({"catch_g": 621}, {"odd"}),
    "decimal too far left": ({"catch_g": 6.21}, {"odd"}),
    "two decimals": ({"catch_g": 0.62}, {"odd"}),
    "ounces": ({"catch_g": 2.19}, {"odd"}),
    "pounds": ({"catch_g": 0.137}, {"odd"}),
    "kilograms": ({"catch_g": 0.0621}, {"odd"}),
    "container of 13 g": ({"catch_g": 75.1}, {"odd"}),
    "tare off a net weight": ({"catch_g": 62.1, "tare_g": 13}, {"odd"}),
    "digits swapped": ({"catch_g": 26.1}, {"odd"}),
    "setting 13 for 31": ({"setting": "13"}, {"odd"}),
    "setting 41 for 31": ({"setting": "41"}, {"odd"}),
    "setting and catch swapped": ({"setting": "60", "catch_g": 31}, {"odd"}),
    "between two steps": ({"setting": "31.3"}, {"between_steps"}),
    "between two steps and odd": ({"setting": "31.3", "catch_g": 31}, {"between_steps", "odd"}),
    "the same weight again": ({"catch_g": 62.4}, set()),
    "a plugged row": ({"catch_g": 41.4}, {"odd"}),
    "rows divided": ({"rows_g": "20.7;20.7;20.7"}, {"divided"}),
    "nothing came": ({"catch_g": 0}, set()),
    "not charged, and said so": ({"charged": "no", "catch_g": 52}, set()),
    "not charged": ({"catch_g": 52}, {"odd"}),
    "spilled": ({"catch_g": 50.0}, {"odd"}),
    "a day to come": ({"date": "2026-12-24"}, {"future"}),
    "last year's day": ({"date": "2025-11-20"}, {"season_before"}),
    "a letter missing": ({"lot": "wildrye"}, {"no_target"}),
    "another lot": ({"lot": "left over"}, {"no_target"}),
    "a lot of another box": ({"lot": "PC-26"}, {"no_target"}),
    "a part of the blend": ({"lot": "CW-26"}, set()),
}  # fmt: skip


def log_of(*more):
    rows = [{**ROW, "setting": setting, "catch_g": grams} for setting, grams in HONEST] + list(more)
    out = io.StringIO()
    writer = csv.DictWriter(out, ROW, lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "drill.toml").write_text(DRILL)
    (tmp_path / "plan.csv").write_text(PLAN)
    return tmp_path


def about(slips, line):
    """What was found about the row alone: what is about others too is left to the advice that follows."""
    return sorted(each.code for each in slips if each.lines == (line,))


def by_file(folder, row):
    (folder / "trials.csv").write_text(log_of(row))
    job = predictor.read_job(folder, today=TODAY)
    return about(job.advice(job.tasks("grain", "wildryes")[0]).slips, LINE)


def by_frame(folder, row):
    frame, drill = pd.read_csv(io.StringIO(log_of(row))), predictor.read_drill(folder / "drill.toml")
    advice = predictor.recommend(frame, "grain", lot="wildryes", target_output=TARGET_G / SIZE, drill=drill)
    return about(advice.slips, LINE - 1)  # rows of a frame count from 1


def typed(run, folder, row, monkeypatch):
    """The questions that record asks about the row, by the names of the findings."""
    (folder / "trials.csv").write_text(log_of())
    asked = []

    def agreed(self, question, *, enter=False):
        asked.append(question.values["slip"].code if question.code == "log.slip" else question.code)
        return True

    monkeypatch.setattr(Typed, "agreed", agreed)
    weight = row["rows_g"].replace(";", "+") or row["catch_g"]
    more = [*(["--tare", row["tare_g"]] if row["tare_g"] else []), *(["--not-charged"] * (row["charged"] == "no"))]
    size = ["--turns", row["turns"], "--rows", row["rows"]]
    done = run("record", folder, "--box", row["box"], "--lot", row["lot"], "--setting", row["setting"],
               "--catch", weight, *size, "--on", row["date"], *more)  # fmt: skip
    assert done.returncode == 0, done.stderr
    return sorted(CALLED.get(each, each) for each in asked if each not in ONLY_TYPED)


@pytest.mark.parametrize("name", SLIPS)
def test_a_row_is_asked_about_where_the_file_and_the_frame_find_it(run, folder, name, monkeypatch):
    changes, expected = SLIPS[name]
    row = {**ROW, **changes}
    assert by_file(folder, row) == sorted(expected)
    assert by_frame(folder, row) == sorted(expected - NEEDS_A_JOB)
    assert typed(run, folder, row, monkeypatch) == sorted(expected)
