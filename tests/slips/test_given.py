"""What no row states and nobody was asked is taken as given, in one line that fits three lines of a screen."""

import numpy as np
import pytest

import predictor
from predictor.slips.given import taken_as_given

DRILL = """
name = "made up"
rows = 12
row_spacing_in = 7.5
rolling_circumference_ft = 7.2
[[box]]
name = "small"
holds = "small"
control = "lever"
lowest = 0
highest = 40
step = 0.5
"""
STATED = "box,lot,setting,catch_g,tare_g,turns,rows,charged,date\n"


def given(tmp_path, log, **more):
    (tmp_path / "drill.toml").write_text(DRILL)
    (tmp_path / "trials.csv").write_text(log)
    drill = predictor.read_drill(tmp_path / "drill.toml")
    trials = predictor.read_trials(tmp_path / "trials.csv", drill)
    return taken_as_given(trials, drill.box("small"), drill, **more)


def test_a_bare_log_has_all_taken_as_given(tmp_path):
    found = given(tmp_path, "box,lot,setting,catch_g\nsmall,A,14,30\nsmall,A,14,31\n")
    assert set(found["facts"]) == {"tare", "turns", "rows", "charged", "setting", "filling", "target"}
    assert [(each.length, each.rows) for each in found["sizes"]] == [(28, 3)]
    assert found["alike"]
    assert found["covers_m"] == pytest.approx(7.2 * 0.3048)
    assert found["spacing_m"] == pytest.approx(7.5 * 0.0254)
    assert len(str(found)) <= 3 * 78


def test_turns_and_rows_are_said_where_rows_state_them_and_the_seed_alone_is_not(tmp_path):
    found = given(tmp_path, STATED + "small,A,14,30,0,28,12,yes,\nsmall,A,14,61,0,56,12,yes,\n")
    assert "tare" not in found["facts"]
    assert not found["alike"]
    assert "28 turns or 56 turns, 12 rows" in str(found)
    assert "7.2 ft a turn" in str(found)


def test_lines_that_alone_have_no_tare_are_named(tmp_path):
    rows = [f"small,A,14,3{i},{'' if i in (3, 4, 5) else 7},28,3,yes,2026-11-24\n" for i in range(6)]
    found = given(tmp_path, STATED + "".join(rows))
    assert found["facts"]["tare"] == (5, 6, 7)
    assert "lines 5 to 7" in str(found)
    assert "a container of 7 g taken off" in str(found)


def test_rows_weighed_singly_are_not_taken_as_alike(tmp_path):
    head = "box,lot,setting,catch_g,rows_g\n"
    assert not given(tmp_path, head + "small,A,14,30,10;10;10\n")["alike"]
    assert given(tmp_path, head + "small,A,14,30,\n")["alike"]


def test_undated_catches_beside_dated_ones_are_taken_as_this_season(tmp_path):
    rows = "small,A,14,30,0,28,3,yes,2026-11-24\nsmall,A,14,31,0,28,3,yes,\n"
    assert given(tmp_path, STATED + rows)["undated"] == (3,)
    assert given(tmp_path, STATED + rows.replace(",\n", ",2026-11-24\n"))["undated"] is None


def test_catches_that_do_not_count_take_nothing_as_given(tmp_path):
    assert given(tmp_path, "box,lot,setting,catch_g,use\nsmall,A,14,30,no\n") is None


def test_the_carrier_of_the_plan_is_taken_as_evenly_mixed():
    job = predictor.read_job("sample_trials")
    carriers = {task.box.name: job.advice(task).given["carrier"] for task in job.in_hand()}
    assert carriers == {"chaffy": False, "grain": False, "small": True}
    every = [str(job.advice(task).given) for task in job.in_hand()]
    assert all(len(each) <= 3 * 78 for each in every), every
    assert np.unique(every).size > 1


def test_rows_that_are_alike_in_all_cells_are_named_as_catches_of_their_own(tmp_path):
    rows = "small,A,14,30,0,28,3,yes,2026-11-24\n"
    found = given(tmp_path, STATED + rows + "small,A,15,32,0,28,3,yes,2026-11-24\n" + rows)
    assert found["equal"] == ((2, 4),)
    assert "lines 2 and 4" in str(found)
