"""A slip in a row is the same finding from the file, from a DataFrame and from a row that was typed."""

import datetime

import pandas as pd
import pytest

import predictor
from tests import golden
from tests.running import TODAY

DRILL = """\
name = "row drill"
rows = 12
row_spacing_cm = 19
rolling_circumference_m = 2.2
[catch]
turns = 28
rows = 3
[[box]]
name = "grain"
holds = "free-flowing"
control = "lever"
highest = 60
"""
PLAN = "box,lot,species,bulk_rate_kg_ha\ngrain,KS-26,oats,30\n"
TARGET = 3.0 * 2.2 * 0.19  # Grams a row and turn: 30 kg/ha are 3 g/m2, over circumference times row spacing


def catch(setting):
    """Grams of a box that gives nothing at 4 and the target at 24."""
    return 84 * TARGET * (setting - 4) / 20


GOOD = [(20.0, 0.99), (24.0, 1.0), (24.0, 1.01)]


def rows_of(*more, day="2026-11-16"):
    """Good catches, then others: setting, factor on the weight, lot, date."""
    rows = [("KS-26", setting, catch(setting) * factor, day) for setting, factor in GOOD]
    return rows + [(lot, setting, catch(setting) * factor, date) for setting, factor, lot, date in more]


def log_of(rows):
    lines = [f"grain,{lot},{setting:g},{grams:.1f},28,3,{day},yes,2026" for lot, setting, grams, day in rows]
    return "\n".join(["box,lot,setting,catch_g,turns,rows,date,charged,season", *lines]) + "\n"


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "drill.toml").write_text(DRILL)
    (tmp_path / "plan.csv").write_text(PLAN)

    def write(rows):
        (tmp_path / "trials.csv").write_text(log_of(rows))
        return predictor.read_job(tmp_path, today=TODAY)

    return write


def codes(slips):
    return {(each.code, each.lines) for each in slips}


OF_A_LOT = {
    "good": (rows_of(), None),
    "between two steps": (rows_of((24.3, 1.0, "KS-26", "2026-11-16")), ("between_steps", (5,))),
    "in spring": (rows_of((24.0, 1.0, "KS-26", "2026-11-17"), day="2026-04-02"), ("days_apart", (2, 3, 4))),
    "decimal lost": (rows_of((24.0, 10.0, "KS-26", "2026-11-16")), ("odd", (5,))),
}


@pytest.mark.parametrize("name", OF_A_LOT)
def test_file_and_frame_give_the_same_findings(folder, name):
    rows, expected = OF_A_LOT[name]
    job = folder(rows)
    found = codes(job.slips())
    assert found == (set() if expected is None else {expected})
    frame = pd.DataFrame(rows, columns=["lot", "setting", "catch_g", "date"])
    frame = frame.assign(box="grain", turns=28, rows=3, season="2026")
    box = job.drill.box("grain")
    advice = predictor.recommend(frame, box, target_output=TARGET, lot="KS-26", drill=job.drill)
    # the header of a file is its line 1, and the rows of a frame count from 1
    assert {(code, tuple(line + 1 for line in lines)) for code, lines in codes(advice.slips)} == found


def test_a_name_near_the_planned_one_is_named_with_its_lines(folder):
    job = folder(rows_of((24.0, 1.0, "KS-62", "2026-11-16")))
    (finding,) = job.slips()
    assert (finding.code, finding.lot, finding.lines) == ("no_target", "KS-26", (5,))
    assert finding.values["near"]
    (far,) = folder(rows_of((24.0, 1.0, "left over", "2026-11-16"))).slips()
    assert not far.values["near"]
    assert far.chance < finding.chance


def test_a_day_to_come_is_named(folder):
    day = (TODAY + datetime.timedelta(days=1)).isoformat()
    (finding,) = folder(rows_of((24.0, 1.0, "KS-26", day))).slips()
    assert (finding.code, finding.lines) == ("future", (5,))


def test_a_row_between_two_steps_waits_only_where_the_lock_rests_on_it(folder):
    """Three good catches lock without it; where all but one of them are gone, it decides."""
    more = (24.0, 0.995, "KS-26", "2026-11-16")
    (held,) = folder(rows_of(more, (24.3, 1.0, "KS-26", "2026-11-16"))).slips()
    assert not held.waits
    job = folder([("KS-26", 24.3, catch(24.3), "2026-11-16")])
    (alone,) = job.slips()
    assert alone.waits


def test_catches_of_last_season_below_those_of_this_one_wait(folder, tmp_path):
    """The last row names the season in hand; with the latest catch on top, or a wrong date, that is the wrong one."""
    rows = rows_of()
    new = log_of(rows).splitlines()
    old = [each.replace("2026", "2025") for each in new[1:]]

    def read(*lines):
        (tmp_path / "trials.csv").write_text("\n".join([new[0], *lines]) + "\n")
        return predictor.read_job(tmp_path, today=TODAY)

    assert read(*old, *new[1:]).slips() == ()
    (finding,) = read(*new[1:], *old).slips()
    assert (finding.code, finding.lines, finding.waits) == ("season_before", (5, 6, 7), True)
    job = read(*new[1:], *old)
    (task,) = job.tasks()
    assert (job.advice(task).decision, job.advice(task).otherwise) == ("recheck", "lock")
    golden.check("season-before", f"{finding}\n")
    # who names the season has chosen it
    box = job.drill.box("grain")
    named = predictor.recommend(job.trials, box, target_output=TARGET, lot="KS-26", season="2026", drill=job.drill)
    assert not named.slips


def test_a_lot_of_another_box_is_named_with_its_box(folder, tmp_path):
    (tmp_path / "drill.toml").write_text(DRILL + DRILL[DRILL.index("[[box]]") :].replace("grain", "small"))
    (tmp_path / "plan.csv").write_text(PLAN + "small,FM-26,oats,30\n")
    (tmp_path / "trials.csv").write_text(log_of(rows_of((24.0, 1.0, "FM-26", "2026-11-16"))))
    (finding,) = predictor.read_job(tmp_path, today=TODAY).slips()
    assert (finding.code, finding.lines, finding.values["elsewhere"]) == ("no_target", (5,), "small")
    golden.check("lot-of-another-box", f"{finding}\n")


@pytest.mark.parametrize(("name", "count", "found"), [("KS-62", 1, True), ("KS-62", 2, True), ("KS-62", 3, False),
                                                      ("left over", 1, False)])  # fmt: skip
def test_without_a_plan_few_catches_under_a_near_name_are_named(folder, tmp_path, name, count, found):
    job = folder(rows_of(*[(24.0, 1.0, name, "2026-11-16")] * count, (24.0, 1.0, "KS-26", "2026-11-16")))
    (tmp_path / "plan.csv").unlink()
    job = predictor.read_job(tmp_path, today=TODAY)
    (task,) = job.tasks("grain", "KS-26", target_g=84 * TARGET)
    lines = [each.lines for each in job.advice(task).slips if each.code == "few_of_a_name"]
    assert lines == ([tuple(range(5, 5 + count))] if found else [])
